"""What was found along the line, on the map in a real browser: read, switched on and off, told without colour."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

    from fencegis.records.plan import Plan

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
NASTY = ("</script><script>window.hit=1</script>", "${window.hit=2}", "<img src=x onerror='window.hit=3'>")
SWITCHES = (
    "Creeks and drains",
    "Trees to go",
    "Way for the machine",
    "Air under limbs",
    "Clearing",
    "Stretches not checked",
)


def _hostile(plan: Plan) -> Plan:
    one, two, three = NASTY
    return replace(
        plan,
        crossings=plan.crossings.assign(crossing_id=one, feature=two, treatment=three, basis=one, kind=two),
        trees=plan.trees.assign(tree_id=three, feature=one, why=two),
        clearing=plan.clearing.assign(density=one, basis=three),
        headroom=plan.headroom.assign(machines=one, basis=two),
        access=plan.access.assign(kind=three, basis=one, side=two),
        moves=plan.moves.assign(how=one, says=three, hazard_id=two),
        clearances=plan.clearances.assign(thing=one, basis=two, post_id=three),
        checks=plan.checks.assign(basis=two),
        hazards=plan.hazards.assign(kind=one),
    )


def _popups(page: Page) -> str:
    said = ""
    for go in page.locator("[data-go]").all():
        go.evaluate("button => button.click()")
        said += page.locator(".leaflet-popup-content").inner_text()
    return said


def test_nothing_from_a_file_runs_and_all_of_it_is_shown(opened: Callable[..., Page], register_plan: Plan) -> None:
    page = opened(_hostile(register_plan), DESK)
    for box in page.locator(".leaflet-control-layers-overlays input").all():
        box.evaluate("box => box.checked || box.click()")
    said = _popups(page) + str(page.locator(".looks").text_content())
    for text in NASTY:
        assert text in said
    assert page.evaluate("typeof window.hit") == "undefined"
    assert page.locator("img").count() == 1  # the hillshade
    assert page.locator("script").count() == 5


@pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
def test_every_layer_has_its_switch_and_no_empty_one_has(
    opened: Callable[..., Page], register_plan: Plan, small_plan: Plan, screen: Any
) -> None:
    def switches(plan: Plan) -> list[str]:
        labels = opened(plan, screen).locator(".leaflet-control-layers-overlays label")
        return [str(text).strip() for text in labels.all_text_contents()]

    full, bare = switches(register_plan), switches(small_plan)
    assert all(any(name.startswith(switch) for name in full) for switch in SWITCHES)
    assert not any(name.startswith(SWITCHES[:5]) for name in bare)
    assert not any("azard" in name for name in full)


def test_a_tree_is_told_by_its_letter_and_says_why(opened: Callable[..., Page], register_plan: Plan) -> None:
    page = opened(register_plan, DESK)
    page.locator('[data-go="trees:1"]').evaluate("button => button.click()")
    said = page.locator(".leaflet-popup-content").inner_text()
    assert "Tree T02: to limb" in said
    assert "To limb up to\n5.7\u00a0m" in said
    letters = page.evaluate("Object.values(TREES).map(({ shape, letter }) => `${shape} ${letter}`)")
    assert letters == ["hexagon G", "triangle L", "round K", "square ?"]
    keys = page.locator("#look-legend use").evaluate_all("all => all.map(use => use.getAttribute('href'))")
    assert {f"#key-tree-{what}" for what in ("go", "limb", "keep", "look")} <= set(keys)
    assert {"#key-bank", "#key-way", "#key-headroom", "#key-clearing", "#key-unchecked"} <= set(keys)


def test_a_stretch_not_checked_says_for_what_once_it_is_switched_on(
    opened: Callable[..., Page], register_plan: Plan
) -> None:
    page = opened(register_plan, DESK)
    drawn = page.locator("path[stroke='url(#band-unchecked)']")
    assert drawn.count() == 0
    page.locator("label", has_text="Stretches not checked").locator("input").evaluate("box => box.click()")
    page.wait_for_selector("body[data-settled=yes]", state="attached")
    assert drawn.count() > 3
    said = page.evaluate("sayUnchecked(JSON.parse(document.getElementById('plan-data').textContent).unchecked.rows[0],"
                         " JSON.parse(document.getElementById('plan-data').textContent).unchecked)")  # fmt: skip
    assert said["title"].startswith("Not checked: ")
    assert "Nobody and nothing has looked here" in said["lead"]
    assert all(len(fact) == 2 and all(fact) for fact in said["facts"])


def test_every_flag_has_a_sign_of_its_own(opened: Callable[..., Page], register_plan: Plan) -> None:
    page = opened(register_plan, DESK)
    glyphs = page.evaluate("HAZARDS.map(slug)")
    assert len(set(glyphs)) == len(glyphs)
    for kind in register_plan.hazards["kind"].unique():
        assert kind.replace(" ", "-", 1) in glyphs
    for glyph in glyphs:
        for name in (f"glyph-{glyph}", f"band-{glyph}", f"key-hazard-{glyph}"):
            assert page.locator(f"#{name}").count() == 1, name


def test_what_a_flag_means_is_folded_until_asked_for(opened: Callable[..., Page], register_plan: Plan) -> None:
    page = opened(register_plan, DESK)
    fold = page.locator("#look-hazards .means").first
    assert not fold.locator("dl").is_visible()
    fold.locator("summary").click()
    assert fold.locator("dl").is_visible()
    assert fold.locator("dt").all_inner_texts()[0] == "What is marked"
