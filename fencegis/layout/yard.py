"""Posts on hand shared out: what each place asks for, the stick and heap it gets, and the layer `yard`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.errors import InputError, Problem
from fencegis.layout.post_lengths import gate_post_mm
from fencegis.layout.yard_heaps import heaps_by_girth
from fencegis.layout.yard_notes import notes_on_yard
from fencegis.layout.yard_order import choose
from fencegis.layout.yard_places import NONE, Yard
from fencegis.line.counting import A_MILLIMETRE
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from fencegis.layout.yard_order import Choice
    from fencegis.layout.yard_places import Flags, Floats, Whole
    from fencegis.records.notes import Note
    from fencegis.records.spec import Fence, FenceKind
    from fencegis.records.timber import Timber

STRONG = ("strainer", "gate", "junction", "key")
REFUSALS = ("sweep", "girth", "length")


class Shared(NamedTuple):
    """The layers `posts` (with `timber_id`, `heap`, `settled`, `face_mm`) and `yard`, and what to know of them."""

    posts: pd.DataFrame
    yard: pd.DataFrame
    notes: list[Note]


@dataclass(frozen=True, eq=False)
class Needs:
    """What each place asks for: diameter at the ground, length, straightness; `embed_m` is how deep it stands."""

    strong: Flags
    least_mm: Floats
    least_m: Floats
    most_sweep_mm_m: Floats
    embed_m: Floats


def shared_from_yard(
    posts: pd.DataFrame,
    *,
    timber: Sequence[Timber] | None,
    strainers: pd.DataFrame,
    closed: Mapping[str, bool],
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
) -> Shared:
    """Return the posts with a stick for every place that one is found for; without `posts.csv` only their faces.

    `closed` says of each line whether it is a loop. Raises InputError for a stick whose place is no post of the plan.
    """
    needs = needs_of(posts, strainers=strainers, kind_of_line=kind_of_line, fence=fence)
    face_mm = gate_post_mm(posts, strainers, fence=fence)
    if timber is None:
        return Shared(checked("posts", posts.assign(face_mm=face_mm)), empty("yard"), [])
    sticks = _one_by_one(timber, len(posts))
    settled = _settled(posts, sticks)
    yard, passes = _yard(posts, needs, sticks, settled, closed)
    if (settled != NONE).any() and (settled == NONE).any():  # the plan before, of which as little as can be is changed
        before = choose(replace(yard, settled=np.full(len(posts), NONE)))
        yard = replace(yard, planned=before.stick, carry_mm=value("worth carrying"))
    choice = choose(yard)
    has = choice.stick != NONE
    girth = np.median(yard.face_mm, axis=0) if len(posts) else np.zeros(len(sticks))
    heap = np.zeros(len(sticks), dtype=int)
    heap[yard.usable] = heaps_by_girth(girth[yard.usable], most=int(value("heaps")))
    face_mm[has] = yard.face_mm[np.flatnonzero(has), choice.stick[has]]
    posts = posts.assign(
        timber_id=_text(sticks[one].timber_id if one != NONE else None for one in choice.stick),
        heap=_text(str(heap[one]) if one != NONE else None for one in choice.stick),
        settled=settled != NONE,
        face_mm=face_mm,
        butt_mm=[sticks[one].butt_mm if one != NONE else np.nan for one in choice.stick],
        top_mm=[sticks[one].top_mm if one != NONE else np.nan for one in choice.stick],
        sweep_mm=np.array([sticks[one].sweep_mm if one != NONE else None for one in choice.stick], dtype=float),
    )
    refused = {name: np.asarray(~fits.any(axis=0)) for name, fits in passes.items()}
    table = _yard_table(posts, sticks, choice, heap, _face_of(yard, choice, girth), refused)
    posts = checked("posts", posts)
    notes = notes_on_yard(posts, needs.strong, yard, choice, passes=passes, heap=heap, girth_mm=girth, table=table)
    return Shared(posts, table, notes)


def value(item: str) -> float:
    """Return a figure of `catalogue/yard.csv`. Raises StopIteration when there is no such item."""
    return next(float(row["value"]) for row in rows("yard") if row["item"] == item)


def needs_of(
    posts: pd.DataFrame,
    *,
    strainers: pd.DataFrame,
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
) -> Needs:
    """Return what each place asks for.

    Gate posts have to be as thick as `gate_post_mm`, ends, corners, junctions and posts in hollows as `post_mm`; other
    posts may be a little thinner, but in rail never less than a butt joint needs. Length is the plan's.
    """
    nominal = gate_post_mm(posts, strainers, fence=fence)
    strong = posts["kind"].isin(STRONG).to_numpy(dtype=bool) | (nominal != fence.post_mm)
    rail = posts["line_id"].map(dict(kind_of_line)).eq("post and rail").to_numpy(dtype=bool)
    line_mm = np.where(rail, max(value("least line post") * fence.post_mm, value("least joint post")), 0.0)
    line_mm = np.maximum(line_mm, value("least line post") * fence.post_mm)
    embed = posts["embed_m"].fillna(0.0).to_numpy(dtype=float)
    planned = posts["length_m"].to_numpy(dtype=float)
    return Needs(
        strong=strong,
        least_mm=np.where(strong, nominal, line_mm),
        least_m=np.where(np.isnan(planned), embed, planned),
        most_sweep_mm_m=np.where(strong, value("most sweep of strong posts"), value("most sweep")),
        embed_m=embed,
    )


def _text(cells: Iterable[str | None]) -> pd.Series[str]:
    return pd.Series(list(cells), dtype="str")


def _one_by_one(timber: Sequence[Timber], places: int) -> list[Timber]:
    """Return a stick for each of a row's count, of which no more than places can ever be used."""
    return [stick for stick in timber for _ in range(min(stick.count, max(1, places)))]


