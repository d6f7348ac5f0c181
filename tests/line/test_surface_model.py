"""Tree tops taken for ground are refused; banks, ridges, mounds and noise are ground."""

import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pyproj
import pytest
import rasterio

from fencegis import InputError, plan_site, read_site
from fencegis.line.surface_model import humps, repeated, surface_faults
from fencegis.records.spec import Spec

STATION = np.arange(0.0, 600.0)


def crowns(middles, *, high=8.0, across=9.0):
    """Heights of round crowns over the ground."""
    height = np.zeros(len(STATION))
    for middle in middles:
        away = np.abs(STATION - middle) / (across / 2.0)
        height = np.maximum(height, np.where(away < 1.0, high * np.sqrt(np.maximum(0.0, 1.0 - away**2)), 0.0))
    return height


def course(height, *, step_m=1.0):
    ground = SimpleNamespace(line_id="A", station_m=STATION, ground=True, grades=SimpleNamespace(step_m=step_m))
    ground.ground_at = lambda _: height
    return ground


def faults(height, **elevation):
    problems, notes = surface_faults(
        [course(height)], spec=Spec.model_validate({"elevation": {"vertical_error_m": 0.15, **elevation}})
    )
    return problems, notes


def test_a_row_of_trees_is_refused_with_where_it_stands():
    problems, _ = faults(crowns([100.0, 118.0, 140.0]))
    (problem,) = problems
    assert problem.file == "elevation"
    assert "rise and fall like tree tops: 3 times" in problem.fault
    assert "(A from 97 to 143 m)" in problem.fault  # a quarter under its top a crown is two thirds as wide
    assert "bare_ground = true" in problem.fix


def test_the_owner_of_the_raster_may_say_that_somebody_looked():
    problems, notes = faults(crowns([100.0, 118.0, 140.0]), bare_ground=True)
    assert problems == []
    assert "taken as ground all the same" in notes[0].text


def test_a_closed_wood_is_refused_for_its_rough_top():
    draw = np.random.default_rng(2)
    wood = np.where((STATION > 150) & (STATION < 420), 14.0, 0.0)
    wood[150:420] += np.repeat(draw.uniform(-4.0, 4.0, 54), 5)
    assert len(faults(wood)[0]) == 1


@pytest.mark.parametrize(
    "ground",
    [
        np.zeros(len(STATION)),
        0.9 * STATION,
        np.where(STATION > 300, 6.0, 0.0),  # a bank, one way
        25.0 * np.sin(STATION / 40.0),  # ridges, steep, wide
        1.9 * np.sin(STATION / 3.0) / 2.0,  # furrows and hummocks under two metres
        -crowns([200.0, 420.0], high=5.0),  # two gullies
        crowns([300.0], high=3.0, across=12.0),  # a mound
    ],
    ids=["level", "steep", "bank", "ridges", "hummocks", "gullies", "mound"],
)
@pytest.mark.parametrize("seed", range(5))
def test_bare_ground_never_is(ground, seed):
    noise = np.random.default_rng(seed).normal(0.0, 0.15, len(STATION))
    assert faults(ground + noise)[0] == []


def test_noise_of_a_poor_raster_makes_no_tree():
    noise = np.random.default_rng(1).normal(0.0, 1.0, len(STATION))
    assert faults(noise, vertical_error_m=1.0)[0] == []


def test_a_lone_mound_is_a_note():
    problems, notes = faults(crowns([300.0], high=3.0, across=12.0))
    assert problems == []
    assert "a mound, or a tree" in notes[0].text


def test_unknown_ground_ends_a_hump_and_coarse_cells_show_none():
    gap = crowns([100.0, 118.0, 140.0])
    gap[100] = gap[118] = gap[140] = np.nan
    assert len(humps(STATION, gap)) == 0
    coarse = course(crowns([100.0, 118.0, 140.0]), step_m=30.0)
    assert surface_faults([coarse], spec=Spec()) == ([], [])


