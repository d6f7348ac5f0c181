"""The layer `sights`: pegs along each straight run, what each sees, and how to line them in over a crest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty
from fencegis.setout.sighting import eye_mm, lowest_seen_m, out_of_plumb_mm, peg_chains, second_pole, seen_from

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy.typing as npt

    from fencegis.records.spec import Sight

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Places = npt.NDArray[np.int_]
    Row = dict[str, object]
    CanopyOn = Mapping[str, Callable[[Floats], Floats]]

UNKNOWN = "not checked: no ground heights"
COARSE = "not checked: cells too coarse to tell what stands between"
IN_CANOPY = "not checked: canopy in the way"
FOR_CANOPY = "canopy, not ground, asks for this peg"
LOW_M = 0.3  # where a pole is best sighted
SAME_M = 1e-6
MOST_SPANS = 5  # of unknown canopy, named in one note


@dataclass(frozen=True, eq=False)
class _Stretch:
    """Known ground of one run: what there is to see over; `canopy_m` None without canopy."""

    station_m: Floats
    ground_m: Floats
    canopy_m: Floats | None
    sight: Sight
    fine: bool


def sight_table(
    runs: pd.DataFrame,
    *,
    profile: pd.DataFrame,
    sight: Sight,
    fine: bool = True,
    canopy: CanopyOn | None = None,
) -> pd.DataFrame:
    """Return the layer `sights`: for each straight run its ends, and the fewest pegs between that are needed.

    Where the ground is not known, or canopy stands in the way, nothing is said to be seen. `fine` is false where the
    raster cannot tell the ground between posts: pegs that its heights ask for stand, but nothing is said to be seen.
    `canopy` gives for each line the canopy's height about its chainages (`line.canopy`), None where there is no raster.
    """
    rows: list[Row] = []
    for line_id, on_line in runs[runs["kind"] == "straight"].groupby("line_id", sort=False):
        here = profile[profile["line_id"] == line_id]
        station, ground = (here[name].to_numpy(dtype=float) for name in ("chainage_m", "ground_m"))
        for run_id, begin, end in zip(on_line["run_id"], on_line["from_m"], on_line["to_m"], strict=True):
            part, level = _between(station, ground, float(begin), float(end))
            leaves = None if canopy is None else canopy[str(line_id)](part)
            pegs = _pegs(_Stretch(part, level, leaves, sight, fine))
            width = max(2, len(str(len(pegs))))
            named = {"line_id": line_id, "run_id": run_id}
            rows += [
                named | {"sight_id": f"{run_id}-P{number:0{width}d}"} | peg for number, peg in enumerate(pegs, start=1)
            ]
    return checked("sights", pd.DataFrame(rows)) if rows else empty("sights")


def _between(station: Floats, ground: Floats, begin: float, end: float) -> tuple[Floats, Floats]:
    """Return the stations of one run and their ground, the run's two ends included."""
    first, last = np.searchsorted(station, [begin + SAME_M, end - SAME_M])
    ends = np.interp([begin, end], station, ground)
    return (
        np.concatenate([[begin], station[first:last], [end]]),
        np.concatenate([ends[:1], ground[first:last], ends[1:]]),
    )


def _pegs(run: _Stretch) -> list[Row]:
    """Return the pegs of one run: those of each stretch of known ground, and both ends."""
    known = ~np.isnan(run.ground_m)
    pieces = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int))).reshape(-1, 2)
    pegs: dict[int, Row] = {}
    for begin, after in pieces:
        if after - begin < 2:
            known[begin] = False  # one station alone sees nothing
            continue
        part = slice(begin, after)
        leaves = None if run.canopy_m is None else run.canopy_m[part]
        stretch = _Stretch(run.station_m[part], run.ground_m[part], leaves, run.sight, run.fine)
        for chain in peg_chains(stretch.station_m, stretch.ground_m, sight=run.sight, canopy_m=leaves):
            for number, place in enumerate(chain):
                pegs[int(begin + place)] = _peg(stretch, chain, number)
    for end in (0, len(run.station_m) - 1):
        pegs.setdefault(end, {"chainage_m": run.station_m[end], "sees": IN_CANOPY if known[end] else UNKNOWN})
    return _with_gaps(pegs, known)


def _peg(stretch: _Stretch, chain: Places, number: int) -> Row:
    station, place, last = stretch.station_m, int(chain[number]), len(chain) - 1
    row: Row = {"chainage_m": station[place], "sees": _sees(number, last) if stretch.fine else COARSE}
    if number < last:
        ahead = int(chain[number + 1])
        away = float(station[ahead] - station[place])
        row |= {"next_m": away, "eye_mm": float(eye_mm(away))}
        if stretch.fine:
            row["next_low_m"] = lowest_seen_m(
                station, stretch.ground_m, place, ahead, sight=stretch.sight, canopy_m=stretch.canopy_m
            )
    if 0 < number < last:
        because = f"{FOR_CANOPY}; " if _over_bare_ground(stretch, chain, number) else ""
        row["note"] = because + _lining_in(stretch, chain)
    return row


def _sees(number: int, last: int) -> str:
    if last == 0:
        return IN_CANOPY
    return "next" if number == 0 else "previous" if number == last else "previous and next"


def _over_bare_ground(stretch: _Stretch, chain: Places, number: int) -> bool:
    """Return whether the pegs either side of one would see each other if nothing grew."""
    if stretch.canopy_m is None:
        return False
    before, after = int(chain[number - 1]), int(chain[number + 1])
    seen = seen_from(stretch.station_m, stretch.ground_m, before, sight=stretch.sight)
    return bool(seen[after - before - 1])