def _settled(posts: pd.DataFrame, sticks: Sequence[Timber]) -> Whole:
    """Return the stick that stands at each post already, -1 where none does."""
    place_of = {post_id: place for place, post_id in enumerate(posts["post_id"])}
    settled, problems = np.full(len(posts), NONE), []
    for number, stick in enumerate(sticks):
        if stick.place is None:
            continue
        if stick.place in place_of:
            settled[place_of[stick.place]] = number
        else:
            fix = "write the post_id that it stands at as the plan has it, or leave place empty."
            problems.append(Problem("posts.csv", f"row {stick.row}", f"no post of the plan is “{stick.place}”.", fix))
    if problems:
        raise InputError(problems)
    return settled


def _yard(
    posts: pd.DataFrame, needs: Needs, sticks: Sequence[Timber], settled: Whole, closed: Mapping[str, bool]
) -> tuple[Yard, dict[str, Flags]]:
    """Return the kernel's view of places and sticks, and for each refusal where (n, m) it does not meet a stick."""
    length, butt, top = (np.array([getattr(s, name) for s in sticks]) for name in ("length_m", "butt_mm", "top_mm"))
    sweep = np.array([s.sweep_mm or 0.0 for s in sticks])
    face = butt - (butt - top) * np.minimum(needs.embed_m[:, None] / length, 1.0)
    passes = {
        "sweep": sweep <= needs.most_sweep_mm_m[:, None] * length + A_MILLIMETRE,
        "girth": face >= needs.least_mm[:, None] - A_MILLIMETRE,
        "length": length >= needs.least_m[:, None] - A_MILLIMETRE,
    }
    lines = list(dict.fromkeys(posts["line_id"]))
    yard = Yard(
        chain=posts["line_id"].map({line_id: number for number, line_id in enumerate(lines)}).to_numpy(dtype=np.intp),
        closed=np.array([closed[line_id] for line_id in lines], dtype=bool),
        strong=needs.strong,
        least_mm=needs.least_mm,
        face_mm=face,
        fits=passes["sweep"] & passes["girth"] & passes["length"],
        settled=settled,
    )
    return yard, passes


def _face_of(yard: Yard, choice: Choice, girth: Floats) -> Floats:
    """Return each stick's diameter at the ground: where it stands, else at the middle one of all depths."""
    face = girth.copy()
    has = np.flatnonzero(choice.stick != NONE)
    face[choice.stick[has]] = yard.face_mm[has, choice.stick[has]]
    return face


def _yard_table(
    posts: pd.DataFrame,
    sticks: Sequence[Timber],
    choice: Choice,
    heap: Whole,
    face_mm: Floats,
    refused: Mapping[str, Flags],
) -> pd.DataFrame:
    """Return the layer `yard`: each tagged stick, and of a heap's row how many have each answer."""
    if not sticks:
        return empty("yard")
    place = {int(stick): number for number, stick in enumerate(choice.stick) if stick != NONE}
    cells = []
    for number, stick in enumerate(sticks):
        at = place.get(number)
        cells.append(
            {
                "row": stick.row,
                "timber_id": stick.timber_id,
                "post_id": None if at is None or stick.timber_id is None else posts["post_id"].iloc[at],
                "heap": str(heap[number]) if heap[number] else None,
                "face_mm": face_mm[number] if stick.timber_id or at is None else np.nan,
                "says": _says(stick, at, bool(heap[number]), [name for name in REFUSALS if refused[name][number]]),
            }
        )
    table = pd.DataFrame(cells)
    keys = ["row", "timber_id", "post_id", "heap", "says"]
    table = table.groupby(keys, dropna=False, sort=False).agg(count=("says", "size"), face_mm=("face_mm", "first"))
    return checked("yard", table.reset_index())


def _says(stick: Timber, place: int | None, usable: bool, refused: Sequence[str]) -> str:
    if place is not None:
        return "stands there: kept" if stick.place else "placed"
    if usable:
        return "spare"
    why = {
        "sweep": f"sweep of {stick.sweep_mm or 0.0:.0f} mm is over {value('most sweep'):g} mm a metre",
        "girth": "thinner at the ground than any place asks for",
        "length": "shorter than any place asks for",
    }
    return (
        f"reject: {' and '.join(why[name] for name in refused) or 'no place takes its length, girth and sweep at once'}"
    )
