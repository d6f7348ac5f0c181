"""Pieces, metres and masses of the take-off against what is printed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis import Plan, Site, Spec, plan_site
from fencegis.catalogue import rows
from fencegis.inputs.crs import geographic, working_grid
from fencegis.quantities.materials import materials, piece_kg
from fencegis.quantities.plan_places import plan_places
from fencegis.records.site import DrawnLine

if TYPE_CHECKING:
    from collections.abc import Callable

FOOT_M, POUND_KG = 0.3048, 0.45359237
GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)


def straight(length_m: float, **fence: object) -> Plan:
    """A level straight line from survey, without ground heights."""
    spec = Spec.model_validate({"boundary": {"drawn_from": "survey"}, "fence": fence})
    ends = np.array([[50_000.0, 80_000.0], [50_000.0, 80_000.0 + length_m]])
    line = DrawnLine("A", "", "feature A", spec.fence.kind, None, False, ends, 0.0)
    return plan_site(Site("any", "Any", spec, GRID, (line,)))


def exact(plan: Plan, material: str) -> float:
    return float(plan.quantities.loc[plan.quantities["material"] == material, "exact"].sum())


@pytest.mark.published(
    source="boards-8-ft", where="posts at 8 ft centres, 16 ft boards over two bays: 96 ft of 3 rails"
)
def test_boards_and_posts_of_a_board_fence(compare: Callable) -> None:
    """12 bays; a row is 6 boards, or 5 and two halves out of a sixth where its joints are a bay further on."""
    plan = straight(
        96 * FOOT_M,
        kind="post and rail",
        rail_m=[round(16 * FOOT_M, 3)],  # as measured, to the millimetre
        rails=3,
        end_trim_mm=0.0,
        kerf_mm=0.0,
        end_cover="centre",
        bay_tolerance_mm=0.0,
        post_spacing_m=8 * FOOT_M,
    )
    compare(len(plan.bays), "12")
    compare(int(exact(plan, "post")), "13")
    compare(int(exact(plan, "rail")), "18")


@pytest.mark.published(source="boards-trimmed", where="10 % for waste")
def test_waste_of_boards(compare: Callable) -> None:
    compare(materials()["rail"].waste_pct, "10")


@pytest.mark.published(source="iowa-fence-2012", where="quarter mile of woven wire and a barbed one, H-brace each end")
def test_brace_posts_rails_and_wire_of_a_quarter_mile(compare: Callable) -> None:
    """Of its posts 4 are of 8 in, two at each end; 2 of the 57 of 4 in are brace rails; 1,320 ft of each wire.

    Ties and overlaps are in no line of that list, so the wire is held bay by bay.
    """
    plan = straight(1320 * FOOT_M, wires=1, barbed=1, mesh_solidity=0.1, post_spacing_m=12 * FOOT_M, strain_m=500.0)
    compare(int(len(plan.strainers) + exact(plan, "brace post")), "4")
    compare(int(exact(plan, "brace rail")), "2")
    places = plan_places(dict(plan.layers()), kind_of_line={"A": "wire"}, fence=plan.site.spec.fence, existing=None)
    (bays,) = [one for one in places if one.layer == "bays"]
    compare(float(bays.measures["barbed wire m"].sum()) / FOOT_M, "1320")
    compare(float(bays.measures["mesh m"].sum()) / FOOT_M, "1320")


@pytest.mark.published(source="bc-wire-307", where="barbed wire: a roll of 1,320 ft is about 80 lb")
def test_a_roll_of_barbed_wire(compare: Callable) -> None:
    roll = materials()["barbed wire"]
    compare((roll.pack or 0.0) / FOOT_M, "1320")
    compare((roll.pack or 0.0) * (roll.mass_kg or 0.0) / POUND_KG, "80")


@pytest.mark.published(source="press-wire-1980", where="a 25 kg coil of 2.50 mm is 648 m long")
def test_metres_of_a_coil_by_the_mass_of_the_take_off(compare: Callable, printed: type) -> None:
    """Whole metres, cut off, as at the wire's own mass."""
    compare(25.0 / (materials()["wire"].mass_kg or 0.0), printed("648", 1.0))


@pytest.mark.parametrize(
    ("across_mm", "kg_m"), [(75, "5.08"), (100, "9.03"), (125, "14.11"), (150, "20.32"), (200, "36.13")]
)
@pytest.mark.published(source="tq-16b", where="blackbutt, green: 1150 kg/m3; kilograms a metre of round timber by it")
def test_mass_of_a_metre_of_round_timber(compare: Callable, across_mm: int, kg_m: str) -> None:
    green = {row["timber"]: float(row["density_kg_m3"]) for row in rows("timber")}["hardwood"]
    compare(green, "1150")
    compare(piece_kg(materials()["post"], f"{across_mm} x 1", density_kg_m3=green), kg_m)


@pytest.mark.published(source="nrcs-brace-382", where="brace rail of 84 in at least, pinned at both ends")
def test_pins_and_length_of_a_brace_rail(compare: Callable) -> None:
    plan = straight(100.0)
    rail = plan.quantities[plan.quantities["material"] == "brace rail"].iloc[0]
    compare(float(rail["longest_m"]) / 0.0254, "84")
    compare(int(exact(plan, "brace pin") / rail["exact"]), "2")


@pytest.mark.published(source="boards-nails", where="2 nails, or 3, a rail a post: unreviewed pages, so an input")
def test_nails_of_a_board_fence_with_a_butt_joint_counted_twice(compare: Callable) -> None:
    """Posts x rails x nails, and again for each butt joint: 4 bays, one row of boards over two bays, one butt."""
    spec = Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}})
    compare(spec.fence.rail_fixings, "2")
    plan = straight(9.2, kind="post and rail", rail_m=[4.8], rails=1, end_cover="centre")
    rails = plan.rails
    joints = len(rails) - 1
    compare(int(exact(plan, "rail fixing")), str(2 * (len(plan.posts) + joints)))
    three = plan_site(replace(plan.site, spec=_with(spec=plan.site.spec, rail_fixings=3)))
    compare(int(exact(three, "rail fixing")), str(3 * (len(plan.posts) + joints)))


def _with(*, spec: Spec, **fence: object) -> Spec:
    return spec.model_copy(update={"fence": spec.fence.model_copy(update=fence)})
