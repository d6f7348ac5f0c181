"""Posts on hand shared out: against every order of a few, against what no order can beat, and as tables."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise, permutations

import numpy as np
import pandas as pd
import pytest

from fencegis.errors import InputError
from fencegis.layout import yard_order
from fencegis.layout.yard import shared_from_yard
from fencegis.layout.yard_bound import least_sum_mm
from fencegis.layout.yard_heaps import heaps_by_girth
from fencegis.layout.yard_order import choose
from fencegis.layout.yard_places import NONE, Yard, step_list
from fencegis.records.spec import Fence
from fencegis.records.tables import empty
from fencegis.records.timber import Timber


def plain(sizes, *, strong=(), least_mm=0.0, closed=False, places=None, settled=()):
    """One line of places where every stick as thick as asked for fits."""
    count = len(sizes) if places is None else places
    face = np.tile(np.asarray(sizes, dtype=float), (count, 1))
    heavy, least, stands = np.zeros(count, dtype=bool), np.zeros(count), np.full(count, NONE)
    heavy[list(strong)] = True
    least[heavy] = least_mm
    for place, stick in settled:
        stands[place] = stick
    return Yard(
        chain=np.zeros(count, dtype=int),
        closed=np.array([closed]),
        strong=heavy,
        least_mm=least,
        face_mm=face,
        fits=face >= least[:, None],
        settled=stands,
    )


def any_yard(rng):
    """Three to six places on one or two lines, some loops; tapered sticks of several lengths, some standing already."""
    count, sticks, lines = int(rng.integers(3, 7)), int(rng.integers(3, 8)), int(rng.integers(1, 3))
    strong = rng.random(count) < 0.3
    least = np.where(strong, rng.choice([175.0, 185.0], count), 150.0)
    butt, length = rng.normal(185.0, 20.0, sticks).round(), rng.choice([2.1, 2.4, 2.7], sticks)
    embed = rng.choice([0.8, 1.1], count)
    face = butt - rng.integers(10, 40, sticks) * embed[:, None] / length
    fits = (face >= least[:, None]) & (length >= embed[:, None] + 1.2)
    settled = np.full(count, NONE)
    if rng.random() < 0.4:
        settled[rng.integers(count)] = rng.integers(sticks)
    closed = rng.random(lines) < 0.5
    return Yard(np.sort(rng.integers(0, lines, count)), closed, strong, least, face, fits, settled)


def steps(yard, stick):
    """Return sum and worst of the steps, counted afresh from the definition."""
    found = []
    for number, closed in enumerate(yard.closed):
        here = [place for place in range(len(stick)) if yard.chain[place] == number and stick[place] != NONE]
        face = [yard.face_mm[place, stick[place]] for place in here]
        if closed and len(here) > 2:
            face.append(face[0])
        found += [abs(one - two) for one, two in pairwise(face)]
    return round(sum(found), 6), round(max(found, default=0.0), 6)


def every_order(yard, filled):
    free = [place for place in np.flatnonzero(filled) if yard.settled[place] == NONE]
    best = (np.inf, np.inf)
    for order in permutations(yard.free_sticks.tolist(), len(free)):
        if all(yard.fits[place, stick] for place, stick in zip(free, order, strict=True)):
            stick = yard.settled.copy()
            stick[free] = order
            best = min(best, steps(yard, stick))
    return best


@pytest.mark.parametrize("seed", range(60))
def test_a_few_posts_against_every_order(seed):
    yard = any_yard(np.random.default_rng(seed))
    choice = choose(yard)
    best = every_order(yard, choice.stick != NONE)
    if not np.isfinite(best[0]):  # nothing fits anywhere
        assert (choice.stick == yard.settled).all()
        return
    assert choice.proven
    assert (choice.sum_mm, choice.worst_mm) == pytest.approx(best)
    assert steps(yard, choice.stick) == pytest.approx(best)
    assert least_sum_mm(yard, choice.stick) <= best[0] + 1e-6


@pytest.mark.parametrize("seed", range(30))
def test_as_many_places_are_filled_as_can_be(seed):
    """Against every set of places and every way to fill it, a strong place counting for three."""
    yard = any_yard(np.random.default_rng(seed))
    worth = np.where(yard.strong, 3, 1)
    free = yard.free_places.tolist()
    most = 0
    for size in range(len(free) + 1):
        for places in combinations(free, size):
            if any(
                all(yard.fits[place, stick] for place, stick in zip(places, order, strict=True))
                for order in permutations(yard.free_sticks.tolist(), size)
            ):
                most = max(most, int(worth[list(places)].sum()))
    filled = (choose(yard).stick != NONE) & (yard.settled == NONE)
    assert int(worth[filled].sum()) == most


def test_no_stick_stands_twice_or_where_it_does_not_fit():
    rng = np.random.default_rng(5)
    sizes = rng.normal(190.0, 18.0, 220)
    yard = plain(sizes, strong=range(0, 200, 20), least_mm=185.0, places=200)
    stick = choose(yard).stick
    assert len(set(stick.tolist())) == 200
    assert yard.fits[np.arange(200), stick].all()


@pytest.mark.parametrize("count", [15, 120])
def test_an_open_line_where_all_fit_is_sorted(count):
    """No order has less: the steps add up to the whole range, and some step crosses the greatest gap."""
    sizes = np.random.default_rng(count).normal(190.0, 18.0, count)
    choice = choose(plain(sizes))
    assert choice.sum_mm == pytest.approx(np.ptp(sizes))
    assert choice.worst_mm == pytest.approx(np.diff(np.sort(sizes)).max())
    assert least_sum_mm(plain(sizes), choice.stick) == pytest.approx(np.ptp(sizes))


def test_between_two_heavy_posts_the_line_thins_to_the_middle_and_comes_back():
    """Down and up again is twice the way; every second stick on the other side has the least worst step."""
    sizes = np.append(np.random.default_rng(2).normal(175.0, 10.0, 58), [230.0, 232.0])
    yard = plain(sizes, strong=(0, 59), least_mm=225.0)
    choice = choose(yard)
    assert choice.sum_mm == pytest.approx(230.0 + 232.0 - 2.0 * sizes.min())
    assert least_sum_mm(yard, choice.stick) == pytest.approx(choice.sum_mm)
    down = np.sort(sizes)[::-1]
    assert choice.worst_mm == pytest.approx((down[:-2] - down[2:]).max())


def test_a_loop_goes_up_and_down_once():
    sizes = np.random.default_rng(4).normal(190.0, 18.0, 40)
    choice = choose(plain(sizes, closed=True))
    assert choice.sum_mm == pytest.approx(2.0 * np.ptp(sizes))
    assert least_sum_mm(plain(sizes, closed=True), choice.stick) == pytest.approx(choice.sum_mm)


@pytest.mark.parametrize("seed", range(4))
def test_many_posts_come_near_what_no_order_can_beat(seed):
    """170 uneven posts, 10 heavy places: within twice the bound, which drops other spares at each cut."""
    rng = np.random.default_rng(seed)
    sizes = rng.normal(190.0, 18.0, 190)
    strong = np.sort(rng.choice(170, 10, replace=False))
    yard = plain(sizes, strong=strong, least_mm=200.0, places=170)
    choice = choose(yard)
    bound = least_sum_mm(yard, choice.stick)
    assert bound <= choice.sum_mm <= 2.0 * bound
    assert choice.sum_mm < steps(yard, np.arange(170))[0] / 10.0


def test_swaps_and_sharing_anew_never_worsen_an_order():
    rng = np.random.default_rng(9)
    yard = plain(rng.normal(190.0, 18.0, 60), places=50)
    order = rng.permutation(60)[:50]
    better = yard_order.bettered(yard, order)
    assert steps(yard, better)[0] < steps(yard, order)[0]


def test_one_swap_on_site_moves_as_few_others_as_can_be():
    """A spare put up in a post's stead, and two that changed places: the rest stays as it was."""
    rng = np.random.default_rng(11)
    yard = plain(rng.normal(190.0, 18.0, 90), strong=range(0, 80, 10), least_mm=180.0, places=80)
    first = choose(yard).stick
    spare = np.setdiff1d(np.arange(90), first)[0]
    settled = np.full(80, NONE)
    settled[33], settled[41], settled[55] = spare, first[55], first[41]
    again = choose(replace(yard, settled=settled, planned=first, carry_mm=10.0)).stick
    assert (again[[33, 41, 55]] == settled[[33, 41, 55]]).all()
    assert np.count_nonzero(again != first) <= 5


