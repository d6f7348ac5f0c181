"""How sure the figures are: a thousand draws of what is not known, and which of it matters most.

Drawn are the heights (at the joints of the fitted grades, each with the standard error of its fitted height), the
drawing (each run's length with its standard error), rock where no soil is known, each material's waste, each activity's
output (`catalogue/how_sure.csv`: common practice). Runs, profile and strainers stand as planned: nothing is planned
again. Neighbouring joints, and runs that share a corner, are drawn apart from each other; crossings, clearing, weather
and prices are as planned in every draw, and so is the shift of a whole drawing, which changes no length. The middle of
the draws may lie over the plan's own figure: the plan counts no rock where nobody looked.

Which cause matters most: each is let vary alone, with the same draws, while the others stand as planned; its share is
its variance over the sum of those of all causes. One seed gives the same draws; each cause has a stream of its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pandas as pd

from fencegis.quantities.drivers import driver_table
from fencegis.quantities.price import excluded, price_table, quote_lines, sums_of
from fencegis.quantities.risk import RISK, provision_for
from fencegis.quantities.what_if import WhatIf, numbers
from fencegis.quantities.what_if_cost import total_cents
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import numpy.typing as npt

    from fencegis.quantities.what_if import Case
    from fencegis.records.plan import Plan
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

DRAWS = 1000
PLACES = 6  # of a figure: what lies behind them is the machine's rounding, and has no cause
CAUSES = ("heights", "drawing", "rock", "waste", "outputs")
PERCENTILES = (10.0, 50.0, 90.0)
COST = "cost, tax and all"
CENTS = "cents"
LENGTH_BASIS = "all runs along the ground, gates in it"
HOURS_BASIS = "of the crew, setting up and travel in it; no weather"


def sure_layers(
    site: Site, tables: Mapping[str, pd.DataFrame], *, kind_of_line: Mapping[str, str]
) -> dict[str, pd.DataFrame]:
    """Return the layers `how_sure`, `drivers`, and `price` with its line for risk where `[money] risk_pct` asks for it.

    `tables` are the plan's layers, `price` the quote without that line. All are empty where no post is planned.
    """
    if not len(tables["posts"]) or not len(tables["bays"]) or not len(tables["quantities"]):
        return {"how_sure": empty("how_sure"), "drivers": empty("drivers")}
    what_if = WhatIf(site, tables, kind_of_line)
    table, cost = _table(what_if)
    layers = {"how_sure": table, "drivers": driver_table(what_if)}
    risk_pct = site.spec.money.risk_pct
    if cost is None or risk_pct is None:
        return layers
    aside = provision_for(tables["price"], int(percentiles(cost, risk_pct)[0]))
    row = {
        "what": RISK,
        "unit": CENTS,
        "planned": float(aside),
        "basis": f"brings the total to what {risk_pct:g} of 100 draws stay within",
    }
    layers["how_sure"] = checked("how_sure", pd.concat([table, pd.DataFrame([row])], ignore_index=True))
    lines = [*quote_lines(site, {**tables, **layers}), *excluded()]
    return {**layers, "price": price_table(lines)}


def how_sure_lines(plan: Plan) -> list[tuple[str, ...]]:
    """Return the layer `how_sure` as printed: what, unit, as planned, 10, 50 and 90 %, what matters most, basis."""
    lines = []
    for row in cast("Iterator[Any]", plan.how_sure.itertuples()):
        unit = plan.site.spec.money.currency or "money" if row.unit == CENTS else row.unit
        figures = (_printed(value, row.unit) for value in (row.planned, row.p10, row.p50, row.p90))
        cause = f"{row.main_cause}, {row.share_pct:.0f} %" if isinstance(row.main_cause, str) else ""
        lines.append((row.what, unit, *figures, cause, row.basis))
    return lines


def percentiles(drawn: Floats, *percents: float) -> Floats:
    """Return values that so many per cent of the draws (k,) stay within: always one that was drawn."""
    return np.asarray(np.percentile(drawn, percents, method="inverted_cdf"), dtype=float)


def draws(what_if: WhatIf, *, seed: int, count: int = DRAWS) -> dict[str, Case]:
    """Return for each cause the cases in which it alone is otherwise, and as `all` those in which every cause is."""
    streams = dict(
        zip(CAUSES, map(np.random.default_rng, np.random.SeedSequence(seed).spawn(len(CAUSES))), strict=True)
    )
    planned = what_if.as_planned(count)
    heights_m, heights_line_m = _by_heights(what_if, streams["heights"], count)
    drawing_m, drawing_line_m = _by_drawing(what_if, streams["drawing"], count)
    rock = _rock_holes(what_if, streams["rock"], count)
    waste_of, slower_of = _sigmas("waste", what_if.bought["material"]), _sigmas("outputs", what_if.work.index)
    waste = _by_name(streams["waste"], what_if.bought["material"], waste_of, count)
    slower = _by_name(streams["outputs"], what_if.work.index, slower_of, count)
    return {
        "heights": replace(planned, longer_m=heights_m, line_m=heights_line_m),
        "drawing": replace(planned, longer_m=drawing_m, line_m=drawing_line_m),
        "rock": replace(planned, rock_holes=rock),
        "waste": replace(planned, waste=waste),
        "outputs": replace(planned, slower=slower),
        "all": replace(
            planned, longer_m=heights_m + drawing_m, line_m=heights_line_m + drawing_line_m, rock_holes=rock,
            waste=waste, slower=slower,
        ),
    }  # fmt: skip


def _table(what_if: WhatIf) -> tuple[pd.DataFrame, Floats | None]:
    """Return the layer `how_sure` without a line for risk, and the cost of every draw; None where nothing is priced."""
    cases = draws(what_if, seed=what_if.site.spec.seed)
    planned = _figures(what_if, what_if.as_planned())
    drawn = {cause: _figures(what_if, case) for cause, case in cases.items()}
    rows = []
    for (what, unit), (own, basis) in planned.items():
        p10, p50, p90 = percentiles(drawn["all"][what, unit][0], *PERCENTILES)
        alone = {cause: _variance(drawn[cause][what, unit][0]) for cause in CAUSES}
        spread, main = sum(alone.values()), max(CAUSES, key=lambda cause: alone[cause])
        rows.append({
            "what": what, "unit": unit, "planned": float(own[0]), "p10": p10, "p50": p50, "p90": p90,
            "main_cause": main if spread > 0.0 else None,
            "share_pct": round(100.0 * alone[main] / spread, PLACES) if spread > 0.0 else float("nan"), "basis": basis,
        })  # fmt: skip
    cost = drawn["all"].get((COST, CENTS))
    return checked("how_sure", pd.DataFrame(rows)), None if cost is None else cost[0]


def _variance(drawn: Floats) -> float:
    """Return the variance of draws; exactly 0 where all are alike, whatever the rounding of their mean."""
    return float(np.var(drawn)) if np.ptp(drawn) > 0.0 else 0.0


def _figures(what_if: WhatIf, case: Case) -> dict[tuple[str, str], tuple[Floats, str]]:
    """Return each figure of the table in every case (k,), by its name and unit, with what it is."""
    outcome = what_if.outcome(case)
    names = what_if.bought["material"]
    found = {("fence, along the ground", "m"): (outcome.length_m, LENGTH_BASIS)}
    found["posts", "each"] = outcome.posts, "to stand, those on hand too, with spares; none of braces"
    if names.eq("rail").any():
        found["rails", "each"] = outcome.rails, "sticks of the cut list, with spares"
    if names.isin(["wire", "barbed wire"]).any():
        found["wire", "m"] = outcome.wire_m, "all wires, their ends and waste; not up to whole coils"
    if len(what_if.tables["days"]):
        found["hours", "h"] = outcome.hours_h, HOURS_BASIS
    if len(what_if.tables["price"]):
        lacks = sums_of(what_if.tables["price"]).not_priced
        basis = (
            f"not complete, as the quote is: {len(lacks)} lines have no price" if lacks else "every line of the quote"
        )
        found[COST, CENTS] = total_cents(what_if, outcome), basis
    return {key: (np.round(values, PLACES), basis) for key, (values, basis) in found.items()}


def _by_heights(what_if: WhatIf, stream: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return how much longer along the ground each stretch (k, n) and the whole (k,) is by other heights at the joints.

    Between joints the ground is straight, so that what a piece gains is spread evenly over it.
    """
    own, tables = what_if.stretches, what_if.tables
    stretch_m, whole_m = np.zeros((count, len(own.bays))), np.zeros(count)
    for line, profile in tables["profile"].groupby("line_id", sort=False):
        at, fitted, sigma = (profile[name].to_numpy(dtype=float) for name in ("chainage_m", "fitted_m", "sigma_m"))
        breaks = tables["breaks"]
        joints = np.unique(np.concatenate([at[[0, -1]], breaks.loc[breaks["line_id"] == line, "chainage_m"]]))
        height, sigma_m = np.interp(joints, at, fitted), np.nan_to_num(np.interp(joints, at, sigma))
        step, rise = np.diff(joints), np.diff(height)
        drawn = rise + np.diff(stream.standard_normal((count, len(joints))) * sigma_m, axis=1)
        longer = np.nan_to_num(np.hypot(step, drawn) - np.hypot(step, rise))
        run = np.concatenate([np.zeros((count, 1)), np.cumsum(longer, axis=1)], axis=1)
        here = np.flatnonzero(own.line_id == line)
        stretch_m[:, here] = _at(run, joints, own.to_m[here]) - _at(run, joints, own.from_m[here])
        whole_m += run[:, -1]
    return stretch_m, whole_m


