"""A straight fence by hand, whose figures can be reckoned on paper."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

from fencegis.quantities.price import price
from fencegis.quantities.what_if import WhatIf
from fencegis.records.spec import Fence, Money, Spec
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Callable

RAIL_M = 4.8
SPEC = {"wire": Fence(), "post and rail": Fence(kind="post and rail", rail_m=(RAIL_M,), post_spacing_m=2.6)}


@pytest.fixture
def straight() -> Callable[..., WhatIf]:
    """Return a function that gives one straight run, with only the errors that it is told of."""
    return straight_fence


def straight_fence(
    kind: str = "wire",
    *,
    bays: int = 80,
    bay_m: float = 5.0,
    grade_pct: float = 0.0,
    sigma_length_m: float = 0.0,
    sigma_height_m: float = 0.0,
    soil: str = "loam",
    waste_pct: float = 0.0,
    rates: Any = None,
    money: dict[str, Any] | None = None,
    greatest_m: float = 2.373,
    **spec: Any,
) -> WhatIf:
    slope = float(np.hypot(1.0, grade_pct / 100.0))
    at = np.arange(bays + 1) * bay_m
    names = [f"A-{place:03d}" for place in range(1, bays + 2)]
    kinds = ["strainer", *["line"] * (bays - 1), "strainer"]
    posts = pd.DataFrame({
        "line_id": "A", "chainage_m": at, "post_id": names, "kind": kinds, "soil": soil,
        "ground_chainage_m": at * slope, "tape_m": at * slope, "set_by": "driven",
    })  # fmt: skip
    spans = pd.DataFrame({
        "line_id": "A", "from_m": at[:-1], "to_m": at[1:], "bay_id": names[:-1], "from_post": names[:-1],
        "to_post": names[1:], "length_m": bay_m, "ground_length_m": bay_m * slope, "grade_pct": grade_pct,
    })  # fmt: skip
    run = pd.DataFrame([{
        "line_id": "A", "from_m": 0.0, "to_m": at[-1], "run_id": "A-R1", "kind": "straight", "length_m": at[-1],
        "ground_length_m": at[-1] * slope, "sigma_length_m": sigma_length_m, "offset_left_m": 0.0,
        "offset_right_m": 0.0,
    }])  # fmt: skip
    profile = pd.DataFrame({
        "line_id": "A", "chainage_m": at[[0, -1]], "fitted_m": at[[0, -1]] * grade_pct / 100.0,
        "sigma_m": sigma_height_m,
    })  # fmt: skip
    divide = pd.DataFrame([
        {"run_id": "A-R1", "from_post": names[0], "to_post": names[-1], "bays": number,
         "from_m": (number - 1) * greatest_m, "to_m": number * greatest_m}
        for number in (bays - 1, bays, bays + 1)
    ])  # fmt: skip
    tables = {
        **{name: empty(name) for name in ("nodes", "breaks", "gates", "divide", "soils", "posts")},
        "posts": checked("posts", posts),
        "bays": checked("bays", spans),
        "runs": checked("runs", run),
        "profile": checked("profile", profile),
        "quantities": _bought(kind, bays, bay_m * slope, waste_pct),
        "days": _days(kind, bays),
    }
    if kind != "wire":
        tables["divide"] = checked("divide", divide)
    site = SimpleNamespace(spec=Spec(fence=SPEC[kind], money=Money(**(money or {})), **spec), rates=rates)
    tables["price"] = price(site, tables).table  # type: ignore[arg-type]
    return WhatIf(site, tables, {"A": kind})  # type: ignore[arg-type]


def _bought(kind: str, bays: int, bay_m: float, waste_pct: float) -> pd.DataFrame:
    rows = [{"item": "post", "material": "post", "unit": "each", "exact": bays + 1.0, "pack": 1.0}]
    if kind == "wire":
        rows.append({"item": "wire", "material": "wire", "unit": "m", "exact": 6.0 * bays * bay_m, "pack": 1500.0})
    else:
        sticks = 3.0 * bays / 2.0
        rows.append({"item": "rail", "material": "rail", "unit": "each", "exact": sticks, "pack": 1.0})
    table = pd.DataFrame(rows).assign(
        supplier="timber", waste_pct=waste_pct, basis="by hand", rows="posts", mass_kg=1.0
    )
    size = table["material"].map({"rail": f"150 x 50 x {RAIL_M}", "post": "125 x 1.8"})
    packs = np.ceil(table["exact"] * (1.0 + waste_pct / 100.0) / table["pack"] - 1e-9).astype(int)
    return checked("quantities", table.assign(packs=packs, size=size))


def _days(kind: str, bays: int) -> pd.DataFrame:
    last = "wires" if kind == "wire" else "rails"
    rows = [(1, "setting up", 0.75, False), (1, "line posts", bays / 15.0, True), (1, last, 2.0, False)]
    table = pd.DataFrame(rows, columns=["day", "activity", "hours_h", "machine"])
    return checked("days", table.assign(crew=2, basis="by hand", line_id="A", from_m=0.0, to_m=1.0, unit="each"))
