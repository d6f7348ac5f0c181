"""How good and how quick the cut list is, on seeded lists of rails. Prints Markdown; asserts nothing.

    python tests/benchmarks/measure_cutting.py [--seed N]

Kerf 4 mm, 25 mm off each end of a stick. *Fence* lists are what a staggered fence asks for: four rails in five over two
bays, the others over one, all to the millimetre. The others are harder than any fence: they show what is left unproven.
"""

from __future__ import annotations

import argparse
import platform
import random
import time
from typing import TYPE_CHECKING

from fencegis.quantities.cutting import cut
from fencegis.quantities.sticks import Stock

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

KERF_M, TRIM_M = 0.004, 0.025


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--seed", type=int, default=1)
    for line in table(ask.parse_args().seed):
        print(line, flush=True)  # noqa: T201


def table(seed: int) -> Iterator[str]:
    yield f"Seed {seed}, Python {platform.python_version()}, {platform.machine()}."
    yield ""
    yield "| list | rails | stock m | taken m | bound m | first-fit-decreasing m | off-cuts % | proven | seconds |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    for name, count, stock_m, length_mm in LISTS:
        rng = random.Random(seed)  # noqa: S311
        pieces = [length_mm(rng) / 1000.0 for _ in range(count)]
        start = time.perf_counter()
        found = cut(pieces, stocks=[Stock(length) for length in stock_m], kerf_m=KERF_M, trim_m=TRIM_M)
        taken = time.perf_counter() - start
        yield (
            f"| {name} | {count} | {', '.join(f'{length:g}' for length in stock_m)} | {found.cost:.1f} "
            f"| {found.bound:.1f} | {found.first_fit:.1f} | {100.0 * (1.0 - sum(pieces) / found.cost):.2f} "
            f"| {'yes' if found.proven else f'gap {100.0 * (found.cost / found.bound - 1.0):.2f} %'} | {taken:.2f} |"
        )


def fence(rng: random.Random) -> int:
    return rng.randint(4500, 4746) if rng.random() < 0.8 else rng.randint(2100, 2373)


def between(least_mm: int, most_mm: int) -> Callable[[random.Random], int]:
    return lambda rng: rng.randint(least_mm, most_mm)


LISTS: tuple[tuple[str, int, tuple[float, ...], Callable[[random.Random], int]], ...] = (
    ("fence", 265, (4.8,), fence),
    ("fence", 2000, (4.8,), fence),
    ("fence", 2000, (4.8, 3.6), fence),
    ("one-bay rails", 2000, (4.8,), between(2000, 2373)),
    ("one-bay rails", 2000, (4.8, 3.66, 3.6), between(2000, 2373)),
    ("any length", 2000, (4.8,), between(400, 4700)),
    ("any length", 2000, (4.8, 3.6), between(400, 4700)),
    ("two or three a stick", 60, (4.8,), between(1100, 2300)),
    ("two or three a stick", 1500, (4.8,), between(1200, 2300)),
    ("three a stick", 200, (4.8,), between(1100, 1800)),
    ("three a stick", 2000, (4.8,), between(1100, 1800)),
    ("short ones", 2000, (4.8,), between(400, 2300)),
)

if __name__ == "__main__":
    main()