def _at(running: Floats, joints: Floats, at: Floats) -> Floats:
    """Return running sums (k, joints) at stations (n,) between them."""
    piece = np.clip(np.searchsorted(joints, at, side="right") - 1, 0, max(len(joints) - 2, 0))
    if len(joints) < 2:
        return np.zeros((len(running), len(at)))
    share = np.clip((at - joints[piece]) / (joints[piece + 1] - joints[piece]), 0.0, 1.0)
    return np.asarray(running[:, piece] * (1.0 - share) + running[:, piece + 1] * share, dtype=float)


def _by_drawing(what_if: WhatIf, stream: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Return how much longer each stretch (k, n) and the whole (k,) is by the drawing; no run gets below nothing."""
    runs, own = what_if.tables["runs"], what_if.stretches
    begin, end, length = (runs[name].to_numpy(dtype=float) for name in ("from_m", "to_m", "length_m"))
    sigma = np.nan_to_num(runs["sigma_length_m"].to_numpy(dtype=float))
    longer = np.maximum(stream.standard_normal((count, len(runs))) * sigma, -length)
    share = np.zeros((len(runs), len(own.bays)))
    for place, line in enumerate(runs["line_id"]):
        over = np.minimum(end[place], own.to_m) - np.maximum(begin[place], own.from_m)
        share[place] = np.where(own.line_id == line, np.maximum(over, 0.0), 0.0) / (end[place] - begin[place])
    slope = runs["ground_length_m"].to_numpy(dtype=float) / length
    return (longer * slope) @ share, (longer * slope).sum(axis=1)


def _rock_holes(what_if: WhatIf, stream: np.random.Generator, count: int) -> Floats:
    """Return how many holes (k,) meet rock that no zone of soil names: whole ones."""
    walked = what_if.site.spec.walked.ground is not None
    row = numbers("rock")["where the ground was walked" if walked else "where nobody looked"]
    low, likely, high = (float(row[name]) for name in ("low", "likely", "high"))
    share = stream.triangular(low, likely, high, size=count) if high > low else np.full(count, low)
    return stream.binomial(what_if.unknown_holes, share).astype(float)


def _sigmas(about: str, names: pd.Series[str] | pd.Index[str]) -> dict[str, float]:
    known = numbers(about)
    general = next(row for name, row in known.items() if name.startswith("any "))
    return {str(name): float(known.get(str(name), general)["value"]) for name in names}


def _by_name(
    stream: np.random.Generator, names: pd.Series[str] | pd.Index[str], sigma: Mapping[str, float], count: int
) -> Floats:
    """Return factors (k, names), one draw for all of a name, the median 1."""
    factor = {name: np.exp(stream.standard_normal(count) * sigma[name]) for name in dict.fromkeys(map(str, names))}
    return np.stack([factor[str(name)] for name in names], axis=1) if len(names) else np.ones((count, 0))


def _printed(value: float, unit: str) -> str:
    if np.isnan(value):
        return ""
    return f"{value / 100.0:.2f}" if unit == CENTS else f"{value:.0f}" if unit == "each" else f"{value:.1f}"
