"""How well runs, corners and grade breaks are found, on seeded truth. Prints Markdown; asserts nothing.

    python tests/benchmarks/measure_line.py [--drawings N] [--profiles N] [--only runs|curves|time|breaks]

The truth is made by `tests/line/drawings.py` and `tests/line/profiles.py`, the bounds by `tests/line/bound.py`.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from scipy.optimize import linear_sum_assignment
from scipy.stats import binomtest

from fencegis.line import arc
from fencegis.line.grade import fitted_grades
from fencegis.line.joint_fit import settled_joints
from fencegis.line.runs import fitted_line

sys.path.insert(0, str(Path(__file__).parents[1] / "line"))
import curved
import drawings
import profiles
from bound import corner_bound
from profiles import SIGMA_M

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt
    from drawings import Drawing
    from profiles import Profile

    from fencegis.line.runs import FittedLine

    Floats = npt.NDArray[np.float64]

WITHIN_SIGMA, WITHIN_LEG = 5.0, 0.25
TOLERANCES = np.geomspace(0.25, 200.0, 90)  # sigma: what Douglas–Peucker's best is sought among
VERTICES = 10_000


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--drawings", type=int, default=100, help="a cell")
    ask.add_argument("--profiles", type=int, default=200, help="of 10 km, for each correlation")
    ask.add_argument("--only", choices=["runs", "curves", "time", "breaks"])
    asked = ask.parse_args()
    parts = {
        "runs": lambda: runs(asked.drawings),
        "curves": lambda: curves(asked.drawings),
        "time": times,
        "breaks": lambda: breaks(asked.profiles),
    }
    for name, part in parts.items():
        if asked.only in (None, name):
            for line in part():
                print(line, flush=True)  # noqa: T201
            print()  # noqa: T201


def runs(count: int) -> Iterable[str]:
    yield f"Corners, {count} drawings a cell ({platform.machine()}, Python {platform.python_version()})"
    yield ""
    yield (
        "| drawing | σ | | exact | 95 % interval | error ÷ bound | drawn vertices' "
        "| on a stray click | the others | Douglas–Peucker at its best |"
    )
    yield "| --- | --: | --- | --: | --: | --: | --: | --: | --: | --: |"
    for kind in drawings.KINDS:
        for sigma in drawings.SIGMAS_M:
            for closed in (False, True):
                cell = [drawings.drawing(kind, sigma_m=sigma, closed=closed, seed=seed) for seed in range(count)]
                yield row(cell, kind, sigma)


def row(cell: list[Drawing], kind: str, sigma: float) -> str:
    """One cell of the table."""
    ratios, drawn, mistaken, right = [], [], [], 0
    for one in cell:
        fit = fitted_line("A", one.points, closed=one.closed, sigma_m=sigma, pegs=np.zeros((0, 2)))
        found = matched(fit.corners, one, sigma)
        if found is None:
            continue
        right += 1
        bound = corner_bound(one.corners, leg=one.leg, share=one.share, sigma_m=sigma)
        least = np.sqrt(np.trace(bound, axis1=1, axis2=2))[one.bends]
        ratios.append(np.hypot(*(found - one.corners)[one.bends].T) / least)
        if kind != "dense":
            clicked = one.points[[int(np.flatnonzero(one.on_corner == corner)[0]) for corner in one.bends]]
            drawn.append(np.hypot(*(clicked - one.corners[one.bends]).T) / least)
            stray = one.points[one.on_corner < 0]
            mistaken.append(nearest(found[one.bends], stray) < nearest(found[one.bends], clicked))
    low, high = binomtest(right, len(cell)).proportion_ci(method="wilson")
    share, tolerance = douglas_peucker(cell, sigma)
    own = f"{rms(drawn):.2f}" if drawn else ""
    if drawn:
        wrong = np.concatenate(mistaken)
        on_own = np.concatenate(ratios)[~wrong]
        own += f" | {wrong.sum()} of {len(wrong)} | {rms([on_own]):.2f}"
    else:
        own += " | | "
    return (
        f"| {kind} | {sigma} m | {'loop' if cell[0].closed else 'open'} | {right / len(cell):.0%} "
        f"| {low:.0%}–{high:.0%} | {rms(ratios):.2f} | {own} | {share:.0%} at {tolerance:.1f} σ |"
    )


def curves(count: int) -> Iterable[str]:
    yield f"Arcs, {count} traced drawings of each shape, a vertex every 3 to 8 m (yard, arena: 2 to 4 m)"
    yield ""
    yield "| shape | σ | the right pieces | 95 % interval | error of the radius ÷ its standard error | within 2 |"
    yield "| --- | --: | --: | --: | --: | --: |"
    for name, (make, closed, made, corners) in curved.SHAPES.items():
        for sigma in (0.3, 0.7):
            right, off = 0, []
            for seed in range(count):
                rng = np.random.default_rng([seed, len(name), round(1000 * sigma)])
                parts = make(rng)
                step = rng.uniform(2.0, 4.0) if closed else rng.uniform(3.0, 8.0)
                points = curved.traced(parts, step_m=step, sigma_m=sigma, rng=rng)
                fit = fitted_line("A", points, closed=closed, sigma_m=sigma, pegs=np.zeros((0, 2)))
                kinds = ["arc" if rise else "straight" for rise in fit.rise_m]
                found = int((~fit.tangent).sum()) - (0 if closed else 2)
                if (sorted(kinds) == sorted(made) if closed else kinds == made) and found == corners:
                    right += 1
                    off += radius_errors(fit, abs(next(part[1] for part in parts if part[0] == "a")))
            low, high = binomtest(right, count).proportion_ci(method="wilson")
            size = np.abs(off)
            yield (
                f"| {name} | {sigma} m | {right / count:.0%} | {low:.0%}–{high:.0%} | {np.sqrt((size**2).mean()):.2f} "
                f"| {(size <= 2.0).mean():.0%} |"
            )


def radius_errors(fit: FittedLine, radius_m: float) -> list[float]:
    """Return the error of each arc's radius in its standard errors."""
    bent = fit.rise_m != 0.0
    begin, end = fit.corners[: len(bent)][bent], np.roll(fit.corners, -1, axis=0)[: len(bent)][bent]
    rise = fit.rise_m[bent]
    sigma = arc.sigma_of(arc.radius_m, begin, end, rise, fit.arc_covariance[bent])
    return ((np.abs(arc.radius_m(begin, end, rise)) - radius_m) / sigma).tolist()


