"""The client's map: one HTML file that opens from a phone's storage, with no network."""

from __future__ import annotations

from typing import TYPE_CHECKING

import folium
from branca.element import MacroElement
from folium.raster_layers import ImageOverlay
from folium.template import Template

from fencegis.exports.map.layers import map_data
from fencegis.exports.map.panel import panel
from fencegis.exports.map.skeleton import TILE_HOST, slot, whole_page
from fencegis.exports.map.tools import tools
from fencegis.exports.pictures import picture_uri

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np

    from fencegis.records.backdrop import Backdrop, Picture
    from fencegis.records.plan import Plan

DEEPEST_ZOOM = 23
BASES = {"imagery": "Aerial picture", "hillshade": "Shaded relief"}
SHADES = {"hillshade": 0.7}  # lets the paper through, so that words stand out
GROUPS = {
    "runs": "Runs",
    "strainers": "Corners, strainers, junctions",
    "posts": "Posts",
    "gates": "Gates",
    "crossings": "Creeks and drains: banks and bed",
    "trees": "Trees to go, limb, keep, look at",
    "access": "Way for the machine",
    "headroom": "Air under limbs",
    "clearing": "Clearing",
    "unchecked": "Stretches not checked",
    "given": "Wires, trees, pegs, water, services as given",
    "drawn": "The line as drawn",
}

HIDDEN = {"drawn", "headroom", "clearing", "unchecked"}  # at first: they lie over or under much of the line


class _Start(MacroElement):
    """Hands the map, its layer control and its groups of layers to the page's own script; comes after all of them."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
            fencePlan({{ this._parent.get_name() }}, {{ this.layers.get_name() }}, {
                {%- for name, group in this.groups.items() %}
                {{ name|tojson }}: {{ group.get_name() }},
                {%- endfor %}
            });
        {% endmacro %}
        """
    )

    def __init__(self, layers: folium.LayerControl, groups: Mapping[str, folium.FeatureGroup]) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Start"
        self.layers = layers
        self.groups = groups


def map_page(plan: Plan) -> bytes:
    """Return the map as one HTML page in UTF-8; the same plan gives the same bytes."""
    backdrop = plan.site.backdrop() if plan.site.backdrop else None
    under = _pictures(backdrop)
    data = map_data(plan)
    online = plan.site.spec.map.online
    return whole_page(
        _skeleton(data, under, online=online),
        title=f"{plan.site.name}: fence plan",
        panel=panel(plan) + tools(plan, pictured="imagery" in under),
        data=data,
        pictures={name: picture_uri(picture.rgba) for name, picture in under.items()},
        online=online,
    )


def _pictures(backdrop: Backdrop | None) -> dict[str, Picture]:
    found = {name: getattr(backdrop, name, None) for name in BASES}
    return {name: picture for name, picture in found.items() if picture is not None}


def _skeleton(data: dict[str, object], under: Mapping[str, Picture], *, online: bool) -> str:
    """Return folium's page: base layers, groups of layers, layer control; nothing in it comes from a file's text."""
    south, west, north, east = _bounds(data)
    page = folium.Map(
        location=[(south + north) / 2.0, (west + east) / 2.0],
        tiles=None,
        zoom_start=15,
        maxZoom=DEEPEST_ZOOM,
        zoomSnap=0.25,
        fadeAnimation=False,
    )
    page.default_js, page.default_css = [], []
    _add_bases(page, under, middle_lon_deg=(west + east) / 2.0, online=online)
    groups = {
        name: folium.FeatureGroup(name=title, show=name not in HIDDEN, control=bool(data.get(name, True)))
        for name, title in GROUPS.items()
    }
    groups["hazards"] = folium.FeatureGroup(name="Hazards", control=False)
    for group in groups.values():
        group.add_to(page)
    layers = folium.LayerControl(collapsed=True)
    layers.add_to(page)
    page.add_child(_Start(layers, groups))
    return str(page.get_root().render())


def _add_bases(page: folium.Map, under: Mapping[str, Picture], *, middle_lon_deg: float, online: bool) -> None:
    for name, picture in under.items():
        south, west, north, east = picture.bounds
        turns = 360.0 * round((middle_lon_deg - west) / 360.0)  # the plan's side of the 180th meridian
        west, east = west + turns, east + turns
        ImageOverlay(
            slot(name),
            [[south, west], [north, east]],
            pixelated=False,
            name=BASES[name],
            overlay=False,
            show=name == next(iter(under)),
            pane="tilePane",
            opacity=SHADES.get(name, 1.0),
        ).add_to(page)
    folium.FeatureGroup(name="Plain paper", overlay=False, show=not under).add_to(page)
    if online:
        folium.TileLayer(
            f"{TILE_HOST}/{{z}}/{{x}}/{{y}}.png",
            attr="© OpenStreetMap contributors",
            name="Street map, online",
            overlay=False,
            show=False,
            max_zoom=DEEPEST_ZOOM,
            max_native_zoom=19,
        ).add_to(page)


def _bounds(data: dict[str, object]) -> tuple[float, float, float, float]:
    import numpy as np

    runs: list[dict[str, list[list[float]]]] = data["runs"]  # type: ignore[assignment]
    places: np.ndarray = np.array([place for run in runs for place in run["at"]])
    (south, west), (north, east) = places.min(axis=0).tolist(), places.max(axis=0).tolist()
    return south, west, north, east
