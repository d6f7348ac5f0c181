"""A map as marks on paper, in millimetres right and down: drawn alike on the printed sheet and on the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Point = tuple[float, float]
    Points = tuple[Point, ...]


@dataclass(frozen=True)
class Path:
    """A line through points; width and dashes in points of 1/72 inch, shade from 0 (black) to 1 (white)."""

    points: Points
    width: float = 0.6
    dashes: tuple[float, ...] = ()
    shade: float = 0.0


@dataclass(frozen=True)
class Area:
    """A closed outline, filled with a shade when one is given; no line round it when its width is 0."""

    points: Points
    fill: float | None = None
    width: float = 0.6


@dataclass(frozen=True)
class Ring:
    """A circle, filled with a shade when one is given."""

    middle: Point
    radius: float
    fill: float | None = None
    width: float = 0.6


@dataclass(frozen=True)
class Words:
    """A line of words at a place of its base line; `align` is left, center or right, `size` in points."""

    text: str
    at: Point
    size: float = 8.0
    bold: bool = False
    align: str = "left"
    shade: float = 0.0


Mark = Path | Area | Ring | Words


@dataclass(frozen=True, eq=False)
class Scene:
    """A map in a box: what lies under it as (row, column, 4) uint8 filling the box, then marks in their order."""

    wide_mm: float
    tall_mm: float
    about: str  # what it shows, for those who do not see it
    under: npt.NDArray[np.uint8] | None
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Sign:
    """One entry of a map's key: a small drawing in a box of 11 by 5 millimetres, and its words."""

    marks: tuple[Mark, ...]
    words: str


SIGN_MM = (11.0, 5.0)
