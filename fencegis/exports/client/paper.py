"""`client.pdf`: the drawing and what goes with it on two sides of A4 for a kitchen table, black on white."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab import rl_config
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from fencegis.exports.client.columns import TOP_MM, draw_column, flowed
from fencegis.exports.client.content import DESK, NO_BOUNDARY, content_of
from fencegis.exports.client.drawn_scene import Drawn, draw_marks
from fencegis.exports.client.maps import PAIR_MM, maps_of
from fencegis.exports.client.scene import SIGN_MM
from fencegis.exports.client.terms import imagery_words
from fencegis.exports.client.words_on_paper import rows_of
from fencegis.exports.sheets.paper import (
    FOOT_MM,
    HEIGHT_MM,
    MARGIN_MM,
    RIGHT_MM,
    ROOM_MM,
    Pad,
    drawn,
    fitted,
    named,
    printable,
    wide_mm,
    wrapped,
)  # fmt: skip
from fencegis.exports.words import number

if TYPE_CHECKING:
    from fencegis.exports.client.content import Content
    from fencegis.exports.client.maps import Maps
    from fencegis.records.plan import Plan

NAME = "client.pdf"
SIGNED = ("For the client", "For the contractor")
ACCEPT_MM = 43.0
KEY_SIZE = 7.4
OTHER_LETTERS = "This sheet prints Latin, Greek and Cyrillic; ▯ stands for other letters: client.html has them."


def client_pdf(plan: Plan) -> bytes:
    """Return the client's sheets as a PDF: no clock and no chance in it, so the same plan gives the same bytes."""
    content = content_of(plan)
    maps = maps_of(plan, content.flagged)
    memory = io.BytesIO()
    canvas = Canvas(memory, pagesize=A4, invariant=1, pageCompression=1)
    canvas.setTitle(drawn(f"Fence plan: {named(content.site, 'site')}"))
    canvas.setAuthor("fencegis")
    canvas.setSubject(drawn(DESK))
    kept, rl_config.useA85 = rl_config.useA85, 0  # letters and figures would make the pictures a quarter larger
    try:
        _sheets(canvas, content, maps)
        canvas.save()
    finally:
        rl_config.useA85 = kept
    return memory.getvalue()


def _sheets(canvas: Canvas, content: Content, maps: Maps) -> None:
    pad, pictures = Pad(canvas), Drawn()
    down = _first(pad, content, maps, pictures)
    accept_mm = FOOT_MM - ACCEPT_MM
    columns = flowed(rows_of(content), first_top_mm=down, last_foot_mm=accept_mm - 3.0)
    last = columns[-1].sheet
    for sheet in range(last + 1):
        if sheet:
            pad = Pad(canvas)
        for column in columns:
            if column.sheet == sheet:
                draw_column(pad, column)
        if sheet == last:
            reach = max(column.foot_mm for column in columns if column.sheet == last)
            _accept(pad, content, min(accept_mm, reach + (8.0 if reach > TOP_MM else 0.0)))
        _foot(pad, content, f"sheet {sheet + 1} of {last + 1}")
        canvas.showPage()


def _first(pad: Pad, content: Content, maps: Maps, pictures: Drawn) -> float:
    """Draw title and maps and return how far down they reach."""
    pad.write(
        fitted(named(content.site, "site"), 17.0, ROOM_MM - 62.0, "bold"), (MARGIN_MM, 16.5), size=17.0, font="bold"
    )
    pad.write(f"Plan {content.plan_digits}", (RIGHT_MM, 13.0), size=11.0, font="bold", align="right")
    pad.write(content.date, (RIGHT_MM, 17.6), size=9.0, align="right")
    pad.write(content.headline, (MARGIN_MM, 22.6), size=10.5, font="bold")
    pad.write(NO_BOUNDARY, (RIGHT_MM, 22.6), size=10.5, font="bold", align="right")
    about = f"{content.prepared} {imagery_words(maps.picture)}"
    texts = [content.site, *(f"{gate.name}" for gate in content.gates), *content.old_fence]
    if not all(map(printable, texts)):
        about += f" {OTHER_LETTERS}"
    down = pad.lines(wrapped(about, 8.0, ROOM_MM), (MARGIN_MM, 27.4), size=8.0, gap_mm=3.5)
    top = down - 1.4
    pictures.scene(pad, maps.main, (MARGIN_MM, top))
    down = _key(pad, maps, top + maps.main.tall_mm + 1.2)
    for place, (title, scene) in enumerate((("Before", maps.before), ("After", maps.after))):
        left = MARGIN_MM + place * (ROOM_MM - PAIR_MM)
        pad.write(title, (left, down + 3.6), size=9.5, font="bold")
        words = f"1 : {number(maps.pair_scale, 0)} on A4, north up"
        pad.write(words, (left + PAIR_MM, down + 3.6), size=7.6, align="right")
        pictures.scene(pad, scene, (left, down + 4.8))
    return down + 4.8 + maps.before.tall_mm + 1.0


def _key(pad: Pad, maps: Maps, top: float) -> float:
    """Draw the key in rows across the sheet and return how far down it reaches."""
    wide, tall = SIGN_MM
    left, down = MARGIN_MM, top
    texts = [*(sign.words for sign in maps.key), f"1 : {number(maps.scale, 0)} on A4"]
    for place, text in enumerate(texts):
        across = (wide + 1.5 if place < len(maps.key) else 0.0) + wide_mm(text, KEY_SIZE) + 3.4
        if left + across - 3.4 > RIGHT_MM:
            left, down = MARGIN_MM, down + tall - 0.5
        if place < len(maps.key):
            draw_marks(pad, maps.key[place].marks, (left, down))
            pad.write(text, (left + wide + 1.5, down + 3.4), size=KEY_SIZE)
        else:
            pad.write(text, (left, down + 3.4), size=KEY_SIZE)
        left += across
    return down + tall + 0.6


def _accept(pad: Pad, content: Content, top: float) -> None:
    """Draw the block to sign, bound to the plan by its digits."""
    pad.box((MARGIN_MM, top), ROOM_MM, ACCEPT_MM, width=1.0)
    left, down = MARGIN_MM + 4.0, top + 6.0
    pad.write("Acceptance", (left, down), size=11.0, font="bold")
    pad.write(f"plan {content.plan_digits}", (RIGHT_MM - 4.0, down), size=9.5, font="bold", align="right")
    down += 4.6
    for text in content.accepts:
        font = "bold" if text == NO_BOUNDARY else "plain"
        down = pad.lines(wrapped(text, 8.6, ROOM_MM - 8.0, font), (left, down), size=8.6, gap_mm=3.8, font=font)
    for place, who in enumerate(SIGNED):
        begin = left + place * (ROOM_MM - 8.0 + 6.0) / 2.0
        end = begin + (ROOM_MM - 8.0 - 6.0) / 2.0
        pad.write(who, (begin, down + 2.4), size=8.6, font="bold")
        pad.blank("Name", (begin, down + 8.4), end, size=8.6)
        pad.blank("Signature", (begin, down + 15.4), begin + 58.0, size=8.6)
        pad.blank("Date", (begin + 60.0, down + 15.4), end, size=8.6)


def _foot(pad: Pad, content: Content, words: str) -> None:
    down = HEIGHT_MM - 8.0
    pad.rule((MARGIN_MM, down - 3.6), (RIGHT_MM, down - 3.6), width=0.4)
    pad.write(DESK, (MARGIN_MM, down), size=7.6)
    pad.write(f"plan {content.plan_digits}, {words}", (RIGHT_MM, down), size=7.6, align="right")
