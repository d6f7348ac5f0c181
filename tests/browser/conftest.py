"""A real browser with no network, for the pages that the program writes."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import pytest

from fencegis.exports.map.page import map_page

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

    from fencegis.records.plan import Plan

QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip


@pytest.fixture(scope="session")
def browser(require_program: Callable[[str], str]) -> Iterator[Browser]:
    """Chromium as the system has it; without it, or without what its driver needs, the tests are skipped."""
    from playwright.sync_api import Error, sync_playwright

    chromium = require_program("chromium")
    try:
        driver = sync_playwright().start()
    except (Error, OSError) as error:
        missing = f"the browser's driver does not start ({error}): apt-get install libatomic1"
        required = "chromium" in os.environ.get("FENCEGIS_REQUIRE", "").split(",")
        (pytest.fail if required else pytest.skip)(missing)
    shown = driver.chromium.launch(executable_path=chromium, args=QUIET)
    yield shown
    shown.close()
    driver.stop()


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a plan's map from a file; at the end any console line or request is a failure."""
    said: list[str] = []
    contexts = []

    def open_map(plan: Plan, screen: dict[str, Any]) -> Page:
        file = tmp_path / "map.html"
        file.write_bytes(map_page(plan))
        context = browser.new_context(**screen)
        contexts.append(context)

        def gate(route: Any) -> None:
            if route.request.url == file.as_uri() or route.request.url.startswith("data:"):
                route.continue_()
            else:
                said.append(f"asked for {route.request.url}")
                route.abort()

        context.route("**/*", gate)
        page = context.new_page()
        page.on("console", lambda line: said.append(f"{line.type}: {line.text}"))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(file.as_uri())
        page.wait_for_selector("body[data-ready=yes][data-settled=yes]", state="attached")
        return page

    yield open_map
    for context in contexts:
        context.close()
    assert said == []


@pytest.fixture
def audit() -> Callable[[Page], list[str]]:
    """Return a function that has axe-core look through a page as it is shown; serious and critical faults come back.

    Each is a line with the rule, how grave it is, and the first place where it is broken.
    """
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")

    def faults(page: Page) -> list[str]:
        found = axe.Axe().run(page).response["violations"]
        grave = [fault for fault in found if fault["impact"] in {"serious", "critical"}]
        return [f"{fault['id']} ({fault['impact']}): {fault['nodes'][0]['html'][:200]}" for fault in grave]

    return faults
