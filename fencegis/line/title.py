"""The layer `title`: a deed's dimensions beside the traced line. It tells where they part; it fixes no boundary."""

from __future__ import annotations

from math import hypot, isinf, sqrt
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.line.chainage import points_at
from fencegis.line.title_pairs import Pairing, Sides, comparable, named, partial, turned_deg, whole
from fencegis.line.traverse import area_m2, balanced, closure, steps_en
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty
from fencegis.records.title import METRES

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.line.traverse import Closure
    from fencegis.records.spec import Spec
    from fencegis.records.title import TitleLeg

    Floats = npt.NDArray[np.float64]

WORST_CLOSURE = 1000.0  # 1:n; rougher than any survey of a boundary (common practice)
WORST = 3.0  # standard errors between title and tracing
IMAGERY_SCALE = 0.001  # share by which imagery may stretch or shrink every length (common practice, no printed source)
STRAIGHT_ON_DEG = 2.0  # legs that turn by less may be one run of the plan (common practice)
CLOSES = 20.0  # 1:n; legs that miss by more than a twentieth were not meant to come back
# Deeds are rounded: to 10 mm, a hundredth of a foot or a link, and to a minute (common practice). Evenly spread between
# two round numbers, the standard error is the step over √12.
_STEP_M = {"m": 0.01, "ft": METRES["ft"] / 100, "us-ft": METRES["us-ft"] / 100}
_STEP_M |= dict.fromkeys(("chain", "link"), METRES["link"])
_STEP_DEG = 1.0 / 60.0
NO_BOUNDARY = "A title dimension compared with a traced line fixes no boundary; only a licensed surveyor marks one."
NEEDED = "surveyor needed"


def title_table(
    legs: Sequence[TitleLeg] | None, runs: pd.DataFrame, *, lines: Sequence[Line], spec: Spec
) -> tuple[pd.DataFrame, tuple[Note, ...]]:
    """Return the layer `title`, a row for each leg in the deed's order, and what to know of it.

    `runs` is the layer of that name, `lines` the planned lines; differences are traced less title. Without a deed the
    layer is empty and nothing is said.
    """
    if not legs:
        return empty("title"), ()
    by_id = {line.line_id: line for line in lines}
    rows: list[dict[str, object]] = []
    notes: list[Note] = []
    for line_id in dict.fromkeys(leg.line_id for leg in legs):
        own = [leg for leg in legs if leg.line_id == line_id]
        line, line_runs = by_id.get(line_id), runs[runs["line_id"] == line_id]
        loop = line is not None and line.closed
        told, comes_back = _closure_note(own, loop=loop)
        notes += told
        if line is None:
            rows += [_row(leg, number, says=f"the line {_NOT_WHOLE}") for number, leg in enumerate(own, start=1)]
            notes.append(Note("doubt", f"title.csv: line {line_id} {_NOT_WHOLE}"))
            continue
        plan = sides_of_runs(line_runs, line, scale=_scale(spec), vertex_sigma_m=spec.boundary.vertex_sigma_m)
        groups, pairing = paired(own, plan, line_runs["run_id"].tolist(), plan_loop=loop, title_loop=comes_back)
        line_rows, line_notes = _compared(own, groups, pairing, plan, line_runs)
        rows, notes = rows + line_rows, [*notes, *line_notes]
    if spec.fence.offset_m:
        notes.append(Note("doubt", f"title.csv: the runs are planned {abs(spec.fence.offset_m):g} m beside the drawn"
                          " line, and so are the lengths compared."))  # fmt: skip
    return checked("title", pd.DataFrame(rows)), (*notes, Note("doubt", NO_BOUNDARY))


_NOT_WHOLE = "is planned in pieces, or with another line; not compared"


def sides_of_legs(legs: Sequence[TitleLeg], groups: Sequence[Sequence[int]]) -> Sides:
    """Return the deed's sides: one for each group of legs, straight from its first corner to its last."""
    steps = steps_en(np.array([leg.bearing_deg for leg in legs]), np.array([leg.length_m for leg in legs]))
    across = np.array([steps[list(group)].sum(axis=0) for group in groups]).reshape(-1, 2)
    rounding = [sqrt(sum(_STEP_M[legs[leg].unit] ** 2 for leg in group) / 12.0) for group in groups]
    return Sides(
        np.degrees(np.arctan2(across[:, 0], across[:, 1])) % 360.0,
        np.hypot(across[:, 0], across[:, 1]),
        np.full(len(groups), _STEP_DEG / sqrt(12.0)),
        np.array(rounding),
        np.array([legs[group[0]].chord for group in groups], dtype=bool),
    )


