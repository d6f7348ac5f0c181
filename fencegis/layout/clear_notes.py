"""What to know of posts that keep clear of something, and of those that cannot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.layout.standing import banned_by
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from fencegis.layout.post_tables import LaidOut
    from fencegis.layout.posts import Stretch

    Places = npt.NDArray[np.int_]
    Spans = Mapping[str, Sequence[tuple[float, float]]]

A_MILLIMETRE = 0.001
MARK = "survey mark"  # a post on one is told with the mark


def notes_on_kept_clear(lines: Sequence[LaidOut], *, kept_clear: Mapping[str, Spans]) -> list[Note]:
    """Return where posts were moved off something, and each post that stands in it all the same.

    `kept_clear` are by line, and by what they are, stretches from and to in chainage.
    """
    notes = []
    for one in lines:
        spans = kept_clear.get(one.course.line_id)
        if spans:
            notes += [*_moved(one, spans), *_in_the_way(one, spans)]
    return notes


def _moved(one: LaidOut, spans: Spans) -> list[Note]:
    notes = []
    for stretch in (stretch for stretch in one.row.stretches if stretch.moved):
        what = [name for name, each in spans.items() if any(_meet(span, stretch) for span in each)]
        on = (one.row.chainage_m > stretch.from_m) & (one.row.chainage_m < stretch.to_m)
        along = one.course.grades.along_ground([stretch.from_m, *one.row.chainage_m[on], stretch.to_m])
        bays = np.diff(along)
        notes.append(
            Note(
                "default",
                f"posts are moved to keep off something ({', '.join(what)}): bays from here are {bays.min():.2f} to"
                f" {bays.max():.2f} m, so mark them by the running tape, not by dividing",
                one.course.line_id,
                stretch.from_m,
            )
        )
    return notes


def _in_the_way(one: LaidOut, spans: Spans) -> list[Note]:
    """Return a note for each group of neighbouring posts inside a stretch; on its edge a post stands off it."""
    inner = {
        name: [(low + A_MILLIMETRE, high - A_MILLIMETRE) for low, high in each if high - low > 2.0 * A_MILLIMETRE]
        for name, each in spans.items()
    }
    why = banned_by(one.row.chainage_m, inner)
    notes = []
    for name in (name for name in inner if name != MARK):
        for places in _side_by_side(np.flatnonzero(why == name)):
            posts = one.post_id[places[0]] + (f" to {one.post_id[places[-1]]}" if len(places) > 1 else "")
            stands = "posts {} stand" if len(places) > 1 else "post {} stands"
            text = (
                f"{stands.format(posts)} on what it should keep off ({name}), and no row of bays within the limits"
                " avoids it: nothing is driven or bored there before it is settled on site; another place for an end, a"
                " corner or a gate may help"
            )
            notes.append(Note("doubt", text, one.course.line_id, float(one.row.chainage_m[places[0]])))
    return notes


def _side_by_side(places: Places) -> list[list[int]]:
    """Return the places in groups of neighbours."""
    groups: list[list[int]] = []
    for place in places.tolist():
        if groups and groups[-1][-1] == place - 1:
            groups[-1].append(place)
        else:
            groups.append([place])
    return groups


def _meet(span: tuple[float, float], stretch: Stretch) -> bool:
    return span[1] > stretch.from_m and span[0] < stretch.to_m
