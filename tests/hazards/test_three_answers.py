"""Every metre of line has one of three answers for every kind, and a layer taken away is never an answer.

The table is printed by `pytest tests/hazards/test_three_answers.py -s`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fencegis import plan_site, read_site
from fencegis.exports.answers import KINDS

SAMPLE = Path(__file__).parents[2] / "sample_sites" / "roadside"
# Which kinds lean on a layer: without it none of them may say that nothing was found.
LEANS = {
    "overhead": {"overhead power", "overhead phone"},
    "trees": {"tree limb", "tree trunk", "access"},
    "services": {"buried service"},
    "keepout": {"keep-out", "access"},
    "pegs": {"survey mark"},
    "watercourses": {"crossing", "access"},
    "terrain": {"overhead power", "overhead phone", "tree limb", "side slope"},
}


@pytest.fixture(scope="module")
def walked():
    """The roadside sample with every layer given, everything walked and the machine taped."""
    site = read_site(SAMPLE)
    spec = site.spec
    seen = spec.walked.model_copy(update=dict.fromkeys(type(spec.walked).model_fields, "4 March"))
    assert spec.machine is not None
    own = {"width_m": 1.6, "turning_m": 7.0, "track_m": 1.3, "wheelbase_m": 1.8, "pivot_m": 0.45, "mass_kg": 1300.0}
    own |= {"ahead_m": 0.8, "height_m": 0.65, "driver_kg": 450.0, "driver_ahead_m": -0.9, "driver_height_m": 1.8}
    machine = spec.machine.model_copy(update=own)
    return replace(site, spec=spec.model_copy(update={"walked": seen, "machine": machine}))


def answers(site):
    """Return by kind the metres flagged, looked through and found empty, and not checked."""
    plan = plan_site(site)
    lengths = plan.checks["to_m"] - plan.checks["from_m"]
    return plan, lengths.groupby([plan.checks["kind"], plan.checks["status"]]).sum().unstack(fill_value=0.0)


def test_every_metre_has_one_answer_for_every_kind(walked):
    plan, table = answers(walked)
    print("\nall layers given, walked\n", table.round(0).to_string())  # noqa: T201
    line_m = float(plan.runs["length_m"].sum())
    assert set(table.index) == set(KINDS)
    assert table.sum(axis=1).to_numpy() == pytest.approx(np.full(len(table), line_m), abs=0.01)
    assert (table.get("clear", 0.0) > 0.0).any()


@pytest.mark.parametrize("layer", LEANS)
def test_a_layer_taken_away_is_never_an_answer(walked, layer):
    _, table = answers(replace(walked, **{layer: None}))
    print(f"\nwithout {layer}\n", table.round(0).to_string())  # noqa: T201
    for kind in LEANS[layer]:
        assert table.loc[kind].get("clear", 0.0) == 0.0, kind
        assert table.loc[kind, "not checked"] > 0.0, kind


def test_what_nobody_walked_is_not_checked_however_empty_the_layer(walked):
    spec = walked.spec.model_copy(update={"walked": type(walked.spec.walked)()})
    _, table = answers(replace(walked, spec=spec))
    clear = table["clear"][table["clear"] > 0.0]
    assert clear.index.tolist() == ["parallel power"]  # a fence without wire has nothing for a power line to induce in
