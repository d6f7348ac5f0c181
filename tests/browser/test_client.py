"""The client's pages in a real browser with no network: they read well on screens and paper and run nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from fencegis.exports.client.content import content_of
from fencegis.exports.client.page import client_page
from fencegis.exports.compare.page import compare_page

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

    from fencegis.records.plan import Plan

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
SCREENS = pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
NASTY = "</script></style><script>window.hit=1</script>${window.hit=2}<img src=x onerror='window.hit=3'>\"onload=\"x"
SMALLEST = """
[...document.querySelectorAll('body *')].filter(e => e.checkVisibility() && e.childNodes.length
    && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) && !e.closest('svg'))
    .map(e => parseFloat(getComputedStyle(e).fontSize))
"""
LETTERS = """
[...document.querySelectorAll('svg.map text')].filter(e => e.checkVisibility())
    .map(e => e.getBoundingClientRect().height)
"""


@pytest.fixture
def shown(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a page; any console line or request at the end is a failure."""
    said: list[str] = []
    contexts = []

    def show(page_bytes: bytes, screen: dict[str, Any]) -> Page:
        file = tmp_path / "page.html"
        file.write_bytes(page_bytes)
        context = browser.new_context(**screen)
        contexts.append(context)
        context.set_offline(True)
        page = context.new_page()
        page.on("console", lambda line: said.append(f"{line.type}: {line.text}"))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda ask: said.append(ask.url) if not ask.url.startswith(("file:", "data:")) else None)
        page.goto(file.as_uri())
        return page

    yield show
    for context in contexts:
        context.close()
    assert said == []


def _hostile(plan: Plan) -> Plan:
    trees = plan.trees.assign(tree_id=NASTY, why=NASTY)
    return replace(
        plan,
        site=replace(plan.site, name=NASTY),
        runs=plan.runs.assign(label=NASTY),
        gates=plan.gates.assign(name=NASTY),
        trees=trees,
        checks=plan.checks.assign(basis=f"none found in {NASTY} (2 features) — walked {NASTY}"),
    )


@SCREENS
def test_it_fits_the_screen_and_is_large_enough_to_read(shown, register_plan: Plan, screen: Any) -> None:
    page = shown(client_page(register_plan), screen)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.title() == f"{register_plan.site.name}: fence plan"
    assert page.locator("html").get_attribute("lang") == "en"
    assert min(page.evaluate(SMALLEST)) >= 14
    assert min(page.evaluate(LETTERS)) >= 9
    assert page.locator("svg.map:visible").count() == 3  # one large map, before, after
    assert all(page.locator("svg.map").evaluate_all("all => all.map(e => Boolean(e.getAttribute('aria-label')))"))


@SCREENS
def test_all_is_there_and_nothing_runs(shown, register_plan: Plan, screen: Any) -> None:
    plan = _hostile(register_plan)
    page = shown(client_page(plan), screen)
    text = page.locator("body").inner_text()
    assert page.locator("h1").inner_text() == content_of(plan).site
    assert text.count("window.hit=1") >= 5
    assert page.locator("script, img, iframe").count() == 0
    assert page.evaluate("typeof window.hit") == "undefined"
    for hazard in content_of(plan).flagged:
        assert hazard.means in text


def test_printed_it_takes_a_few_sheets_with_the_acceptance_whole(shown, register_plan: Plan, tmp_path: Path) -> None:
    page = shown(client_page(register_plan), DESK)
    page.emulate_media(media="print")
    assert page.locator("svg.wide").is_visible()
    assert not page.locator("svg.narrow").is_visible()
    pdf = page.pdf(prefer_css_page_size=True)
    assert 2 <= pdf.count(b"/Type /Page\n") <= 4
    page.emulate_media(media="print", color_scheme="light")
    shade = page.locator(".small").first.evaluate("e => getComputedStyle(e).color")
    assert shade == "rgb(0, 0, 0)"  # no grey words on paper


@SCREENS
def test_options_side_by_side(shown, register_plan: Plan, screen: Any) -> None:
    page = shown(compare_page([register_plan, _hostile(register_plan)]), screen)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    sizes = page.locator("svg.map").evaluate_all("all => all.map(e => e.getBoundingClientRect().width)")
    assert len(sizes) == 2
    assert abs(sizes[0] - sizes[1]) < 1.0
    assert page.evaluate("typeof window.hit") == "undefined"
    assert min(page.evaluate(SMALLEST)) >= 14


@SCREENS
def test_the_audit_finds_nothing_serious(
    shown: Callable[..., Page], audit: Callable[[Page], list[str]], register_plan: Plan, screen: dict[str, Any]
) -> None:
    assert audit(shown(client_page(register_plan), screen)) == []
