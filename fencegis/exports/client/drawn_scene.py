"""A map drawn on a printed sheet, in black and white."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from PIL import Image
from reportlab.lib.utils import ImageReader

from fencegis.exports.client.scene import Area, Path, Ring
from fencegis.exports.client.underlay import grey
from fencegis.exports.sheets.paper import HEIGHT_MM, POINT_MM

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.exports.client.scene import Mark, Point, Scene
    from fencegis.exports.sheets.paper import Pad

QUALITY = 70  # of the picture, as JPEG has it


class Drawn:
    """Scenes on the sheets of one PDF; a picture that lies under several is in the file once."""

    def __init__(self) -> None:
        """Begin without pictures."""
        self._pictures: dict[int, tuple[Any, ImageReader]] = {}

    def scene(self, pad: Pad, scene: Scene, corner: Point) -> None:
        """Draw a scene in a box from its top left corner."""
        left, top = corner
        if scene.under is not None:
            foot = (HEIGHT_MM - top - scene.tall_mm) / POINT_MM
            pad.canvas.drawImage(
                self._picture(scene.under), left / POINT_MM, foot, scene.wide_mm / POINT_MM, scene.tall_mm / POINT_MM
            )
        with pad.within(corner, scene.wide_mm, scene.tall_mm):
            draw_marks(pad, scene.marks, corner)
        pad.box(corner, scene.wide_mm, scene.tall_mm, width=0.8)

    def _picture(self, rgba: Any) -> ImageReader:
        if id(rgba) not in self._pictures:
            memory = io.BytesIO()
            Image.fromarray(grey(rgba)).save(memory, "JPEG", quality=QUALITY)
            memory.seek(0)
            self._pictures[id(rgba)] = rgba, ImageReader(memory)
        return self._pictures[id(rgba)][1]


def draw_marks(pad: Pad, marks: Iterable[Mark], corner: Point) -> None:
    """Draw marks with their origin at `corner`."""
    for mark in marks:
        if isinstance(mark, Path):
            with_shade = mark.shade
            if with_shade:
                pad.canvas.setStrokeGray(with_shade)
            pad.path(_moved(mark.points, corner), width=mark.width, dashes=mark.dashes)
            if with_shade:
                pad.canvas.setStrokeGray(0.0)
        elif isinstance(mark, Area):
            pad.shape(_moved(mark.points, corner), shade=mark.fill, width=mark.width)
        elif isinstance(mark, Ring):
            _ring(pad, mark, corner)
        else:
            if mark.shade:
                pad.canvas.setFillGray(mark.shade)
            at = _moved([mark.at], corner)[0]
            pad.write(mark.text, at, size=mark.size, font="bold" if mark.bold else "plain", align=mark.align)
            if mark.shade:
                pad.canvas.setFillGray(0.0)


def _ring(pad: Pad, mark: Ring, corner: Point) -> None:
    if not mark.width and mark.fill is not None:
        pad.canvas.setStrokeGray(mark.fill)
    pad.ring(_moved([mark.middle], corner)[0], mark.radius, width=mark.width or 0.3, shade=mark.fill)
    pad.canvas.setStrokeGray(0.0)


def _moved(points: Sequence[Point], corner: Point) -> list[Point]:
    return [(right + corner[0], down + corner[1]) for right, down in points]