def sides_of_runs(runs: pd.DataFrame, line: Line, *, scale: float, vertex_sigma_m: float) -> Sides:
    """Return the runs as sides: straight from end to end in the working grid, an arc by its chord.

    The length's standard error is the layer's with `scale`, the share by which all of the drawing may be out. Across
    the run that is too much where it bends little at its ends: there the two ends are no worse than two drawn vertices
    of `vertex_sigma_m` each.
    """
    step = points_at(line, runs["to_m"].to_numpy()) - points_at(line, runs["from_m"].to_numpy())
    length, sigma = np.hypot(step[:, 0], step[:, 1]), np.nan_to_num(runs["sigma_length_m"].to_numpy(dtype=float))
    return Sides(
        np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360.0,
        length,
        np.degrees(np.arctan2(np.minimum(sigma, sqrt(2.0) * vertex_sigma_m), length)),
        np.hypot(sigma, scale * length),
        (runs["kind"] == "arc").to_numpy(),
    )


def straight_on(legs: Sequence[TitleLeg], *, loop: bool) -> list[list[int]]:
    """Return the legs' places in groups that go straight on; of a loop the last may go on into the first."""
    bearing = np.array([leg.bearing_deg for leg in legs])
    turn = np.abs(turned_deg(bearing - np.roll(bearing, 1)))
    alone = np.array([leg.chord for leg in legs])
    begins = (turn > STRAIGHT_ON_DEG) | alone | np.roll(alone, 1)
    if not (loop and begins.any()):
        begins[0] = True
    first = int(np.argmax(begins))
    walked = np.roll(np.arange(len(legs)), -first)
    return [part.tolist() for part in np.split(walked, np.flatnonzero(begins[walked])[1:])]


def paired(
    legs: Sequence[TitleLeg], plan: Sides, run_ids: Sequence[str], *, plan_loop: bool, title_loop: bool
) -> tuple[list[list[int]], Pairing]:
    """Return groups of legs, and which run each group belongs to.

    Runs that the deed's file names decide; else all legs on all runs in walking order; else legs that go straight on
    taken together; else only what fits.
    """
    single = [[place] for place in range(len(legs))]
    if any(leg.run for leg in legs):
        place = {run_id: number for number, run_id in enumerate(run_ids)}
        return single, named(
            sides_of_legs(legs, single), plan, np.array([place.get(leg.run or "", -1) for leg in legs])
        )
    joined = straight_on(legs, loop=title_loop)
    for groups in (single, joined):
        found = whole(sides_of_legs(legs, groups), plan, loop=plan_loop)
        if found is not None:
            return groups, found
    return joined, partial(sides_of_legs(legs, joined), plan, loop=title_loop or plan_loop)


def _scale(spec: Spec) -> float:
    return IMAGERY_SCALE if spec.boundary.drawn_from == "imagery" else 0.0


def _closure_note(legs: Sequence[TitleLeg], *, loop: bool) -> tuple[list[Note], bool]:
    """Return the note of the closure, none for legs that were not meant to come back, and whether they were."""
    bearing, length = np.array([leg.bearing_deg for leg in legs]), np.array([leg.length_m for leg in legs])
    gap = closure(bearing, length)
    if len(legs) < 3 or not (loop or gap.one_in > CLOSES):
        return [], False
    line_id, poor = legs[0].line_id, gap.one_in < WORST_CLOSURE
    text = f"title.csv, line {line_id}: {len(legs)} legs, perimeter {gap.perimeter_m:.2f} m, {_miss(gap)}"
    if not poor:
        area = area_m2(balanced(bearing, length))
        text += f"; area {area:.0f} m² ({area / 1e4:.3f} ha), the misclosure shared out by length"
    text += f"; rougher than 1:{WORST_CLOSURE:.0f}, or a leg is wrong or missing: {NEEDED}" if poor else ""
    return [Note("doubt" if poor else "default", f"{text}.", line_id)], True


def _miss(gap: Closure) -> str:
    if isinf(gap.one_in):
        return "closing exactly"
    east = f"{abs(gap.east_m):.3f} m {'east' if gap.east_m >= 0 else 'west'}"
    north = f"{abs(gap.north_m):.3f} m {'north' if gap.north_m >= 0 else 'south'}"
    return f"misclosure {gap.length_m:.3f} m (ends {east}, {north} of its start), 1:{gap.one_in:.0f}"


def _compared(
    legs: Sequence[TitleLeg], groups: Sequence[Sequence[int]], pairing: Pairing, plan: Sides, runs: pd.DataFrame
) -> tuple[list[dict[str, object]], list[Note]]:
    """Return a row for each leg, in the deed's order, and the notes of one line."""
    title, line_id = sides_of_legs(legs, groups), legs[0].line_id
    rows: dict[int, dict[str, object]] = {}
    notes = _notes_on_pairing(title, pairing, plan, line_id)
    counted = _counted(title, pairing, plan)
    for side, (group, run) in enumerate(zip(groups, pairing.run.tolist(), strict=True)):
        name, from_m, noted = _called(group), None, run < 0
        cells: dict[str, object] = {"says": _why_alone(legs, group)}
        if run >= 0:
            found, noted = _differences(title, side, plan, run, pairing, counted)
            cells, from_m = {"run_id": runs["run_id"].iloc[run], **found}, float(runs["from_m"].iloc[run])
        if noted:
            where = f"{name} ({cells['run_id']})" if run >= 0 else name
            notes.append(Note("doubt", f"title.csv, {where}: {cells['says']}.", line_id, from_m))
        if len(group) > 1:
            cells["says"] = f"{name} together: {cells['says']}"
        rows |= {leg: _row(legs[leg], leg + 1, **cells) for leg in group}
    idle = [run_id for place, run_id in enumerate(runs["run_id"]) if place not in pairing.run]
    if idle:
        notes.append(Note("doubt", f"title.csv has no leg that belongs to {', '.join(idle)}: not compared.", line_id))
    return [rows[leg] for leg in sorted(rows)], notes


