"""One strip of a line's long section: the ground, what stands on it, what to mind, its runs and its chainage."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fencegis.exports.section.found import Found, draw_found
from fencegis.exports.section.marks import Lanes, Mark
from fencegis.exports.section.paper import BRICK, FAINT, INK, SMALL, WIDTH_MM, Paper, width_mm
from fencegis.exports.section.rails import Rails, draw_rails, post_heads
from fencegis.exports.section.scales import LEFT_MM, Ground, Row, step_for
from fencegis.exports.section.soils import soil_strip
from fencegis.exports.words import compass, degrees, metres, number, present

LANE_MM = 3.5
STRIP_MM = 4.6  # the runs' strip
BELOW_MM, ABOVE_MM = 4.0, 5.0
STANDING_LANES, MIND_LANES = 3, 3
SPANS = ("hazard", "water", "slope")  # drawn over the height of a strip, a side slope along its foot
SLOPE_MM = 2.4
BREAKS = ("faint", "crest", "taken")  # of grade: left out as noise, told, taken by a strainer


@dataclass(frozen=True, eq=False)
class Section:
    """One line, ready to be drawn."""

    line_id: str
    ground: Ground
    rows: list[Row]
    above: list[Mark]
    below: list[Mark]
    runs: list[Any]
    posts_m: np.ndarray  # chainages of the posts that are drawn
    thin: int  # of how many posts one is drawn
    soils: list[Any] = field(default_factory=list)  # the line's rows of the layer `soils`
    rails: Rails | None = None
    found: Found = field(default_factory=Found)


def draw_row(paper: Paper, section: Section, row: Row, down: float) -> float:
    """Draw one strip of a line's section below `down` and return how far down it reaches, both in millimetres."""
    above, below = Lanes(STANDING_LANES, LEFT_MM - 12.0), Lanes(MIND_LANES, LEFT_MM - 12.0)
    up = _placed([mark for mark in section.above if row.holds(mark.middle_m)], row, above)
    low = _placed([mark for mark in section.below if mark.from_m < row.to_m and mark.to_m >= row.from_m], row, below)
    top = down + len(above.lanes) * LANE_MM + ABOVE_MM
    bottom = top + row.tall_mm + BELOW_MM
    ground = _Pen(section.ground, row, bottom - BELOW_MM)
    _frame(paper, section.ground, row, ground, top - ABOVE_MM + 1.5, bottom)
    _spans(paper, section.below, row, top - ABOVE_MM + 1.5, bottom)
    _profile(paper, section.ground, row, ground)
    _posts(paper, section, row, ground)
    draw_rails(paper, section.rails, row, ground.height_mm)
    draw_found(paper, section.found, row, ground.down_mm)
    _stands(paper, section.above, row, ground)
    for mark, lane, middle in up:
        level = top - ABOVE_MM - lane * LANE_MM
        _leader(paper, row.right_mm(mark.middle_m), level + 0.6, ground.down_mm(mark.middle_m) - 2.6)
        _name(paper, mark.text, (middle, level), bold=mark.kind in {"gate", "corner"})
    for mark, lane, middle in low:
        level = bottom + 2.9 + lane * LANE_MM
        colour = BRICK if mark.must else INK
        at = row.right_mm(min(max(mark.middle_m, row.from_m), row.to_m))
        begin = bottom if mark.kind in SPANS else ground.down_mm(mark.middle_m) + 1.6
        _leader(paper, at, begin, level - 2.3)
        _name(paper, mark.text, (middle, level), colour=colour)
    _breaks(paper, section.below, row, ground)
    strip = bottom + len(below.lanes) * LANE_MM + 1.4
    _runs(paper, section.runs, row, strip)
    _chainage(paper, row, strip + STRIP_MM)
    return soil_strip(paper, section.soils, row, strip + STRIP_MM + 6.0)


class _Pen:
    """Turns chainages of a row into places on the sheet, on the ground."""

    def __init__(self, ground: Ground, row: Row, foot_mm: float) -> None:
        self.ground, self.row, self.foot = ground, row, foot_mm

    def height_mm(self, height_m: float) -> float:
        return self.foot - (height_m - self.row.low_m) * self.row.up

    def down_mm(self, chainage_m: float) -> float:
        return self.height_mm(float(self.ground.at([chainage_m])[0]))


