"""How long work takes."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from fencegis.catalogue import rows
from fencegis.quantities.output import OWN, activities, carry_h, gangs, hours_h, output_of, slope_share, waits_for
from fencegis.records.rates import Rate
from fencegis.records.spec import FenceKind


def own(item: str, rate: str) -> Rate:
    return Rate(item=item, unit="each", rate=Decimal(rate), kind="output")


def test_hours_are_the_quantity_by_the_output() -> None:
    driven = output_of("line posts", method="driven")
    assert hours_h([30.0], output=driven, people=2) == pytest.approx([30.0 / driven.per_hour])
    assert driven.machine
    assert driven.unit == "each"


@pytest.mark.parametrize("method", ["driven", "bored", "dug"])
def test_rock_takes_longer_than_loam_and_a_machine_is_quicker_than_a_bar(method: str) -> None:
    in_soil = {soil: output_of("line posts", method=method, soil=soil).per_hour for soil in ("loam", "clay", "rock")}
    assert in_soil["rock"] < in_soil["clay"] < in_soil["loam"]
    assert output_of("line posts", method="dug").per_hour < output_of("line posts", method="driven").per_hour


def test_a_soil_that_nobody_checked_takes_the_general_row() -> None:
    assert output_of("ends", method="bored", soil="not checked") == output_of("ends", method="bored")


def test_own_outputs_go_first_and_those_of_the_soil_before_them() -> None:
    rates = [own("line posts", "22"), own("line posts, rock", "3")]
    assert output_of("line posts", method="driven", soil="loam", own=rates).per_hour == 22.0
    in_rock = output_of("line posts", method="bored", soil="rock", own=rates)
    assert in_rock.per_hour == 3.0
    assert in_rock.source == OWN
    assert in_rock.words() == f"3 pieces an hour by the crew, bored, rock; {OWN}"
    assert output_of("lay out", own=rates).source == "common practice"


def test_own_outputs_are_of_the_whole_crew_and_have_the_carry_in_them() -> None:
    output = output_of("lay out", own=[own("lay out", "40")])
    assert hours_h(40.0, output=output, people=6, carry_m=100.0) == pytest.approx(1.0)


def test_gangs_work_side_by_side_but_there_is_one_machine() -> None:
    rails, driven = output_of("rails"), output_of("line posts", method="driven")
    assert [gangs(rails, people=people) for people in (1, 2, 3, 4)] == [0.5, 1.0, 1.0, 2.0]
    assert [gangs(driven, people=people) for people in (2, 6)] == [1.0, 1.0]


def test_slope_takes_output_away_and_never_gives_any() -> None:
    share = slope_share([0.0, 9.9, -15.0, 25.0, -60.0, np.nan])
    assert share[0] == share[1] == share[5] == 1.0
    assert np.all(np.diff(share[[1, 2, 3, 4]]) < 0.0)
    assert np.array_equal(slope_share([12.0, 40.0]), slope_share([-12.0, -40.0]))


def test_a_longer_carry_takes_longer() -> None:
    output = output_of("lay out")
    near, far = (hours_h(100.0, output=output, people=2, carry_m=carry_m) for carry_m in (0.0, 60.0))
    assert far - near == pytest.approx(100.0 * carry_h(60.0))
    assert carry_h(60.0) == pytest.approx(60.0 / 3000.0)  # half of 60 m on average, there and back


def test_what_an_activity_waits_for_is_an_activity_before_it() -> None:
    order = activities()
    for place, activity in enumerate(order):
        assert set(waits_for(activity)) <= set(order[:place]), activity


def test_every_row_of_an_activity_says_the_same_of_it() -> None:
    """Unit, people, what it waits for and what it is done together with are the activity's, not the soil's."""
    for activity in activities():
        alike = [row for row in rows("activities") if row["activity"] == activity]
        for column in ("words", "together", "unit", "people", "waits_for", "fence"):
            assert len({row[column] for row in alike}) == 1, (activity, column)
        assert all(float(row["per_hour"]) > 0.0 for row in alike)
        assert alike[0]["fence"] in {"", *FenceKind.__args__}
