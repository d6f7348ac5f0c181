"""The layer `strings`: which string lines in which posts, how far a breeze moves it, how high it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty
from fencegis.setout.string_line import READ_TO_MM, cord_named, low_string_m, strung

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from fencegis.records.spec import Fence, FenceKind, Spec, StringLine

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

ENDS = {"post and rail": ("strainer", "gate", "junction", "key"), "wire": ("strainer", "gate", "junction")}
SAME_M = 1e-6
LOW_M = (0.1, 0.3)  # of the string for the foot (common practice)
TOLD_M = (20.0, 30.0, 50.0, 100.0)  # lengths that drift and sag are told at
TOP_OFF_MM = 5.0  # more than this and a top string does not give the height (common practice)
NAMED = 12


def string_table(
    bays: pd.DataFrame,
    posts: pd.DataFrame,
    *,
    runs: pd.DataFrame,
    profile: pd.DataFrame,
    kind_of_line: Mapping[str, FenceKind],
    spec: Spec,
    fine: bool = True,
) -> pd.DataFrame:
    """Return the layer `strings`: on straight runs from each post that ends a string to the next, gates left out.

    In rail every end, corner, gate, junction and key post ends one; in wire every strainer, and the string is the
    bottom wire, which lies on the ground where it rises and so has no `low_m`. `fine` is false where the raster cannot
    tell the ground between posts: then `low_m` is empty too.
    """
    kind_of_post, top_of_post = (posts.set_index("post_id")[name] for name in ("kind", "top_m"))
    parts = []
    for line_id, on_line in bays.groupby("line_id", sort=False):
        kind = kind_of_line[str(line_id)]
        ends = on_line["from_post"].map(kind_of_post).isin(ENDS[kind]).to_numpy(dtype=bool)
        part = _spans(on_line, runs[runs["line_id"] == line_id], ends)
        if part.empty:
            continue
        part = _moved(part, kind, fence=spec.fence, string=spec.string)
        if kind != "wire":
            part["high_from_m"] = part["from_post"].map(top_of_post).astype(float)
            part["high_to_m"] = part["to_post"].map(top_of_post).astype(float)
            part["high_off_mm"] = _top_off_mm(part, posts[posts["line_id"] == line_id])
            if fine:
                part["low_m"] = _low(part, profile[profile["line_id"] == line_id], clear_m=spec.string.clear_m)
        part.insert(3, "string_id", [f"{line_id}-L{number:02d}" for number in range(1, len(part) + 1)])
        parts.append(part)
    return checked("strings", pd.concat(parts, ignore_index=True)) if parts else empty("strings")


def _spans(bays: pd.DataFrame, runs: pd.DataFrame, ends: Flags) -> pd.DataFrame:
    """Return one row for each string on straight runs: bays joined up to the next post that ends one.

    A bay after a gap (a gate) and a bay that begins a run begin a string too.
    """
    begin, end = bays["from_m"].to_numpy(dtype=float), bays["to_m"].to_numpy(dtype=float)
    run_m = runs["from_m"].to_numpy(dtype=float)
    run = np.clip(np.searchsorted(run_m, (begin + end) / 2.0, side="right") - 1, 0, len(run_m) - 1)
    starts = ends.copy()
    starts[0] = True
    starts[1:] |= (begin[1:] - end[:-1] > SAME_M) | (run[1:] != run[:-1])
    first = np.flatnonzero(starts)
    last = np.append(first[1:], len(bays)) - 1
    spans = pd.DataFrame(
        {
            "line_id": bays["line_id"].to_numpy()[first],
            "from_m": begin[first],
            "to_m": end[last],
            "run_id": runs["run_id"].to_numpy()[run[first]],
            "from_post": bays["from_post"].to_numpy()[first],
            "to_post": bays["to_post"].to_numpy()[last],
            "length_m": np.add.reduceat(bays["ground_length_m"].to_numpy(dtype=float), first),
        }
    )
    straight: Flags = runs["kind"].eq("straight").to_numpy()[run[first]]
    return spans.loc[straight].reset_index(drop=True)


def _moved(part: pd.DataFrame, kind: FenceKind, *, fence: Fence, string: StringLine) -> pd.DataFrame:
    cord = strung(kind, fence=fence, string=string)
    limits = {"breeze_m_s": string.breeze_m_s, "drift_mm": string.drift_mm}
    lengths = part["length_m"]
    return part.assign(
        strung=cord.name,
        drift_mm=[cord.drift_mm(length, breeze_m_s=string.breeze_m_s) for length in lengths],
        sag_mm=[cord.sag_mm(length) for length in lengths],
        pins=[cord.pins(length, **limits) for length in lengths],
    )


def _low(part: pd.DataFrame, profile: pd.DataFrame, *, clear_m: float) -> Floats:
    """Return the foot string's height; its pins share its sag out: to the square of the parts less."""
    parts = part["pins"].to_numpy(dtype=float) + 1.0
    return low_string_m(
        profile["chainage_m"].to_numpy(dtype=float),
        profile["ground_m"].to_numpy(dtype=float),
        begin_m=part["from_m"].to_numpy(dtype=float),
        end_m=part["to_m"].to_numpy(dtype=float),
        sag_m=part["sag_mm"].to_numpy(dtype=float) / 1000.0 / parts**2,
        clear_m=clear_m,
    )