def _placed(marks: list[Mark], row: Row, lanes: Lanes) -> list[tuple[Mark, int, float]]:
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.rank, mark.from_m)):
        inside = (max(mark.from_m, row.from_m) + min(mark.to_m, row.to_m)) / 2.0
        spot = lanes.place(mark.text, row.right_mm(inside), must=mark.must) if mark.text else None
        if spot:
            placed.append((mark, *spot))
    return placed


def _name(paper: Paper, text: str, at: tuple[float, float], *, bold: bool = False, colour: str = INK) -> None:
    """Write a name with paper behind it, so that no leader to another runs through it."""
    half = width_mm(text, SMALL, bold=bold) / 2.0 + 0.4
    paper.box("behind", at[0] - half, at[1] - 1.9, at[0] + half, at[1] + 0.6)
    paper.write(text, at, size=SMALL, align="center", bold=bold, colour=colour)


def _leader(paper: Paper, across: float, begin: float, end: float) -> None:
    if end - begin > 0.8:
        paper.line("leader", ((across, begin), (across, end)))


def _frame(paper: Paper, ground: Ground, row: Row, pen: _Pen, top: float, bottom: float) -> None:
    left, right = row.right_mm(row.from_m), row.right_mm(row.to_m)
    if ground.known:
        step = step_for(max(row.high_m - row.low_m, 5.0 / row.up), max(1, int(row.tall_mm / 6.0)))
        for height in np.arange(np.ceil(row.low_m / step) * step, row.high_m + 1e-9, step):
            level = pen.height_mm(float(height))
            paper.line("grid", ((left, level), (right, level)))
            paper.write(
                f"{number(float(height), 0 if step >= 1 else 1)} m",
                (left - 1.5, level + 0.9),
                size=SMALL,
                align="right",
                colour=FAINT,
            )
    for side in (left, right):
        paper.line("frame", ((side, top), (side, bottom)))


def _spans(paper: Paper, marks: list[Mark], row: Row, top: float, bottom: float) -> None:
    for mark in marks:
        if mark.kind not in SPANS or mark.to_m < row.from_m or mark.from_m > row.to_m:
            continue
        begin, end = row.right_mm(max(mark.from_m, row.from_m)), row.right_mm(min(mark.to_m, row.to_m))
        spare = max(0.0, 0.8 - (end - begin)) / 2.0
        paper.box(mark.kind, begin - spare, bottom - SLOPE_MM if mark.kind == "slope" else top, end + spare, bottom)


def _profile(paper: Paper, ground: Ground, row: Row, pen: _Pen) -> None:
    if not ground.known:
        paper.line("flat", ((row.right_mm(row.from_m), pen.foot), (row.right_mm(row.to_m), pen.foot)))
        return
    here = (ground.chainage_m >= row.from_m - 1e-6) & (ground.chainage_m <= row.to_m + 1e-6)
    for name, heights in (("raster", ground.raster_m), ("fitted", ground.fitted_m)):
        chainage, height = _with_ends(ground.chainage_m, heights, here, row)
        pieces = np.split(np.arange(len(height)), np.flatnonzero(np.diff(np.isfinite(height))) + 1)
        for piece in pieces:
            if len(piece) > 1 and np.isfinite(height[piece[0]]):
                across = row.right_mm(0.0) + chainage[piece] * row.across
                paper.line(
                    name,
                    list(zip(across.tolist(), (pen.height_mm(0.0) - height[piece] * row.up).tolist(), strict=True)),
                )
    for start, stop in ground.gaps():
        begin, end = max(start, row.from_m), min(stop, row.to_m)
        if end > begin:
            paper.line("unknown", ((row.right_mm(begin), pen.down_mm(begin)), (row.right_mm(end), pen.down_mm(end))))


def _with_ends(chainage: np.ndarray, height: np.ndarray, here: np.ndarray, row: Row) -> tuple[np.ndarray, np.ndarray]:
    """Return the row's stretch of a profile with its two edges read between the points beside them."""
    edges = np.array([row.from_m, row.to_m])
    inside = here & (chainage > row.from_m + 1e-6) & (chainage < row.to_m - 1e-6)
    ends = np.interp(edges, chainage, height)  # NaN beside a gap stays NaN
    return np.concatenate([edges[:1], chainage[inside], edges[1:]]), np.concatenate(
        [ends[:1], height[inside], ends[1:]]
    )