def _lining_in(stretch: _Stretch, chain: Places) -> str:
    station = stretch.station_m
    if len(chain) > 3:
        return "line in with the pegs either side, each in turn and again, until none moves"
    second = second_pole(station, stretch.ground_m, chain, sight=stretch.sight, canopy_m=stretch.canopy_m)
    if second is None:
        return "no room for a second pole on the line: line in by an offset line, or by instrument"
    away = float(station[second] - station[chain[1]])
    side, behind, ahead = ("on", "previous", "next") if away > 0.0 else ("back", "next", "previous")
    return (
        f"line in with a second pole {abs(away):.1f} m further {side}: bring that one into line with this peg and the"
        f" {behind}, then this one with that and the {ahead}, in turn, until neither moves"
    )


def _with_gaps(pegs: dict[int, Row], known: Flags) -> list[Row]:
    """Return the pegs in order; one that does not see a neighbour says on which side it is not checked, and why."""
    places = sorted(pegs)
    for number, place in enumerate(places):
        sees = str(pegs[place]["sees"])
        if sees.startswith("not checked"):
            continue
        blind: dict[str, list[str]] = {}
        for side, other in (("previous", number - 1), ("next", number + 1)):
            if 0 <= other < len(places) and side not in sees:
                low, high = sorted((place, places[other]))
                blind.setdefault(IN_CANOPY if known[low : high + 1].all() else UNKNOWN, []).append(side)
        pegs[place]["sees"] = "; ".join([sees, *(f"{' and '.join(sides)} {why}" for why, sides in blind.items())])
    return [pegs[place] for place in places]


def notes_on_sights(sights: pd.DataFrame, *, sight: Sight, canopy: bool = False) -> list[Note]:
    """Return what a sighting is worth, and where more pegs than the ends are needed or nobody knows.

    `canopy` says whether sight lines were held against a canopy raster.
    """
    if sights.empty:
        return []
    notes = [Note("default", _worth(sight, canopy=canopy))]
    for line_id, on_line in sights.groupby("line_id", sort=False):
        notes += _notes_on_blind(str(line_id), on_line)
        inner = on_line[on_line["note"].notna()]
        for leaves, pegs in inner.groupby(inner["note"].str.startswith(FOR_CANOPY)):
            over = "canopy; over the bare ground they do" if leaves else "the ground"
            runs = ", ".join(pegs["run_id"].unique()[:12])
            text = f"ends do not see each other over {over}: {_counted(len(pegs), 'sighting peg')} between ({runs})"
            notes.append(Note("default", text, str(line_id), float(pegs["chainage_m"].iloc[0])))
    return notes


def _worth(sight: Sight, *, canopy: bool) -> str:
    leaves = (
        "Canopy is taken for leaves from the ground up, so sight lines pass over it and never under: look under it."
        " Where the raster is void, and for crops, nothing is looked at"
        if canopy
        else "Trees and crops are not looked at"
    )
    return (
        f"sighting: eye {sight.eye_m:g} m, pole {sight.pole_m:g} m, {sight.clear_m:g} m over the ground for grass;"
        f" one minute of arc is {float(eye_mm(100.0)):.0f} mm at 100 m, and a pole 1° out of plumb stands"
        f" {out_of_plumb_mm(sight.pole_m):.0f} mm off at {sight.pole_m:g} m, {out_of_plumb_mm(LOW_M):.0f} mm at"
        f" {LOW_M:g} m: sight low on the pole. A few millimetres come from string or instrument. {leaves}"
    )


def _notes_on_blind(line_id: str, on_line: pd.DataFrame) -> list[Note]:
    """Return a note for each reason for which sight lines of the line are not checked."""
    notes = []
    for why in (UNKNOWN, COARSE, IN_CANOPY):
        blind = on_line[on_line["sees"].str.contains(why, regex=False)]
        if len(blind):
            reason = why.partition("not checked: ")[2]
            text = f"sight lines of {_counted(blind['run_id'].nunique(), 'run')} not checked: {reason}"
            if why == IN_CANOPY:
                text += "; look under it, cut it back, or go round it by an offset line or an instrument"
            notes.append(Note("doubt", text, line_id, float(blind["chainage_m"].iloc[0])))
    return notes


def notes_on_unknown_canopy(canopy: CanopyOn, profile: pd.DataFrame) -> list[Note]:
    """Return for each line a note where the canopy raster does not tell how high the leaves reach."""
    notes = []
    for line_id, on_line in profile.groupby("line_id", sort=False):
        station_m = on_line["chainage_m"].to_numpy(dtype=float)
        unknown = np.isnan(canopy[str(line_id)](station_m))
        edges = np.flatnonzero(np.diff(np.concatenate([[False], unknown, [False]]).astype(int))).reshape(-1, 2)
        if not len(edges):
            continue
        spans = [f"{station_m[begin]:.0f}–{station_m[after - 1]:.0f} m" for begin, after in edges]
        more = f" and {len(spans) - MOST_SPANS} more" if len(spans) > MOST_SPANS else ""
        text = f"canopy unknown at {', '.join(spans[:MOST_SPANS])}{more}: sight lines there over the ground alone"
        notes.append(Note("doubt", text, str(line_id), float(station_m[edges[0, 0]])))
    return notes


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
