"""The sample sites: rebuilt to the same values by their script, and what they are said to be."""

from __future__ import annotations

import json
import tomllib
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from shapely import LinearRing, LineString, Point, Polygon

from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

SITES = {"roadside": (7844, 7855), "hill": (6318, 6341)}
STEP_DEG = 2e-7  # seven decimals, rounded on either side


@pytest.fixture(scope="session")
def rebuilt(maker: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    maker.make(folder)
    return folder


def features(path: Path) -> list[dict[str, Any]]:
    collection: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["features"]
    return collection


def metres(site: str, path: Path) -> list[np.ndarray]:
    """Return each feature's vertices in metres of the site's raster."""
    move = Transformer.from_crs(*(f"EPSG:{code}" for code in SITES[site]), always_xy=True)
    found = []
    for one in features(path):
        coordinates = one["geometry"]["coordinates"]
        kind = one["geometry"]["type"]
        points = np.array([coordinates] if kind == "Point" else coordinates[0] if kind == "Polygon" else coordinates)
        found.append(np.column_stack([*move.transform(points[:, 0], points[:, 1]), *points[:, 2:].T]))
    return found


def heights_at(path: Path, points: np.ndarray) -> np.ndarray:
    with rasterio.open(path) as raster:
        return np.array([value[0] for value in raster.sample(points[:, :2])], float)


@pytest.mark.parametrize("site", SITES)
def test_the_script_writes_the_files_that_are_kept(site: str, samples: Path, rebuilt: Path) -> None:
    assert sorted(p.name for p in (rebuilt / site).iterdir()) == sorted(p.name for p in (samples / site).iterdir())


@pytest.mark.parametrize("site", SITES)
def test_vector_files_are_rebuilt_to_the_same_values(site: str, samples: Path, rebuilt: Path) -> None:
    for kept in sorted((samples / site).glob("*.geojson")):
        new, old = features(rebuilt / site / kept.name), features(kept)
        assert [one["properties"] for one in new] == [one["properties"] for one in old], kept.name
        assert [one["geometry"]["type"] for one in new] == [one["geometry"]["type"] for one in old], kept.name
        for one, other in zip(new, old, strict=True):
            numbers = np.array(one["geometry"]["coordinates"]), np.array(other["geometry"]["coordinates"])
            np.testing.assert_allclose(*(each[..., :2] for each in numbers), rtol=0, atol=STEP_DEG, err_msg=kept.name)
            np.testing.assert_allclose(*(each[..., 2:] for each in numbers), rtol=0, atol=0.011, err_msg=kept.name)


@pytest.mark.parametrize(("site", "name", "step"), [
    ("roadside", "elevation.tif", 1 / 256), ("hill", "elevation.tif", 1 / 64), ("roadside", "imagery.tif", 4),
])  # fmt: skip
def test_rasters_are_rebuilt_to_the_same_values(
    site: str, name: str, step: float, samples: Path, rebuilt: Path
) -> None:
    """A processor may round the last bit of a sine differently: a cell in a thousand may be a step away."""
    with rasterio.open(samples / site / name) as old, rasterio.open(rebuilt / site / name) as new:
        assert (old.crs, old.transform, old.shape, old.dtypes) == (new.crs, new.transform, new.shape, new.dtypes)
        difference = np.abs(new.read().astype(float) - old.read().astype(float))
    assert difference.max() <= step
    assert (difference > 0).mean() < 0.001


def test_both_sites_together_are_small(samples: Path) -> None:
    files = [path for site in SITES for path in (samples / site).iterdir()]
    assert sum(path.stat().st_size for path in files) < 5_000_000
    assert (samples / "roadside" / "imagery.tif").stat().st_size < 2_500_000


def specification(folder: Path) -> Spec:
    return Spec.model_validate(tomllib.loads((folder / "site.toml").read_text(encoding="utf-8")))


@pytest.mark.parametrize("site", SITES)
def test_the_specification_says_what_has_no_default(site: str, samples: Path) -> None:
    spec = specification(samples / site)
    assert spec.name
    assert spec.date is not None
    assert spec.rules.approach
    assert spec.machine is not None
    assert spec.machine.working_height_m is not None


def test_the_sites_lie_in_two_hemispheres(samples: Path) -> None:
    latitude = {site: features(samples / site / "pegs.geojson")[0]["geometry"]["coordinates"][1] for site in SITES}
    assert latitude["roadside"] < 0 < latitude["hill"]


@pytest.mark.parametrize("site", SITES)
def test_drawn_vertices_stray_from_the_truth_as_the_site_says(site: str, samples: Path, maker: ModuleType) -> None:
    sigma_m = specification(samples / site).boundary.vertex_sigma_m
    truth = maker.truth()[site]
    drawn = metres(site, samples / site / "boundary.geojson")
    assert len(drawn) == len(truth.lines)
    for points, (name, corners) in zip(drawn, truth.lines.items(), strict=True):
        line = LinearRing(corners) if truth.closed[name] else LineString(corners)
        off = np.array([line.distance(Point(point)) for point in points])
        assert off.max() < 4 * sigma_m
        if len(points) > 20:  # the square's mean is one variance across the line; twenty points hold it within half
            assert 0.55 * sigma_m < np.sqrt((off**2).mean()) < 1.5 * sigma_m


def test_lengths_are_what_the_readme_says(maker: ModuleType) -> None:
    truth = maker.truth()
    assert LineString(truth["roadside"].lines["frontage"]).length == pytest.approx(400.0, abs=10.0)
    assert Polygon(truth["hill"].lines["loop"]).length == pytest.approx(6000.0, abs=100.0)


def test_the_frontage_has_a_slight_curve_and_one_odd_corner(maker: ModuleType) -> None:
    corners = maker.truth()["roadside"].lines["frontage"]
    bearing = np.unwrap(np.arctan2(*np.diff(corners, axis=0).T))
    turns = np.degrees(np.diff(bearing))
    assert ((np.abs(turns[:-1]) > 3) & (np.abs(turns[:-1]) < 6)).all()
    assert 45 < abs(turns[-1]) < 60


def test_pegs_of_the_frontage_stand_on_its_true_ends(samples: Path, maker: ModuleType) -> None:
    corners = maker.truth()["roadside"].lines["frontage"]
    pegs = np.vstack(metres("roadside", samples / "roadside" / "pegs.geojson"))
    np.testing.assert_allclose(pegs, corners[[0, -1]], atol=0.02)


def test_the_cross_fence_is_drawn_a_metre_off_the_loop(samples: Path) -> None:
    loop, cross = metres("hill", samples / "hill" / "boundary.geojson")
    gaps = [LinearRing(loop).distance(Point(end)) for end in (cross[0], cross[-1])]
    assert all(0.3 < gap < 1.9 for gap in gaps), gaps


@pytest.mark.parametrize(("site", "within_m"), [("roadside", 1.5), ("hill", 3.0)])
def test_gates_are_drawn_on_a_line(site: str, within_m: float, samples: Path, maker: ModuleType) -> None:
    truth = maker.truth()[site]
    lines = [LinearRing(c) if truth.closed[name] else LineString(c) for name, c in truth.lines.items()]
    for gate in metres(site, samples / site / "gates.geojson"):
        assert min(line.distance(Point(gate[0])) for line in lines) < within_m


def test_the_service_line_crosses_the_entrance(samples: Path) -> None:
    site = samples / "roadside"
    (frontage,), (conductor,) = (
        metres("roadside", site / "boundary.geojson"),
        metres("roadside", site / "overhead.geojson"),
    )
    entrance = metres("roadside", site / "gates.geojson")[0][0]
    crossing = LineString(frontage).intersection(LineString(conductor))
    assert crossing.distance(Point(entrance)) < 2.0


def test_a_drain_a_cable_and_no_pipe_cross_the_frontage(samples: Path) -> None:
    site = samples / "roadside"
    frontage = LineString(metres("roadside", site / "boundary.geojson")[0])
    services = [LineString(points) for points in metres("roadside", site / "services.geojson")]
    crossing = [frontage.intersection(service).geom_type for service in services]
    assert crossing == ["LineString", "Point", "LineString"]  # an empty one, the branch to the house, an empty one
    assert [frontage.intersection(service).is_empty for service in services] == [True, False, True]
    entrance = Point(metres("roadside", site / "gates.geojson")[0][0])
    assert 3.0 < frontage.intersection(services[1]).distance(entrance) < 10.0
    drain = LineString(metres("roadside", site / "watercourses.geojson")[0])
    assert frontage.project(frontage.intersection(drain)) == pytest.approx(207.0, abs=3.0)


def test_an_old_fence_stands_on_part_of_the_frontage(samples: Path) -> None:
    site = samples / "roadside"
    frontage = LineString(metres("roadside", site / "boundary.geojson")[0])
    old, neighbour = (LineString(points) for points in metres("roadside", site / "existing.geojson"))
    assert [one["properties"]["kind"] for one in features(site / "existing.geojson")] == ["pull", "tie in"]
    assert 80.0 < old.length < 110.0
    assert old.hausdorff_distance(frontage.intersection(old.buffer(2.5, cap_style="flat"))) < 3.0
    assert Point(neighbour.coords[-1]).distance(Point(frontage.coords[0])) < 1.5


def test_some_trees_are_to_be_kept_and_of_the_dead_one_nobody_says_so(samples: Path) -> None:
    trees = [one["properties"] for one in features(samples / "roadside" / "trees.geojson")]
    assert [tree.get("keep") for tree in trees] == [True, True, None, True, None, None, None, True]
    assert not any(tree["dead"] for tree in trees if tree.get("keep"))


def test_the_pipe_on_the_hill_crosses_the_cross_fence(samples: Path, maker: ModuleType) -> None:
    cross = LineString(maker.truth()["hill"].lines["cross"])
    pipe = LineString(metres("hill", samples / "hill" / "services.geojson")[0])
    assert cross.project(cross.intersection(pipe)) == pytest.approx(500.0, abs=5.0)
    loop = LinearRing(maker.truth()["hill"].lines["loop"])
    (spring,) = metres("hill", samples / "hill" / "keepout.geojson")
    radius_m = features(samples / "hill" / "keepout.geojson")[0]["properties"]["radius_m"]
    assert radius_m < loop.distance(Point(spring[0])) < 2 * radius_m


def test_towers_carry_their_line_clear_of_the_ground_and_across_the_loop(samples: Path, maker: ModuleType) -> None:
    truth, site = maker.truth()["hill"], samples / "hill"
    spans = metres("hill", site / "overhead.geojson")[:2]
    for points, one in zip(spans, features(site / "overhead.geojson"), strict=False):
        sag_m = one["properties"]["sag_m"]
        for start, end in pairwise(points):
            share = np.linspace(0.0, 1.0, 61)[:, None]
            curve = start * (1 - share) + end * share
            height = curve[:, 2] - 4 * sag_m * (share * (1 - share))[:, 0] - heights_at(site / "elevation.tif", curve)
            assert height.min() > 6.0
    crossings = LinearRing(truth.lines["loop"]).intersection(LineString(np.vstack([p[:, :2] for p in spans])))
    assert len(crossings.geoms) == 2


def test_the_back_of_the_ridge_falls_steeply_across_the_line(samples: Path, maker: ModuleType) -> None:
    loop = LinearRing(maker.truth()["hill"].lines["loop"])
    stations = np.arange(5.0, loop.length - 5.0, 10.0)
    here, ahead = (np.array([loop.interpolate(s + step).coords[0] for s in stations]) for step in (0.0, 4.0))
    right = np.column_stack([(ahead - here)[:, 1], -(ahead - here)[:, 0]])
    raster = samples / "hill" / "elevation.tif"
    fall = (heights_at(raster, here - right) - heights_at(raster, here + right)) / 8.0
    assert (np.abs(fall) > 0.2).sum() * 10.0 > 1000.0


def test_the_fence_crosses_the_creek_three_times(samples: Path, maker: ModuleType) -> None:
    truth = maker.truth()["hill"]
    creek = LineString(metres("hill", samples / "hill" / "watercourses.geojson")[0])
    assert len(LinearRing(truth.lines["loop"]).intersection(creek).geoms) == 2
    assert LineString(truth.lines["cross"]).intersection(creek).geom_type == "Point"


def test_the_orthophoto_shows_what_the_files_say(samples: Path, maker: ModuleType) -> None:
    """Crowns are dark and green, the road is grey, the verge is greener than the paddock; the raster lies upright."""
    with rasterio.open(samples / "roadside" / "imagery.tif") as raster:

        def colour(point: np.ndarray, half: int = 4) -> np.ndarray:
            row, column = raster.index(*point)
            window = ((row - half, row + half + 1), (column - half, column + half + 1))
            return raster.read(window=window).astype(float).reshape(3, -1).mean(axis=1)

        truth = maker.truth()["roadside"]
        corners = truth.lines["frontage"]
        unit = (corners[1] - corners[0]) / np.hypot(*(corners[1] - corners[0]))
        left = np.array([-unit[1], unit[0]])
        for chainage in (12.0, 60.0, 120.0):
            at = corners[0] + unit * chainage
            verge, paddock, road = colour(at - 6 * left), colour(at + 8 * left), colour(at - 18.6 * left)
            assert paddock[0] - paddock[1] > verge[0] - verge[1]
            assert np.ptp(road) < 20
        grass = colour(corners[0] + unit * 120 + 20 * left).sum()
        trees = features(samples / "roadside" / "trees.geojson")
        for middle, tree in zip(truth.points["trees"], trees, strict=True):
            if not tree["properties"]["dead"]:
                crown = colour(middle, 6)
                assert crown[1] > crown[0]
                assert crown.sum() < 0.85 * grass