def _posts(paper: Paper, section: Section, row: Row, pen: _Pen) -> None:
    chainage = section.posts_m
    chainage = chainage[(chainage >= row.from_m - 1e-6) & (chainage <= row.to_m + 1e-6)]
    across = row.right_mm(0.0) + chainage * row.across
    feet = pen.height_mm(0.0) - pen.ground.at(chainage) * row.up
    heads = post_heads(section.rails, chainage, foot_mm=feet, level_mm=pen.height_mm)
    for right, foot, head in zip(across.tolist(), feet.tolist(), heads.tolist(), strict=True):
        paper.line("post", ((right, foot), (right, head)))


def _stands(paper: Paper, marks: list[Mark], row: Row, pen: _Pen) -> None:
    for mark in sorted(marks, key=lambda mark: -mark.rank):
        if not row.holds(mark.middle_m):
            continue
        if mark.kind == "gate":
            begin, end = row.right_mm(mark.from_m), row.right_mm(mark.to_m)
            level = pen.down_mm(mark.middle_m)
            paper.line("gate", ((begin, level), (end, level)))
            paper.box("gate", begin, level - 3.0, max(end, begin + 1.2), level)
            continue
        right, foot = row.right_mm(mark.from_m), pen.down_mm(mark.from_m)
        if mark.kind == "strainer":
            paper.line("strainer", ((right, foot), (right, foot - 2.6)))
            sign(paper, "square", right, foot - 2.4)
        elif mark.kind == "corner":
            sign(paper, "corner", right, foot - 2.4)


def _breaks(paper: Paper, marks: list[Mark], row: Row, pen: _Pen) -> None:
    for mark in marks:
        if mark.kind in BREAKS and row.holds(mark.from_m):
            sign(paper, mark.kind, row.right_mm(mark.from_m), pen.down_mm(mark.from_m) + 1.1)


def sign(paper: Paper, kind: str, right: float, level: float) -> None:
    """Draw a sign with its middle at a place: square, corner (a diamond), gate, faint, crest and taken (triangles)."""
    if kind == "square":
        paper.box("square", right - 0.8, level - 0.8, right + 0.8, level + 0.8)
    elif kind == "corner":
        reach = 1.5
        paper.shape(
            "corner", ((right, level - reach), (right + reach, level), (right, level + reach), (right - reach, level))
        )
    elif kind == "gate":
        paper.box("gate", right - 1.8, level - 2.0, right + 1.8, level + 0.8)
    else:
        paper.shape(kind, ((right, level - 0.9), (right + 1.1, level + 1.0), (right - 1.1, level + 1.0)))


def _runs(paper: Paper, runs: list[Any], row: Row, top: float) -> None:
    for run in runs:
        if run.to_m <= row.from_m or run.from_m >= row.to_m:
            continue
        begin, end = row.right_mm(max(run.from_m, row.from_m)), row.right_mm(min(run.to_m, row.to_m))
        paper.box("run", begin, top, end, top + STRIP_MM)
        heading = short = ""
        if present(run.bearing_true_deg):
            short = f", {compass(run.bearing_true_deg)}"
            heading = f", towards {compass(run.bearing_true_deg)} ({degrees(run.bearing_true_deg)} true)"
        for words in (
            f"{run.run_id}, {metres(run.length_m)}{heading}",
            f"{run.run_id}, {metres(run.length_m)}{short}",
            f"{run.run_id}, {metres(run.length_m)}",
            run.run_id,
        ):
            if width_mm(words, SMALL) < end - begin - 1.5:
                paper.write(words, ((begin + end) / 2.0, top + 3.2), size=SMALL, align="center")
                break


def _chainage(paper: Paper, row: Row, top: float) -> None:
    step = step_for((row.to_m - row.from_m) or 1.0, max(2, int((row.to_m - row.from_m) * row.across / 22.0)))
    stations = [float(at) for at in np.arange(np.ceil(row.from_m / step - 1e-9) * step, row.to_m + 1e-6, step)]
    last = row.to_m
    if not stations or last - stations[-1] > 0.05:
        if stations and (last - stations[-1]) * row.across < 14.0:
            stations = stations[:-1]
        stations.append(last)
    for at in stations:
        right = row.right_mm(at)
        paper.line("frame", ((right, top), (right, top + 1.3)))
        digits = 0 if abs(at - round(at)) < 0.05 else 1
        align = "right" if at == last and right > WIDTH_MM - 8.0 else "center"
        paper.write(number(at, digits), (right, top + 4.2), size=SMALL, align=align, colour=INK)