def _top_off_mm(part: pd.DataFrame, posts: pd.DataFrame) -> Floats:
    """Return where the tops stand furthest off the straight from end to end, above it positive; NaN where unknown."""
    at = posts["chainage_m"].to_numpy(dtype=float)
    top = (posts["ground_m"] + posts["top_m"]).to_numpy(dtype=float)
    furthest = np.full(len(part), np.nan)
    for place, (begin, end) in enumerate(zip(part["from_m"], part["to_m"], strict=True)):
        here = slice(*np.searchsorted(at, [begin - SAME_M, end + SAME_M]))
        if here.stop - here.start >= 2:
            own, height = at[here], top[here]
            off = height - np.interp(own, own[[0, -1]], height[[0, -1]])
            furthest[place] = 1000.0 * off[np.abs(off).argmax()]
    return furthest


def notes_on_strings(strings: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], spec: Spec) -> list[Note]:
    """Return what to know of the strings: how far they drift, which want pins or a still morning, which stand high."""
    notes: list[Note] = []
    kinds = {kind_of_line[line_id] for line_id in strings["line_id"].unique()}
    if "post and rail" in kinds:
        notes += [_on_cord(spec), *_on_pull(spec)]
    if "wire" in kinds:
        wire = strung("wire", fence=spec.fence, string=spec.string)
        drift = wire.drift_mm(100.0, breeze_m_s=spec.string.breeze_m_s)
        notes.append(
            Note(
                "default",
                f"wire: line posts in off the bottom wire, strained and low; at {spec.fence.tension_kn:g} kN a breeze"
                f" of {spec.string.breeze_m_s:g} m/s moves it {drift:.0f} mm over 100 m. Lift it free of every"
                f" rise, on a peg in line. No post touches it: {spec.fence.string_gap_mm:.0f} mm, by a block",
            )
        )
    for line_id, on_line in strings.groupby("line_id", sort=False):
        notes += _on_drift(str(line_id), on_line, spec.string) + _on_humps(str(line_id), on_line)
        notes += _on_tops(str(line_id), on_line)
    return notes


def _on_cord(spec: Spec) -> Note:
    string = spec.string
    cord = cord_named(string.cord, tension_n=string.tension_n)
    longest = cord.greatest_length_m(breeze_m_s=string.breeze_m_s, drift_mm=string.drift_mm)
    told = ", ".join(
        f"{length:.0f} m {cord.drift_mm(length, breeze_m_s=string.breeze_m_s):.0f} and {cord.sag_mm(length):.0f} mm"
        for length in TOLD_M
    )
    reach = f"{string.drift_mm:g} mm at {longest:.0f} m" if np.isfinite(longest) else "it does not drift"
    return Note(
        "default",
        f"strings: {cord.name} at {string.tension_n:g} N in a breeze of {string.breeze_m_s:g} m/s: {reach} (common"
        f" practice; drift and sag over {told}). Two strings: one {LOW_M[0]:.1f} to {LOW_M[1]:.1f} m up for the foot,"
        f" one at the top for the height. No post touches either: {spec.fence.string_gap_mm:.0f} mm, by a block",
    )


