"""A printed sheet of A4, black on white: millimetres right and down from its top left corner, words drawn as they are.

Nothing here knows markup, so text from files stays text. What the fonts lack is shown by a mark, and sheets say so.
"""

from __future__ import annotations

import unicodedata
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from fencegis.exports.page_text import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    Point = tuple[float, float]

POINT_MM = 25.4 / 72.0
WIDTH_MM, HEIGHT_MM = (side * POINT_MM for side in A4)
MARGIN_MM = 12.0
RIGHT_MM, FOOT_MM = WIDTH_MM - MARGIN_MM, HEIGHT_MM - 14.0
ROOM_MM = RIGHT_MM - MARGIN_MM
FILES = {"plain": "DejaVuSans", "bold": "DejaVuSans-Bold", "even": "DejaVuSansMono"}
NOT_DRAWN = "\u25af"  # stands for letters that the fonts lack
ON_THE_MAP = "name on the map"
SCRIPTS = ("LATIN", "GREEK", "CYRILLIC", "COMBINING")


@dataclass(frozen=True)
class Sheet:
    """One side of paper: what its foot calls it, and what fills it; `draw` is given the sheet's own number."""

    about: str
    draw: Callable[[Pad, int], None]


class Pad:
    """A pen on one sheet of a PDF.

    Lines and shapes are written as PDF's own operators: as many as a plan has would take several times as long
    through the library's calls, one for each.
    """

    def __init__(self, canvas: Any) -> None:
        """Write on the current page of a reportlab canvas."""
        self.canvas = canvas
        self._pen: tuple[float, tuple[float, ...]] | None = None

    def write(self, text: str, at: Point, *, size: float = 10.0, font: str = "plain", align: str = "left") -> None:
        """Put one line of words at a place of their base line; `align` is left, center or right."""
        if not text:
            return
        self.canvas.setFont(font_name(font), size)
        back = {"left": 0.0, "center": 0.5, "right": 1.0}[align]
        left = at[0] - back * wide_mm(text, size, font) if back else at[0]
        self.canvas.drawString(*_points((left, at[1])), drawn(text))

    def lines(self, lines: Sequence[str], at: Point, *, size: float, gap_mm: float, font: str = "plain") -> float:
        """Write lines below each other and return how far down the next would stand."""
        if lines:
            words = self.canvas.beginText(*_points(at))
            words.setFont(font_name(font), size, gap_mm / POINT_MM)
            for text in lines:
                words.textLine(drawn(text))
            self.canvas.drawText(words)
        return at[1] + gap_mm * len(lines)

    def rule(self, begin: Point, end: Point, *, width: float = 0.5, dashes: Sequence[float] = ()) -> None:
        """Draw a straight line; width and dashes in points."""
        self.path((begin, end), width=width, dashes=dashes)

    def rules(self, pieces: Sequence[Sequence[Point]], *, width: float = 0.5) -> None:
        """Draw straight lines, each from its begin to its end."""
        if len(pieces):
            self._hold(width, ())
            self.canvas.addLiteral(f"{' '.join(map(_through, pieces))} S")

    def path(self, points: Sequence[Point], *, width: float = 0.5, dashes: Sequence[float] = ()) -> None:
        """Draw a line through all points."""
        self._hold(width, dashes)
        self.canvas.addLiteral(f"{_through(points)} S")

    def shape(self, points: Sequence[Point], *, shade: float | None = None, width: float = 0.5) -> None:
        """Draw a closed outline, filled with a shade from 0 (black) to 1 (white) when one is given."""
        self._hold(width or 0.5, ())
        ends = "b" if width and shade is not None else "s" if width else "f" if shade is not None else "n"
        outline = f"{_through(points)} {ends}"
        self.canvas.addLiteral(outline if shade is None else f"{shade:g} g {outline} 0 g")

    def box(
        self, corner: Point, wide_mm: float, tall_mm: float, *, width: float = 0.6, shade: float | None = None
    ) -> None:
        """Draw an upright box from its top left corner."""
        left, top = corner
        right, foot = left + wide_mm, top + tall_mm
        self.shape(((left, top), (right, top), (right, foot), (left, foot)), width=width, shade=shade)

    def ring(self, middle: Point, radius_mm: float, *, width: float = 0.5, shade: float | None = None) -> None:
        """Draw a circle."""
        self._hold(width, ())
        if shade is not None:
            self.canvas.setFillGray(shade)
        self.canvas.circle(*_points(middle), radius_mm / POINT_MM, stroke=1, fill=int(shade is not None))
        self.canvas.setFillGray(0.0)

    def _hold(self, width: float, dashes: Sequence[float]) -> None:
        """Take a pen of this width, unless it is in the hand already."""
        if (width, tuple(dashes)) != self._pen:
            self._pen = width, tuple(dashes)
            self.canvas.addLiteral(f"{width:g} w [{' '.join(f'{dash:g}' for dash in dashes)}] 0 d")

    def blank(self, label: str, at: Point, to_mm: float, *, size: float = 10.0) -> None:
        """Write a label and, from its end to `to_mm`, the line to write an answer on."""
        self.write(label, at, size=size)
        begin = at[0] + wide_mm(label, size) + 1.5
        if to_mm > begin:
            self.rule((begin, at[1] + 0.8), (to_mm, at[1] + 0.8), width=0.4)

    def tick(self, label: str, at: Point, *, size: float = 10.0) -> None:
        """Write a label behind a box to tick."""
        self.box((at[0], at[1] - 3.2), 3.6, 3.6)
        self.write(label, (at[0] + 5.2, at[1]), size=size)

    @contextmanager
    def within(self, corner: Point, across_mm: float, tall_mm: float) -> Iterator[None]:
        """Cut off what is drawn outside a box."""
        self.canvas.saveState()
        held = self._pen
        path = self.canvas.beginPath()
        left, foot = _points((corner[0], corner[1] + tall_mm))
        path.rect(left, foot, across_mm / POINT_MM, tall_mm / POINT_MM)
        self.canvas.clipPath(path, stroke=0, fill=0)
        yield
        self.canvas.restoreState()
        self._pen = held


