"""The tracing page put together: Leaflet, our scripts and style, the layers' table, the picture; nothing from outside.

Text of a file is put in only as JSON that no script element can end with, or escaped; the page's security policy lets
its own scripts run, by their hashes, and nothing be loaded.
"""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from fencegis.exports.draft.ground_picture import GREATEST_BYTES, inline_ground
from fencegis.exports.draft.layer_words import layer_table
from fencegis.exports.leaflet import leaflet_licence, leaflet_script, leaflet_style
from fencegis.exports.page_text import literal, plain, script_json
from fencegis.exports.pictures import picture_uri

if TYPE_CHECKING:
    from fencegis.exports.draft.ground_picture import InlineGround
    from fencegis.records.tracing import Tracing

SCRIPTS = ("geodesy.js", "drawing.js", "near.js", "look.js", "draft.js", "files.js", "panel.js", "start.js")
MADE_BY = '<meta name="generator" content="fencegis draft">'
_MARK = re.compile(r"\{\{([a-z]+)\}\}")
_WORTH_SAYING_M = 1.0


def draft_page(tracing: Tracing, *, greatest_bytes: int = GREATEST_BYTES) -> bytes:
    """Return the page in UTF-8; the same files give the same bytes. `greatest_bytes` bounds a tiled picture."""
    return page_and_words(tracing, greatest_bytes=greatest_bytes)[0]


def page_and_words(tracing: Tracing, *, greatest_bytes: int = GREATEST_BYTES) -> tuple[bytes, str]:
    """Return the page, and what there is to say of its picture."""
    ground = inline_ground(tracing.picture, greatest_bytes=greatest_bytes)
    said = _ground_words(tracing, ground)
    script = "".join(map(_own, SCRIPTS))
    pieces = {
        "madeby": MADE_BY,
        "policy": _policy([leaflet_script(), script]),
        "title": literal(f"{tracing.name}: tracing page"),
        "name": literal(tracing.name),
        "licence": leaflet_licence(),
        "style": f"{leaflet_style()}\n{_own('draft.css')}",
        "leaflet": leaflet_script(),
        "script": script,
        "ground": literal(said),
        "data": script_json(_data(tracing, ground)),
    }
    return _MARK.sub(lambda mark: pieces[mark[1]], _own("page.html")).encode("utf-8"), said


def _ground_words(tracing: Tracing, ground: InlineGround) -> str:
    """Return what the picture is: file, system, size of a pixel as shown, and what the step to WGS 84 may add."""
    picture = tracing.picture
    said = [f"{plain(picture.file)}, {plain(picture.system)}; a pixel is {ground.pixel_m:.2f} m on the ground."]
    if ground.coarser:
        said.append(f"The file is finer, {picture.pixel_m:.2f} m: all of it would make too large a page.")
    if picture.accuracy_m is None:
        said.append("How well its system fits WGS 84 is not known.")
    elif picture.accuracy_m > _WORTH_SAYING_M:
        said.append(f"Its system and WGS 84 are known to fit to {picture.accuracy_m:g} m only.")
    return " ".join([*said, *map(plain, tracing.notes)])


def _data(tracing: Tracing, ground: InlineGround) -> dict[str, Any]:
    boundary = {"type": "FeatureCollection", "features": list(tracing.boundary)}
    # one drawing for one picture and one beginning: a page made again finds what was drawn on the older one
    own = script_json([tracing.picture.file, [round(side, 5) for side in ground.bounds], boundary])
    relief = tracing.hillshade
    return {
        "key": f"fencegis-draft-{hashlib.sha256(own.encode()).hexdigest()[:16]}",
        "layers": layer_table(tracing.layers),
        "boundary": boundary if tracing.boundary else None,
        "ground": {
            "bounds": ground.bounds,
            "whole": ground.whole,
            "tiles": ground.tiles,
            "deepest": ground.deepest,
            "widest": ground.widest,
        },
        "relief": relief and {"bounds": relief.bounds, "whole": picture_uri(relief.rgba)},
    }


def _policy(scripts: list[str]) -> str:
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'" for script in scripts
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def _own(name: str) -> str:
    return (files("fencegis.exports.draft") / "templates" / name).read_text(encoding="utf-8")