def _why_alone(legs: Sequence[TitleLeg], group: Sequence[int]) -> str:
    """Return why a leg without a run has none."""
    if legs[group[0]].run:
        return "not matched: this line has no run of the name given"
    if any(leg.run for leg in legs):
        return "not matched: no run is named for it"
    return "not matched: no run fits it in walking order"


def _called(group: Sequence[int]) -> str:
    numbers = [str(leg + 1) for leg in group]
    return f"leg {numbers[0]}" if len(numbers) == 1 else f"legs {', '.join(numbers[:-1])} and {numbers[-1]}"


def _counted(title: Sides, pairing: Pairing, plan: Sides) -> int:
    """Return how many pairs the swing rests on: one alone says nothing of its own bearing."""
    sides = np.flatnonzero(pairing.run >= 0)
    return int(comparable(title.taken(sides), plan.taken(pairing.run[sides])).sum())


def _differences(
    title: Sides, side: int, plan: Sides, run: int, pairing: Pairing, counted: int
) -> tuple[dict[str, object], bool]:
    """Return the cells of one pair, traced less title, and whether it needs a note (too far off, or an arc)."""
    if plan.curved[run] and not title.curved[side]:
        return {"says": "not compared: the run is an arc, and the deed does not say chord"}, True
    length_m = float(plan.length_m[run] - title.length_m[side])
    sigma_m = hypot(float(plan.length_sigma_m[run]), float(title.length_sigma_m[side]))
    cells: dict[str, object] = {
        "traced_length_m": float(plan.length_m[run]),
        "length_difference_m": length_m,
        "difference_sigma_m": sigma_m,
    }
    way = "longer" if length_m >= 0 else "shorter"
    says = f"traced {abs(length_m):.2f} m {way} than the title, {abs(length_m) / sigma_m:.1f} standard errors"
    far = abs(length_m) > WORST * sigma_m
    if counted > 1:
        about = 180.0 if pairing.backward else 0.0
        off = plan.bearing_deg[run] + about - title.bearing_deg[side] - pairing.swing_deg
        bearing_deg = float(turned_deg(off))
        own = hypot(float(plan.bearing_sigma_deg[run]), float(title.bearing_sigma_deg[side]))
        sigma_deg = hypot(own, pairing.swing_sigma_deg)
        hand = "right" if bearing_deg >= 0 else "left"
        says += f"; {abs(bearing_deg):.2f}° to the {hand} of it, {abs(bearing_deg) / sigma_deg:.1f} standard errors"
        cells |= {"bearing_difference_deg": bearing_deg, "bearing_sigma_deg": sigma_deg}
        far = far or abs(bearing_deg) > WORST * sigma_deg
    return {**cells, "says": f"{says}: {NEEDED}" if far else says}, far


def _notes_on_pairing(title: Sides, pairing: Pairing, plan: Sides, line_id: str) -> list[Note]:
    if np.isnan(pairing.swing_deg):
        return []
    counted = _counted(title, pairing, plan)
    hand = "right" if pairing.swing_deg >= 0 else "left"
    text = (
        f"title.csv, line {line_id}: the deed's bearings turned {abs(pairing.swing_deg):.3f}° to the {hand}"
        f" (± {pairing.swing_sigma_deg:.3f}°, one standard error) lie on the plan, whose north is true at the middle of"
        f" the site; from {counted - int(pairing.silent.sum())} of {counted} pairs by least squares"
    )
    text += ", the deed walking against the chainage" if pairing.backward else ""
    text += "; from one pair alone no bearing is compared" if counted == 1 else ""
    notes = [Note("default", f"{text}.", line_id)]
    if pairing.other_way:
        text = "the shape fits nearly as well another way round; the least turn from true north was taken"
        notes.append(Note("doubt", f"title.csv, line {line_id}: {text}.", line_id))
    return notes


def _row(leg: TitleLeg, number: int, **cells: object) -> dict[str, object]:
    return {
        "title_leg": number,
        "line_id": leg.line_id,
        "title_bearing_deg": leg.bearing_deg,
        "title_length_m": leg.length_m,
        **cells,
    }
