"""What a tracing page is made from: the picture to draw over, and the layers that may be drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np
    import numpy.typing as npt

    from fencegis.records.backdrop import Picture

Holds = Literal["text", "word", "number", "whole", "flag"]
TILE_PIXELS = 256  # side of a tile, as web maps cut them


@dataclass(frozen=True)
class LayerField:
    """One property of a drawn feature as the reader of a site takes it; the words of a `text` only suggest."""

    name: str
    holds: Holds
    words: tuple[str, ...] = ()
    least: float | None = None
    above: float | None = None
    most: float | None = None
    longest: int | None = None
    needed: bool = False


@dataclass(frozen=True)
class DrawnLayer:
    """A layer of a site: its file, the geometry types that are read from it, and its properties.

    `needed_off_areas` are the properties without which a point or a line of it is a fault.
    """

    name: str
    file: str
    geometries: tuple[str, ...]
    fields: tuple[LayerField, ...]
    needed_off_areas: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Tile:
    """A square of a picture as web maps number them: (256, 256, 4) RGBA, row 0 in the north."""

    zoom: int
    column: int
    row: int
    rgba: npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class TracingPicture:
    """An orthophoto in Web Mercator: `whole` when it is small, else `tiles(deepest)` cut down to that zoom.

    `tiles` yields every tile that shows anything from `deepest` up to `widest`. `pixel_m` is the side of a pixel of
    the file on the ground, `bounds` south, west, north, east in WGS 84; `accuracy_m` what PROJ says of the step from
    the file's system to WGS 84, None when it does not say.
    """

    file: str
    system: str
    bounds: tuple[float, float, float, float]
    pixel_m: float
    whole: Picture | None
    deepest: int
    widest: int
    tiles: Callable[[int], Iterator[Tile]]
    accuracy_m: float | None = None


@dataclass(frozen=True, eq=False)
class Tracing:
    """All that a tracing page carries; `boundary` is GeoJSON features on WGS 84 to begin with.

    `name` is for people, `file_name` the same as a file may be called.
    """

    name: str
    file_name: str
    picture: TracingPicture
    hillshade: Picture | None
    layers: tuple[DrawnLayer, ...]
    boundary: tuple[dict[str, Any], ...] = ()
    notes: tuple[str, ...] = field(default=())
