"""The cut list of rails, and of the cap: every piece, the stick it comes out of, and what is left of that stick."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.quantities.cutting import USABLE_M, cut
from fencegis.quantities.sticks import Stock
from fencegis.records.notes import Note
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from fencegis.quantities.cutting import Cutting
    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]

NAMED = 5  # so many are named in a note, the rest counted
A_TENTH_MM = 0.0001


@dataclass(frozen=True)
class _Kind:
    """What sticks of one section are sawn into: the column `kind`, what notes call it, and the first letter of sticks.

    `reaches` are the lengths that the greatest bay was reckoned from, and over how many bays each.
    """

    name: str
    said: str
    letter: str
    stock_m: tuple[float, ...]
    reaches: tuple[tuple[float, int], ...]


def cut_list(rails: pd.DataFrame, *, fence: Fence) -> tuple[pd.DataFrame, list[Note]]:
    """Return the layer `cuts` and notes on what the sticks are, what is left, and whether fewer metres would do.

    Rails come out of `fence.rail_m`, boards of the cap out of `fence.cap_m`, never one out of the other's, as many of
    each length as wanted; lengths are the whole millimetres that are printed. A rail longer than any stock has no row,
    and a note. A rail without a length (the second row of one over a loop's start) is no piece.
    """
    pieces = rails[rails["cut_m"].notna()]
    cap = pieces["row"] == 0
    found = [_cut_kind(pieces[~cap], _rail_kind(fence), fence), _cut_kind(pieces[cap], _cap_kind(fence), fence)]
    tables = [table for table, _ in found if len(table)]
    cuts = checked("cuts", pd.concat(tables, ignore_index=True)) if tables else empty("cuts")
    return cuts, [note for _, notes in found for note in notes]


def _cut_kind(pieces: pd.DataFrame, kind: _Kind, fence: Fence) -> tuple[pd.DataFrame, list[Note]]:
    stock = sorted(kind.stock_m, reverse=True)
    if pieces.empty or not stock:
        return empty("cuts"), []
    wanted = pieces["cut_m"].round(3).to_numpy()
    sawn = _on_trim(wanted, kind, fence)
    held = sawn <= stock[0] - _trims_m(fence) + A_TENTH_MM
    notes = list(_too_long(pieces[~held], stock[0], fence))
    pieces, wanted, sawn = pieces[held], wanted[held], sawn[held]
    if pieces.empty:
        return empty("cuts"), notes
    cutting = cut(
        sawn.tolist(),
        stocks=[Stock(length) for length in stock],
        kerf_m=fence.kerf_mm / 1000.0,
        trim_m=fence.end_trim_mm / 1000.0,
    )
    table = _table(pieces, wanted, cutting, kind, fence)
    return table, [*notes, *_notes(table, cutting, kind, fence), *_short_trims(wanted - sawn, kind, fence)]


def _rail_kind(fence: Fence) -> _Kind:
    whole = max(fence.rail_m or (0.0,)) - _trims_m(fence)
    half = (whole - fence.kerf_mm / 1000.0) / 2.0
    reaches = ((whole, 1),) if fence.bays_per_rail == 1 else ((whole, 2), (half, 1))
    return _Kind("rail", "rail", "S", fence.rail_m or (), reaches)


def _cap_kind(fence: Fence) -> _Kind:
    whole = max(fence.cap_m or (0.0,)) - _trims_m(fence)
    return _Kind("cap", "cap board", "C", fence.cap_m or (), ((whole, 2),))


def with_sticks(rails: pd.DataFrame, cuts: pd.DataFrame) -> pd.DataFrame:
    """Return the layer `rails` with `stick` as the cut list has it: the stock length that each is cut from."""
    stick = rails["rail_id"].map(cuts.set_index("rail_id")["stick_m"])
    return rails.assign(stick=stick.where(rails["cut_m"].notna()).astype("float64"))


def _trims_m(fence: Fence) -> float:
    return 2.0 * fence.end_trim_mm / 1000.0


def _on_trim(wanted_m: Floats, kind: _Kind, fence: Fence) -> Floats:
    """Return the lengths without what a bay over its limit takes from the trim.

    A bay may exceed the greatest bay by `bay_tolerance_mm` rather than add a post, and its rail is then longer than
    half the stick, or the whole stick, that the greatest bay was reckoned from: what is over comes off the trims.
    """
    tolerance = min(fence.bay_tolerance_mm, fence.end_trim_mm) / 1000.0
    sawn = wanted_m.copy()
    for reach_m, bays in kind.reaches:
        over = (wanted_m > reach_m) & (wanted_m <= reach_m + bays * tolerance + A_TENTH_MM)
        sawn[over] = reach_m
    return sawn


def _table(pieces: pd.DataFrame, wanted_m: Floats, cutting: Cutting, kind: _Kind, fence: Fence) -> pd.DataFrame:
    stock = sorted(kind.stock_m, reverse=True)
    kerf_m, trims_m = fence.kerf_mm / 1000.0, _trims_m(fence)
    digits = len(str(len(cutting.sticks)))
    place = [piece for stick in cutting.sticks for piece in stick.pieces]
    sizes = [len(stick.pieces) for stick in cutting.sticks]
    stick = np.repeat(np.arange(len(sizes)), sizes)
    stick_m = np.repeat([stock[one.stock] for one in cutting.sticks], sizes)
    table = pd.DataFrame(
        {
            "stick_id": [f"{kind.letter}{number + 1:0{digits}d}" for number in stick],
            "kind": kind.name,
            "stick_m": stick_m,
            "place": np.concatenate([np.arange(1, size + 1) for size in sizes]),
            "cut_m": wanted_m[place],
        }
    )
    taken = table.groupby("stick_id")["cut_m"].cumsum() + table["place"] * kerf_m
    rail = pieces.iloc[place].reset_index(drop=True)
    return checked(
        "cuts",
        table.assign(
            rail_id=rail["rail_id"],
            line_id=rail["line_id"],
            from_m=rail["from_m"],
            left_m=np.maximum(0.0, stick_m - trims_m - taken).round(4),
        ),
    )


@dataclass(frozen=True)
class Bought:
    """A cut list in sum: how many sticks of each length, metres of stock and of rail, off-cuts worth keeping."""

    sticks: dict[float, int]  # by stock length, the longest first
    stock_m: float
    rail_m: float
    usable: int
    usable_m: float

    @property
    def off_cut_pct(self) -> float:
        """How much of the stock is not rail: kerf, trims and off-cuts kept among it."""
        return 100.0 * (1.0 - self.rail_m / self.stock_m) if self.stock_m else 0.0


def bought(cuts: pd.DataFrame) -> Bought:
    """Return what a cut list takes, summed from the table: of rails, of caps, or of both."""
    last = cuts.groupby("stick_id", sort=False).tail(1)
    lengths, numbers = np.unique(last["stick_m"].to_numpy(), return_counts=True)
    usable = last.loc[last["left_m"] >= USABLE_M - A_TENTH_MM, "left_m"]
    return Bought(
        dict(zip(lengths[::-1].tolist(), numbers[::-1].tolist(), strict=True)),
        float(last["stick_m"].sum()),
        float(cuts["cut_m"].sum()),
        len(usable),
        float(usable.sum()),
    )


def _notes(cuts: pd.DataFrame, cutting: Cutting, kind: _Kind, fence: Fence) -> Iterator[Note]:
    sums = bought(cuts)
    sticks = ", ".join(f"{number} of {length:g} m" for length, number in sums.sticks.items())
    proof = "no cutting takes less"
    if not cutting.proven:
        proof = f"not proven the least: none takes less than {cutting.bound:.1f} m"
    if cutting.first_fit is not None:
        proof += f"; cut longest first, each out of the first that holds it: {cutting.first_fit:.1f} m"
    yield Note(
        "default",
        f"{kind.said}s come out of {sticks}: {sums.stock_m:.1f} m of stock for {sums.rail_m:.1f} m of {kind.name}, "
        f"{sums.off_cut_pct:.1f} % off-cuts (kerf and trims among them); {proof}; nothing added for warped or split "
        "stock",
    )
    if sums.usable:
        yield Note(
            "default",
            f"{kind.name} off-cuts of {USABLE_M:g} m and more (common practice) left at the end: {sums.usable}, "
            f"together {sums.usable_m:.1f} m; keep them for the next cut",
        )
    yield from _carried(cuts, kind, fence)


def _carried(cuts: pd.DataFrame, kind: _Kind, fence: Fence) -> Iterator[Note]:
    """Say which sticks give rails that stand further apart than a string, so that the off-cut travels."""
    spread = cuts.groupby("stick_id", sort=False).agg(
        lines=("line_id", "nunique"), first=("from_m", "min"), last=("from_m", "max")
    )
    far = list(spread.index[(spread["lines"] > 1) | (spread["last"] - spread["first"] > fence.string_m)])
    if far:
        more = f" and {len(far) - NAMED} more" if len(far) > NAMED else ""
        yield Note(
            "default",
            f"{', '.join(far[:NAMED])}{more}: what is left after the first {kind.said} is carried on to another "
            f"stretch, over {fence.string_m:g} m off or on another line; the cut list says for which",
        )


def _short_trims(over_m: Floats, kind: _Kind, fence: Fence) -> Iterator[Note]:
    count = int(np.count_nonzero(over_m > A_TENTH_MM))
    if count:
        yield Note(
            "default",
            f"{count} {kind.said}{'s' if count > 1 else ''} up to {1000.0 * over_m.max():.0f} mm over what the stock "
            f"gives with {fence.end_trim_mm:g} mm off each end: a bay may be over its limit by the tolerance, and the "
            "trim gives it",
        )


def _too_long(rails: pd.DataFrame, longest_m: float, fence: Fence) -> Iterator[Note]:
    for line_id, own in rails.groupby("line_id", sort=False):
        names = ", ".join(own["rail_id"].iloc[:NAMED])
        more = f" and {len(own) - NAMED} more" if len(own) > NAMED else ""
        yield Note(
            "doubt",
            f"{names}{more}: longer than a stick of {longest_m:g} m gives with {fence.end_trim_mm:g} mm off each end; "
            "not in the cut list",
            str(line_id),
            float(own["from_m"].iloc[0]),
        )
