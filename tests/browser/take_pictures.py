"""Take the README's pictures anew: `.venv/bin/python tests/browser/take_pictures.py`. Needs Chromium and pdftoppm."""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from fencegis import plan_site, read_site, write_plan
from fencegis.exports.draft.write import write_draft
from fencegis.inputs.tracing import read_tracing

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "outputs" / "pictures"
MOST_BYTES = 200_000
SHEET = 4  # of setout.pdf: the run under the trees


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        folder = Path(scratch) / "roadside"
        write_plan(plan_site(read_site(ROOT / "sample_sites" / "roadside")), folder)
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1180, "height": 660})
        page.goto((folder / "map.html").as_uri())
        page.wait_for_selector("body[data-settled=yes]", state="attached")
        save("map", page.screenshot())
        save("draft", draft_picture(browser, Path(scratch) / "draft.html"))
        page = browser.new_page(viewport={"width": 1120, "height": 460}, device_scale_factor=1.25)
        svg = (folder / "long_section.svg").read_text(encoding="utf-8")
        page.set_content(f'<body style="margin:0">{svg[svg.index("<svg") :]}')
        save("long_section", page.locator("svg").first.screenshot())
        browser.close()
        save("setout_sheet", sheet_picture(folder / "setout.pdf", sheet=SHEET))
        save("client", sheet_picture(folder / "client.pdf", sheet=1))


def draft_picture(browser: Browser, page_file: Path) -> bytes:
    """Draw the frontage as far as the trees and leave the pointer where the next corner would be."""
    site = ROOT / "sample_sites" / "roadside"
    write_draft(read_tracing(site / "imagery.tif", elevation=site / "elevation.tif"), page_file)
    page = browser.new_page(viewport={"width": 1180, "height": 700})
    page.goto(page_file.as_uri())
    page.locator('[data-tool="boundary:line"]').click()
    frame = page.locator("#map").bounding_box()
    corners = [(0.085, 0.658), (0.343, 0.625), (0.48, 0.594), (0.615, 0.545), (0.84, 0.435)]
    spots = [(frame["x"] + across * frame["width"], frame["y"] + down * frame["height"]) for across, down in corners]
    for spot in spots[:-1]:
        page.mouse.click(*spot)
    page.mouse.move(*spots[-1], steps=3)
    return page.screenshot()


def sheet_picture(path: Path, *, sheet: int) -> bytes:
    command = ["pdftoppm", "-r", "96", "-f", str(sheet), "-l", str(sheet), "-png", str(path)]
    return subprocess.run(command, check=True, capture_output=True).stdout


def save(name: str, png: bytes) -> None:
    """Save with as many colours as the bytes allow."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    for colours in (256, 192, 128, 96, 64):
        out = io.BytesIO()
        # an octree keeps the few bright colours of the signs, which a median cut gives up for shades of grass
        few = picture.quantize(colours, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        few.save(out, "PNG", optimize=True)
        if out.tell() <= MOST_BYTES:
            break
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / f"{name}.png").write_bytes(out.getvalue())


if __name__ == "__main__":
    main()