def _on_pull(spec: Spec) -> list[Note]:
    """Return notes where the cord is pulled past its strength, or holds a shorter string than `string_m`."""
    string, string_m, notes = spec.string, spec.fence.string_m, []
    cord = cord_named(string.cord, tension_n=string.tension_n)
    if string.tension_n > cord.greatest_n:
        text = f"{string.tension_n:g} N is more than {cord.name} should be pulled to ({cord.greatest_n:g} N)"
        notes.append(Note("doubt", f"[string] tension_n: {text}: it may part and whip back"))
    if cord.pins(string_m, breeze_m_s=string.breeze_m_s, drift_mm=string.drift_mm):
        longest = cord.greatest_length_m(breeze_m_s=string.breeze_m_s, drift_mm=string.drift_mm)
        text = f"strings of {string_m:.1f} m ([fence] string_m) drift more than {string.drift_mm:g} mm"
        notes.append(Note("doubt", f"{text}: the shorter counts, {longest:.1f} m, by pins in between"))
    return notes


def _on_drift(line_id: str, strings: pd.DataFrame, string: StringLine) -> list[Note]:
    over = strings[strings["drift_mm"] > string.drift_mm + READ_TO_MM]
    if over.empty:
        return []
    worst = over.iloc[int(over["drift_mm"].to_numpy().argmax())]
    ends = f"{worst['from_post']} to {worst['to_post']}, {worst['length_m']:.1f} m"
    return [
        Note(
            "doubt",
            f"a morning job: {len(over)} of {len(strings)} strings drift more than {string.drift_mm:g} mm in a breeze"
            f" of {string.breeze_m_s:g} m/s ({worst['strung']}; most {ends}, {worst['drift_mm']:.0f} mm): set them in"
            " still air, or with the pins given",
            line_id,
            float(worst["from_m"]),
        )
    ]


def _on_humps(line_id: str, strings: pd.DataFrame) -> list[Note]:
    high = strings[strings["low_m"] > LOW_M[1]]
    if high.empty:
        return []
    more = f" and {len(high) - NAMED} more" if len(high) > NAMED else ""
    named = ", ".join(f"{name} ({low:.2f} m)" for name, low in high[["string_id", "low_m"]].head(NAMED).to_numpy())
    return [
        Note(
            "default",
            f"strings that stand over {LOW_M[1]:.1f} m up at their ends to pass over the ground between: {named}{more};"
            " pin them down at the foot of the rise, or drop the line from the top one",
            line_id,
            float(high["from_m"].iloc[0]),
        )
    ]


def _on_tops(line_id: str, strings: pd.DataFrame) -> list[Note]:
    """Return a note where a top string from end to end does not give the height of the posts between."""
    over = strings[(strings["high_off_mm"].abs() > TOP_OFF_MM) | (strings["sag_mm"] > TOP_OFF_MM)]
    over = over[over["high_off_mm"].notna()]
    if over.empty:
        return []
    worst = over.iloc[int(over["high_off_mm"].abs().to_numpy().argmax())]
    return [
        Note(
            "default",
            f"tops: of {len(strings)} strings {len(over)} do not give the height of the posts between, for the top line"
            f" bends or the string sags more than {TOP_OFF_MM:g} mm (most {worst['string_id']}: top line"
            f" {worst['high_off_mm']:+.0f} mm off, sag {worst['sag_mm']:.0f} mm): take each post's top from the table,"
            " the line from the string",
            line_id,
            float(worst["from_m"]),
        )
    ]
