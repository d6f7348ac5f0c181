"""A short take-off to price from: metres, posts, strainers, wire or rails, gates, corners.

Every number is summed from the plan's layers; nothing is measured again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pandas as pd

from fencegis.quantities.cut_list import bought
from fencegis.quantities.plan_places import fenced

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import numpy.typing as npt

    from fencegis.records.plan import Plan
    from fencegis.records.site import DrawnLine, Site

COLUMNS = ("item", "unit", "quantity", "basis")
Row = tuple[str, str, float, str]
UNLABELLED = "no label given"
AS_RECKONED = "part of all posts, length as reckoned, rounded up to 0.1 m"
A_CENTIMETRE = 0.01


def takeoff(plan: Plan) -> pd.DataFrame:
    """Return a row an item: `item`, `unit` (m or each), `quantity`, `basis` (what was summed, and what it leaves out).

    Rows that add up to another say so in their basis. A layer that is not computed gives no row.
    """
    rows = [
        *_fence(plan),
        *_gates(plan),
        *_corners(plan),
        *_posts(plan),
        *_strainers(plan),
        *_wire(plan),
        *_rails(plan),
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype({"quantity": "float64"})


def drawn_line(site: Site, line_id: str) -> DrawnLine | None:
    """Return the drawn line that a planned one comes from: `B` also for its parts `B.1`, `B.2`; None for neither."""
    by_id = {line.line_id: line for line in site.drawn}
    return by_id.get(line_id) or by_id.get(line_id.rpartition(".")[0])


def fence_kinds(site: Site, line_ids: Iterable[str]) -> npt.NDArray[np.object_]:
    """Return the fence kind of each planned line; the specification's where no drawn line is known."""
    ids = list(line_ids)
    lines = {line_id: drawn_line(site, line_id) for line_id in set(ids)}
    kinds = {line_id: line.kind if line else site.spec.fence.kind for line_id, line in lines.items()}
    return np.array([kinds[line_id] for line_id in ids], dtype=object)


def _fence(plan: Plan) -> Iterator[Row]:
    runs = plan.runs
    if runs.empty:
        return
    yield "fence, along the ground", "m", runs["ground_length_m"].sum(), "all runs, gates included"
    yield "fence, in plan", "m", runs["length_m"].sum(), "all runs, horizontal, gates included"
    yield from _flat(plan)
    kinds = pd.Series(fence_kinds(plan.site, runs["line_id"]), index=runs.index, name="kind")
    labels = runs["label"].fillna(UNLABELLED)
    for (line_id, kind, label), part in runs.groupby([runs["line_id"], kinds, labels], sort=False):
        words = f"fence, line {line_id}, {kind}, {label}"
        yield words, "m", part["ground_length_m"].sum(), "part of all fence along the ground"
    for run in _rows(runs):
        sigma = run.sigma_length_m
        doubt = f", +-{sigma:.1f} m from the drawing (one standard error)" if np.isfinite(sigma) else ""
        yield f"run {run.run_id}", "m", run.ground_length_m, f"along the ground, gates included{doubt}"


def _flat(plan: Plan) -> Iterator[Row]:
    unknown = plan.bays[plan.bays["grade_pct"].isna()]
    if len(unknown):
        words = "part of all fence along the ground; the ground is not known there, so what its slope adds is missing"
        yield "fence counted as level", "m", unknown["length_m"].sum(), words


def _gates(plan: Plan) -> Iterator[Row]:
    for opening_m, gates in plan.gates.groupby(plan.gates["opening_m"].round(3)):
        opening = f"{opening_m:.3f}".rstrip("0").rstrip(".")
        yield f"gate, {opening} m between post faces", "each", len(gates), "gates of this opening"


def _corners(plan: Plan) -> Iterator[Row]:
    if len(plan.runs):
        yield "corner", "each", len(plan.corners), "corners, ends not among them"


def _posts(plan: Plan) -> Iterator[Row]:
    if len(plan.posts):
        yield "post, all kinds", "each", len(plan.posts), "every post once, gate and corner posts included"
    kinds = pd.Series(fence_kinds(plan.site, plan.posts["line_id"]), index=plan.posts.index, name="fence")
    for (fence, kind), posts in plan.posts.groupby([kinds, plan.posts["kind"]]):
        yield f"post, {kind}, {fence}", "each", len(posts), "part of all posts"
    yield from _post_lengths(plan.posts, stock_given=plan.site.spec.fence.post_lengths_m is not None)


