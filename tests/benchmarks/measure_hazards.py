"""How well hazards agree with trying everything, on seeded random scenes. Prints Markdown; asserts nothing.

    python tests/benchmarks/measure_hazards.py [--scenes N] [--only KIND]

A kind's scenes and its plain twin live in `tests/hazards`; here each kind has one function in KINDS, which makes the
scene of a seed, holds what the program flags against the twin and says how long both took. Stations are compared along
the line; a station counts as missed, or as wrongly flagged, only beyond what the twin's own steps err by.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parents[1] / "hazards"))
import conductor_scenes
import kept_scenes
import limb_scenes
import slope_scenes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@dataclass(frozen=True)
class Result:
    """One scene: stations that are near, those missed and wrongly flagged, distances and those out, seconds."""

    near: int
    missed: int
    wrong: int
    distances: int
    off: int
    ours_s: float
    twin_s: float


def conductors(seed: int, *, margins: bool) -> Result:
    """One conductor by height or by attachments and sag, over rough ground."""
    one, level = conductor_scenes.scene(seed, margins=margins), conductor_scenes.ground_of(seed)
    begin = time.perf_counter()
    hazards = conductor_scenes.hazards_of(one, level)
    between = time.perf_counter()
    found = conductor_scenes.compared(one, level, hazards)
    end = time.perf_counter()
    counts = (found.near, found.missed, found.wrong, found.distances, found.off)
    return Result(*counts, ours_s=between - begin, twin_s=end - between)


def limbs(seed: int) -> Result:
    """One tree or stand, over rough ground."""
    one, level = limb_scenes.scene(seed), conductor_scenes.ground_of(seed)
    begin = time.perf_counter()
    hazards = limb_scenes.hazards_of(one, level)
    between = time.perf_counter()
    near, missed, wrong = limb_scenes.compared(one, level, hazards)
    return Result(near, missed, wrong, 0, 0, ours_s=between - begin, twin_s=time.perf_counter() - between)


def kept(seed: int) -> Result:
    """One buried service, or one keep-out."""
    one = kept_scenes.scene(seed)
    begin = time.perf_counter()
    hazards = kept_scenes.hazards_of(one)
    between = time.perf_counter()
    near, missed, wrong = kept_scenes.compared(one, hazards)
    return Result(near, missed, wrong, 0, 0, ours_s=between - begin, twin_s=time.perf_counter() - between)


def slopes(seed: int) -> Result:
    """Rough, tilted ground under a line of four legs."""
    one = slope_scenes.scene(seed)
    begin = time.perf_counter()
    hazards = slope_scenes.hazards_of(one)
    between = time.perf_counter()
    found = slope_scenes.compared(one, hazards)
    seconds = {"ours_s": between - begin, "twin_s": time.perf_counter() - between}
    return Result(found.near, found.missed, found.wrong, 0, 0, **seconds)


KINDS: dict[str, Callable[[int], Result]] = {
    "conductors, margins off": partial(conductors, margins=False),
    "conductors, margins on": partial(conductors, margins=True),
    "limbs": limbs,
    "services and keep-outs": kept,
    "side slopes": slopes,
}


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--scenes", type=int, default=500, help="of each kind")
    ask.add_argument("--only", choices=list(KINDS))
    asked = ask.parse_args()
    for line in table(asked.scenes, [asked.only] if asked.only else list(KINDS)):
        print(line, flush=True)  # noqa: T201


def table(scenes: int, kinds: list[str]) -> Iterator[str]:
    yield f"{scenes} scenes of each kind, seeds 0 to {scenes - 1}, Python {platform.python_version()}."
    yield ""
    yield (
        "| kind | scenes with something near | stations near | missed | wrongly flagged | recall | distances "
        "| out by more than the twin errs | ours, ms a scene | twin, ms a scene |"
    )
    yield "| --- | --: | --: | --: | --: | --: | --: | --: | --: | --: |"
    for kind in kinds:
        yield row(kind, [KINDS[kind](seed) for seed in range(scenes)])


def row(kind: str, results: list[Result]) -> str:
    near, missed, wrong, distances, off = (
        sum(getattr(one, name) for one in results) for name in ("near", "missed", "wrong", "distances", "off")
    )
    ours, theirs = (1000.0 * sum(getattr(one, name) for one in results) / len(results) for name in ("ours_s", "twin_s"))
    recall = (near - missed) / near if near else float("nan")
    with_some = sum(one.near > 0 for one in results)
    return (
        f"| {kind} | {with_some} of {len(results)} | {near} | {missed} | {wrong} | {recall:.2%} | {distances} | {off} "
        f"| {ours:.0f} | {theirs:.0f} |"
    )


if __name__ == "__main__":
    main()