def _points(at: Point) -> tuple[float, float]:
    return at[0] / POINT_MM, (HEIGHT_MM - at[1]) / POINT_MM


def _through(points: Sequence[Point]) -> str:
    """Return the operators of a path through all points, to a hundredth of a point."""
    places = [f"{right / POINT_MM:.2f} {(HEIGHT_MM - down) / POINT_MM:.2f}" for right, down in points]
    return f"{places[0]} m {' l '.join(places[1:])} l"


@cache
def font_name(font: str) -> str:
    """Return a font's name for reportlab: plain, bold, or even (all letters equally wide); all come with matplotlib."""
    name = FILES[font]
    path = Path(mpl.get_data_path()) / "fonts" / "ttf" / f"{name}.ttf"
    pdfmetrics.registerFont(TTFont(name, str(path)))
    return name


@lru_cache(maxsize=4096)
def wide_mm(text: str, size: float, font: str = "plain") -> float:
    """Return how wide words are drawn."""
    return sum(_advance(letter, font) for letter in drawn(text)) * size * POINT_MM


def fitted(text: str, size: float, room_mm: float, font: str = "plain") -> str:
    """Return the words, cut with an ellipsis where they are wider than the room."""
    text = drawn(text)
    if wide_mm(text, size, font) <= room_mm:
        return text
    while text and wide_mm(f"{text}…", size, font) > room_mm:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""


def wrapped(text: str, size: float, room_mm: float, font: str = "plain") -> list[str]:
    """Return the words as lines that fit the room; a single word that does not is cut."""
    lines: list[str] = []
    line: list[str] = []
    wide = 0.0
    space = wide_mm(" ", size, font)
    for word in drawn(text).split(" "):
        more = wide_mm(word, size, font)
        if line and wide + space + more > room_mm:
            lines.append(" ".join(line))
            line, wide = [], -space
        line.append(fitted(word, size, room_mm, font) if more > room_mm else word)
        wide += space + more if len(line) > 1 or wide else more
    return [*lines, " ".join(line)] if any(line) else lines


def at_most(lines: list[str], most: int, *, more: str) -> list[str]:
    """Return the lines, or where they are too many the first of them and a last that says so."""
    return lines if len(lines) <= most else [*lines[: most - 1], more]


def printable(text: str) -> bool:
    """Return whether the fonts draw all of the text: Latin, Greek, Cyrillic and signs, from left to right."""
    text = unicodedata.normalize("NFC", plain(text))
    return text.isascii() or all(map(_drawable, text))


@lru_cache(maxsize=4096)
def drawn(text: str) -> str:
    """Return the text on one line as it is drawn, spaces as they are: letters that the fonts lack become marks."""
    if text.isascii() and text.isprintable():
        return text
    whole = " ".join(plain(piece) for piece in text.split(" "))
    shown = "".join(letter if _drawable(letter) else NOT_DRAWN for letter in unicodedata.normalize("NFC", whole))
    while NOT_DRAWN * 2 in shown:
        shown = shown.replace(NOT_DRAWN * 2, NOT_DRAWN)
    return shown


def named(name: object, instead: str) -> str:
    """Return a name as printed; of one in another script what stands for it, and where the name is."""
    if not isinstance(name, str) or not plain(name):
        return instead
    return plain(name) if printable(name) else f"{instead}, {ON_THE_MAP}"


@cache
def _advance(letter: str, font: str) -> float:
    """Return a letter's width as a share of the size."""
    return float(pdfmetrics.stringWidth(letter, font_name(font), 1.0))


@cache
def _drawable(letter: str) -> bool:
    if ord(letter) not in _letters():
        return False
    if unicodedata.bidirectional(letter) in {"R", "AL", "AN"}:
        return False
    return unicodedata.category(letter)[0] not in "LM" or ord(letter) < 0x300 or _script(letter) in SCRIPTS


def _script(letter: str) -> str:
    return unicodedata.name(letter, "").split(" ")[0]


@cache
def _letters() -> frozenset[int]:
    """Return the code points that all three fonts have."""
    faces = [pdfmetrics.getFont(font_name(font)).face for font in FILES]
    return frozenset.intersection(*(frozenset(face.charToGlyph) for face in faces))
