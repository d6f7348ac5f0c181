"""Tiling a line with what was looked at."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from fencegis.hazards.checks import Part, rest_of, tiled, without_ground
from fencegis.hazards.envelope import Envelope
from fencegis.hazards.near import Legs, joined
from fencegis.line.chainage import Line

REST = Part((0.0, 100.0), "clear", "none found")


def shown(*parts: Part, rest: Part = REST) -> list[tuple[float, float, str, str]]:
    return [(*part.stretch, part.status, part.basis) for part in tiled(rest, parts)]


def test_nothing_found_is_one_tile() -> None:
    assert shown() == [(0.0, 100.0, "clear", "none found")]


def test_the_gravest_wins_and_what_it_rests_on_is_joined() -> None:
    assert shown(
        Part((10.0, 40.0), "flagged", "one"),
        Part((30.0, 60.0), "flagged", "two"),
        Part((35.0, 70.0), "not checked", "no"),
    ) == [
        (0.0, 10.0, "clear", "none found"),
        (10.0, 30.0, "flagged", "one"),
        (30.0, 40.0, "flagged", "one; two"),
        (40.0, 60.0, "flagged", "two"),
        (60.0, 70.0, "not checked", "no"),
        (70.0, 100.0, "clear", "none found"),
    ]


def test_a_sliver_goes_to_its_graver_neighbour() -> None:
    assert shown(Part((10.0, 40.0), "flagged", "one"), Part((40.05, 60.0), "not checked", "no")) == [
        (0.0, 10.0, "clear", "none found"),
        (10.0, 40.05, "flagged", "one"),
        (40.05, 60.0, "not checked", "no"),
        (60.0, 100.0, "clear", "none found"),
    ]


@pytest.mark.parametrize("seed", range(20))
def test_tiles_cover_the_line_and_no_flag_is_lost(seed: int) -> None:
    draw = np.random.default_rng(seed)
    ends = np.sort(draw.uniform(0.0, 100.0, (9, 2)), axis=1)
    ends[:, 1] = np.maximum(ends[:, 1], ends[:, 0] + 0.1)
    parts = [
        Part((float(a), float(b)), "flagged" if row % 2 else "not checked", f"{row}") for row, (a, b) in enumerate(ends)
    ]
    tiles = tiled(REST, parts)
    assert tiles[0].stretch[0] == 0.0
    assert tiles[-1].stretch[1] == 100.0
    assert all(before.stretch[1] == after.stretch[0] for before, after in pairwise(tiles))
    assert min(tile.stretch[1] - tile.stretch[0] for tile in tiles) >= 0.1 - 1e-9
    gravity = {"clear": 0, "not checked": 1, "flagged": 2}
    for tile in tiles:
        middle = sum(tile.stretch) / 2
        here = [part.status for part in parts if part.stretch[0] < middle < part.stretch[1]] or ["clear"]
        assert gravity[tile.status] >= max(map(gravity.__getitem__, here))


@pytest.mark.parametrize(
    ("walked", "taped", "lacking", "status"),
    [
        ("4 March", True, [], "clear"),
        (None, True, [], "not checked"),
        ("4 March", False, [], "not checked"),
        ("4 March", True, ["no ground heights"], "not checked"),
    ],
)
def test_clear_needs_all_of_it(walked: str | None, taped: bool, lacking: list[str], status: str) -> None:
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [9.0, 0.0]]))
    rest = rest_of(
        line, features=1, file="trees.geojson", walked=walked, envelope=Envelope(4.0, 1.5, taped, ""), lacking=lacking
    )
    assert rest.status == status
    assert rest.basis.startswith(
        "none found in trees.geojson (1 feature) — " + ("walked 4 March" if walked else "not walked")
    )


def test_a_gap_in_the_ground_takes_back_the_clear_from_look_to_look() -> None:
    line = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
    parts = without_ground(
        line, ground=lambda points: np.where(np.abs(points[:, 0] - 50.0) < 6.0, np.nan, 0.0), rest=REST
    )
    assert [(part.stretch, part.status) for part in parts] == [((42.5, 57.5), "not checked")]
    assert parts[0].basis == "none found; no ground heights here"


def test_stretches_join_when_they_all_but_touch_and_only_grow() -> None:
    assert joined([(20.0, 30.0), (5.0, 12.0), (12.4, 18.0)], length_m=50.0) == [(5.0, 18.0), (20.0, 30.0)]
    assert joined([(0.05, 3.0), (48.0, 49.95)], length_m=50.0) == [(0.0, 3.0), (48.0, 50.0)]
    assert joined([(20.0, 20.0)], length_m=50.0) == [pytest.approx((19.9, 20.0))]
    assert joined([], length_m=50.0) == []


def test_what_passes_near_is_found_by_plan_distance() -> None:
    import shapely

    legs = Legs(Line("A", closed=False, corners=np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 40.0]])))
    point = shapely.Point(30.0, 3.0)
    assert legs.within(point, distance_m=5.0) == [pytest.approx((26.0, 34.0), abs=0.01)]  # 3, 4, 5
    assert legs.within(point, distance_m=2.9) == []
    assert legs.passing(
        [point, shapely.Point(70.0, 20.0), shapely.Point(0.0, 99.0)], within_m=np.array([5.0, 10.0, 5.0])
    ) == [0, 1]
