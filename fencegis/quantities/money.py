"""Sums of money: a line is quantity × rate, rounded half to even to the cent; lines are then added exactly.

Each line is rounded once, where it stands, so that whoever adds the printed lines comes to the printed total. A per
cent is taken of a sum of whole cents and rounded the same way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.records.rates import Part

HUNDRED = Decimal(100)
ROUNDING = "each line is rounded to the cent, a half to the even one; lines are then added"
PLACES = Decimal("0.001")  # of a quantity that is priced
COSTS: tuple[Part, ...] = ("fixed", "measured")  # what contingency and margin are taken of


@dataclass(frozen=True)
class Line:
    """One line of a quote. `cents` is None when nobody gave a rate, or how much of it is not known."""

    part: Part
    item: str
    rate_item: str | None
    unit: str | None
    quantity: Decimal | None
    rate: Decimal | None
    cents: int | None
    basis: str
    taxed: bool = True


@dataclass(frozen=True)
class Sums:
    """What the lines come to, in whole cents, and which of them have no price."""

    fixed_cents: int
    measured_cents: int
    provisional_cents: int
    tax_cents: int
    not_priced: tuple[str, ...]

    @property
    def before_tax_cents(self) -> int:
        """All parts together."""
        return self.fixed_cents + self.measured_cents + self.provisional_cents

    @property
    def total_cents(self) -> int:
        """All parts together and the tax."""
        return self.before_tax_cents + self.tax_cents

    @property
    def complete(self) -> bool:
        """Whether every line that is in the job has a price."""
        return not self.not_priced


def line_cents(quantity: Decimal, rate: Decimal) -> int:
    """Return quantity × rate in whole cents, a half going to the even cent."""
    return _whole(quantity * rate * HUNDRED)


def percent_cents(cents: int, percent: Decimal) -> int:
    """Return so many per cent of a sum, in whole cents, a half going to the even cent."""
    return _whole(cents * percent / HUNDRED)


def exact(number: float | Decimal) -> Decimal:
    """Return a quantity as it is priced: to the third decimal of its unit, a half upwards, as a spreadsheet rounds."""
    decimal = number if isinstance(number, Decimal) else Decimal(repr(float(number)))
    return decimal.quantize(PLACES, rounding=ROUND_HALF_UP)


def _whole(number: Decimal) -> int:
    return int(number.quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def priced(line: Line) -> Line:
    """Return the line with its amount, where it has a quantity and a rate."""
    if line.quantity is None or line.rate is None:
        return line
    return replace(line, cents=line_cents(line.quantity, line.rate))


def added_up(lines: Iterable[Line]) -> Sums:
    """Return what the lines come to; an excluded line counts for nothing and is not missing."""
    kept = [line for line in lines if line.part != "excluded"]
    by_part = {part: sum(line.cents or 0 for line in kept if line.part == part) for part in dict.fromkeys(
        line.part for line in kept
    )}  # fmt: skip
    return Sums(
        fixed_cents=by_part.get("fixed", 0),
        measured_cents=by_part.get("measured", 0),
        provisional_cents=by_part.get("provisional", 0),
        tax_cents=by_part.get("tax", 0),
        not_priced=tuple(line.item for line in kept if line.cents is None),
    )


def with_percents(
    lines: Sequence[Line],
    *,
    contingency_pct: Decimal | None,
    margin_pct: Decimal | None,
    minimum: Decimal | None,
    tax_pct: Decimal | None,
    tax_name: str = "tax",
) -> list[Line]:
    """Return the lines by part, with what is added on top of them: each of the four only where it is given.

    Contingency is taken of fixed and of measured costs, each; margin of those and their contingency; provisional rates
    stay as agreed. Where all that is below the minimum, a line makes it up. Tax comes once, at the end, on every line
    that is taxed; what is added here is.
    """
    parts: dict[Part, list[Line]] = {"fixed": [], "measured": [], "provisional": []}
    for line in lines:
        parts[line.part].append(line)
    for part in COSTS:
        for name, percent, of in (
            ("contingency", contingency_pct, "costs"),
            ("margin", margin_pct, "costs and their contingency"),
        ):
            if percent is not None and parts[part]:
                parts[part].append(_on_top(name, percent, parts[part], part=part, of=f"{part} {of}"))
    before = added_up([line for each in parts.values() for line in each]).before_tax_cents
    if minimum is not None and before < minimum * HUNDRED:
        short = _whole(minimum * HUNDRED) - before
        basis = f"the job comes to less than the minimum of {minimum:f}; this makes it up"
        parts["fixed"].append(
            Line("fixed", "made up to the minimum charge", "minimum", "each", Decimal(1), _money(short), short, basis)
        )
    done = [line for each in parts.values() for line in each]
    if tax_pct is not None:
        taxed = [line for line in done if line.taxed]
        tax = _on_top("tax", tax_pct, taxed, part="tax", of="everything that is taxed, once")
        done.append(replace(tax, item=tax_name))
    return done


def _on_top(name: str, percent: Decimal, lines: Sequence[Line], *, part: Part, of: str) -> Line:
    of_cents = sum(line.cents or 0 for line in lines)
    basis = f"{percent:f} % of {of}: {_money(of_cents)}"
    return Line(part, f"{name}, {part}", name, "%", percent, None, percent_cents(of_cents, percent), basis)


def _money(cents: int) -> Decimal:
    return (Decimal(cents) / HUNDRED).quantize(Decimal("0.01"))


def money_text(cents: int, *, currency: str | None = None, grouped: bool = True) -> str:
    """Return a sum as it is printed: two decimals, thousands parted by commas unless `grouped` is off."""
    text = f"{_money(cents):,.2f}" if grouped else f"{_money(cents):.2f}"
    return f"{currency} {text}" if currency else text
