"""Where a caution holds: stretches that are flagged or not checked, and what the plan itself has where."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.answers import lines_of_plan, unchecked_stretches, where
from fencegis.exports.page_text import plain
from fencegis.exports.words import each, metres, number
from fencegis.quantities.takeoff import fence_kinds

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.exports.answers import Stretch
    from fencegis.records.plan import Plan

FLAGGED, UNCHECKED, ALWAYS = "flagged", "not checked", "always"
WHOLE_FENCE = "the whole fence"
NAMED = 6  # hazards named one by one


@dataclass(frozen=True)
class Applies:
    """A status in a word or two, and where it holds: lines and metres, or the whole fence."""

    status: str
    where: str

    def words(self) -> str:
        """Return both on one line."""
        return self.where if self.status == ALWAYS else f"{self.status}: {self.where}"


def by_kinds(plan: Plan, kinds: Sequence[str]) -> tuple[Applies, ...]:
    """Return where hazards of these kinds are flagged, with their names, and where nobody looked for them."""
    lines, places = lines_of_plan(plan), []
    hazards = plan.hazards[plan.hazards["kind"].isin(kinds)]
    unchecked = unchecked_stretches(plan, kinds)
    if len(hazards):
        names = [plain(name) for name in dict.fromkeys(hazards["hazard_id"])]
        listed = ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
        stretches = [(row.line_id, row.from_m, row.to_m) for row in each(hazards)]
        places.append(Applies(FLAGGED, f"{listed}, {where(stretches, lines)}"))
        if unchecked and where([*stretches, *unchecked], lines) == WHOLE_FENCE:
            return (*places, Applies(UNCHECKED, "all the rest"))
    if unchecked:
        places.append(Applies(UNCHECKED, where(unchecked, lines)))
    return tuple(places)


def by_setting(plan: Plan) -> dict[str, tuple[Applies, ...]]:
    """Return for each way in which posts are set where they stand; as `site.toml` has it where no post says."""
    lines = lines_of_plan(plan)
    if not plan.posts["set_by"].notna().any():
        return {plan.site.spec.fence.post_set: (Applies(plan.site.spec.fence.post_set, WHOLE_FENCE),)}
    stretches: dict[str, list[Stretch]] = {}
    for line_id, method, begin, end in _alike(plan):
        start, stop = lines[line_id]
        stretches.setdefault(method, []).append((line_id, max(begin, start), min(end, stop)))
    return {method: (Applies(method, where(found, lines)),) for method, found in stretches.items()}


def _alike(plan: Plan) -> Iterator[tuple[str, str, float, float]]:
    """Yield stretches of neighbouring posts that are set alike, from half-way to half-way between them."""
    for line_id, posts in plan.posts[plan.posts["set_by"].notna()].groupby("line_id", sort=False):
        at = posts["chainage_m"].to_numpy(dtype=float)
        edges = np.concatenate([[-np.inf], (at[1:] + at[:-1]) / 2.0, [np.inf]])
        for method, rows in groupby(range(len(at)), key=posts["set_by"].tolist().__getitem__):
            places = list(rows)
            yield str(line_id), str(method), float(edges[places[0]]), float(edges[places[-1] + 1])


def lines_of_wire(plan: Plan) -> tuple[Applies, ...]:
    """Return the lines that are fenced with wire."""
    lines = lines_of_plan(plan)
    kinds = zip(lines, fence_kinds(plan.site, list(lines)), strict=True)
    stretches = [(line_id, *lines[line_id]) for line_id, kind in kinds if kind == "wire"]
    return (Applies("wire", where(stretches, lines)),) if stretches else ()


def of_gates(plan: Plan) -> tuple[Applies, ...]:
    """Return the gates with their places: that is where the fence meets a road or a track."""
    if not len(plan.gates):
        return ()
    gates = [f"{plain(gate.gate_id)}, line {plain(gate.line_id)} {metres(gate.from_m)}" for gate in each(plan.gates)]
    more = f"; and {len(gates) - NAMED} more" if len(gates) > NAMED else ""
    return (Applies("gates", "; ".join(gates[:NAMED]) + more),)


def without_ground(plan: Plan) -> tuple[Applies, ...]:
    """Return the stretches without ground heights."""
    lines = lines_of_plan(plan)
    if plan.site.terrain is None:
        return (Applies(UNCHECKED, WHOLE_FENCE),)
    stretches: list[Stretch] = []
    for line_id, profile in plan.profile.groupby("line_id", sort=False):
        at, unknown = profile["chainage_m"].to_numpy(dtype=float), profile["fitted_m"].isna().to_numpy()
        edges = np.flatnonzero(np.diff(np.concatenate([[0], unknown.astype(int), [0]])))
        last = len(at) - 1
        for first, behind in zip(edges[::2], edges[1::2], strict=True):
            stretches.append((str(line_id), float(at[max(first - 1, 0)]), float(at[min(behind, last)])))
    return (Applies(UNCHECKED, where(stretches, lines)),) if stretches else ()


def heaviest(plan: Plan) -> Applies | None:
    """Return the heaviest post with its mass; None where no mass is known."""
    mass = plan.posts["mass_kg"]
    if not mass.notna().any():
        return None
    post = next(each(plan.posts.loc[[mass.idxmax()]]))
    place = f"line {plain(post.line_id)} {metres(post.chainage_m)}"
    return Applies("heaviest", f"{number(post.mass_kg, 0)}\u00a0kg, post {plain(post.post_id)}, {place}")
