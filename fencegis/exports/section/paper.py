"""A sheet of paper in millimetres, filled first and drawn once: lines, shapes and words with their places.

Down the sheet is positive. Words are measured with the font they are drawn in, so that none lies over another.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from fencegis.exports.page_text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    Point = tuple[float, float]

WIDTH_MM = 277.0  # A4 landscape less 10 mm each side; on A3 all is 1.4 times as large
MM_PER_POINT = 25.4 / 72.0
SMALL, PLAIN, HEADING, TITLE = 6.6, 7.2, 9.5, 14.0  # points; 6.6 is as small as a newspaper's footnote
INK, BRICK, PLUM, OCHRE, FAINT, WATER = "#211b2e", "#9c2f1f", "#6a5480", "#b9791a", "#655d70", "#2b6a94"
TIMBER = "#7a4f0c"
SETTINGS: dict[Any, Any] = {"svg.hashsalt": "fencegis", "hatch.linewidth": 0.7, "path.simplify": False}
# Colour, width in points, dashes in points.
PENS: dict[str, tuple[str, float, tuple[float, ...] | None]] = {
    "grid": ("#d8ccb8", 0.35, None),
    "frame": (INK, 0.6, None),
    "raster": (PLUM, 0.7, None),
    "fitted": (INK, 1.7, None),
    "post": (INK, 0.45, None),
    "rail": (TIMBER, 1.0, None),
    "under": (TIMBER, 0.5, None),
    "strainer": (INK, 1.3, None),
    "leader": (FAINT, 0.4, (2.0, 1.6)),
    "unknown": (BRICK, 0.8, (3.0, 2.0)),
    "flat": (INK, 1.0, (5.0, 2.0)),
    "gate": ("#ffffff", 3.4, None),
    "break": (OCHRE, 1.0, None),
    "air": (BRICK, 1.1, None),
    "service": (PLUM, 1.1, (4.0, 1.6, 0.9, 1.6)),
    "bank": (WATER, 1.2, None),
}
# Fill, edge, hatch.
INKS: dict[str, tuple[str, str, str | None]] = {
    "hazard": ("#f6e7e1", BRICK, "////"),
    "water": ("#e6eff5", WATER, "----"),
    "slope": ("#f6e7e1", BRICK, "||||"),
    "bed": (WATER, "#ffffff", None),
    "corner": ("#e3a534", INK, None),
    "square": (INK, "#ffffff", None),
    "gate": ("#ffffff", INK, None),
    "run": ("#f6f1e7", INK, None),
    "faint": ("#ffffff", "#a79e93", None),
    "crest": (OCHRE, "#7a4f0c", None),
    "taken": (INK, OCHRE, None),
    "paper": ("#ffffff", "none", None),
    "behind": ("#ffffff", "none", None),  # names, over the leaders that pass them
}


@dataclass(frozen=True)
class Word:
    """A line of words; `align` is left, center or right of the place."""

    at: Point
    text: str
    size: float = PLAIN
    align: str = "left"
    colour: str = INK
    bold: bool = False


@dataclass
class Paper:
    """What lies on the sheet so far."""

    lines: dict[str, list[Sequence[Point]]] = field(default_factory=dict)
    shapes: dict[str, list[Sequence[Point]]] = field(default_factory=dict)
    words: list[Word] = field(default_factory=list)

    def line(self, pen: str, points: Sequence[Point]) -> None:
        """Draw a line through the points with one of PENS."""
        self.lines.setdefault(pen, []).append(points)

    def shape(self, ink: str, points: Sequence[Point]) -> None:
        """Fill a polygon with one of INKS."""
        self.shapes.setdefault(ink, []).append(points)

    def box(self, ink: str, left: float, top: float, right: float, bottom: float) -> None:
        """Fill an upright rectangle."""
        self.shape(ink, ((left, top), (right, top), (right, bottom), (left, bottom)))

    def write(self, text: str, at: Point, **look: object) -> None:
        """Put words on the sheet; text of files is shown as it is, on one line."""
        self.words.append(Word(at, plain(text), **look))  # type: ignore[arg-type]


UNDER = ("paper", "hazard", "water", "slope", "run")


def svg(paper: Paper, *, height_mm: float) -> bytes:
    """Return the sheet as SVG; the same sheet gives the same bytes.

    Lines and shapes are matplotlib's. Words are written as text beside them, each at its place, so that any script a
    reader's fonts know can be read, searched and copied.
    """
    with mpl.rc_context(SETTINGS):
        figure = Figure(figsize=(WIDTH_MM / 25.4, height_mm / 25.4), facecolor="white")
        FigureCanvasSVG(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_xlim(0.0, WIDTH_MM)
        axes.set_ylim(height_mm, 0.0)
        for ink, shapes in paper.shapes.items():
            fill, edge, hatch = INKS[ink]
            order = 1 + UNDER.index(ink) if ink in UNDER else 20
            look = {"facecolor": fill, "edgecolor": edge, "linewidth": 0.6, "hatch": hatch, "zorder": order}
            axes.add_artist(PathPatch(_path(shapes, closed=True), **look))
        for place, (pen, (colour, width, dashes)) in enumerate(PENS.items()):
            if pen in paper.lines:
                look = {"edgecolor": colour, "linewidth": width, "zorder": 6 + place, "capstyle": "butt", "fill": False}
                strokes = PathPatch(_path(paper.lines[pen], closed=False), **look)
                strokes.set_linestyle((0.0, dashes) if dashes else "solid")
                axes.add_artist(strokes)
        memory = io.BytesIO()
        figure.savefig(memory, format="svg", metadata={"Date": None, "Creator": "fencegis"})
    return memory.getvalue().replace(b"</svg>", f"{_written(paper.words)}</svg>".encode())


def _path(lines: list[Sequence[Point]], *, closed: bool) -> Path:
    """Return lines or outlines as one path of many pieces: thousands of ticks are drawn at once."""
    codes: list[Any] = []
    for line in lines:
        codes += [Path.MOVETO] + [Path.LINETO] * (len(line) - 1) + ([Path.CLOSEPOLY] if closed else [])
    points = [point for line in lines for point in ((*line, line[0]) if closed else line)]
    return Path(points, codes)


def _written(words: list[Word]) -> str:
    anchors = {"left": "start", "center": "middle", "right": "end"}
    rows = []
    for word in words:
        right, down = (at / MM_PER_POINT for at in word.at)
        weight = ' font-weight="bold"' if word.bold else ""
        rows.append(
            f'<text x="{right:.2f}" y="{down:.2f}" font-size="{word.size:g}" fill="{word.colour}" '
            f'text-anchor="{anchors[word.align]}"{weight}>{escape(word.text)}</text>\n'
        )
    # Verdana is as wide as the font that words are measured in; most others are narrower.
    return f'<g font-family="DejaVu Sans, Verdana, sans-serif">\n{"".join(rows)}</g>\n'


def width_mm(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide the words are in millimetres at a size in points."""
    return sum(_advance(letter, bold) for letter in plain(text)) * size * MM_PER_POINT


def fitted_text(text: str, size: float, room_mm: float, *, bold: bool = False) -> str:
    """Return the words, cut with an ellipsis where they are wider than the room."""
    text = plain(text)
    if width_mm(text, size, bold=bold) <= room_mm:
        return text
    while text and width_mm(text + "…", size, bold=bold) > room_mm:
        text = text[:-1]
    return text + "…" if text else ""


@cache
def _advance(letter: str, bold: bool) -> float:
    """Return a letter's width in ems; of one that the font lacks, a full em."""
    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")))
    if not font.get_char_index(ord(letter)):
        return 1.0
    font.set_size(100.0, 72.0)
    return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 100.0
