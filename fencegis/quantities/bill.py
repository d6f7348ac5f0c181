"""The take-off of a plan: what to buy and bring, and where along the line it is set down."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.quantities.assembly_parts import takes
from fencegis.quantities.bill_notes import notes_on_quantities
from fencegis.quantities.drops import drop_table
from fencegis.quantities.materials import given, length_m, materials, numbers
from fencegis.quantities.packs import in_packs, with_spares
from fencegis.quantities.plan_places import plan_places
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fencegis.line.chainage import Line
    from fencegis.quantities.assembly_parts import Take
    from fencegis.quantities.materials import Material
    from fencegis.quantities.packs import Order
    from fencegis.records.notes import Note
    from fencegis.records.rates import Rate
    from fencegis.records.site import Site
    from fencegis.records.spec import FenceKind


def quantities(
    site: Site, tables: Mapping[str, pd.DataFrame], *, lines: Sequence[Line], kind_of_line: Mapping[str, FenceKind]
) -> tuple[dict[str, pd.DataFrame], list[Note]]:
    """Return the layers `quantities` and `drops`, and what to know of them.

    `tables` are the plan's layers, marked and with their cut list. Raises ValueError for a row of
    `catalogue/assembly_parts.csv` that names what is not there.
    """
    fence = site.spec.fence
    density = {row["timber"]: float(row["density_kg_m3"]) for row in rows("timber")}[fence.post_timber]
    places = plan_places(tables, kind_of_line=kind_of_line, fence=fence, existing=site.existing)
    taken = takes(places, density_kg_m3=density)
    bought = quantity_table(taken, rates=site.rates)
    drops, drop_notes = drop_table(taken, tables, lines=lines, carry_m=site.spec.crew.carry_m)
    notes = notes_on_quantities(bought, tables, fence=fence)
    return {"quantities": bought, "drops": drops}, [*notes, *drop_notes]


def quantity_table(taken: Sequence[Take], *, rates: Sequence[Rate] | None = None) -> pd.DataFrame:
    """Return the layer `quantities`: a row for each material and size, in the catalogue's order, short before long.

    Waste and packs are those of `rates` where given there, else the catalogue's.
    """
    by_material: dict[str, dict[str, _Sum]] = defaultdict(lambda: defaultdict(_Sum))
    for take in taken:
        amount = np.bincount(take.size, take.amount, minlength=len(take.sizes))
        mass_kg = np.bincount(take.size, take.mass_kg, minlength=len(take.sizes))
        for place, size in enumerate(take.sizes):
            mine = take.row[take.size == place] if len(take.sizes) > 1 else take.row
            by_material[take.rule.material][size].add(take, mine, float(amount[place]), float(mass_kg[place]))
    found = [
        row
        for name, material in materials().items()
        if name in by_material
        for row in _rows_of(material, by_material[name], rates)
    ]
    return checked("quantities", pd.DataFrame(found)) if found else empty("quantities")


class _Sum:
    """What is taken of one material in one size."""

    def __init__(self) -> None:
        self.exact, self.mass_kg = 0.0, 0.0
        self.rows: dict[str, set[int]] = defaultdict(set)
        self.uses: dict[str, tuple[float, str]] = {}

    def add(self, take: Take, mine: object, amount: float, mass_kg: float) -> None:
        """Count what one rule takes; `mine` are the rows of its layer."""
        self.exact += amount
        self.mass_kg += mass_kg
        self.rows[take.layer].update(np.asarray(mine).tolist())
        rule = take.rule
        product = rule.per if rule.number == 1.0 else f"{rule.number:g} x {rule.per}"
        said = product if not rule.about else f"{product}; {rule.about}"
        before, _ = self.uses.get(rule.use, (0.0, ""))
        self.uses[rule.use] = (before + amount, said)

    def basis(self, unit: str) -> str:
        """Return each use with what it comes to and its rule."""
        plural = "" if unit == "each" else f" {unit}"
        return " + ".join(f"{use} {amount:.6g}{plural} ({said})" for use, (amount, said) in self.uses.items())

    def traced(self) -> str:
        """Return the layers that are summed, and how many rows of each."""
        return "; ".join(f"{layer} {len(counted)}" for layer, counted in self.rows.items())


def _rows_of(material: Material, sums: Mapping[str, _Sum], rates: Sequence[Rate] | None) -> list[dict[str, object]]:
    sizes = sorted(sums, key=lambda size: (numbers(size), size))
    terms = [given(rates, material, size) for size in sizes]
    orders = _orders(material, [sums[size].exact for size in sizes], terms)
    return [
        {
            "item": material.words(size),
            "material": material.name,
            "size": size or None,
            "supplier": material.supplier,
            "unit": material.unit,
            "exact": sums[size].exact,
            "waste_pct": waste_pct,
            "pack": pack,
            "packs": order.packs,
            "left_pct": order.left_pct,
            "mass_kg": sums[size].mass_kg / sums[size].exact * order.ordered,
            "longest_m": length_m(size) if material.unit == "each" else None,
            "basis": sums[size].basis(material.unit),
            "rows": sums[size].traced(),
        }
        for size, (waste_pct, pack), order in zip(sizes, terms, orders, strict=True)
    ]


def _orders(material: Material, exact: Sequence[float], terms: Sequence[tuple[float, float | None]]) -> list[Order]:
    """Return what is ordered of each size: spares shared out where all sizes come piece by piece at one waste."""
    if material.unit == "each" and len(set(terms)) == 1 and terms[0][1] == 1.0:
        return with_spares(exact, waste_pct=terms[0][0])
    return [
        in_packs(amount, waste_pct=waste_pct, pack=pack) for amount, (waste_pct, pack) in zip(exact, terms, strict=True)
    ]
