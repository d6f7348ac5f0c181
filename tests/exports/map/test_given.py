"""What the files give, as the map draws it and says it: lines, outlines, circles, and words that stay words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pytest
import shapely

from fencegis.exports.map.given import BESIDE, given_data
from fencegis.exports.map.layers import Wgs84, map_data
from fencegis.exports.map.legend import legend
from fencegis.exports.page_text import script_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

HOSTILE = "</script><b>x</b>"
WALL = [(50_000.0, 80_000.0), (50_030.0, 80_000.0), (50_030.0, 80_040.0)]


@pytest.fixture
def with_layer(small_plan: Plan) -> Callable[..., Plan]:
    def make(name: str, shape: shapely.Geometry, **properties: Any) -> Plan:
        columns = {key: [value] for key, value in properties.items()}
        table = gpd.GeoDataFrame(columns, geometry=[shape], crs=small_plan.crs)
        return replace(small_plan, site=replace(small_plan.site, **{name: table}))

    return make


def drawn(plan: Plan) -> dict[str, Any]:
    grid = plan.site.grid
    (row,) = given_data(plan, Wgs84(plan.crs, grid.centre_lon_deg))["beside"]
    return row


def facts(row: dict[str, Any]) -> dict[str, str]:
    return dict(row["say"]["facts"])


def test_nothing_given_is_nothing_drawn(small_plan: Plan) -> None:
    assert given_data(small_plan, Wgs84(small_plan.crs, 149.2))["beside"] == []


def test_a_buried_service_is_no_place_to_dig_by_and_what_is_not_known_is_said(with_layer: Callable[..., Plan]) -> None:
    plan = with_layer("services", shapely.LineString(WALL), kind="gas", owner=HOSTILE, quality="C", exposed=False)
    row = drawn(plan)
    assert row["look"] == "services"
    assert len(row["at"]) == 3
    assert "area" not in row
    assert row["say"]["lead"] == "Not a place to dig by: private lines are not on public plans."
    assert facts(row) == {"Kind": "gas", "Owner": HOSTILE, "Quality level of its place": "C", "Depth": "not known"}
    seen = with_layer("services", shapely.LineString(WALL), kind="gas", exposed=True, depth_m=0.6)
    assert facts(drawn(seen))["On site"] == "dug out by hand and seen"
    assert facts(drawn(seen))["Depth"] == "0.6\u00a0m"
    assert "</script>" not in script_json(map_data(plan))


def test_areas_and_circles(with_layer: Callable[..., Plan]) -> None:
    row = drawn(with_layer("keepout", shapely.Polygon(WALL), reason="nest"))
    assert row["area"] is True
    assert facts(row) == {"Why": "nest"}
    row = drawn(with_layer("keepout", shapely.Point(WALL[0]), radius_m=8.0))
    assert row["radius_m"] == 8.0
    assert facts(row) == {"To keep from it": "8.0\u00a0m"}


def test_water_tracks_and_old_fences(with_layer: Callable[..., Plan]) -> None:
    line = shapely.LineString(WALL)
    creek = drawn(with_layer("watercourses", line, kind="creek", width_m=4.0, flood_level_m=212.5, perennial=False))
    assert facts(creek) == {
        "Kind": "creek",
        "Width": "4.0\u00a0m",
        "Flood level, above the raster's datum": "212.5\u00a0m",
        "Flow": "at times only",
    }
    assert facts(drawn(with_layer("tracks", line, kind="farm track", width_m=3.0)))["Width"] == "3.0\u00a0m"
    old = drawn(with_layer("existing", line, kind=None, wires=4.0))
    assert facts(old) == {"Kind": "not known", "Wires": "4"}
    assert old["say"]["lead"] == "An old fence is often not the boundary."


@pytest.mark.parametrize(("keep", "said"), [(True, "to be kept"), (False, "need not be kept"), (None, None)])
def test_what_the_client_wants_of_a_tree(with_layer: Callable[..., Plan], keep: bool | None, said: str | None) -> None:
    plan = with_layer("trees", shapely.Point(WALL[0]), spread_m=6.0, dead=False, keep=keep)
    (tree,) = given_data(plan, Wgs84(plan.crs, 149.2))["trees"]
    assert facts(tree).get("Client's wish") == said
    assert tree["radius_m"] == 3.0


@pytest.mark.parametrize("name", BESIDE)
def test_each_has_its_row_in_the_legend(with_layer: Callable[..., Plan], name: str, small_plan: Plan) -> None:
    rows = legend(with_layer(name, shapely.LineString(WALL), kind="creek"))
    assert rows.count("as the data has it") == legend(small_plan).count("as the data has it") + 1
