"""Classes of crossings: by span and drop, and never a lighter one for what is not known."""

from __future__ import annotations

import itertools
import math

import pytest

from fencegis import catalogue
from fencegis.hazards.treatment import distance, treatment, treatment_for

NAN = math.nan
WEIGHT = {"straight on": 0, "measure first": 1, "swinging panel": 2, "hung curtain": 3, "nothing across": 4}


def flowing(span_m: float, drop_m: float, *, deepest_m: float | None = None, flood_over_bed_m: float = NAN) -> str:
    deepest_m = (math.inf if math.isnan(drop_m) else drop_m) if deepest_m is None else deepest_m
    return treatment_for(
        water="flowing", span_m=span_m, drop_m=drop_m, deepest_m=deepest_m, flood_over_bed_m=flood_over_bed_m
    ).name


def test_a_wider_or_deeper_crossing_is_never_of_a_lighter_class() -> None:
    spans, drops = (1.0, 4.0, 4.1, 10.0, 10.1, 30.0, 30.1), (0.1, 0.6, 0.7, 3.0, 3.1, 5.0, 5.1)
    for span, drop in itertools.product(spans, drops):
        here = WEIGHT[flowing(span, drop)]
        assert all(WEIGHT[flowing(wider, drop)] >= here for wider in spans if wider > span)
        assert all(WEIGHT[flowing(span, deeper)] >= here for deeper in drops if deeper > drop)


@pytest.mark.parametrize("span_m", [1.0, 4.0, 8.0, 25.0, 50.0])
def test_an_unknown_drop_is_never_lighter_than_a_small_one(span_m: float) -> None:
    assert WEIGHT[flowing(span_m, NAN)] >= WEIGHT[flowing(span_m, 0.1)]
    assert WEIGHT[flowing(span_m, 0.1, deepest_m=math.inf)] >= WEIGHT[flowing(span_m, 0.1)]
    assert WEIGHT[flowing(span_m, 0.1, flood_over_bed_m=0.2)] >= WEIGHT[flowing(span_m, 0.1)]


def test_without_a_span_it_is_measured_first() -> None:
    assert flowing(NAN, 0.2) == flowing(NAN, NAN) == "measure first"
    assert treatment_for(water="standing", span_m=NAN, drop_m=NAN, deepest_m=math.inf).name == "standing water"


def test_every_class_says_what_to_do_and_what_it_rests_on() -> None:
    for row in catalogue.rows("crossings"):
        one = treatment(row["treatment"])
        assert one.words
        assert one.advice.endswith(".")
        assert "common practice" in one.rule
        if row["standing"] == "read":
            assert row["source"] in one.rule


def test_printed_distances_are_those_of_their_sources() -> None:
    """1.5 m from the bank top is what the specification asks of a fence beside a river, 10 m what two keep free."""
    assert (distance("set_back_m"), distance("machine_off_m")) == (1.5, 10.0)
    with pytest.raises(KeyError):
        distance("no such row")
