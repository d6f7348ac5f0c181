"""One page with everything inside it: folium's map, Leaflet, our own script and style, the data and the pictures.

folium builds the map's skeleton and nothing else goes through its templates. What it writes is numbered in order of
appearance; scripts, data and pictures are put in afterwards, so that no text of a site is ever seen by a template.
"""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from fencegis.exports.leaflet import leaflet_licence, leaflet_script, leaflet_style
from fencegis.exports.page_text import literal, script_json

if TYPE_CHECKING:
    from collections.abc import Mapping

SCRIPTS = (
    "draw.js", "found.js", "view.js", "words.js", "place.js", "section.js", "cursor.js",
    "tools.js", "paper.js", "page.js",
)  # fmt: skip
STYLES = ("map.css", "tools.css")
SLOT = "data:image/fencegis-slot-"
TILE_HOST = "https://tile.openstreetmap.org"
_RANDOM_ID = re.compile(r"(?<![0-9a-f])[0-9a-f]{32}(?![0-9a-f])")
_SLOT = re.compile(rf"{SLOT}([a-z]+)-end")
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)


def slot(name: str) -> str:
    """Return the mark that stands for a piece until the page is put together; `name` is lower-case letters."""
    return f"{SLOT}{name}-end"


def whole_page(
    skeleton: str, *, title: str, panel: str, data: object, pictures: Mapping[str, str], online: bool
) -> bytes:
    """Return the page: `skeleton` as folium renders it, its slots filled with `pictures` by name.

    `panel` is HTML of ours; `title` is text and `data` whatever JSON can hold. The page's security policy allows the
    scripts that are in it, by their hashes, and nothing from anywhere else; with `online` also street map tiles.
    """
    skeleton = _numbered(skeleton).replace("\r", "")
    skeleton = re.sub(r"<meta name=\"viewport\".*?/>", "", skeleton, flags=re.DOTALL)
    head = (
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{literal(title)}</title><!--\n{leaflet_licence()}\n-->"
        f"<style>{leaflet_style()}\n{''.join(map(_own, STYLES))}</style>"
        f"<script>{leaflet_script()}</script><script>{''.join(map(_own, SCRIPTS))}</script>"
    )
    body = (
        f'{_own("signs.svg")}{panel}<script type="application/json" id="plan-data">{script_json(data)}</script>'
        "<noscript><p>The map needs a browser that runs scripts. The words beside it are whole.</p></noscript>"
    )
    scripts = [*_SCRIPT.findall(head), *_SCRIPT.findall(skeleton)]
    policy = f'<meta http-equiv="Content-Security-Policy" content="{_policy(scripts, pictures, online=online)}">'
    before, head_mark, rest = skeleton.partition("<head>")
    top, end_mark, rest = rest.partition("</head>")
    between, body_mark, rest = rest.partition("<body>")
    page = "".join(
        (
            before.replace("<html>", '<html lang="en">'),
            head_mark,
            '<meta charset="utf-8">',
            policy,
            head,
            top,
            end_mark,
            between,
            body_mark,
            body,
            _filled(rest, pictures),
        )
    )
    return page.encode("utf-8")


def _numbered(page: str) -> str:
    """Return the page with folium's random ids replaced by their number in order of appearance."""
    names: dict[str, str] = {}
    return _RANDOM_ID.sub(lambda found: names.setdefault(found[0], f"n{len(names) + 1}"), page)


def _filled(page: str, pieces: Mapping[str, str]) -> str:
    return _SLOT.sub(lambda found: pieces[found[1]], page)


def _policy(scripts: list[str], pieces: Mapping[str, str], *, online: bool) -> str:
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(_filled(script, pieces).encode()).digest()).decode()}'"
        for script in scripts
    )
    pictures = f"data: {TILE_HOST}" if online else "data:"
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src {pictures}; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def _own(name: str) -> str:
    return (files("fencegis.exports.map") / "templates" / name).read_text(encoding="utf-8")
