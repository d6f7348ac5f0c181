"""The summary: figures, what they rest on, and what was not looked at."""

from __future__ import annotations

import dataclasses
import json
import re
from typing import TYPE_CHECKING

import pytest

from fencegis.exports.plan_hash import plan_sha256
from fencegis.exports.summary import summary
from fencegis.records.terrain import Operation

if TYPE_CHECKING:
    from fencegis.records.plan import Plan


@pytest.fixture(scope="module")
def content(small_plan: Plan):
    used = Operation("working grid to somewhere", "by hand", 0.123456, ("b.tif", "a.tif"))
    return json.loads(summary(small_plan, files=["plan.gpkg", "map.html"], operations=[used, used]))


def test_figures_are_those_of_the_layers(small_plan: Plan, content) -> None:
    figures = content["figures"]
    assert figures["length_m"] == pytest.approx(180.0)
    assert figures["ground_length_m"] == pytest.approx(small_plan.runs["ground_length_m"].sum(), abs=0.001)
    assert figures["posts"] == len(small_plan.posts) == sum(figures["posts_by_kind"].values())
    assert figures["strainers_by_reason"] == {"corner": 1, "end": 3, "gate": 2, "junction": 1}
    assert figures["hazards_by_kind"] == {"overhead power": 2, "tree limb": 1}
    assert [line["kind"] for line in content["lines"]] == ["post and rail", "wire"]


def test_what_it_rests_on_is_named(small_plan: Plan, content) -> None:
    assert content["schema"] == 1
    assert content["plan_sha256"] == plan_sha256(small_plan)
    assert content["inputs"] == small_plan.site.inputs
    assert content["unread"] == ["canopy.tif"]
    assert content["not_computed"] == list(small_plan.not_computed)
    assert content["files"] == ["map.html", "plan.gpkg"]
    assert {"fencegis", "python", "PROJ", "pyogrio", "shapely"} <= content["versions"].keys()
    assert content["position"]["sigma_m"] == pytest.approx(3.162)


def test_each_datum_operation_once_with_accuracy_and_missing_grids(content) -> None:
    assert [used["accuracy_m"] for used in content["datum_operations"]] == [3.0, 0.123]
    assert content["datum_operations"][1]["missing_grids"] == ["a.tif", "b.tif"]


def test_checks_are_in_words_and_no_word_is_leave_to_go_ahead(small_plan: Plan) -> None:
    text = summary(small_plan, files=[]).decode()
    checks = json.loads(text)["checks"]
    assert len(checks) == len(small_plan.checks)
    assert all(set(check) == {"line_id", "from_m", "to_m", "kind", "basis"} for check in checks)
    assert not re.search(r"\b(clear|safe)\b", text.replace("safe work method", ""))


def test_cells_that_are_empty_are_null(content) -> None:
    unknown = next(hazard for hazard in content["hazards"] if hazard["hazard_id"] == "H3")
    assert unknown["clearance_m"] is None
    assert unknown["required_m"] is None
    assert content["notes"][0]["line_id"] is None


def test_sorted_keys_no_path_of_this_machine_no_clock(small_plan: Plan) -> None:
    text = summary(small_plan, files=["b", "a"]).decode()
    assert json.dumps(json.loads(text), ensure_ascii=False, indent=1, sort_keys=True) + "\n" == text
    assert not re.search(r'"/|[A-Z]:\\\\|\d\d:\d\d:\d\d', text)


def test_a_name_that_is_no_unicode_does_not_stop_it(small_plan: Plan) -> None:
    site = dataclasses.replace(small_plan.site, name="lone \ud800 surrogate")
    assert json.loads(summary(dataclasses.replace(small_plan, site=site), files=[]))["name"] == "lone ? surrogate"


def test_cautions_come_with_each_place_and_its_status(register_plan: Plan) -> None:
    content = json.loads(summary(register_plan, files=[]))
    water = next(caution for caution in content["cautions"] if caution["about"] == "Water")
    assert water["applies"][0] == {"status": "flagged", "where": "H8, line B 5.0\u00a0m to 15.0\u00a0m"}
    assert water["applies"][1] == {"status": "not checked", "where": "all the rest"}
    assert all(caution["applies"] and caution["text"] for caution in content["cautions"])
