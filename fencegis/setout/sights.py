"""The layer `sights`: pegs along each straight run, what each sees, and how to line them in over a crest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty
from fencegis.setout.sighting import eye_mm, fewest_pegs, lowest_seen_m, out_of_plumb_mm, second_pole

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.spec import Sight

    Floats = npt.NDArray[np.float64]
    Places = npt.NDArray[np.int_]
    Row = dict[str, object]

UNKNOWN = "not checked: no ground heights"
COARSE = "not checked: cells too coarse to tell what stands between"
LOW_M = 0.3  # where a pole is best sighted
SAME_M = 1e-6


def sight_table(runs: pd.DataFrame, *, profile: pd.DataFrame, sight: Sight, fine: bool = True) -> pd.DataFrame:
    """Return the layer `sights`: for each straight run its ends, and the fewest pegs between that are needed.

    Where the ground is not known nothing is said to be seen. `fine` is false where the raster cannot tell the ground
    between posts: pegs that its heights ask for stand, but nothing is said to be seen.
    """
    rows: list[Row] = []
    for line_id, on_line in runs[runs["kind"] == "straight"].groupby("line_id", sort=False):
        here = profile[profile["line_id"] == line_id]
        station, ground = (here[name].to_numpy(dtype=float) for name in ("chainage_m", "ground_m"))
        for run_id, begin, end in zip(on_line["run_id"], on_line["from_m"], on_line["to_m"], strict=True):
            pegs = _pegs(*_between(station, ground, float(begin), float(end)), sight=sight, fine=fine)
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


def _pegs(station: Floats, ground: Floats, *, sight: Sight, fine: bool) -> list[Row]:
    """Return the pegs of one run: those of each stretch of known ground, and both ends."""
    known = np.concatenate([[False], ~np.isnan(ground), [False]])
    pieces = np.flatnonzero(np.diff(known.astype(int))).reshape(-1, 2)
    pegs: dict[int, Row] = {}
    for begin, after in pieces:
        if after - begin < 2:
            continue
        part, level = station[begin:after], ground[begin:after]
        chain = fewest_pegs(part, level, sight=sight)
        for number, place in enumerate(chain):
            pegs[int(begin + place)] = _peg(part, level, chain, number, sight=sight, fine=fine)
    for end in (0, len(station) - 1):
        pegs.setdefault(end, {"chainage_m": station[end], "sees": UNKNOWN})
    return _with_gaps([pegs[place] for place in sorted(pegs)], float(station[0]), float(station[-1]))


def _peg(station: Floats, ground: Floats, chain: Places, number: int, *, sight: Sight, fine: bool) -> Row:
    place, last = int(chain[number]), len(chain) - 1
    row: Row = {"chainage_m": station[place], "sees": _sees(number, last) if fine else COARSE}
    if number < last:
        ahead = int(chain[number + 1])
        away = float(station[ahead] - station[place])
        row |= {"next_m": away, "eye_mm": float(eye_mm(away))}
        if fine:
            row["next_low_m"] = lowest_seen_m(station, ground, place, ahead, sight=sight)
    if 0 < number < last:
        row["note"] = _lining_in(station, ground, chain, sight)
    return row


def _sees(number: int, last: int) -> str:
    return "next" if number == 0 else "previous" if number == last else "previous and next"


def _lining_in(station: Floats, ground: Floats, chain: Places, sight: Sight) -> str:
    if len(chain) > 3:
        return "line in with the pegs either side, each in turn and again, until none moves"
    second = second_pole(station, ground, chain, sight=sight)
    if second is None:
        return "no room for a second pole on the line: line in by an offset line, or by instrument"
    away = float(station[second] - station[chain[1]])
    side, behind, ahead = ("on", "previous", "next") if away > 0.0 else ("back", "next", "previous")
    return (
        f"line in with a second pole {abs(away):.1f} m further {side}: bring that one into line with this peg and the"
        f" {behind}, then this one with that and the {ahead}, in turn, until neither moves"
    )


def _with_gaps(pegs: list[Row], begin_m: float, end_m: float) -> list[Row]:
    """Return the pegs, each beside unknown ground saying so, with the side on which it is not checked."""
    for number, peg in enumerate(pegs):
        at = float(str(peg["chainage_m"]))
        if peg["sees"] in (UNKNOWN, COARSE):
            continue
        sees = str(peg["sees"])
        blind = [
            side
            for side, edge, way in (("previous", begin_m, number > 0), ("next", end_m, number < len(pegs) - 1))
            if way and side not in sees and abs(at - edge) > SAME_M
        ]
        if blind:
            peg["sees"] = f"{sees}; {' and '.join(blind)} {UNKNOWN}"
    return pegs


def notes_on_sights(sights: pd.DataFrame, *, sight: Sight) -> list[Note]:
    """Return what a sighting is worth, and where more pegs than the ends are needed or nobody knows."""
    if sights.empty:
        return []
    notes = [
        Note(
            "default",
            f"sighting: eye {sight.eye_m:g} m, pole {sight.pole_m:g} m, {sight.clear_m:g} m over the ground for grass;"
            f" one minute of arc is {float(eye_mm(100.0)):.0f} mm at 100 m, and a pole 1° out of plumb stands"
            f" {out_of_plumb_mm(sight.pole_m):.0f} mm off at {sight.pole_m:g} m, {out_of_plumb_mm(LOW_M):.0f} mm at"
            f" {LOW_M:g} m: sight low on the pole. A few millimetres come from string or instrument. Trees and crops"
            " are not looked at",
        )
    ]
    for line_id, on_line in sights.groupby("line_id", sort=False):
        blind = on_line[on_line["sees"].str.contains("not checked")]
        if len(blind):
            at = float(blind["chainage_m"].iloc[0])
            reason = str(blind["sees"].iloc[0]).partition("not checked: ")[2]
            count = blind["run_id"].nunique()
            notes.append(
                Note("doubt", f"sight lines of {_counted(count, 'run')} not checked: {reason}", str(line_id), at)
            )
        inner = on_line[on_line["note"].notna()]
        if len(inner):
            runs = ", ".join(inner["run_id"].unique()[:12])
            text = (
                f"ends do not see each other over the ground: {_counted(len(inner), 'sighting peg')} between ({runs})"
            )
            notes.append(Note("default", text, str(line_id), float(inner["chainage_m"].iloc[0])))
    return notes


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
