"""Looking up the distance asked for; the printed numbers themselves are held in tests/published."""

from __future__ import annotations

import math

import pytest

from fencegis import catalogue
from fencegis.errors import InputError
from fencegis.hazards.approach import at_power, rule_sets

UNKNOWN = math.nan


def asked(voltage_kv: float, rule_set: str | None = None, *, insulated: bool = False) -> float | None:
    return at_power(voltage_kv, insulated=insulated, rule_set=rule_set).distance_m


def test_every_set_answers_every_voltage_once() -> None:
    for rule_set in rule_sets():
        rows = [row for row in catalogue.rows("approach_distances") if row["rule_set"] == rule_set]
        for insulation in ("bare", "insulated"):
            mine = [row for row in rows if row["insulation"] in {"any", insulation} and row["condition"] == "known"]
            edges = [(float(row["voltage_from_kv"]), row["voltage_to_kv"]) for row in mine]
            assert edges[0][0] == 0.0
            assert edges[-1][1] == ""
            assert [float(up_to) for _, up_to in edges[:-1]] == [above for above, _ in edges[1:]]
        assert sum(row["condition"] == "unknown" for row in rows) == 1


def test_feet_are_the_metres_printed_beside_them() -> None:
    feet = [row for row in catalogue.rows("approach_distances") if row["printed"].endswith(" ft")]
    assert len(feet) == 7
    for row in feet:
        assert float(row["distance_m"]) == pytest.approx(float(row["printed"].split()[0]) * 0.3048, abs=1e-9)


def test_a_greater_voltage_never_asks_for_less() -> None:
    voltages = [
        0.0,
        0.4,
        1.0,
        1.1,
        11.0,
        33.0,
        33.1,
        50.0,
        50.001,
        132.0,
        132.1,
        200.0,
        330.0,
        330.1,
        500.0,
        750.0,
        1000.0,
    ]
    for rule_set in (*rule_sets(), None):
        distances = [asked(voltage_kv, rule_set) for voltage_kv in voltages]
        assert distances == sorted(distances, key=lambda one: one or math.inf)


def test_without_a_rule_the_most_that_any_set_asks_counts() -> None:
    for voltage_kv in (0.4, 11.0, 66.0, 132.1, 400.0, UNKNOWN):
        every = [asked(voltage_kv, rule_set) for rule_set in rule_sets()]
        assert asked(voltage_kv) == max(one for one in every if one is not None)
    assert "no rule chosen" in at_power(11.0, insulated=False, rule_set=None).rule


def test_an_owner_who_sets_the_distance_counts_as_the_most() -> None:
    assert asked(1000.1, "nsw-2006") == 8.0
    assert asked(1000.1) is None
    approach = at_power(1000.1, insulated=False, rule_set="osha-1926-1408")
    assert approach.distance_m is None
    assert approach.threshold_m == approach.search_m == 15.24
    assert "distance to be set by the line's owner" in approach.rule


def test_insulation_counts_only_where_a_set_has_a_row_for_it() -> None:
    assert asked(0.4, "wa-2022", insulated=True) == 0.5
    assert asked(0.4, "wa-2022") == 1.0
    assert asked(11.0, "wa-2022", insulated=True) == asked(11.0, "wa-2022") == 3.0
    assert asked(0.4, "qld", insulated=True) == 3.0


def test_scope_and_standing_are_printed_with_the_rule() -> None:
    assert "cranes and derricks in construction" in at_power(11.0, insulated=False, rule_set="osha-1926-1408").rule
    nsw = at_power(11.0, insulated=False, rule_set="nsw-2006")
    assert nsw.second_hand
    assert "the code's own table was not seen" in nsw.rule
    assert nsw.rule.endswith("second hand")
    assert not at_power(11.0, insulated=False, rule_set="osha-1926-1408").second_hand


def test_an_unknown_set_is_a_fault_that_names_the_nearest() -> None:
    with pytest.raises(InputError) as raised:
        asked(11.0, "nsw-2016")
    assert str(raised.value) == (
        "site.toml, [rules] approach: there is no rule set 'nsw-2016'. Fix: Write 'nsw-2006', or another of nsw-2006, "
        "osha-1926-1408, qld, wa-2022; without one the most that any set asks counts."
    )


def test_each_number_says_where_it_is_from() -> None:
    for name in ("approach_distances", "overhead_allowances"):
        for row in catalogue.rows(name):
            assert row["source"]
            assert row["standing"] in {"read", "second hand", "common practice", "from memory"}
