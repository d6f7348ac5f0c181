"""Lines of rails that meet at a post: which is planned first, where the others are held, and what that costs them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import numpy.typing as npt

    from fencegis.layout.post_tables import LaidOut
    from fencegis.layout.railed import Railed

    Floats = npt.NDArray[np.float64]

A_MILLIMETRE = 0.001


def in_order(lines: Iterable[LaidOut]) -> list[LaidOut]:
    """Return the lines as they are planned: one that ends at a post after those that run on over it, else as given.

    Of lines that end on one another in a ring the first given goes first.
    """
    left, order = list(lines), []
    while left:
        free = (one for one in left if not any(_ends(one) & _runs_over(other) for other in left if other is not one))
        order.append(next(free, left[0]))
        left.remove(order[-1])
    return order


def held_at_m(one: LaidOut, level_of: Mapping[str, float]) -> Floats:
    """Return where the line's top line is held (n,), by its posts' names; NaN where it is free."""
    return np.array([level_of.get(name, np.nan) for name in one.post_id])


def met_at(one: Railed) -> dict[str, float]:
    """Return by its name the level of the top line at each post where another line may meet it."""
    posts = zip(one.laid_out.post_id, one.laid_out.node_id, one.level_m.tolist(), strict=True)
    return {name: level for name, node, level in posts if node is not None and np.isfinite(level)}


def notes_on_meetings(lines: Sequence[Railed]) -> list[Note]:
    """Return where a line that is held at another's top line breaks its limits for it, and by how much."""
    return [_on_held(one) for one in lines if one.heights and one.heights.line.held_breach_m > A_MILLIMETRE]


def _on_held(one: Railed) -> Note:
    assert one.heights is not None  # noqa: S101 (asked by the caller)
    line, held = one.heights.line, np.flatnonzero(~np.isnan(one.held_m))
    middle = one.bays.post_m[: len(one.bays.bay_m)] + one.bays.bay_m / 2.0
    at = np.concatenate([middle, middle, one.bays.post_m])
    beyond = np.concatenate([line.low_m, line.high_m, line.tall_m])
    broken = np.flatnonzero(beyond > A_MILLIMETRE / 10.0)
    away = np.abs(at[broken, None] - one.bays.post_m[held]).min(axis=1)
    nearest = broken[int(away.argmin())]
    return Note(
        "doubt",
        f"to meet another line's top line at {', '.join(one.laid_out.post_id[post] for post in held)} this one breaks"
        f" its limits by {line.held_breach_m:.2f} m in all more than it would, nearest here by {beyond[nearest]:.2f} m:"
        " mend the ground there, or bring the two together by eye over the last bays",
        one.line_id,
        float(at[nearest]),
    )


def _ends(one: LaidOut) -> set[str]:
    return set() if one.course.line.closed else {one.post_id[0], one.post_id[-1]}


def _runs_over(one: LaidOut) -> set[str]:
    """Return the posts at nodes that the line runs on over."""
    return {name for name, node in zip(one.post_id, one.node_id, strict=True) if node is not None} - _ends(one)