def test_steps_pass_over_a_place_without_a_stick():
    yard = plain([200.0, 180.0, 190.0])
    assert step_list(yard, np.array([0, NONE, 2])) == [(0, 2, 10.0)]


@pytest.mark.parametrize("seed", range(10))
def test_heaps_are_as_narrow_as_can_be(seed):
    girth = np.random.default_rng(seed).normal(190.0, 18.0, 12).round()
    heap = heaps_by_girth(girth, most=3)
    assert set(heap.tolist()) <= {1, 2, 3}
    assert all(girth[heap == one].max() < girth[heap == one + 1].min() for one in (1, 2) if (heap == one + 1).any())
    ordered = np.sort(girth)
    best = min(
        max(np.ptp(part) for part in np.split(ordered, cuts) if len(part)) for cuts in combinations(range(1, 12), 2)
    )
    assert max(np.ptp(girth[heap == one]) for one in set(heap.tolist())) == best


def test_heaps_of_nothing_and_of_alike():
    assert heaps_by_girth([], most=3).tolist() == []
    assert heaps_by_girth([180.0, 180.0], most=3).tolist() == [1, 1]


# The tables.


def posts_of(kinds, *, length_m=2.3, embed_m=0.9):
    count = len(kinds)
    return pd.DataFrame(
        {
            "line_id": ["A"] * count,
            "chainage_m": np.arange(count) * 2.4,
            "post_id": [f"A-{number:03d}" for number in range(1, count + 1)],
            "kind": kinds,
            "ground_chainage_m": np.arange(count) * 2.4,
            "tape_m": np.arange(count) * 2.4,
            "length_m": length_m,
            "embed_m": embed_m,
        }
    )


