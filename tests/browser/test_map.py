"""The client's map in a real browser, with no network: it opens, reads well, and nothing from a file ever runs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Locator, Page

    from fencegis.records.plan import Plan

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 3, "is_mobile": True, "has_touch": True}
SMALL = {**PHONE, "viewport": {"width": 360, "height": 640}}
SCREENS = pytest.mark.parametrize("screen", [DESK, PHONE, SMALL], ids=["desk", "phone", "small phone"])
PHONES = pytest.mark.parametrize("screen", [PHONE, SMALL], ids=["phone", "small phone"])
NASTY = (
    "</script><script>window.hit=1</script>",
    "${window.hit=2}`${window.hit=2}`",
    "<img src=x onerror='window.hit=3'>",
    "\\u003cimg src=x onerror=window.hit=4\\u003e \\",
    '"onmouseover="window.hit=5" x=\'',
)


def _hostile(plan: Plan) -> Plan:
    """Return the plan with markup and script wherever a file or a rule could put text."""
    one, two, three, four, five = NASTY
    drawn = tuple(replace(line, name=name) for line, name in zip(plan.site.drawn, (one, two), strict=True))
    overhead, trees = plan.site.overhead, plan.site.trees
    assert overhead is not None
    assert trees is not None
    site = replace(
        plan.site,
        name=f"{one} {three}",
        drawn=drawn,
        overhead=overhead.assign(name=two),
        trees=trees.assign(name=three),
    )
    first = plan.posts.index == 0
    return replace(
        plan,
        site=site,
        runs=plan.runs.assign(run_id=[one, three, five]),
        gates=plan.gates.assign(gate_id=three, name=two, hinge=one, swing_side=five),
        hazards=plan.hazards.assign(advice=three, rule=two, basis=four, hazard_id=[one, two, five]),
        strainers=plan.strainers.assign(strainer_id=three, also=two),
        corners=plan.corners.assign(corner_id=two),
        nodes=plan.nodes.assign(node_id=five),
        posts=plan.posts.assign(post_id=plan.posts["post_id"].where(~first, three)),
        checks=plan.checks.assign(basis=one),
        notes=plan.notes.assign(text=[*NASTY]),
        not_computed=NASTY,
    )


def _settle(page: Page) -> None:
    """Wait until the page says that the map stands still with everything drawn."""
    # by selector: waiting for an expression would need a page that lets text run as script
    page.wait_for_selector("body[data-settled=yes]", state="attached")


def _box(locator: Locator) -> dict[str, float]:
    box = locator.bounding_box()
    assert box is not None
    return dict(box)


def _boxes(locator: Locator) -> list[dict[str, float]]:
    """Return the boxes of all that the locator finds, in one question to the browser."""
    found: list[dict[str, float]] = locator.evaluate_all(
        "all => all.map(e => e.getBoundingClientRect()).map(({x, y, width, height}) => ({x, y, width, height}))"
    )
    return found


def _apart(one: dict[str, float], other: dict[str, float]) -> bool:
    return (
        one["x"] + one["width"] <= other["x"] + 0.5 or other["x"] + other["width"] <= one["x"] + 0.5
        or one["y"] + one["height"] <= other["y"] + 0.5 or other["y"] + other["height"] <= one["y"] + 0.5
    )  # fmt: skip


@SCREENS
def test_it_opens_without_network_and_says_nothing(opened: Callable[..., Page], small_plan: Plan, screen: Any) -> None:
    page = opened(small_plan, screen)
    assert page.title() == f"{small_plan.site.name}: fence plan"
    assert page.locator("h1").inner_text() == small_plan.site.name
    assert page.locator(".sign.hazard").count() == 3
    assert page.locator(".leaflet-control-scale-line").inner_text().endswith("m")
    assert page.locator(".north").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    names = page.locator(".label.run").all_inner_texts()
    assert any(name.startswith("A2") for name in names)


def test_nothing_from_a_file_runs_and_all_of_it_is_shown(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(_hostile(small_plan), DESK)
    assert page.locator("h1").inner_text() == f"{NASTY[0]} {NASTY[2]}"
    shown = ""
    for go in page.locator("[data-go]").all():
        go.evaluate("button => button.click()")
        shown += page.locator(".leaflet-popup-content").inner_text()
    for sign in page.locator(".sign").all():
        sign.evaluate("sign => sign.click()")
        shown += page.locator(".leaflet-popup-content").inner_text()
    page.fill("#find", NASTY[2])
    for found in page.locator(".found .go").all():
        found.evaluate("button => button.click()")
        shown += page.locator(".leaflet-popup-content").inner_text()
    for text in NASTY:
        assert text in shown, text
        assert text in page.locator("body").inner_text() or text in page.locator(".looks").text_content(), text
    page.mouse.move(700, 300)
    assert page.evaluate("typeof window.hit") == "undefined"
    assert page.locator("img").count() == 1  # the hillshade
    assert page.locator("script").count() == 5  # Leaflet, ours, the data, folium's switches and start


@SCREENS
def test_popups_read_well(opened: Callable[..., Page], small_plan: Plan, screen: Any) -> None:
    page = opened(small_plan, screen)
    frame = _box(page.locator(".folium-map"))
    for place in range(3):
        page.locator(".sign.hazard").nth(place).click()
        _settle(page)  # the map slides the popup into view
        popup = page.locator(".leaflet-popup-content-wrapper")
        box = _box(popup)
        assert box["width"] <= 282
        assert box["x"] >= frame["x"]
        assert box["x"] + box["width"] <= frame["x"] + frame["width"]
        assert box["y"] >= frame["y"]
        assert box["y"] + box["height"] <= frame["y"] + frame["height"]
        for control in (".leaflet-control-zoom", ".leaflet-control-layers", ".north", ".leaflet-control-scale"):
            assert _apart(box, _box(page.locator(control))), control
        sizes = page.evaluate(
            "[...document.querySelectorAll('.say *')].map(e => parseFloat(getComputedStyle(e).fontSize))"
        )
        assert min(sizes) >= 16
        close = _box(page.locator(".leaflet-popup-close-button"))
        assert min(close["width"], close["height"]) >= 44
        page.locator(".leaflet-popup-close-button").click()


@PHONES
def test_a_popup_has_the_map_to_itself(opened: Callable[..., Page], small_plan: Plan, screen: Any) -> None:
    page = opened(small_plan, screen)
    page.locator(".tabs button", has_text="Legend").click()
    _settle(page)
    assert _box(page.locator(".folium-map"))["height"] > 180
    page.locator(".leaflet-control-layers-toggle").evaluate("toggle => toggle.click()")
    assert page.locator(".leaflet-control-layers-list").is_visible()
    page.locator(".sign.hazard:visible").first.evaluate("sign => sign.click()")
    _settle(page)
    assert not page.locator(".looks").is_visible()
    assert not page.locator(".leaflet-control-layers-list").is_visible()
    box, frame = _box(page.locator(".leaflet-popup-content-wrapper")), _box(page.locator(".folium-map"))
    assert frame["y"] <= box["y"]
    assert box["y"] + box["height"] <= frame["y"] + frame["height"]
    for control in page.locator(".leaflet-control:visible").all():
        assert _apart(box, _box(control)), control.inner_text()


@SCREENS
def test_at_first_nothing_of_the_plan_is_under_a_button(
    opened: Callable[..., Page], small_plan: Plan, screen: Any
) -> None:
    frame = _box(opened(small_plan, screen).locator(".folium-map"))
    # a fence from the frame's upper left corner to its lower right, a power line at the start of each run
    across, down = frame["width"] - 88, frame["height"] - 112
    shape = [[(0, 0), (across, -down)], [(0, 0), (across, 0)], [(across, 0), (across, -down)]]
    runs = shapely.linestrings(shapely.get_coordinates(small_plan.runs.geometry.to_numpy())[0] + np.array(shape))
    starts = shapely.get_point(runs, 0)
    spots = shapely.linestrings(np.stack([shapely.get_coordinates(starts)] * 2, axis=1))
    plan = replace(
        small_plan,
        runs=small_plan.runs.set_geometry(runs),
        hazards=small_plan.hazards.set_geometry(spots),
        gates=small_plan.gates.iloc[:0],
    )
    page = opened(plan, screen)
    controls, signs = _boxes(page.locator(".leaflet-control:visible")), _boxes(page.locator(".sign:visible"))
    assert signs
    assert len(controls) == 5  # zoom, north, layers, scale, and whose map program it is
    for sign in signs:
        assert all(_apart(sign, control) for control in controls), sign
        assert frame["x"] <= sign["x"]
        assert sign["x"] + sign["width"] <= frame["x"] + frame["width"]
        assert frame["y"] <= sign["y"]
        assert sign["y"] + sign["height"] <= frame["y"] + frame["height"]


@SCREENS
def test_long_names_and_large_counts_leave_room_for_the_map(
    opened: Callable[..., Page], small_plan: Plan, screen: Any
) -> None:
    many = small_plan.posts.loc[small_plan.posts.index.repeat(200)].reset_index(drop=True)
    site = replace(small_plan.site, name="Where the old road leaves the new one " * 8)
    lengths = small_plan.runs.assign(length_m=412_345.6, ground_length_m=498_765.4)
    plain = opened(small_plan, screen).locator(".folium-map")
    page = opened(replace(small_plan, site=site, posts=many, runs=lengths), screen)
    head, panel = _box(page.locator(".head")), page.locator(".head")
    assert _box(page.locator(".folium-map"))["height"] >= _box(plain)["height"] - 40
    assert head["height"] <= 0.4 * screen["viewport"]["height"]
    for part in (".sums", ".desk"):
        inner = _box(panel.locator(part))
        assert inner["y"] + inner["height"] <= head["y"] + head["height"]
        assert panel.locator(part).evaluate("e => e.scrollHeight <= e.clientHeight + 1"), part
    assert "13,200 posts".replace(",", "\u202f") in panel.locator(".sums").inner_text()


def test_a_plate_for_several_hazards_shows_their_count(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, SMALL)
    for _ in range(3):
        page.locator(".leaflet-control-zoom-out").evaluate("button => button.click()")
        _settle(page)
    count = page.locator(".sign.hazard:visible .count:not(:empty)").first
    assert count.inner_text() in {"×2", "×3"}
    # what is asked for by its place on the screen is what lies on top there
    on_top = """e => { const b = e.getBoundingClientRect();
        return document.elementFromPoint(b.left + 4, b.top + b.height - 4) === e; }"""
    assert count.evaluate(on_top)


def test_what_popups_say_of_a_hazard(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.locator('[data-go="hazards:2"]').click()
    said = page.locator(".leaflet-popup-content").inner_text()
    assert "H3 · Overhead power" in said
    assert "Least distance\nnot known" in said
    assert "to be set by the line's owner" in said
    assert "Ask the line's owner for height and voltage." in said
    assert "clear" not in said.replace("clearance", "")


def test_fingers_find_what_they_need(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, PHONE)
    for name in (".tabs button", ".leaflet-control-zoom a", ".leaflet-control-layers-toggle", ".sign"):
        for thing in page.locator(name).all():
            box = _box(thing)
            assert min(box["width"], box["height"]) >= 44, (name, box)


def test_a_tap_near_a_post_reads_the_post(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, PHONE)
    page.locator(".tabs button", has_text="Runs").click()
    page.fill("#find", "A020")
    page.locator(".found .go").first.click()
    assert "Post A020" in page.locator(".leaflet-popup-content").inner_text()
    _settle(page)
    tip = _box(page.locator(".leaflet-popup-tip-container"))
    page.locator(".leaflet-popup-close-button").click()
    page.touchscreen.tap(tip["x"] + tip["width"] / 2 + 8, tip["y"] + tip["height"] + 8)
    page.wait_for_selector(".leaflet-popup-content")
    said = page.locator(".leaflet-popup-content").inner_text()
    assert "Post A020" in said
    tape = small_plan.posts.set_index("post_id")["tape_m"]["A020"]
    assert f"{tape:.2f}\u00a0m from the run's first post" in said
    assert "\u00a0% up" in said


@SCREENS
def test_nothing_lies_over_anything_at_any_zoom(opened: Callable[..., Page], small_plan: Plan, screen: Any) -> None:
    page = opened(small_plan, screen)
    closer, further = ".leaflet-control-zoom-in", ".leaflet-control-zoom-out"
    for step in ("", closer, closer, further, further, further):
        if step:
            page.locator(step).evaluate("button => button.click()")
            _settle(page)
        controls, signs = _boxes(page.locator(".leaflet-control:visible")), _boxes(page.locator(".sign:visible"))
        labels = page.locator(".label:not(.run)")
        upright = list(zip(labels.all_inner_texts(), _boxes(labels), strict=True))
        assert controls
        assert signs
        assert upright or step  # zoomed in far, the middle of the map may be empty
        for place, (text, box) in enumerate(upright):
            for other in [*(b for _, b in upright[place + 1 :]), *signs, *controls]:
                assert _apart(box, other), (step, text)
    panel, frame = _box(page.locator(".head")), _box(page.locator(".folium-map"))
    assert _apart(panel, frame)
    assert _apart(_box(page.locator(".tabs")), frame)


def test_on_a_phone_parts_open_below_the_map_and_close_again(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, PHONE)
    before = _box(page.locator(".folium-map"))
    for name in ("Hazards", "Not checked", "Runs", "Legend", "Cautions"):
        tab = page.locator(".tabs button", has_text=name)
        tab.click()
        looks, frame = page.locator(".looks"), _box(page.locator(".folium-map"))
        assert looks.locator("h2:visible").all_inner_texts()[0].startswith(name)
        assert looks.locator("h2:visible").count() == 1
        assert _apart(_box(looks), frame)
        assert _apart(_box(page.locator(".tabs")), _box(looks))
        assert frame["height"] > 150
    page.locator(".tabs button", has_text="Cautions").click()
    assert _box(page.locator(".folium-map")) == before


def test_what_was_not_checked_is_as_plain_to_see_as_hazards(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    hazards, unchecked = page.locator(".glance > div").all()
    for look in ("fontSize", "fontWeight", "color"):
        read = f"e => getComputedStyle(e.querySelector('h2')).{look}"
        assert hazards.evaluate(read) == unchecked.evaluate(read)
    assert _box(hazards)["y"] == _box(unchecked)["y"]
    assert _box(unchecked)["y"] + _box(unchecked)["height"] < 800
    assert "Buried services" in unchecked.inner_text()


def test_hazards_cannot_be_switched_off(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    toggle = _box(page.locator(".leaflet-control-layers-toggle"))
    page.mouse.move(toggle["x"] + 20, toggle["y"] + 20)
    names = [name.strip() for name in page.locator(".leaflet-control-layers-overlays label").all_inner_texts()]
    assert "Posts" in names
    assert not any("azard" in name for name in names)
    for box in page.locator(".leaflet-control-layers-overlays input").all():
        box.set_checked(not box.is_checked())
    assert page.locator(".sign.hazard:visible").count() == 3
    assert page.locator(".sign.gate").count() == 0
    assert page.locator(".label.run").count() == 0


def test_posts_are_on_one_canvas_and_none_is_an_element(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    assert page.locator(".folium-map canvas").count() == 1
    assert page.locator(".leaflet-marker-icon.sign").count() == 4
    ink = page.locator(".folium-map canvas").evaluate(
        "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data"
        ".filter((_, i) => i % 4 === 3).filter(Boolean).length"
    )
    assert ink > 66 * 20


def test_a_search_that_finds_nothing_says_so(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.fill("#find", "no such post")
    assert page.locator("#found-count").inner_text() == "Nothing here goes by that name."
    page.fill("#find", "")
    assert page.locator("#found li").count() == 0


def test_printed_the_map_comes_first_and_everything_is_unfolded(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.locator(".sign.hazard").first.click()
    page.emulate_media(media="print")
    page.wait_for_selector("details:not([open])", state="detached")
    _settle(page)
    parts = (".head", ".folium-map", "#look-hazards", "#look-unchecked", "#look-cautions")
    tops = [_box(page.locator(part))["y"] for part in parts]
    assert tops == sorted(tops)
    assert page.locator(".leaflet-popup:visible").count() == 0
    assert page.locator("details:not([open])").count() == 0
    assert page.locator(".leaflet-control-zoom:visible").count() == 0
    assert page.locator("#look-unchecked li:visible").count() > 9
    assert _box(page.locator(".folium-map"))["width"] == pytest.approx(186 / 25.4 * 96, abs=3)
    assert page.locator(".sign.hazard:visible").count() == 3
    page.emulate_media(media="screen")
    page.wait_for_selector(".looks details[open]", state="detached")
    _settle(page)
    assert page.locator(".looks details[open]").count() == 0
