"""The posts as placed, to be used again: what is settled stays, a stick struck out gives its place to a spare."""

from __future__ import annotations

import csv
import dataclasses
import io
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis import Site, Spec, plan_site
from fencegis.exports.csv_tables import PLACED, placed_csv
from fencegis.inputs.crs import geographic, working_grid
from fencegis.inputs.posts_file import read_posts
from fencegis.records.site import DrawnLine
from fencegis.records.timber import Timber

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)


def site_with(timber) -> Site:
    """Sixty metres of post and rail with a corner, on ground that nobody measured."""
    corners = np.array([50_000.0, 80_000.0]) + np.array([[0.0, 0.0], [36.0, 0.0], [36.0, 24.0]])
    line = DrawnLine("A", "", "feature 1", "post and rail", None, False, corners, 0.0)
    spec = Spec.model_validate(
        {"fence": {"kind": "post and rail", "rail_m": [4.8]}, "boundary": {"drawn_from": "survey"}}
    )
    return Site("any", "Any", spec, GRID, (line,), timber=tuple(timber))


def sticks(*, tagged=34, heap=0) -> list[Timber]:
    rng = np.random.default_rng(3)
    butt = np.append(rng.normal(195.0, 9.0, tagged).round(), [])
    each = [
        Timber(
            row,
            f"T{row:02d}",
            2.7,
            float(mm),
            float(mm) - 17.5,
            8.0 if row % 2 else None,
            1,
            None,
            "" if row % 5 else "-1",
        )
        for row, mm in enumerate(butt, start=2)
    ]
    return each + ([Timber(tagged + 2, None, 2.7, 190.0, 180.0, None, heap, None, "")] if heap else [])


def read_back(content: bytes, tmp_path) -> list[Timber]:
    path = tmp_path / "posts.csv"
    path.write_bytes(content)
    read = read_posts(path)
    assert read.problems == ()
    return list(read.timber)


def placed(plan: Plan) -> dict[str, str]:
    tagged = plan.posts[plan.posts["timber_id"].notna()]
    return dict(zip(tagged["post_id"], tagged["timber_id"], strict=True))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_site(site_with(sticks()))


def test_it_has_the_columns_of_posts_csv_and_every_stick(plan, tmp_path) -> None:
    content = placed_csv(plan)
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    assert tuple(rows[0]) == PLACED
    again = read_back(content, tmp_path)
    unplaced = [dataclasses.replace(stick, place=None) for stick in again]
    assert unplaced == [dataclasses.replace(stick, note=stick.note and f"'{stick.note}") for stick in sticks()]
    assert {stick.place: stick.timber_id for stick in again if stick.place} == placed(plan)


def test_without_posts_csv_there_is_none() -> None:
    assert placed_csv(plan_site(dataclasses.replace(site_with([]), timber=None))) is None


def test_used_as_posts_csv_it_gives_the_same_places_and_itself(plan, tmp_path) -> None:
    again = plan_site(site_with(read_back(placed_csv(plan), tmp_path)))
    assert placed(again) == placed(plan)
    assert len(placed(plan)) == len(plan.posts)
    assert again.posts["settled"].all()
    assert placed_csv(again) == placed_csv(plan)


@pytest.mark.parametrize("at", [0, 7, 15, -1])
def test_a_stick_struck_out_gives_its_place_to_a_spare_and_no_other_moves(plan, tmp_path, at) -> None:
    gone = plan.posts["timber_id"].iloc[at]
    left = [stick for stick in read_back(placed_csv(plan), tmp_path) if stick.timber_id != gone]
    again = plan_site(site_with(left))
    before, after = placed(plan), placed(again)
    moved = {post_id for post_id in before if after.get(post_id) != before[post_id]}
    assert moved == {plan.posts["post_id"].iloc[at]}
    spares = set(plan.yard.loc[plan.yard["says"].eq("spare"), "timber_id"])
    assert after[plan.posts["post_id"].iloc[at]] in spares


def test_a_heap_keeps_its_places_and_the_tagged_theirs(tmp_path) -> None:
    first = plan_site(site_with(sticks(tagged=16, heap=20)))
    again = plan_site(site_with(read_back(placed_csv(first), tmp_path)))
    assert placed(again) == placed(first)
    assert again.posts["heap"].tolist() == first.posts["heap"].tolist()
    assert again.posts["heap"].notna().all()


def test_where_no_spare_will_do_the_place_stays_open_and_a_note_says_which_stick_could_go_there(plan, tmp_path) -> None:
    """Spares too thin for a corner: a line post would do, and the spare in its place."""
    corner = plan.posts.index[plan.posts["kind"].eq("strainer")][1]
    gone, spares = plan.posts["timber_id"].loc[corner], plan.yard.loc[plan.yard["says"].eq("spare"), "timber_id"]
    left = [
        dataclasses.replace(stick, butt_mm=165.0, top_mm=150.0) if stick.timber_id in set(spares) else stick
        for stick in read_back(placed_csv(plan), tmp_path)
        if stick.timber_id != gone
    ]
    again = plan_site(site_with(left))
    here = plan.posts["post_id"].loc[corner]
    assert placed(again) == {post_id: name for post_id, name in placed(plan).items() if post_id != here}
    (said,) = [text for text in again.notes["text"] if text.startswith(f"no spare will do at {here}")]
    other = said.split("; ")[1].split(",")[0]
    moved = [dataclasses.replace(stick, place=here) if stick.timber_id == other else stick for stick in left]
    done = plan_site(site_with(moved))
    assert placed(done)[here] == other
    assert done.posts["timber_id"].notna().all()
