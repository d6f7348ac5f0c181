"""`compare.pdf`: the options on one side of A4 across, black on white."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, landscape
from reportlab.pdfgen.canvas import Canvas

from fencegis.exports.client.drawn_scene import Drawn
from fencegis.exports.compare.little_maps import little_maps
from fencegis.exports.compare.options import DESK, NO_BOUNDARY, NO_LEAVE, comparison_of
from fencegis.exports.sheets.paper import HEIGHT_MM, POINT_MM, WIDTH_MM, Pad, drawn, fitted, named, wrapped
from fencegis.exports.words import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.compare.options import Comparison
    from fencegis.records.plan import Plan

NAME = "compare.pdf"
WIDE_MM, TALL_MM = HEIGHT_MM, WIDTH_MM  # A4 across
LEFT_MM, RIGHT_MM, TOP_MM, FOOT_MM = 10.0, WIDE_MM - 10.0, 10.0, TALL_MM - 14.0
GAP_MM = 4.0
TITLE_MM, VALUE_MM, CHANGE_MM = 44.0, 22.0, 17.5
MOST_MAP_MM = 92.0
SIZES = (8.2, 7.6, 7.0, 6.4, 5.8)
LINE = 0.47
CHANGED_MM = 8.4  # least that the words of one option take below the table


def compare_pdf(plans: Sequence[Plan]) -> bytes:
    """Return the sheet as a PDF; the same plans give the same bytes."""
    told = comparison_of(plans)
    memory = io.BytesIO()
    canvas = Canvas(memory, pagesize=landscape(A4), invariant=1, pageCompression=1)
    canvas.setTitle("Fence plans side by side")
    canvas.setAuthor("fencegis")
    canvas.setSubject(drawn(DESK))
    kept, rl_config.useA85 = rl_config.useA85, 0
    try:
        canvas.translate(0.0, (TALL_MM - HEIGHT_MM) / POINT_MM)  # a pad measures down from the top of a sheet upright
        _sheet(Pad(canvas), told, plans)
        canvas.showPage()
        canvas.save()
    finally:
        rl_config.useA85 = kept
    return memory.getvalue()


def _sheet(pad: Pad, told: Comparison, plans: Sequence[Plan]) -> None:
    pad.write("Options side by side", (LEFT_MM, TOP_MM + 4.0), size=15.0, font="bold")
    pad.write(NO_BOUNDARY, (RIGHT_MM, TOP_MM + 4.0), size=10.5, font="bold", align="right")
    room = RIGHT_MM - LEFT_MM
    wide = min(MOST_MAP_MM, (room - GAP_MM * (len(plans) - 1)) / len(plans))
    scenes, scale = little_maps(plans, wide_mm=wide, tall_mm=(34.0, 62.0))
    pictures = Drawn()
    for place, (option, scene) in enumerate(zip(told.options, scenes, strict=True)):
        left = LEFT_MM + place * (wide + GAP_MM)
        title = f"{option.number}  {named(option.name, 'site')}"
        pad.write(fitted(title, 9.0, wide, "bold"), (left, TOP_MM + 10.0), size=9.0, font="bold")
        words = f"{named(option.folder, 'folder')}, plan {option.plan_digits}"
        pad.write(fitted(words, 7.2, wide), (left, TOP_MM + 13.6), size=7.2)
        pictures.scene(pad, scene, (left, TOP_MM + 15.2))
    down = TOP_MM + 15.2 + scenes[0].tall_mm + 3.8
    words = f"All maps: 1 : {number(scale, 0)}, one extent, north up; dashes: the first option's fence. {NO_LEAVE}"
    pad.write(fitted(words, 7.4, room), (LEFT_MM, down), size=7.4)
    _below(pad, told, down + 2.0)
    pad.rule((LEFT_MM, TALL_MM - 11.6), (RIGHT_MM, TALL_MM - 11.6), width=0.4)
    pad.write(DESK, (LEFT_MM, TALL_MM - 8.0), size=7.4)


def _below(pad: Pad, told: Comparison, top: float) -> None:
    """Draw the table, and beside it or below it what changed."""
    others = len(told.options) - 1
    wide = TITLE_MM + VALUE_MM + others * (VALUE_MM + CHANGE_MM)
    beside = RIGHT_MM - LEFT_MM - wide - 8.0
    rows = len(told.measures) + len({measure.part for measure in told.measures}) + 1
    foot = FOOT_MM if beside > 60.0 else FOOT_MM - 2.0 - CHANGED_MM * others
    size = next((s for s in SIZES if rows * s * LINE <= foot - top), SIZES[-1])
    down = _table(pad, told, top, size)
    left, top, room = (
        (LEFT_MM + wide + 8.0, top, beside) if beside > 60.0 else (LEFT_MM, down + 1.0, RIGHT_MM - LEFT_MM)
    )
    _changed(pad, told, (left, top), room)


def _table(pad: Pad, told: Comparison, top: float, size: float) -> float:
    step, down = size * LINE, top
    right = [LEFT_MM + TITLE_MM + VALUE_MM]
    for _ in told.options[1:]:
        right += [right[-1] + VALUE_MM, right[-1] + VALUE_MM + CHANGE_MM]
    heads = ["1"]
    for option in told.options[1:]:
        heads += [str(option.number), f"{option.number} less 1"]
    down += step
    for at, text in zip(right, heads, strict=True):
        pad.write(text, (at, down - 1.0), size=size, font="bold", align="right")
    part = ""
    for measure in told.measures:
        if measure.part != part:
            part, down = measure.part, down + step
            pad.write(part, (LEFT_MM, down - 1.1), size=size, font="bold")
            pad.rule((LEFT_MM, down - 0.5), (right[-1], down - 0.5), width=0.3)
        down += step
        cells = [measure.values[0]]
        for value, change in zip(measure.values[1:], measure.changes, strict=True):
            cells += [value, change]
        pad.write(fitted(measure.title, size, TITLE_MM), (LEFT_MM, down - 0.8), size=size)
        for at, text in zip(right, cells, strict=True):
            pad.write(text, (at, down - 0.8), size=size, align="right")
    return down


def _changed(pad: Pad, told: Comparison, at: tuple[float, float], room: float) -> None:
    size, (left, down) = 8.0, at
    for place, (option, sentences) in enumerate(zip(told.options[1:], told.changed, strict=True)):
        foot = down + (FOOT_MM - down) / (len(told.changed) - place)
        down += 4.4
        pad.write(
            f"What changed: {option.number} against 1, runs matched by place", (left, down), size=8.4, font="bold"
        )
        lines = [line for sentence in sentences for line in wrapped(sentence, size, room)]
        fits = max(1, int((foot - down) / 3.5))
        if len(lines) > fits:
            lines = [*lines[: fits - 1], "… more on the page compare.html."]
        down = pad.lines(lines, (left, down + 3.6), size=size, gap_mm=3.5) - 3.6
