"""A map as an inline drawing of a page; words from files stay words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.client.scene import SIGN_MM, Area, Path, Ring
from fencegis.exports.page_text import literal
from fencegis.exports.pictures import picture_uri
from fencegis.exports.sheets.paper import POINT_MM

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.exports.client.scene import Mark, Point, Scene, Sign

ANCHORS = {"left": "start", "center": "middle", "right": "end"}
GREATEST_BYTES = 260_000  # of one picture


def scene_svg(scene: Scene, *, under: str = "", look: str = "") -> str:
    """Return the scene as an SVG element; `under` is the id of the picture that the page holds for it."""
    box = f"0 0 {_number(scene.wide_mm)} {_number(scene.tall_mm)}"
    name = literal(scene.about)
    laid = f'<use href="#{under}"/>' if under and scene.under is not None else ""
    return (
        f'<svg class="map {look}" viewBox="{box}" role="img" aria-label="{name}"><title>{name}</title>'
        f'<rect width="{_number(scene.wide_mm)}" height="{_number(scene.tall_mm)}" fill="#fff"/>{laid}'
        f"{marks_svg(scene.marks)}</svg>"
    )


def picture_svg(scene: Scene, name: str) -> str:
    """Return what lies under a scene as an element to be laid under it by its id; nothing where nothing does."""
    if scene.under is None:
        return ""
    uri = picture_uri(scene.under, greatest_bytes=GREATEST_BYTES)
    size = f'width="{_number(scene.wide_mm)}" height="{_number(scene.tall_mm)}"'
    return f'<image id="{name}" {size} preserveAspectRatio="none" href="{uri}"/>'


def sign_svg(sign: Sign) -> str:
    """Return an entry of the key."""
    wide, tall = SIGN_MM
    return (
        f'<li><svg class="sign" viewBox="0 0 {_number(wide)} {_number(tall)}" aria-hidden="true">'
        f"{marks_svg(sign.marks)}</svg><span>{literal(sign.words)}</span></li>"
    )


def marks_svg(marks: Iterable[Mark]) -> str:
    """Return marks as SVG elements."""
    return "".join(map(_mark, marks))


def _mark(mark: Mark) -> str:
    if isinstance(mark, Path):
        dashes = f' stroke-dasharray="{" ".join(_number(d * POINT_MM) for d in mark.dashes)}"' if mark.dashes else ""
        pen = f'fill="none" stroke="{_shade(mark.shade)}" stroke-width="{_number(mark.width * POINT_MM)}"'
        return f'<path d="M{_points(mark.points)}" {pen}{dashes}/>'
    if isinstance(mark, Area):
        return f'<path d="M{_points(mark.points)}Z" {_filled(mark.fill, mark.width)}/>'
    if isinstance(mark, Ring):
        right, down = mark.middle
        place = f'cx="{_number(right)}" cy="{_number(down)}" r="{_number(mark.radius)}"'
        return f"<circle {place} {_filled(mark.fill, mark.width)}/>"
    right, down = mark.at
    weight = ' font-weight="700"' if mark.bold else ""
    return (
        f'<text x="{_number(right)}" y="{_number(down)}" font-size="{_number(mark.size * POINT_MM)}"{weight} '
        f'text-anchor="{ANCHORS[mark.align]}" fill="{_shade(mark.shade)}">{literal(mark.text)}</text>'
    )


def _filled(fill: float | None, width: float) -> str:
    inside = "none" if fill is None else _shade(fill)
    edge = f' stroke="#000" stroke-width="{_number(width * POINT_MM)}"' if width else ""
    return f'fill="{inside}"{edge}'


def _shade(shade: float) -> str:
    return f"#{round(shade * 255):02x}" + f"{round(shade * 255):02x}" * 2


def _points(points: Iterable[Point]) -> str:
    return "L".join(f"{_number(right)} {_number(down)}" for right, down in points)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if value else "0"
