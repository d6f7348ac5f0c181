"""How quick the map is with ten thousand posts, in headless Chromium without a graphics card. Prints Markdown.

    python tests/benchmarks/measure_map.py [FOLDER]

The loop of 24 km with a post each 2.4 m is made in FOLDER when it is not there (about 350 MB); without it in a folder
that is removed. Paint is the browser's own first contentful paint, and the time until the page says that all is drawn
and stands still. Frames are counted with requestAnimationFrame while a mouse really drags the map for two seconds.
"""

from __future__ import annotations

import itertools
import shutil
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import make_case
from playwright.sync_api import sync_playwright

from fencegis import plan_site, read_site
from fencegis.exports.map.page import map_page

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CASE = "loop-24km"
SCREEN = {"width": 1280, "height": 800}
QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
TIMES = 5
DRAG_S, STEP_S = 2.0, 0.008
COUNT = """() => { const at = [performance.now()]; window.frames_at = at; window.counting = true;
    const count = () => { at.push(performance.now()); if (window.counting) requestAnimationFrame(count); };
    requestAnimationFrame(count); }"""
STOP = "() => { window.counting = false; return window.frames_at; }"
CLOSER = "() => document.querySelector('.leaflet-control-zoom-in').click()"


def main() -> None:
    if sys.argv[1:]:
        sys.stdout.write(table(Path(sys.argv[1]).absolute()))
    else:
        with tempfile.TemporaryDirectory() as folder:
            sys.stdout.write(table(Path(folder)))


def table(folder: Path) -> str:
    plan = plan_site(read_site(make_case.case(folder, CASE)))
    bare = map_page(replace(plan, site=replace(plan.site, backdrop=None)))
    file = folder / "map.html"
    file.write_bytes(map_page(plan))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        paints = [opened(browser, file, closer=0)[1:] for _ in range(TIMES)]
        rows = [
            ("posts", f"{len(plan.posts):,}".replace(",", " "), "10 000"),
            ("page without picture", f"{len(bare) / 1e6:.2f} MB", "< 3 MB"),
            ("first paint", f"{statistics.median(paint for paint, _ in paints):.2f} s", "< 1.5 s"),
            ("all drawn, standing still", f"{statistics.median(drawn for _, drawn in paints):.2f} s", ""),
        ]
        for words, closer in (("all of the fence in view", 0), ("a few runs", 4), ("single posts", 6)):
            page = opened(browser, file, closer=closer)[0]
            rate, worst_ms = dragged(page)
            rows.append((f"dragging, {words}", f"{rate:.0f} frames/s, longest {worst_ms:.0f} ms", "> 30 frames/s"))
            page.close()
        browser.close()
    lines = ["| what | measured | wanted |", "| --- | --- | --- |", *(f"| {' | '.join(row)} |" for row in rows)]
    return "\n".join(lines) + "\n"


def opened(browser: Browser, file: Path, *, closer: int) -> tuple[Page, float, float]:
    """Return the page, its first contentful paint and when it stood still, in seconds from the start of loading."""
    page = browser.new_page(viewport=SCREEN)
    begun = time.perf_counter()
    page.goto(file.as_uri(), wait_until="commit")
    still(page)
    drawn_s = time.perf_counter() - begun
    paint_ms = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    for _ in range(closer):
        page.evaluate(CLOSER)
        still(page)
    return page, paint_ms / 1000.0, drawn_s


def still(page: Page) -> None:
    page.wait_for_selector("body[data-ready=yes][data-settled=yes]", state="attached")


def dragged(page: Page) -> tuple[float, float]:
    """Return frames a second and the longest of them in milliseconds while the map is dragged to and fro."""
    box = page.locator(".folium-map").bounding_box()
    assert box is not None
    across, down = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(across, down)
    page.mouse.down()
    page.evaluate(COUNT)
    begun, step = time.perf_counter(), 0
    while time.perf_counter() - begun < DRAG_S:
        swing = (step % 60) - 30 if (step // 60) % 2 == 0 else 30 - (step % 60)
        page.mouse.move(across + 8 * swing, down + 4 * swing)
        step += 1
        time.sleep(STEP_S)
    page.mouse.up()
    still(page)  # what the end of a drag draws anew is counted too
    frames = page.evaluate(STOP)
    gaps = [after - before for before, after in itertools.pairwise(frames)]
    return 1000.0 * len(gaps) / (frames[-1] - frames[0]), max(gaps)


if __name__ == "__main__":
    main()
