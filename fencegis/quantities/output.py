"""How long work takes: what a crew does in an hour, by activity, method and soil, less what slope and the carry cost.

The catalogue's outputs are common practice. A contractor's own, in `rates.csv`, go before them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.records.rates import rate_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from fencegis.records.rates import Rate

    Floats = npt.NDArray[np.float64]

OWN = "the contractor's own output, rates.csv"


@dataclass(frozen=True)
class Output:
    """What is done in an hour on level ground: of `unit`, by `people` people (0: by the whole crew, whoever is in it).

    `method` is how posts are set, empty where it makes no difference; `soil` likewise. One machine is on the site.
    """

    activity: str
    method: str
    soil: str
    unit: str
    people: int
    machine: bool
    per_hour: float
    source: str

    def words(self) -> str:
        """Return the output with what it holds for and where it comes from."""
        held = ", ".join(part for part in (self.method, self.soil) if part)
        by = f" by {self.people} people" if self.people > 1 else " by one" if self.people else " by the crew"
        unit = _UNITS.get(self.unit, self.unit)
        return f"{self.per_hour:g} {unit} an hour{by}{f', {held}' if held else ''}; {self.source}"


_UNITS = {"each": "pieces"}


@cache
def activities() -> tuple[str, ...]:
    """Return the activities of the trade, once each, in the order of the work."""
    return tuple(dict.fromkeys(row["activity"] for row in rows("activities")))


@cache
def about(activity: str) -> dict[str, str]:
    """Return an activity's first row of the catalogue: its words, its unit, what it is done together with."""
    return next(row for row in rows("activities") if row["activity"] == activity)


@cache
def waits_for(activity: str) -> tuple[str, ...]:
    """Return the activities that have to be done before this one, wherever both are done."""
    return tuple(part.strip() for part in about(activity)["waits_for"].split(";") if part.strip())


def output_of(activity: str, *, method: str = "", soil: str = "", own: Iterable[Rate] | None = None) -> Output:
    """Return the output for an activity: the contractor's own for this soil, else his own, else the catalogue's.

    `own` are the rows of `rates.csv`; those of the kind `output` count, their item the activity, or activity and soil
    (`line posts, clay`). A soil or method without a row takes the activity's general one.
    """
    found = _of_catalogue(activity, method, soil)
    given = rate_of(own, activity, "output", soil=soil or None)
    if given is not None:
        return replace(found, people=0, per_hour=float(given.rate), source=OWN)
    return found


@cache
def _of_catalogue(activity: str, method: str, soil: str) -> Output:
    alike = [row for row in rows("activities") if row["activity"] == activity]
    wanted = [row for row in alike if row["method"] in {method, ""}] or alike
    row = next((row for row in wanted if row["soil"] == soil), None) or next(r for r in wanted if not r["soil"])
    return Output(
        activity=activity,
        method=row["method"],
        soil=row["soil"],
        unit=row["unit"],
        people=int(row["people"]),
        machine=row["machine"] == "yes",
        per_hour=float(row["per_hour"]),
        source=row["standing"],
    )


def gangs(output: Output, *, people: int) -> float:
    """Return how many gangs of a crew do this side by side; a share of one where the crew is too small for it.

    There is one machine, so machine work has one gang however many people stand by.
    """
    if not output.people:
        return 1.0
    if people < output.people:
        return people / output.people
    return 1.0 if output.machine else float(people // output.people)


def slope_share(grade_pct: npt.ArrayLike) -> Floats:
    """Return the share of its level output that a crew keeps on ground of these grades; 1 where a grade is unknown."""
    bands = [row for row in rows("output_shares") if row["item"] == "slope"]
    from_pct = np.array([float(row["from_pct"]) for row in bands])
    share = np.array([float(row["value"]) for row in bands])
    steep = np.abs(np.nan_to_num(np.asarray(grade_pct, dtype=float), nan=0.0))
    return np.asarray(share[np.searchsorted(from_pct, steep, side="right") - 1], dtype=float)


def share_value(item: str) -> float:
    """Return a single number of `catalogue/output_shares.csv`."""
    return next(float(row["value"]) for row in rows("output_shares") if row["item"] == item)


def carry_h(carry_m: float) -> float:
    """Return the hours that the mean carry of one piece takes, there and back.

    Heaps are dropped so that none is carried further than `carry_m`; pieces are spread evenly, so half is the mean.
    """
    return carry_m / 2.0 * 2.0 / share_value("walking")


def hours_h(
    quantity: npt.ArrayLike, *, output: Output, people: int, slope: npt.ArrayLike = 1.0, carry_m: float = 0.0
) -> Floats:
    """Return the crew's hours for quantities (n,) of one output, on ground that leaves them this `slope` share.

    With `carry_m` each piece is carried by hand from its heap; own outputs have the carry in them.
    """
    carried = carry_h(carry_m) if output.people else 0.0
    each_h = 1.0 / (output.per_hour * np.asarray(slope, dtype=float)) + carried
    return np.asarray(np.asarray(quantity, dtype=float) * each_h / gangs(output, people=people), dtype=float)
