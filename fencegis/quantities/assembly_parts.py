"""What things on the line are made of: the rules of `catalogue/assembly_parts.csv`, and how they are worked out.

A **place** is a row of the plan that something is built at: a post, a strainer, a bay, a gate. `plan_places` reads the
plan's tables and says for every place which **assembly** it is, and its **measures**: numbers with a name, as `wires`
or `brace panels`. A rule is then one row of the catalogue and no more than a product:

    material = number x measure, at every place of the named assemblies

* `assembly`: one name, or several with `;` between.
* `fence`, `method`, `soil`, `from_height_m`, `below_height_m`: where given, only places of that fence kind, set in that
  way (driven, bored, dug), in that soil, on a fence at least and less than so high.
* `use`: what the part is for. Of rules for one assembly and one use, a place takes the one with most conditions
  filled in: a row for rock stands instead of the row for any soil, and a number of 0 takes a part away.
* `size`: text of a size; `{own}` the place's own, `{brace post}`, `{brace rail}` and `{mesh}` as site.toml has them.
* `per`: the measure. `each` is 1 at every place.

A contractor adds a part, or an assembly's parts for one soil or height, by adding a row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.quantities.materials import Material, materials, piece_kg

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]
    Flags = npt.NDArray[np.bool_]

ON_HAND = "on hand"  # supplier of what is there already: its mass is the plan's


@dataclass(frozen=True, eq=False)
class Places:
    """Rows of one layer that something is built at, each (n,): which assembly, where, under what conditions.

    `measures` are arrays (n,) by name, `sizes` text or arrays of text by name; `own_kg` is the mass of what stands
    there where its size does not tell it.
    """

    layer: str
    assembly: Names
    line_id: Names
    chainage_m: Floats
    fence: Names
    method: Names
    soil: Names
    height_m: Floats
    measures: Mapping[str, Floats]
    sizes: Mapping[str, Names | str]
    own_kg: Floats | None = None


@dataclass(frozen=True)
class PartRule:
    """One row of the catalogue."""

    assemblies: tuple[str, ...]
    fence: str
    method: str
    soil: str
    from_height_m: float
    below_height_m: float
    use: str
    material: str
    size: str
    number: float
    per: str
    about: str

    @property
    def conditions(self) -> int:
        """How many conditions are filled in."""
        heights = math.isfinite(self.from_height_m) + math.isfinite(self.below_height_m)
        return sum(map(bool, (self.fence, self.method, self.soil))) + heights

    def holds_at(self, places: Places, assembly: str) -> Flags:
        """Return at which places (n,) of an assembly the conditions are met."""
        held = places.assembly == assembly
        for wanted, there in (
            (self.fence, places.fence),
            (self.method, places.method),
            (self.soil, places.soil),
        ):
            if wanted:
                held &= there == wanted
        if math.isfinite(self.from_height_m):
            held &= places.height_m >= self.from_height_m
        if math.isfinite(self.below_height_m):
            held &= places.height_m < self.below_height_m
        return np.asarray(held, dtype=bool)


@dataclass(frozen=True, eq=False)
class Take:
    """What one rule takes of one material: `amount` and `mass_kg` (m,) at rows `row` (m,) of a layer.

    `sizes` are the different sizes, `size` (m,) says which of them each is.
    """

    rule: PartRule
    layer: str
    row: npt.NDArray[np.int_]
    line_id: Names
    chainage_m: Floats
    sizes: tuple[str, ...]
    size: npt.NDArray[np.int_]
    amount: Floats
    mass_kg: Floats

    @property
    def material(self) -> Material:
        """What is taken."""
        return materials()[self.rule.material]


@cache
def part_rules() -> tuple[PartRule, ...]:
    """Return the rules of `catalogue/assembly_parts.csv`, in file order."""
    return tuple(
        PartRule(
            assemblies=tuple(name.strip() for name in row["assembly"].split(";")),
            from_height_m=float(row["from_height_m"] or -math.inf),
            below_height_m=float(row["below_height_m"] or math.inf),
            number=float(row["number"]),
            **{key: row[key] for key in ("fence", "method", "soil", "use", "material", "size", "per", "about")},
        )
        for row in rows("assembly_parts")
    )


def takes(places: Sequence[Places], *, density_kg_m3: float, rules: Sequence[PartRule] | None = None) -> list[Take]:
    """Return what the rules (the catalogue's unless given) take at all places; nothing where the amount is 0.

    `density_kg_m3` is that of the timber. Raises ValueError for a rule whose measure, size or material is not known.
    """
    chosen = part_rules() if rules is None else rules
    return [take for one in places for take in _of_places(one, chosen, density_kg_m3)]


def _of_places(places: Places, rules: Sequence[PartRule], density_kg_m3: float) -> Iterator[Take]:
    served: dict[str, Flags] = {}
    there = set(places.assembly.tolist())
    for rule in sorted(rules, key=lambda rule: -rule.conditions):
        at = np.zeros(len(places.assembly), dtype=bool)
        for assembly in there.intersection(rule.assemblies):
            at |= rule.holds_at(places, assembly)
        if at.any():
            _known(rule, places)
            before = served.setdefault(rule.use, np.zeros(len(at), dtype=bool))
            amount = rule.number * places.measures[rule.per]
            here = np.flatnonzero(at & ~before & (amount > 0.0))
            served[rule.use] = before | at
            if len(here):
                yield _take(rule, places, here, amount[here], density_kg_m3)


def _take(rule: PartRule, places: Places, here: npt.NDArray[np.int_], amount: Floats, density_kg_m3: float) -> Take:
    said = places.sizes[rule.size.strip("{}")] if rule.size.startswith("{") else rule.size
    size, names = (np.zeros(len(here), dtype=int), [said]) if isinstance(said, str) else pd.factorize(said[here])
    material = materials()[rule.material]
    each_kg = np.array([piece_kg(material, name, density_kg_m3=density_kg_m3) for name in names])[size]
    if places.own_kg is not None and material.supplier == ON_HAND:
        each_kg = np.where(np.isnan(each_kg), places.own_kg[here], each_kg)
    return Take(
        rule=rule,
        layer=places.layer,
        row=here,
        line_id=places.line_id[here],
        chainage_m=places.chainage_m[here],
        sizes=tuple(names),
        size=np.asarray(size),
        amount=amount,
        mass_kg=amount * each_kg,
    )


def _known(rule: PartRule, places: Places) -> None:
    """Raise ValueError, naming the row and what there is, for a measure, size or material that is not known."""
    size = rule.size.strip("{}") if rule.size.startswith("{") else ""
    for what, name, there in (
        ("measure", rule.per, places.measures),
        ("material", rule.material, materials()),
        ("size", size, {"": "", **places.sizes}),
    ):
        if name not in there:
            raise ValueError(
                f"assembly_parts.csv, {rule.use!r} of {', '.join(rule.assemblies)}: there is no {what} {name!r};"
                f" known: {', '.join(there)}"
            )