def _post_lengths(posts: pd.DataFrame, *, stock_given: bool) -> Iterator[Row]:
    """Yield posts by stock length on hand; where none is given or reaches, by length up to the next tenth of a metre.

    `stock_given` says whether any is.
    """
    stock_m = posts["stock_m"].to_numpy(dtype=float)
    for stock, count in zip(*np.unique(stock_m[~np.isnan(stock_m)], return_counts=True), strict=True):
        yield f"post out of {stock:g} m", "each", int(count), "part of all posts, shortest stock length that reaches"
    others = posts["length_m"].to_numpy(dtype=float)[np.isnan(stock_m)]
    why = "longer than any stock length given" if stock_given else "stock lengths (post_lengths_m) not given"
    tenths = np.ceil(others[~np.isnan(others)] * 10.0 - A_CENTIMETRE)
    for tenth, count in zip(*np.unique(tenths, return_counts=True), strict=True):
        yield f"post, {tenth / 10.0:.1f} m or longer", "each", int(count), f"{AS_RECKONED}; {why}"


def _strainers(plan: Plan) -> Iterator[Row]:
    kinds = pd.Series(fence_kinds(plan.site, plan.strainers["line_id"]), index=plan.strainers.index, name="fence")
    for (fence, reason), strainers in plan.strainers.groupby([kinds, plan.strainers["reason"]]):
        word = "strainer" if fence == "wire" else "holding post"
        yield f"{word}, {reason}, {fence}", "each", len(strainers), "posts that hold an end; among all posts"


def _wire(plan: Plan) -> Iterator[Row]:
    bays = _fenced_bays(plan, "wire")
    fence = plan.site.spec.fence
    if bays.empty:
        return
    straight = f"{fence.wires} wires x bays along the ground, gates left out; straight metres, no ties, no waste"
    yield f"wire, {fence.wires} wires", "m", fence.wires * bays["ground_length_m"].sum(), straight
    if fence.droppers_per_bay:
        per_bay = f"{fence.droppers_per_bay} a bay, gates left out"
        yield "dropper", "each", fence.droppers_per_bay * len(bays), per_bay


def _rails(plan: Plan) -> Iterator[Row]:
    bays = _fenced_bays(plan, "post and rail")
    rails = plan.site.spec.fence.rails
    if bays.empty:
        return
    words = f"{rails} rows x bays along the ground, post centre to post centre, gates left out; no waste"
    yield f"rail, {rails} rows", "m", rails * bays["ground_length_m"].sum(), words
    yield from _cut(plan, "rail", plan.rails[plan.rails["row"] != 0])
    yield from _cap(plan, bays)


def _cap(plan: Plan, bays: pd.DataFrame) -> Iterator[Row]:
    fence = plan.site.spec.fence
    if fence.cap_m is None:
        return
    words = "bays along the ground, post centre to post centre, gates left out; no waste"
    yield f"cap, {fence.cap_width_mm:g} x {fence.cap_thick_mm:g} mm", "m", bays["ground_length_m"].sum(), words
    yield from _cut(plan, "cap", plan.rails[plan.rails["row"] == 0])


def _cut(plan: Plan, kind: str, rails: pd.DataFrame) -> Iterator[Row]:
    """Yield pieces by the stock they come out of, then the stock, of rails or of the cap."""
    whole = rails[rails["cut_m"].notna()]
    said = "rails" if kind == "rail" else "boards"
    for (stick, over), same in whole.groupby([whole["stick"].fillna(0.0), whole["bays"]]):
        name = f"{kind} out of {stick:g} m" if stick else f"{kind} longer than any stock"
        plural = "" if over == 1 else "s"
        each = f"cut {said}, {same['cut_m'].min():.2f} to {same['cut_m'].max():.2f} m; short ones may share a stick"
        yield f"{name}, over {over} bay{plural}", "each", len(same), each
    for stick_m, number in bought(plan.cuts[plan.cuts["kind"] == kind]).sticks.items():
        basis = "sticks of the cut list; nothing for warped or split ones"
        yield f"{kind} stock of {stick_m:g} m", "each", number, basis


def _rows(frame: pd.DataFrame) -> Iterator[Any]:
    return cast("Iterator[Any]", frame.itertuples())


def _fenced_bays(plan: Plan, kind: str) -> pd.DataFrame:
    """Return the bays of one fence kind, without those that are a gate."""
    bays = fenced(plan.bays, plan.gates)
    of_kind: pd.DataFrame = bays[fence_kinds(plan.site, bays["line_id"]) == kind]
    return of_kind
