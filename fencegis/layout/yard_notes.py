"""What to know of the posts on hand: what is short, what is left over, the heaps, the steps that the eye will meet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.yard_bound import least_sum_mm
from fencegis.layout.yard_places import NONE, step_list
from fencegis.layout.yard_worst import least_worst_mm
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from fencegis.layout.yard_order import Choice
    from fencegis.layout.yard_places import Flags, Floats, Whole, Yard

NAMED = 8  # posts named in one note


def notes_on_yard(
    posts: pd.DataFrame,
    strong: Flags,
    yard: Yard,
    choice: Choice,
    *,
    passes: Mapping[str, Flags],
    heap: Whole,
    girth_mm: Floats,
    table: pd.DataFrame,
) -> list[Note]:
    """Return the notes on how the yard was shared out; `table` is the layer `yard`.

    `passes` says by `sweep`, `girth` and `length` which sticks each place takes (n, m).
    """
    return [
        *_on_short(posts, strong, choice),
        *_on_moves(posts, yard, choice),
        *_on_left_over(table),
        *_on_heaps(posts, yard, choice, heap, girth_mm),
        *_on_steps(posts, yard, choice),
        *_on_settled(posts, yard, choice, passes),
    ]


def _on_short(posts: pd.DataFrame, strong: Flags, choice: Choice) -> list[Note]:
    open_places = choice.stick == NONE
    if not open_places.any():
        return []
    names = posts["post_id"][open_places].tolist()
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    heavy = int(np.count_nonzero(open_places & strong))
    return [
        Note(
            "doubt",
            f"posts.csv is {len(names)} posts short of {len(posts)} ({heavy} of them ends, corners, gates, junctions or"
            f" hollows): no stick of the length, girth and straightness for {', '.join(names[:NAMED])}{more}",
        )
    ]


def _on_moves(posts: pd.DataFrame, yard: Yard, choice: Choice) -> Iterator[Note]:
    """Yield a note for each place that a stick which stands elsewhere would take, and a spare that one's."""
    spare = np.setdiff1d(yard.free_sticks, choice.stick)
    stand = np.flatnonzero(yard.settled != NONE)
    if not len(spare) or not len(stand):
        return
    off = np.abs(yard.face_mm[np.ix_(stand, spare)] - yard.face_mm[stand, yard.settled[stand]][:, None])
    off = np.where(yard.fits[np.ix_(stand, spare)], off, np.inf).min(axis=1)  # a spare's from the stick's that stands
    for place in np.flatnonzero(choice.stick == NONE)[:NAMED]:
        would = np.where(yard.fits[place, yard.settled[stand]], off, np.inf)
        if not np.isfinite(would.min()):
            continue
        other, here = int(stand[would.argmin()]), posts["post_id"].iloc[place]
        text = (
            f"no spare will do at {here}; {posts['timber_id'].iloc[other]}, which stands at"
            f" {posts['post_id'].iloc[other]}, would, and a spare would take its place. If it can still be moved, write"
            f" {here} as its place in posts.csv and plan again"
        )
        yield Note("doubt", text, posts["line_id"].iloc[place], float(posts["chainage_m"].iloc[place]))


def _on_left_over(table: pd.DataFrame) -> list[Note]:
    spares = int(table.loc[table["says"].eq("spare"), "count"].sum())
    rejects = int(table.loc[table["says"].str.startswith("reject"), "count"].sum())
    return [Note("default", f"posts.csv leaves {spares} spares and {rejects} rejects; the layer yard says why")]


def _on_heaps(posts: pd.DataFrame, yard: Yard, choice: Choice, heap: Whole, girth_mm: Floats) -> list[Note]:
    numbers = [number for number in np.unique(heap) if number > 0]
    placed = posts["heap"].value_counts()
    if not numbers:
        return []
    said = []
    for number in numbers:
        girth = girth_mm[heap == number]
        said.append(
            f"heap {number}: {girth.min():.0f} to {girth.max():.0f} mm at the ground, {int(placed.get(str(number), 0))}"
            f" placed, {int(np.count_nonzero(heap == number)) - int(placed.get(str(number), 0))} spare"
        )
    text = f"posts by girth, {'; '.join(said)}"
    if (posts["heap"].notna() & posts["timber_id"].isna()).any():
        widest = max(np.ptp(girth_mm[heap == number]) for number in numbers)
        most = yard.least_mm[choice.stick != NONE].max(initial=0.0)
        text += (
            f". A stick without a name may go to any line post of its heap, its face to the gauge block: steps of up to"
            f" {widest:.0f} mm can come of it. The thickest of a heap to ends, corners, gates, junctions and hollows,"
            f" of which the heaviest asks for {most:.0f} mm: measure them"
        )
    return [Note("default", text)]


def _on_steps(posts: pd.DataFrame, yard: Yard, choice: Choice) -> list[Note]:
    steps = step_list(yard, choice.stick)
    if not steps:
        return []
    one, two, worst = max(steps, key=lambda step: step[2])
    least = choice.sum_mm if choice.proven else min(choice.sum_mm, least_sum_mm(yard, choice.stick))
    among = "every order was looked at" if choice.proven else f"no order of these sticks is below {least:.0f} mm"
    least_worst = least_worst_mm(yard, choice.stick)
    return [
        Note(
            "default",
            f"steps in face width from post to post add up to {choice.sum_mm:.0f} mm ({among}); the greatest is"
            f" {worst:.0f} mm, from {posts['post_id'].iloc[one]} to {posts['post_id'].iloc[two]}"
            f" (every order has one of {least_worst:.0f} mm or more)",
            posts["line_id"].iloc[one],
            float(posts["chainage_m"].iloc[one]),
        )
    ]


def _on_settled(posts: pd.DataFrame, yard: Yard, choice: Choice, passes: Mapping[str, Flags]) -> list[Note]:
    """Return a note for each stick that stands where it does not fit."""
    return [
        Note(
            "doubt",
            f"{posts['timber_id'].iloc[place]} stands at {posts['post_id'].iloc[place]} and is kept, though it is"
            f" {_falls_short(yard, passes, int(place), int(choice.stick[place]))} than the place asks for: look at it"
            " again. If it will not do, delete its row in posts.csv, and a spare takes its place",
            posts["line_id"].iloc[place],
            float(posts["chainage_m"].iloc[place]),
        )
        for place in np.flatnonzero(yard.settled != NONE)
        if not yard.fits[place, choice.stick[place]]
    ]


def _falls_short(yard: Yard, passes: Mapping[str, Flags], place: int, stick: int) -> str:
    words = {
        "length": "shorter",
        "girth": f"thinner ({yard.face_mm[place, stick]:.0f} mm at the ground for {yard.least_mm[place]:.0f})",
        "sweep": "more bowed",
    }
    return " and ".join(said for name, said in words.items() if not passes[name][place, stick])
