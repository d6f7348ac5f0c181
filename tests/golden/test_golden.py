"""Whole plans of the samples against those saved from our own runs: regression, not proof.

`FENCEGIS_REWRITE_GOLDEN=1 python -m pytest tests/golden` saves them anew; the commit says why each number moved.
"""

from __future__ import annotations

import io
import os
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from fencegis import Plan, plan_site, read_site
from fencegis.exports.rounding import rounded_frame
from fencegis.records.tables import LAYERS

HERE = Path(__file__).parent
SAMPLES = HERE.parents[1] / "sample_sites"
# The profile follows from the raster and is held by its own tests; it would be most of the bytes.
SAVED = [layer for layer in LAYERS if layer not in ("profile", "bays")]
LAST_DIGIT = 1.5  # of the printed rounding: another processor may round the other way


@cache
def planned(site: str) -> Plan:
    return plan_site(read_site(SAMPLES / site))


@pytest.mark.parametrize("layer", SAVED)
@pytest.mark.parametrize("site", ["roadside", "hill"])
def test_a_sample_is_planned_as_before(site: str, layer: str) -> None:
    frame = pd.DataFrame(rounded_frame(getattr(planned(site), layer))).drop(columns="geometry", errors="ignore")
    text = frame.to_csv(index=False, lineterminator="\n")
    path = HERE / site / f"{layer}.csv"
    if os.environ.get("FENCEGIS_REWRITE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    ours, saved = (pd.read_csv(io.StringIO(table)) for table in (text, path.read_text(encoding="utf-8")))
    assert list(ours.columns) == list(saved.columns)
    assert len(ours) == len(saved)
    for name in ours.columns:
        if ours[name].dtype.kind == "f" and saved[name].dtype.kind in "fi":
            step = 0.01 if name.endswith("_pct") else 0.001
            assert ours[name].to_numpy() == pytest.approx(saved[name].to_numpy(), abs=LAST_DIGIT * step, nan_ok=True), (
                name
            )
        else:
            pd.testing.assert_series_equal(ours[name], saved[name], check_dtype=False)
