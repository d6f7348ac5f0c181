"""How far off, from what: drawing, datum change, receiver."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.exports import gpx, kml
from fencegis.exports.hand.budget import budget, budget_lines, budget_words
from fencegis.exports.points import rover_file
from fencegis.exports.positions import doubt_m, operation
from fencegis.records.spec import Boundary
from fencegis.records.terrain import Operation

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

NO_CHANGE = Operation("a to b", "a change", 0.0, ())


def drawn(plan: Plan, **keys: object) -> Plan:
    spec = plan.site.spec.model_copy(update={"boundary": Boundary.model_validate(keys)})
    return dataclasses.replace(plan, site=dataclasses.replace(plan.site, spec=spec))


def test_the_parts_are_the_specifications_and_the_catalogues(small_plan: Plan) -> None:
    found = budget(small_plan, used=NO_CHANGE)
    assert (found.hand_m, found.shift_m, found.shift_assumed, found.change_m) == (1.0, 3.0, True, 0.0)
    assert found.drawing_m == pytest.approx(doubt_m(small_plan.site))
    assert found.receiver_95_m == 4.9  # 16 ft
    assert budget(small_plan, used=NO_CHANGE, receiver="rover").receiver_95_m == 0.02


def test_the_sum_by_drawing_lots(small_plan: Plan) -> None:
    found = budget(small_plan, used=dataclasses.replace(NO_CHANGE, accuracy_m=2.0))
    rng = np.random.default_rng(11)
    parts = (found.hand_m, found.shift_m, 2.0, found.receiver_m)
    east, north = (sum(rng.normal(scale=part, size=200_000) for part in parts) for _ in range(2))
    assert (np.hypot(east, north) <= found.total_95_m).mean() == pytest.approx(0.95, abs=0.002)
    alone = rng.normal(scale=found.receiver_m, size=(2, 200_000))
    assert (np.hypot(*alone) <= 4.9).mean() == pytest.approx(0.95, abs=0.002)


def test_a_better_receiver_adds_less(small_plan: Plan) -> None:
    handheld, rover = (budget(small_plan, used=NO_CHANGE, receiver=name) for name in ("handheld", "rover"))
    assert handheld.receiver_adds_m > 1.0
    assert rover.receiver_adds_m < 0.001


def test_the_hand_of_one_line_counts_for_that_line(small_plan: Plan) -> None:
    lines = tuple(dataclasses.replace(line, sigma_m=4.0) for line in small_plan.site.drawn)
    plan = dataclasses.replace(small_plan, site=dataclasses.replace(small_plan.site, drawn=lines))
    assert budget(plan, used=NO_CHANGE, line_id="A").drawing_m == pytest.approx(5.0)


def test_nobody_stated_the_drawing_so_there_is_no_sum(small_plan: Plan) -> None:
    found = budget(drawn(small_plan, drawn_from="survey"), used=NO_CHANGE)
    assert not found.drawing_stated
    assert budget_words(found).endswith("together: not known, since nobody stated how far off the drawing is")


def test_words_say_what_is_assumed_and_what_has_no_accuracy(small_plan: Plan) -> None:
    ballpark = dataclasses.replace(NO_CHANGE, accuracy_m=None)
    assumed = budget(small_plan, used=ballpark)
    assert "common shift +-3.0 m (assumed)" in budget_words(assumed)
    assert "datum change not stated" in budget_words(assumed)
    told = budget(drawn(small_plan, imagery_error_m=1.2), used=NO_CHANGE)
    lines = budget_lines(told, NO_CHANGE)
    assert "common shift +-1.2 m (as site.toml states it)" in lines[0]
    assert lines[1] == "datum change (a change): a change of projection only, none lost"
    assert "16 ft" in lines[2]
    assert lines[3] == f"together: 95 of 100 within {told.total_95_m:.1f} m, of which the receiver adds 2.4 m"


def test_every_file_carries_its_budget(small_plan: Plan) -> None:
    used = operation(small_plan, "EPSG:4326", name="WGS 84")
    words = budget_words(budget(small_plan, used=used))
    for content in (gpx.waypoints(small_plan), gpx.posts(small_plan), kml.waypoints(small_plan)):
        assert words in content.decode()
    rover = rover_file(small_plan)
    lines = budget_lines(budget(small_plan, receiver="rover", used=rover.operation), rover.operation)
    assert all(f"Budget: {line}" in rover.text.decode() for line in lines)
