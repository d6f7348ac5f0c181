"""The picture under the drawing as text inside the page: in one piece, or as tiles up to a total size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis.exports.pictures import picture_uri

if TYPE_CHECKING:
    from fencegis.records.tracing import TracingPicture

GREATEST_BYTES = 24_000_000  # of all tiles together, as text: a page that a phone still opens
GREATEST_TILE_BYTES = 40_000


@dataclass(frozen=True)
class InlineGround:
    """A picture ready to be written down: `whole` as one data URI, or `tiles` by zoom/column/row.

    `pixel_m` is the side of the finest pixel carried, on the ground.
    """

    bounds: tuple[float, float, float, float]
    whole: str | None
    tiles: dict[str, str]
    deepest: int
    widest: int
    pixel_m: float
    coarser: bool


def inline_ground(picture: TracingPicture, *, greatest_bytes: int = GREATEST_BYTES) -> InlineGround:
    """Return the picture for a page; tiles of as deep a zoom as stay within `greatest_bytes`, else coarser."""
    if picture.whole is not None:
        whole = picture_uri(picture.whole.rgba)
        return InlineGround(picture.bounds, whole, {}, 0, 0, picture.pixel_m, coarser=False)
    deepest, tiles = picture.deepest, None
    while tiles is None:
        tiles = _tiles(picture, deepest, greatest_bytes if deepest > picture.widest else None)
        deepest -= tiles is None
    coarser = deepest < picture.deepest
    pixel_m = picture.pixel_m * 2 ** (picture.deepest - deepest)
    return InlineGround(picture.bounds, None, tiles, deepest, min(picture.widest, deepest), pixel_m, coarser=coarser)


def _tiles(picture: TracingPicture, deepest: int, greatest_bytes: int | None) -> dict[str, str] | None:
    """Return the tiles from a zoom up, None as soon as they grow beyond `greatest_bytes`."""
    tiles: dict[str, str] = {}
    total = 0
    for tile in picture.tiles(deepest):
        uri = picture_uri(tile.rgba, greatest_bytes=GREATEST_TILE_BYTES)
        total += len(uri)
        if greatest_bytes is not None and total > greatest_bytes:
            return None
        tiles[f"{tile.zoom}/{tile.column}/{tile.row}"] = uri
    return tiles
