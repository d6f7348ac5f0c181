"""Common practice: what is done in an hour, held beside the one whole that is published."""

from __future__ import annotations

import pytest

from fencegis.catalogue import rows
from fencegis.quantities.output import hours_h, output_of

QUARTER_MILE_M = 1320 * 0.3048


def person_hours(activity: str, quantity: float, method: str = "") -> float:
    output = output_of(activity, method=method)
    return float(hours_h(quantity, output=output, people=output.people)) * output.people


def test_every_output_says_that_it_has_no_print() -> None:
    """Common practice: no table of outputs by activity was found, so none is claimed."""
    assert {row["standing"] for row in rows("activities")} == {"common practice"}


@pytest.mark.parametrize(("method", "ratio"), [("driven", 1.05), ("bored", 1.37), ("dug", 3.03)])
def test_woven_wire_beside_the_published_quarter_mile(method: str, ratio: float) -> None:
    """The sum of our activities for Iowa's quarter mile of woven wire with one barbed strand, over its 42 hours.

    Iowa State University Extension, cost of fencing 2012: 1,320 ft, an H-brace at each end (4 posts of 8 in), 55 wood
    and 55 steel posts, woven wire and one barbed strand, labour 42 h, which is 104.39 h/km. How those posts are set and
    what else those hours hold is not printed, and ours were chosen by people who knew that figure: the ratio is told,
    it proves nothing. Steel posts are taken as long as wooden ones; clearing, travel and setting up are in neither sum.
    """
    wires = [("wires", QUARTER_MILE_M), ("strain", 1), ("staples", 110)]
    parts = [
        ("set out", 2), ("ends", 4), ("braces", 2), ("check", 2), ("strings", QUARTER_MILE_M), ("lay out", 110),
        ("line posts", 110), *wires, ("mesh", QUARTER_MILE_M), ("tidy", QUARTER_MILE_M),
    ]  # fmt: skip
    ours = sum(person_hours(name, number, method if name in {"ends", "line posts"} else "") for name, number in parts)
    assert ours / 42.0 == pytest.approx(ratio, abs=0.01)
    per_km = 42.0 / (QUARTER_MILE_M / 1000.0)
    assert per_km == pytest.approx(104.39, abs=0.005)


def test_driven_posts_go_in_at_one_in_some_minutes() -> None:
    """Common practice: a driver sets a post in three to six minutes on loam, moving on and plumbing in it."""
    assert 10.0 <= output_of("line posts", method="driven").per_hour <= 20.0


def test_two_people_dig_a_post_in_about_half_an_hour() -> None:
    """Common practice."""
    assert 1.5 <= output_of("line posts", method="dug").per_hour <= 4.0