def test_humps_far_apart_are_chance():
    far = humps(STATION, crowns([50.0, 300.0, 590.0]))
    assert len(repeated(far)) == 0


@pytest.mark.parametrize("seed", range(20))
def test_turns_agree_with_a_plain_twin(seed):
    """A hump is a low, a top and a low of the swings; the twin takes swings off the list of all local extremes."""
    draw = np.random.default_rng(seed)
    height = np.cumsum(draw.normal(0.0, 1.2, 80))
    station = np.arange(80.0) * 2.0
    found = {tuple(row) for row in humps(station, height).tolist()}
    assert found == plain(station, height)


def plain(station, height, least=2.0):
    turns = list(range(len(height)))
    while True:  # take out the smallest swing until none is under the least
        turns = [
            at
            for place, at in enumerate(turns)
            if place in (0, len(turns) - 1)
            or (height[at] - height[turns[place - 1]]) * (height[turns[place + 1]] - height[at]) < 0
        ]
        swings = np.abs(np.diff(height[turns]))
        if not len(swings) or swings.min() >= least:
            break
        smallest = int(swings.argmin())
        drop = {smallest, smallest + 1}
        if 0 in drop:
            drop = {0}
        elif len(turns) - 1 in drop:
            drop = {len(turns) - 1}
        turns = [at for place, at in enumerate(turns) if place not in drop]
    found = set()
    for low, top, after in zip(turns, turns[1:], turns[2:], strict=False):
        if height[top] > height[low]:
            begin = next(at for at in range(top, low - 1, -1) if height[at] <= height[top] - least)
            end = next(at for at in range(top, after + 1) if height[at] <= height[top] - least)
            flanks = [np.abs(np.diff(height[a : b + 1]) / 2.0).max() for a, b in ((begin, top), (top, end))]
            if station[end] - station[begin] <= 30.0 and min(flanks) >= 0.6:
                found.add((station[begin], station[end]))
    return found


def test_a_site_whose_raster_is_a_surface_model_is_refused_and_its_bare_ground_is_not(tmp_path):
    """A row of crowns put on the sample's own raster along its frontage; the raster itself plans."""
    sample = Path(__file__).parents[2] / "sample_sites" / "roadside"
    for name in ("boundary.geojson", "site.toml", "elevation.tif"):
        shutil.copy(sample / name, tmp_path / name)
    bare = plan_site(read_site(tmp_path))
    with rasterio.open(tmp_path / "elevation.tif", "r+") as raster:
        to_raster = pyproj.Transformer.from_crs(bare.crs, raster.crs, always_xy=True)
        places = [bare.runs.geometry.iloc[0].interpolate(at) for at in (40.0, 55.0, 70.0, 85.0)]
        east, north = to_raster.transform([place.x for place in places], [place.y for place in places])
        heights = raster.read(1)
        rows, columns = np.indices(heights.shape)
        x, y = rasterio.transform.xy(raster.transform, rows.ravel(), columns.ravel())
        for middle_east, middle_north in zip(east, north, strict=True):
            away = np.hypot(np.asarray(x) - middle_east, np.asarray(y) - middle_north).reshape(heights.shape) / 4.0
            heights += np.where(away < 1.0, 9.0 * np.sqrt(np.maximum(0.0, 1.0 - away**2)), 0.0).astype(heights.dtype)
        raster.write(heights, 1)
    with pytest.raises(InputError) as raised:
        plan_site(read_site(tmp_path))
    (problem,) = raised.value.problems
    assert "rise and fall like tree tops" in problem.fault
    toml = (tmp_path / "site.toml").read_text(encoding="utf-8")
    looked = toml.replace("[elevation]", "[elevation]\nbare_ground = true")
    (tmp_path / "site.toml").write_text(looked, encoding="utf-8")
    assert any("taken as ground all the same" in text for text in plan_site(read_site(tmp_path)).notes["text"])
