"""What can be bought or brought: the rows of `catalogue/materials.csv`, and what the text of a size says.

A **size** is text: `125 x 1.8` is round timber, mm across by m long; `150 x 50 x 4.8` sawn timber, mm by mm by m;
a number alone is metres (the width of a leaf, the height of a mesh); any other words stand for themselves.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fencegis.catalogue import rows

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.records.rates import Rate

_NUMBER = r"\d+(?:\.\d+)?"
_SIZE = re.compile(rf"(?:({_NUMBER}) x )?(?:({_NUMBER}) x )?({_NUMBER})")
TIMBER = "timber"


@dataclass(frozen=True)
class Material:
    """One row: `mass_kg` and `pack` are of and in its unit, None where nobody knows a mass or it comes loose."""

    name: str
    what: str
    supplier: str
    unit: str
    mass_kg: float | None
    pack: float | None
    waste_pct: float
    carried: bool  # set down along the line, piece by piece

    @property
    def by_piece(self) -> bool:
        """Whether it is bought one by one."""
        return self.unit == "each" and self.pack == 1.0

    def words(self, size: str) -> str:
        """Return what to call it in one size."""
        return f"{self.what}, {size_in_words(size)}" if size else self.what


@cache
def materials() -> dict[str, Material]:
    """Return every material of the catalogue by its key, in file order."""
    return {
        row["material"]: Material(
            name=row["material"],
            what=row["what"],
            supplier=row["supplier"],
            unit=row["unit"],
            mass_kg=float(row["mass_kg"]) if row["mass_kg"] else None,
            pack=float(row["pack"]) if row["pack"] else None,
            waste_pct=float(row["waste_pct"]),
            carried=row["carried"] == "yes",
        )
        for row in rows("materials")
    }


def rate_items(material: str, size: str) -> tuple[str, ...]:
    """Return the items of `rates.csv` that price a material in one size, the nearest first."""
    return (f"{material} {size}", material) if size else (material,)


def given(rates: Iterable[Rate] | None, material: Material, size: str) -> tuple[float, float | None]:
    """Return waste in per cent and the size of a pack: the contractor's own where given, else the catalogue's."""
    waste, pack = material.waste_pct, material.pack
    of_material = {rate.item: rate for rate in rates or () if rate.kind == "material"}
    for item in reversed(rate_items(material.name, size)):
        rate = of_material.get(item)
        if rate is not None:
            waste = waste if rate.waste_pct is None else float(rate.waste_pct)
            pack = pack if rate.pack is None else float(rate.pack)
    return waste, pack


def numbers(size: str) -> tuple[float, ...]:
    """Return the numbers that a size is made of; none for words."""
    found = _SIZE.fullmatch(size)
    return () if found is None else tuple(float(part) for part in found.groups() if part)


def length_m(size: str) -> float:
    """Return how long a piece of that size is, its last number; NaN for words."""
    found = numbers(size)
    return found[-1] if found else math.nan


def volume_m3(size: str) -> float:
    """Return the volume of a piece of timber: a cylinder or a box; NaN where its size across is not told."""
    found = numbers(size)
    if len(found) == 2:
        return math.pi / 4.0 * (found[0] / 1000.0) ** 2 * found[1]
    return found[0] / 1000.0 * found[1] / 1000.0 * found[2] if len(found) == 3 else math.nan


def piece_kg(material: Material, size: str, *, density_kg_m3: float) -> float:
    """Return the mass of one unit of a material: as its row has it, else of its size in timber; NaN when unknown."""
    if material.mass_kg is not None:
        return material.mass_kg
    return volume_m3(size) * density_kg_m3 if material.supplier == TIMBER else math.nan


def size_in_words(size: str) -> str:
    """Return a size with its units: mm across by m long, mm by mm by m, or metres; words as they are."""
    found = _SIZE.fullmatch(size)
    if found is None:
        return size
    across = [part for part in found.groups()[:2] if part]
    return f"{' x '.join(across)} mm x {found[3]} m" if across else f"{found[3]} m"
