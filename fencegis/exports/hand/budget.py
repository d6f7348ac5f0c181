"""How far off a place is by the time somebody stands there: the drawing, the datum change and the receiver together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from fencegis import catalogue
from fencegis.exports.positions import WGS84, accuracy_words, doubt_95_m, operation
from fencegis.quantities.takeoff import drawn_line

if TYPE_CHECKING:
    from fencegis.records.plan import Plan
    from fencegis.records.terrain import Operation

Receiver = Literal["handheld", "rover"]
DRAWN = {"imagery": "over imagery", "walked": "from a walk", "survey": "from a survey"}


@dataclass(frozen=True)
class Budget:
    """Standard deviations in east and in north, each, in metres.

    `drawing_stated` is False when nobody said how good the drawing is: then no sum is one. `change_m` is None when the
    datum change has no accuracy. `receiver_95_m` is a radius.
    """

    drawn_from: str
    hand_m: float
    shift_m: float
    shift_assumed: bool
    change_m: float | None
    receiver_95_m: float
    receiver_words: str

    @property
    def drawing_stated(self) -> bool:
        """Whether anybody said how far off the drawing is."""
        return self.hand_m > 0.0 or self.shift_m > 0.0

    @property
    def receiver_m(self) -> float:
        """The receiver's radius as one standard deviation, by the Rayleigh distribution."""
        return self.receiver_95_m / doubt_95_m(1.0)

    @property
    def drawing_m(self) -> float:
        """The hand's wobble and the shift that all of the drawing shares."""
        return math.hypot(self.hand_m, self.shift_m)

    @property
    def total_m(self) -> float:
        """All together; a datum change without an accuracy is not in it."""
        return math.hypot(self.drawing_m, self.change_m or 0.0, self.receiver_m)

    @property
    def total_95_m(self) -> float:
        """The radius that holds 95 of 100."""
        return doubt_95_m(self.total_m)

    @property
    def receiver_adds_m(self) -> float:
        """What the receiver adds to the radius that holds 95 of 100."""
        return self.total_95_m - doubt_95_m(math.hypot(self.drawing_m, self.change_m or 0.0))


def budget(
    plan: Plan, *, receiver: Receiver = "handheld", used: Operation | None = None, line_id: str | None = None
) -> Budget:
    """Return the budget of the plan's points in a receiver of `catalogue/receivers.csv`.

    `used` is the datum change to the file's coordinates, WGS 84 without it. PROJ's accuracy of it is counted as a
    standard deviation, the larger reading, for the EPSG database does not say what share of cases it holds. The hand's
    wobble is that of one line, the specification's without one.
    """
    boundary = plan.site.spec.boundary
    line = None if line_id is None else drawn_line(plan.site, line_id)
    row = next(row for row in catalogue.rows("receivers") if row["receiver"] == receiver)
    used = operation(plan, WGS84, name="WGS 84") if used is None else used
    return Budget(
        drawn_from=boundary.drawn_from,
        hand_m=boundary.vertex_sigma_m if line is None else line.sigma_m,
        shift_m=boundary.shift_sigma_m,
        shift_assumed=boundary.imagery_error_m is None,
        change_m=used.accuracy_m,
        receiver_95_m=float(row["within_m"]),
        receiver_words=row["words"],
    )


def budget_lines(budget: Budget, used: Operation) -> list[str]:
    """Return the budget as lines of text: each part, the sum, and what the receiver adds to it."""
    whose = "assumed, no report of the imagery is named" if budget.shift_assumed else "as site.toml states it"
    shift = f"the whole drawing's common shift +-{budget.shift_m:.1f} m ({whose})"
    counted = ", counted as a standard deviation" if budget.change_m else ""
    within = f"95 of 100 within {budget.receiver_95_m:g} m, so +-{budget.receiver_m:.2f} m"
    return [
        f"drawn {DRAWN[budget.drawn_from]}: the hand +-{budget.hand_m:.1f} m; {shift}",
        f"datum change ({used.operation}): {accuracy_words(used)}{counted}",
        f"receiver (assumed): {budget.receiver_words}: {within}",
        _sum(budget),
    ]


def budget_words(budget: Budget) -> str:
    """Return the budget in one line, for a file's own description."""
    change = "datum change not stated" if budget.change_m is None else f"datum change +-{budget.change_m:g} m"
    parts = [
        f"hand +-{budget.hand_m:.1f} m",
        f"common shift +-{budget.shift_m:.1f} m{' (assumed)' if budget.shift_assumed else ''}",
        "no datum change" if budget.change_m == 0.0 else change,
        f"receiver 95 of 100 within {budget.receiver_95_m:g} m (assumed)",
    ]
    return f"position budget: drawn {DRAWN[budget.drawn_from]}, {', '.join(parts)}; {_sum(budget)}"


def _sum(budget: Budget) -> str:
    if not budget.drawing_stated:
        return "together: not known, since nobody stated how far off the drawing is"
    adds = f"the receiver adds {budget.receiver_adds_m:.1f} m"
    return f"together: 95 of 100 within {budget.total_95_m:.1f} m, of which {adds}"
