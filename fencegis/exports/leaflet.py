"""Leaflet as the package that ships it has it, ready to stand inside a page: script, style, licence."""

from __future__ import annotations

import re
from functools import cache
from importlib.metadata import files as files_of
from importlib.resources import files


@cache
def leaflet_script() -> str:
    """Return Leaflet's script, without the name of a map of its source that nobody has."""
    script = (files("js_lib_leaflet") / "static" / "js_lib_leaflet" / "leaflet.js").read_text(encoding="utf-8")
    return re.sub(r"//# sourceMappingURL=\S+", "", script).replace("\r", "")


@cache
def leaflet_style() -> str:
    """Return Leaflet's style without its pictures: the pages draw their own signs."""
    style = (files("js_lib_leaflet") / "static" / "js_lib_leaflet" / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"url\(images/[^)]*\)", "none", style).replace("\r", "")


@cache
def leaflet_licence() -> str:
    """Return the licence that came with Leaflet, as it may stand in a comment."""
    for path in files_of("django-js-lib-leaflet") or ():
        if path.name.upper().startswith("LICENSE"):
            return path.read_text(encoding="utf-8").replace("--", "- -").replace("\r", "").strip()
    raise FileNotFoundError("django-js-lib-leaflet has no LICENSE: a page may not carry Leaflet without it")