def nearest(places: Floats, points: Floats) -> Floats:
    """Return how far each place is from the nearest point."""
    return np.hypot(*(places[:, None] - points[None]).transpose(2, 0, 1)).min(axis=1, initial=np.inf)


def rms(parts: list[Floats]) -> float:
    return float(np.sqrt(np.mean(np.concatenate(parts) ** 2)))


def matched(found: Floats, truth: Drawing, sigma: float) -> Floats | None:
    """Return the found corners in the order of the true ones; None unless as many, each near its own.

    Near is within 5 σ, or within a quarter of the shorter leg beside it where that is more.
    """
    corners = truth.corners
    if len(found) != len(corners):
        return None
    gap = np.hypot(*(corners[:, None] - found[None]).transpose(2, 0, 1))
    order = linear_sum_assignment(gap)[1]
    leg = truth.leg_m
    before, after = (np.roll(leg, 1), leg) if truth.closed else (np.append(leg[0], leg), np.append(leg, leg[-1]))
    near = np.maximum(WITHIN_SIGMA * sigma, WITHIN_LEG * np.minimum(before, after))
    return found[order] if (gap[np.arange(len(corners)), order] <= near).all() else None


def douglas_peucker(cell: list[Drawing], sigma: float) -> tuple[float, float]:
    """Return the share of drawings it gets right at the tolerance, in σ, that gets most right.

    It never drops the first vertex; so a loop is begun at its vertex furthest from the middle, to be fair to it.
    """
    right = np.zeros(len(TOLERANCES))
    for one in cell:
        points = one.points
        if one.closed:
            points = np.roll(points, -int(np.hypot(*(points - points.mean(axis=0)).T).argmax()), axis=0)
            points = np.vstack([points, points[:1]])
        kept = shapely.simplify(shapely.linestrings(points), TOLERANCES * sigma, preserve_topology=False)
        for place, line in enumerate(kept):
            found = shapely.get_coordinates(line)
            right[place] += matched(found[:-1] if one.closed else found, one, sigma) is not None
    best = int(right.argmax())
    return float(right[best] / len(cell)), float(TOLERANCES[best])


def times() -> Iterable[str]:
    yield f"Runs and corners of {VERTICES} vertices (σ 1 m), the least of three"
    yield ""
    yield "| drawing | seconds | corners |"
    yield "| --- | --: | --: |"
    for name, points, closed in long_drawings():
        spent = []
        for _ in range(3):
            begin = time.perf_counter()
            fit = fitted_line("A", points, closed=closed, sigma_m=1.0, pegs=np.zeros((0, 2)))
            spent.append(time.perf_counter() - begin)
        yield f"| {name} | {min(spent):.2f} | {len(fit.corners)} |"


