"""How good and how quick the top line is, on real ground. Prints Markdown; asserts nothing.

    python tests/benchmarks/measure_top_line.py [--lines N] [--only lines|time]

Seeded straight lines across the lidar tile kept beside the project (farmland, 1 km square), bays of 2.4 m, the gap held
every 0.25 m. Limits are those that following the ground at posts just keeps, and half and twice as far from the gap
wanted. Rails of one bay may bend at every post; rails of two bays, staggered, at none but by 10 mm of pull, except that
in the rows *cut* every row is cut at posts chosen by `posts_to_cut`.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import rasterio

from fencegis.layout.bay_ground import bay_ground
from fencegis.layout.rail_limits import Limits
from fencegis.layout.top_line import posts_to_cut, top_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import numpy.typing as npt

    from fencegis.layout.bay_ground import BayGround

    Floats = npt.NDArray[np.float64]

TILE = Path(__file__).parents[3] / "shared" / "data" / "lidar_1m_farmland.tif"
BAY_M, STEP_M, PULL_M, DROP_M, WANTED_M = 2.4, 0.25, 0.010, 1.0, 0.25
SHORTEST_M = 490.0
FACTORS = (0.5, 1.0, 2.0)
MANY = 2000


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--lines", type=int, default=20)
    ask.add_argument("--only", choices=["lines", "time"])
    asked = ask.parse_args()
    if not TILE.exists():
        sys.exit(f"needs {TILE.name}, kept beside the project, not in it")
    parts = {"lines": lambda: each_line(asked.lines), "time": times}
    for name, part in parts.items():
        if asked.only in (None, name):
            for line in part():
                print(line, flush=True)  # noqa: T201
            print()  # noqa: T201


def each_line(count: int) -> Iterable[str]:
    """One row a case of median, least and greatest over the lines; the worst certificate of all."""
    lines = list(across_the_tile(count))
    lengths = [bays.bay_m.sum() for bays in lines]
    yield f"{count} lines of {min(lengths):.0f}–{max(lengths):.0f} m. Median (least–greatest) of the lines."
    yield ""
    yield (
        "| objective | rails | limits | objective's value | bound | worst gap to bound % | ground-following ÷ it "
        "| posts that bend % | all rows cut % | lines in breach | total breach m | its bound m | seconds |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    for kind in ("flowing", "straight"):
        for rails in ("one bay", "two bays", "two bays, cut"):
            for factor in FACTORS:
                yield _row(kind, rails, factor, [_case(bays, kind, rails, factor) for bays in lines])


def _case(bays: BayGround, kind: str, rails: str, factor: float) -> dict[str, float]:
    limits = own_limits(bays, factor=factor, through=rails != "one bay")
    begun = time.perf_counter()
    cut = np.zeros(len(bays.post_m), dtype=bool)
    if rails.endswith("cut"):
        cut = posts_to_cut(bays, limits=limits)
        limits = replace(limits, through=limits.through & ~cut)
    line = top_line(bays, limits=limits, kind=kind)
    seconds = time.perf_counter() - begun
    ground = top_line(bays, limits=limits, kind="ground")
    theirs = ground.squares_pct2 if kind == "flowing" else ground.turned_pct
    inner = len(bays.bent) / 100.0
    return {
        "value": line.cost, "bound": line.bound, "gap": 100.0 * (line.cost / line.bound - 1.0),
        "ratio": theirs / line.cost, "bends": line.bends / inner, "cut": cut.sum() / inner,
        "breach": line.breach_m, "least": line.least_breach_m, "seconds": seconds,
    }  # fmt: skip


def _row(kind: str, rails: str, factor: float, cases: list[dict[str, float]]) -> str:
    value = {name: np.array([case[name] for case in cases]) for name in cases[0]}

    def spread(name: str, form: str) -> str:
        middle, least, most = np.median(value[name]), value[name].min(), value[name].max()
        return f"{middle:{form}} ({least:{form}}–{most:{form}})"

    cells = [
        kind, rails, f"{factor:g} ×", spread("value", ".1f"), spread("bound", ".1f"), f"{value['gap'].max():.1e}",
        spread("ratio", ".2f"), spread("bends", ".0f"), spread("cut", ".0f"), f"{(value['breach'] > 0).sum()}",
        spread("breach", ".3f"), spread("least", ".3f"), spread("seconds", ".2f"),
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def times() -> Iterable[str]:
    """Two thousand bays: the lines joined end to end, each lifted or lowered to meet the one before."""
    bays = joined(MANY)
    yield f"{MANY} bays, ground every {STEP_M} m, on {platform.machine()}, Python {platform.python_version()}."
    yield ""
    yield "| objective | rails | limits | seconds | of processor | gap to bound % | all rows cut | total breach m |"
    yield "|---|---|---|---|---|---|---|---|"
    for kind in ("flowing", "straight"):
        for rails in ("one bay", "two bays", "two bays, cut"):
            for factor in FACTORS:
                begun = time.process_time()
                case = _case(bays, kind, rails, factor)
                used = time.process_time() - begun
                yield (
                    f"| {kind} | {rails} | {factor:g} × | {case['seconds']:.2f} | {used:.2f} | {case['gap']:.1e} "
                    f"| {case['cut'] * len(bays.bent) / 100.0:.0f} | {case['breach']:.3f} |"
                )


def own_limits(bays: BayGround, *, factor: float, through: bool) -> Limits:
    """Limits that following the ground at posts just keeps, times `factor` from the gap wanted."""
    over = bays.from_posts(bays.post_ground_m) - bays.ground_m
    every = np.ones(len(bays.post_m), dtype=bool)
    return Limits(
        drop_m=DROP_M,
        gap_min_m=WANTED_M + factor * float(over.min()),
        gap_max_m=WANTED_M + factor * float(over.max()),
        gap_wanted_m=WANTED_M,
        tallest_m=np.full(len(every), np.inf),
        through=every if through else ~every,
        held_m=np.full(len(every), np.nan),
        pull_m=PULL_M,
    )


def across_the_tile(count: int, *, seed: int = 1) -> Iterator[BayGround]:
    """Straight lines between two points of the tile, seeded, none under 490 m."""
    chance = np.random.default_rng(seed)
    with rasterio.open(TILE) as raster:
        cells = raster.read(1).astype(float)
    found = 0
    while found < count:
        ends = chance.uniform(0.5, len(cells) - 1.5, (2, 2))
        length = float(np.hypot(*(ends[1] - ends[0])))
        if length < SHORTEST_M:
            continue
        found += 1
        whole = BAY_M * int(length / BAY_M)
        station = np.arange(0.0, whole + STEP_M / 2, STEP_M)
        ground = between_cells(cells, ends[0] + station[:, None] * (ends[1] - ends[0]) / length)
        post = BAY_M * np.arange(round(whole / BAY_M) + 1)
        yield bay_ground(post, station_m=np.append(station, whole), ground_m=np.append(ground, ground[-1]))


def between_cells(cells: Floats, place: Floats) -> Floats:
    """Return heights between cell centres, bilinear, at (row, column) counted from the first cell's centre."""
    row, column = np.floor(place).astype(int).T
    down, right = (place - np.floor(place)).T
    upper = cells[row, column] * (1 - right) + cells[row, column + 1] * right
    lower = cells[row + 1, column] * (1 - right) + cells[row + 1, column + 1] * right
    return np.asarray(upper * (1 - down) + lower * down)


def joined(bays: int) -> BayGround:
    station, ground, along, level = [], [], 0.0, 0.0
    for part in across_the_tile(20):
        station.append(part.station_m + along)
        ground.append(part.ground_m - part.ground_m[0] + level)
        along, level = station[-1][-1], ground[-1][-1]
    chainage, first = np.unique(np.concatenate(station), return_index=True)
    return bay_ground(BAY_M * np.arange(bays + 1), station_m=chainage, ground_m=np.concatenate(ground)[first])


if __name__ == "__main__":
    main()
