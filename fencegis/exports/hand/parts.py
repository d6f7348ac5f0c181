"""Lists cut to a unit's limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Sequence

Thing = TypeVar("Thing")


def split(groups: Sequence[Sequence[Thing]], *, limit: int | None) -> list[list[Thing]]:
    """Return the groups put together, in their order, so that no part is longer than `limit`; None is no limit.

    A group is kept whole where it fits into a part of its own; a longer one is cut. There is always one part.
    """
    parts: list[list[Thing]] = [[]]
    for group in groups:
        if limit is None or len(parts[-1]) + len(group) <= limit:
            parts[-1].extend(group)
            continue
        for start in range(0, len(group), limit):
            piece = list(group[start : start + limit])
            parts = [*parts, piece] if parts[-1] else [piece]
    return parts


def pieces(count: int, *, limit: int | None) -> list[slice]:
    """Return slices of a line of `count` points, at most `limit` (two or more) each: each begins where one ended."""
    if limit is None or count <= limit:
        return [slice(0, count)]
    return [slice(start, start + limit) for start in range(0, count - 1, limit - 1)]


def loads(sizes: Sequence[int], *, limit: int | None) -> list[int]:
    """Return which load each file of so many points belongs to, from 1: no load holds more than `limit` points."""
    found, load, held = [], 1, 0
    for size in sizes:
        if limit is not None and held and held + size > limit:
            load, held = load + 1, 0
        held += size
        found.append(load)
    return found