def long_drawings() -> list[tuple[str, Floats, bool]]:
    """Return drawings of 10 000 vertices: one straight, a trace with bends, a loop, a bend on every vertex."""
    rng = np.random.default_rng(1)
    noise = rng.normal(0.0, 1.0, (VERTICES, 2))
    straight = np.column_stack([10.0 * np.arange(VERTICES), np.zeros(VERTICES)])
    angle = np.linspace(0.0, 2.0 * np.pi, VERTICES, endpoint=False)
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    return [
        ("one straight, a vertex every 10 m", straight + noise, False),
        (
            "a bend of 60° every 250 m, a vertex every 10 m",
            zigzag(VERTICES // 25).repeat(25, 0).cumsum(0) * 10.0 + noise,
            False,
        ),
        ("a square loop of 100 km", 12_500.0 * way / np.abs(way).max(axis=1, keepdims=True) + noise, True),
        ("a bend of 60° on every vertex, 250 m apart", zigzag(VERTICES).cumsum(0) * 250.0 + noise, False),
    ]


def zigzag(legs: int) -> Floats:
    """Return unit vectors (n, 2) that turn 60° right and left by turns."""
    heading = np.radians(60.0) * (np.arange(legs) % 2)
    return np.column_stack([np.sin(heading), np.cos(heading)])


def breaks(count: int) -> Iterable[str]:
    yield f"Breaks of grade, {count} profiles and {count} planes of 10 km each, σ {SIGMA_M} m at 1 m steps"
    for alike in (0.0, 3.0):
        planes = [profiles.plane(alike_m=alike, seed=seed) for seed in range(count)]
        begin = time.perf_counter()
        false = sum(len(found_breaks(*plane)[0]) for plane in planes)
        seconds = (time.perf_counter() - begin) / count
        yield ""
        yield f"Correlation {alike:.0f} m: {false / count:.2f} false breaks in 10 km of plane ({seconds:.2f} s each)"
        yield ""
        yield (
            "| size, SE | breaks | found within 2 of its own SE | within 4 | within 2 of the least SE | within 4 "
            "| told the breaks, within 2 of its own | of the least | own ÷ least SE | too many or few |"
        )
        yield "| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |"
        for place, size in enumerate(profiles.SIZES):
            seeds = range(place, count, len(profiles.SIZES))
            yield break_row([profiles.profile(size=size, alike_m=alike, seed=seed) for seed in seeds])


def break_row(cell: list[Profile]) -> str:
    """One size; a break is found by the nearest of ours.

    Its own standard error is the one stated with it, the least that of the Cramér–Rao bound for the true legs. The
    yardstick is ours begun at the true breaks, with the noise known: only the places are sought.
    """
    own, least, told_own, told_least, wide, more = [], [], [], [], [], 0
    for one in cell:
        found, sigma = found_breaks(one.station_m, one.ground_m)
        more += len(found) - len(one.break_m)
        gap = np.abs(found[:, None] - one.break_m)
        own.append((gap / sigma[:, None])[gap.argmin(axis=0), np.arange(len(one.break_m))])
        least.append(gap.min(axis=0) / one.break_sigma_m)
        first = np.concatenate([one.station_m[:1], one.break_m, one.station_m[-1:]])
        best, best_sigma = settled_joints(one.station_m, one.ground_m, first, sigma=one.sigma_as_if_m)
        told_own.append(np.abs(best - first)[1:-1] / best_sigma[1:-1])
        told_least.append(np.abs(best - first)[1:-1] / one.break_sigma_m)
        wide.append(best_sigma[1:-1] / one.break_sigma_m)
    off, least_off, told, told_off = (np.concatenate(part) for part in (own, least, told_own, told_least))
    return (
        f"| {cell[0].size} | {len(off)} | {np.mean(off <= 2.0):.1%} | {np.mean(off <= 4.0):.1%} "
        f"| {np.mean(least_off <= 2.0):.1%} | {np.mean(least_off <= 4.0):.1%} | {np.mean(told <= 2.0):.1%} "
        f"| {np.mean(told_off <= 2.0):.1%} | {np.median(np.concatenate(wide)):.2f} | {more / len(off):+.1%} |"
    )


def found_breaks(station: Floats, ground: Floats) -> tuple[Floats, Floats]:
    """Return the chainages of the breaks taken and their standard errors."""
    grades = fitted_grades(station, ground, vertical_error_m=SIGMA_M)
    return grades.joint_m[1:-1], grades.place_sigma_m[1:-1]


if __name__ == "__main__":
    main()
