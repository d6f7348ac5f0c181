"""What the rules of the catalogue take: a product, at the places that meet the conditions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fencegis.quantities.assembly_parts import PartRule, Places, part_rules, takes
from fencegis.quantities.materials import materials
from fencegis.quantities.plan_places import plan_places
from fencegis.records.spec import Fence
from fencegis.records.tables import LAYERS, empty

RULE = PartRule(("post",), "", "", "", -math.inf, math.inf, "staples", "staple", "", 2.0, "wires", "")


def places(*, soil: tuple[str, ...] = ("loam", "rock", "loam"), **measures: tuple[float, ...]) -> Places:
    count = len(soil)
    return Places(
        layer="posts",
        assembly=np.full(count, "post", dtype=object),
        line_id=np.full(count, "A", dtype=object),
        chainage_m=np.arange(float(count)),
        fence=np.array(["wire", "wire", "post and rail"], dtype=object),
        method=np.array(["driven", "bored", "driven"], dtype=object),
        soil=np.array(soil, dtype=object),
        height_m=np.array([1.1, 1.1, 1.4]),
        measures={
            "each": np.ones(count),
            "wires": np.full(count, 6.0),
            **{name: np.array(values) for name, values in measures.items()},
        },
        sizes={"own": np.array(["125 x 1.8", "125 x 2.4", "125 x 1.8"], dtype=object), "one": "150 x 50 x 4.8"},
    )


def taken(*rules: PartRule, where: Places | None = None) -> list[tuple[list[int], list[float]]]:
    found = takes([where or places()], density_kg_m3=1000.0, rules=rules)
    return [(take.row.tolist(), take.amount.tolist()) for take in found]


def test_a_part_is_a_number_times_a_measure_at_each_place() -> None:
    assert taken(RULE) == [([0, 1, 2], [12.0, 12.0, 12.0])]


def test_what_a_measure_is_nought_at_is_not_taken() -> None:
    rule = replace(RULE, per="some")
    assert taken(rule, where=places(some=(0.0, 1.5, 0.0))) == [([1], [3.0])]
    assert taken(rule, where=places(some=(0.0, 0.0, 0.0))) == []


@pytest.mark.parametrize(
    ("conditions", "rows"),
    [
        ({"fence": "wire"}, [0, 1]),
        ({"method": "driven"}, [0, 2]),
        ({"soil": "rock"}, [1]),
        ({"from_height_m": 1.2}, [2]),
        ({"below_height_m": 1.4}, [0, 1]),
        ({"fence": "wire", "soil": "loam"}, [0]),
        ({"soil": "bog"}, []),
        ({"assemblies": ("gate", "post")}, [0, 1, 2]),
        ({"assemblies": ("gate",)}, []),
    ],
)
def test_all_conditions_given_have_to_be_met(conditions: dict[str, object], rows: list[int]) -> None:
    found = taken(replace(RULE, **conditions))  # type: ignore[arg-type]
    assert [row for row, _ in found] == ([rows] if rows else [])


def test_of_one_use_a_place_takes_the_rule_with_most_conditions() -> None:
    rock = replace(RULE, soil="rock", number=1.0)
    none_driven = replace(RULE, soil="loam", method="driven", fence="wire", number=0.0)
    assert taken(RULE, rock) == [([1], [6.0]), ([0, 2], [12.0, 12.0])]
    assert taken(RULE, rock, none_driven) == [([1], [6.0]), ([2], [12.0])]


def test_of_two_uses_a_place_takes_both() -> None:
    assert len(taken(RULE, replace(RULE, use="more staples"))) == 2


def test_sizes_are_the_places_own_or_one_for_all_and_give_masses() -> None:
    post = replace(RULE, material="post", size="{own}", number=1.0, per="each")
    (own,) = takes([places()], density_kg_m3=1000.0, rules=[post])
    assert [own.sizes[size] for size in own.size] == ["125 x 1.8", "125 x 2.4", "125 x 1.8"]
    assert own.mass_kg == pytest.approx(math.pi / 4 * 0.125**2 * 1000.0 * np.array([1.8, 2.4, 1.8]))
    (one,) = takes([places()], density_kg_m3=1000.0, rules=[replace(post, material="rail", size="{one}")])
    assert one.sizes == ("150 x 50 x 4.8",)
    assert one.mass_kg == pytest.approx([36.0] * 3)
    (text,) = takes([places()], density_kg_m3=1000.0, rules=[replace(post, size="100 x 2")])
    assert text.sizes == ("100 x 2",)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"per": "wire"}, "there is no measure 'wire'; known: each, wires"),
        ({"material": "nail"}, "there is no material 'nail'"),
        ({"size": "{owm}"}, "there is no size 'owm'"),
    ],
)
def test_a_row_that_names_what_is_not_there_is_told_of(change: dict[str, str], message: str) -> None:
    with pytest.raises(ValueError, match=r"assembly_parts.csv, 'staples' of post: " + message):
        taken(replace(RULE, **change))  # type: ignore[arg-type]


def test_every_row_of_the_catalogue_can_be_worked_out() -> None:
    """Measures are known at a plan of nothing too; assemblies are those that its readings name."""
    tables = {name: empty(name) for name in LAYERS}
    found = plan_places(tables, kind_of_line={}, fence=Fence(), existing=None)
    measures = {name for one in found for name in one.measures}
    sizes = {name for one in found for name in one.sizes}
    for rule in part_rules():
        assert rule.per in measures, rule
        assert rule.material in materials(), rule
        assert rule.size.strip("{}") in sizes | {""}, rule


def test_no_row_of_the_catalogue_hides_another() -> None:
    """Two rows of one assembly, use and conditions: the second would never be taken."""
    seen = [
        (assembly, rule.use, rule.fence, rule.method, rule.soil, rule.from_height_m, rule.below_height_m)
        for rule in part_rules()
        for assembly in rule.assemblies
    ]
    assert len(seen) == len(set(seen))


def test_every_material_is_part_of_something() -> None:
    assert set(materials()) == {rule.material for rule in part_rules()}