def stick(row, butt_mm, *, name=None, length_m=2.4, top_mm=None, sweep_mm=None, count=1, place=None):
    return Timber(row, name, length_m, butt_mm, butt_mm if top_mm is None else top_mm, sweep_mm, count, place, "")


def share(posts, *timber, kind="post and rail", gates_at=(), **keys):
    strainers = empty("strainers")
    if gates_at:
        at = {"line_id": "A", "chainage_m": list(gates_at), "reason": "gate", "also": None}
        strainers = pd.DataFrame(at).reindex(columns=strainers.columns)
        strainers["also"] = strainers["also"].astype("str")
    return shared_from_yard(
        posts,
        timber=timber or None,
        strainers=strainers,
        closed={"A": False},
        kind_of_line={"A": kind},
        fence=Fence(**keys),
    )


def test_without_posts_csv_faces_are_those_of_site_toml():
    done = share(posts_of(["strainer", "line", "line"]), gates_at=[4.8])
    assert done.posts["face_mm"].tolist() == [175.0, 175.0, 240.0]
    assert done.posts[["timber_id", "heap"]].isna().all(axis=None)
    assert not done.posts["settled"].any()
    assert done.yard.empty
    assert done.notes == []


def test_the_face_is_the_diameter_at_the_ground():
    done = share(posts_of(["line"]), stick(2, 240.0, name="T1", top_mm=200.0, sweep_mm=8.0))
    assert done.posts[["timber_id", "face_mm", "top_mm", "sweep_mm"]].iloc[0].tolist() == ["T1", 225.0, 200.0, 8.0]


def test_a_heap_gives_no_names_and_three_heaps_their_numbers():
    heaps = [stick(2, 170.0, count=3), stick(3, 200.0, count=2), stick(4, 240.0, count=4)]
    done = share(posts_of(["gate", "line", "line", "line", "line"]), *heaps, gates_at=[0.0])
    assert done.posts["timber_id"].isna().all()
    assert done.posts["heap"].tolist()[0] == "3"
    assert set(done.posts["heap"]) <= {"1", "2", "3"}
    assert done.yard.groupby("row")["count"].sum().to_dict() == {2: 3, 3: 2, 4: 4}
    (said,) = [note.text for note in done.notes if note.text.startswith("posts by girth")]
    assert "heap 1: 170 to 170 mm at the ground" in said
    assert "the heaviest asks for 240 mm: measure them" in said


def test_strong_places_and_long_ones_get_what_they_need():
    posts = posts_of(["strainer", "line", "key"], length_m=[2.3, 2.3, 2.65])
    done = share(
        posts, stick(2, 150.0, name="thin"), stick(3, 180.0, name="long", length_m=2.7), stick(4, 176.0, name="stout")
    )
    assert done.posts["timber_id"].tolist() == ["stout", "thin", "long"]


def test_rejects_say_why_and_spares_are_listed():
    done = share(
        posts_of(["strainer", "line"]),
        stick(2, 180.0, name="good"),
        stick(3, 178.0, name="too"),
        stick(4, 120.0, name="thin"),
        stick(5, 180.0, name="short", length_m=2.0),
        stick(6, 180.0, name="bowed", sweep_mm=40.0),
        stick(7, 182.0, name="over"),
    )
    said = done.yard.set_index("timber_id")["says"].to_dict()
    assert said["thin"] == "reject: thinner at the ground than any place asks for"
    assert said["short"] == "reject: shorter than any place asks for"
    assert said["bowed"] == "reject: sweep of 40 mm is over 12 mm a metre"
    assert sorted(said[name] for name in ("good", "too", "over")) == ["placed", "placed", "spare"]
    assert done.yard["heap"].isna().tolist() == [False, False, True, True, True, False]
    assert "posts.csv leaves 1 spares and 3 rejects; the layer yard says why" in [note.text for note in done.notes]


def test_ends_ask_for_straighter_sticks_than_the_line():
    done = share(
        posts_of(["strainer", "line"]), stick(2, 180.0, name="bowed", sweep_mm=20.0), stick(3, 180.0, name="straight")
    )
    assert done.posts["timber_id"].tolist() == ["straight", "bowed"]


def test_what_is_short_is_said_with_its_places():
    done = share(posts_of(["strainer", "line", "line"]), stick(2, 180.0, name="T1"))
    assert done.posts["timber_id"].fillna("").tolist() == ["T1", "", ""]
    assert done.posts["face_mm"].tolist() == [180.0, 175.0, 175.0]
    (said,) = [note for note in done.notes if "short of" in note.text]
    assert said.severity == "doubt"
    assert said.text.startswith("posts.csv is 2 posts short of 3 (0 of them ends")
    assert said.text.endswith("A-002, A-003")


def test_a_settled_stick_stays_and_a_bad_one_is_told():
    posts = posts_of(["strainer", "line", "line"])
    done = share(
        posts, stick(2, 160.0, name="T1", place="A-001"), stick(3, 180.0, name="T2"), stick(4, 181.0, name="T3")
    )
    assert done.posts["timber_id"].iloc[0] == "T1"
    assert done.posts["settled"].tolist() == [True, False, False]
    assert done.yard["says"].tolist() == ["stands there: kept", "placed", "placed"]
    (said,) = [note for note in done.notes if "is kept" in note.text]
    assert (said.severity, said.line_id, said.chainage_m) == ("doubt", "A", 0.0)


def test_an_edited_file_keeps_the_rest_of_the_plan():
    rng = np.random.default_rng(8)
    posts = posts_of(["strainer", *["line"] * 48, "strainer"])
    timber = [
        stick(row, float(butt), name=f"T{row}") for row, butt in enumerate(rng.normal(195.0, 10.0, 55).round(1), 2)
    ]
    before = share(posts, *timber).posts["timber_id"]
    here = {name: place for place, name in enumerate(before) if isinstance(name, str)}
    one, two = before.iloc[10], before.iloc[30]
    swapped = {one: "A-031", two: "A-011"}
    edited = [replace(each, place=swapped.get(each.timber_id)) for each in timber]
    done = share(posts, *edited)
    assert done.posts["timber_id"].iloc[[10, 30]].tolist() == [two, one]
    assert done.posts["settled"].to_numpy().nonzero()[0].tolist() == [10, 30]
    moved = [name for place, name in enumerate(done.posts["timber_id"]) if here.get(name) != place]
    assert len(moved) <= 6


def test_a_place_that_is_no_post_of_the_plan():
    with pytest.raises(InputError, match="no post of the plan is “A-009”"):
        share(posts_of(["line"]), stick(2, 180.0, name="T1", place="A-009"))


def test_the_note_on_steps_names_the_worst_and_what_no_order_beats():
    posts = posts_of(["line"] * 14)
    done = share(
        posts, *[stick(row, 150.0 + 3.0 * row, name=f"T{row}") for row in range(2, 15)], stick(15, 220.0, name="big")
    )
    (said,) = [note.text for note in done.notes if note.text.startswith("steps")]
    assert said.startswith(
        "steps in face width from post to post add up to 64 mm (no order of these sticks is below 64 mm)"
    )
    assert "the greatest is 28 mm" in said
