"""The sheet printed to scale: measured in the PDF that Chromium makes of it, against metres on the ellipsoid."""

from __future__ import annotations

import io
import subprocess
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pyproj
import pytest
import shapely
from PIL import Image

from fencegis.exports.plan_hash import plan_sha256

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page

    from fencegis.records.plan import Plan

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
PIXELS_PER_MM = 96 / 25.4
DOTS = 200  # an inch, of the PDF's picture
INK = (255, 0, 255)


def _settle(page: Page) -> None:
    page.wait_for_selector("body[data-settled=yes]", state="attached")


def _on_paper(page: Page, *, scale: int, way: str) -> None:
    page.locator("[data-tool=paper]").click()
    page.select_option("#paper-way", way)
    page.select_option("#paper-scale", str(scale))
    _settle(page)


def _run_ends(plan: Plan) -> list[list[float]]:
    to_degrees = pyproj.Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    ends = shapely.get_coordinates(plan.runs.geometry.iloc[0])[[0, -1]]
    longitude, latitude = to_degrees.transform(ends[:, 0], ends[:, 1])
    return np.column_stack([latitude, longitude]).tolist()


def _pdf(page: Page, folder: Path, pdftoppm: str) -> list[Image.Image]:
    file = folder / "sheet.pdf"
    page.pdf(path=str(file), prefer_css_page_size=True, print_background=True)
    subprocess.run([pdftoppm, "-r", str(DOTS), "-png", str(file), str(folder / "sheet")], check=True)
    return [Image.open(io.BytesIO(found.read_bytes())) for found in sorted(folder.glob("sheet-*.png"))]


@pytest.mark.parametrize(("scale", "way"), [(1000, "landscape"), (2500, "portrait"), (5000, "landscape")])
def test_a_run_is_as_long_on_paper_as_its_scale_says(
    opened: Callable[..., Page],
    require_program: Callable[[str], str],
    small_plan: Plan,
    tmp_path: Path,
    scale: int,
    way: str,
) -> None:
    pdftoppm = require_program("pdftoppm")
    page = opened(small_plan, DESK)
    _on_paper(page, scale=scale, way=way)
    ends = _run_ends(small_plan)
    page.evaluate(  # two dots of a colour that the sheet has nowhere else, where the run begins and ends
        """(ends) => { const map = window[Object.keys(window).find((name) => /^map_/.test(name))];
            const look = { pane: "tooltipPane", renderer: L.svg({ pane: "tooltipPane" }), radius: 2, stroke: false };
            for (const end of ends)
              L.circleMarker(end, { ...look, fillColor: "#ff00ff", fillOpacity: 1 }).addTo(map); }""",
        ends,
    )
    sheets = _pdf(page, tmp_path, pdftoppm)
    long_mm, short_mm = (297.0, 210.0) if way == "landscape" else (210.0, 297.0)
    assert sheets[0].width == pytest.approx(long_mm / 25.4 * DOTS, abs=3)
    assert sheets[0].height == pytest.approx(short_mm / 25.4 * DOTS, abs=3)
    drawn = np.argwhere((np.abs(np.asarray(sheets[0].convert("RGB")).astype(int) - INK) < 60).all(axis=2))
    assert len(drawn) > 8
    across = drawn[:, 1] > (drawn[:, 1].min() + drawn[:, 1].max()) / 2
    begin, end = drawn[~across].mean(axis=0), drawn[across].mean(axis=0)
    measured_mm = np.hypot(*(end - begin)) / DOTS * 25.4
    metres = pyproj.Geod(ellps="WGS84").inv(ends[0][1], ends[0][0], ends[1][1], ends[1][0])[2]
    assert measured_mm * scale / 1000.0 == pytest.approx(metres, rel=0.01)


@pytest.mark.parametrize("latitude", [-34.5, 0.0, 60.0])
def test_the_zoom_is_right_in_both_directions_at_any_latitude(
    opened: Callable[..., Page], small_plan: Plan, latitude: float
) -> None:
    page = opened(small_plan, DESK)
    for scale in (500, 10_000):
        zoom = page.evaluate("([scale, lat]) => zoomFor(scale, lat)", [scale, latitude])
        pixels = page.evaluate(
            """([lat, zoom]) => { const at = (place) => L.CRS.EPSG3857.latLngToPoint(L.latLng(place), zoom);
                const north = at([lat - 0.0005, 149]).distanceTo(at([lat + 0.0005, 149]));
                return [at([lat, 149]).distanceTo(at([lat, 149.001])), north]; }""",
            [latitude, zoom],
        )
        geod = pyproj.Geod(ellps="WGS84")
        east = geod.inv(149.0, latitude, 149.001, latitude)[2]
        north = geod.inv(149.0, latitude - 0.0005, 149.0, latitude + 0.0005)[2]
        for pixel, metres in zip(pixels, (east, north), strict=True):
            assert pixel / PIXELS_PER_MM * scale / 1000.0 == pytest.approx(metres, rel=0.0036)
        assert page.evaluate("stretchOff", latitude) < 0.36


def test_the_sheet_says_what_it_is(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    _on_paper(page, scale=1000, way="landscape")
    said = page.inner_text(".sheet")
    assert "1:1\u202f000 on A4 printed at its full size" in said
    assert plan_sha256(small_plan)[:12] in said
    assert small_plan.site.name in said
    assert "North is up." in said
    assert "A desk study." in said
    assert "Only a licensed surveyor marks one." in said
    assert "aerial picture" in said
    assert "Cautions" in page.inner_text("body")
    legend = page.locator("#sheet-legend use").evaluate_all("all => all.map(e => e.getAttribute('href'))")
    assert "#key-run-boundary" in legend
    assert "#key-given-drawn" not in legend  # switched off, so not on the sheet
    bar = page.locator("#sheet-bar").bounding_box()
    assert bar is not None
    told = page.locator("#sheet-bar span").last.inner_text()
    assert bar["width"] / PIXELS_PER_MM == pytest.approx(
        float(told.split("\u00a0")[0]), abs=0.5
    )  # 1:1000: mm are metres


def test_the_smallest_sheet_that_holds_the_fence_is_offered_and_what_is_off_it_is_told(
    opened: Callable[..., Page], small_plan: Plan
) -> None:
    page = opened(small_plan, DESK)
    page.locator("[data-tool=paper]").click()
    _settle(page)
    assert "All of the fence is on the sheet." in page.inner_text("#paper-says")
    offered = int(page.input_value("#paper-scale"))
    smaller = [int(value) for value in page.locator("#paper-scale option").evaluate_all("all => all.map(e => e.value)")]
    for scale in [one for one in smaller if one < offered]:
        page.select_option("#paper-scale", str(scale))
        for way in ("landscape", "portrait"):
            page.select_option("#paper-way", way)
            _settle(page)
            fits = page.evaluate("document.getElementById('paper-says').textContent")
            assert "Not all of the fence" in fits or scale == smaller[smaller.index(offered) - 1]


@pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
def test_back_from_the_sheet_the_map_is_as_it_was(
    opened: Callable[..., Page], small_plan: Plan, screen: dict[str, object]
) -> None:
    page = opened(small_plan, screen)
    where = """() => { const map = window[Object.keys(window).find((name) => /^map_/.test(name))];
        const at = map.getCenter(); return [at.lat, at.lng, map.getZoom(), map.getMaxZoom(), map.options.zoomSnap]; }"""
    before, box = page.evaluate(where), page.locator(".folium-map").bounding_box()
    _on_paper(page, scale=2500, way="portrait")
    assert page.evaluate(where) != before
    assert not page.locator(".panel .head").is_visible()
    page.locator("#paper-back").click()
    _settle(page)
    assert page.locator(".folium-map").bounding_box() == box
    assert page.evaluate(where) == pytest.approx(before, abs=1e-6)
    assert not page.locator(".sheet").is_visible()


def test_many_cautions_go_onto_a_sheet_of_their_own_and_none_is_cut_off(
    opened: Callable[..., Page], require_program: Callable[[str], str], register_plan: Plan, tmp_path: Path
) -> None:
    pdftoppm = require_program("pdftoppm")
    named = replace(register_plan, site=replace(register_plan.site, name="Where the old road leaves the new one " * 4))
    page = opened(named, DESK)
    for way in ("landscape", "portrait"):
        page.locator("[data-tool=paper]").click()
        page.select_option("#paper-way", way)
        _settle(page)
        inside = page.locator(".sheet").evaluate(
            "e => e.scrollHeight <= e.clientHeight + 1 && e.scrollWidth <= e.clientWidth + 1"
        )
        assert inside, way
        spilt = page.evaluate("document.body.classList.contains('spill')")
        for old in tmp_path.glob("sheet*"):
            old.unlink()
        assert len(_pdf(page, tmp_path, pdftoppm)) == 1 + spilt
        page.locator("#paper-back").click()
        _settle(page)


def test_the_whole_plan_prints_with_its_lines_and_not_only_its_posts(
    opened: Callable[..., Page], require_program: Callable[[str], str], small_plan: Plan, tmp_path: Path
) -> None:
    pdftoppm = require_program("pdftoppm")
    page = opened(small_plan, DESK)  # printed at once, as by a reader's own menu
    first = np.asarray(_pdf(page, tmp_path, pdftoppm)[0].convert("RGB")).astype(int)
    brick = (np.abs(first - (0x9C, 0x2F, 0x1F)) < 40).all(axis=2)
    ink = (first.max(axis=2) < 70)[int(0.2 * first.shape[0]) : int(0.5 * first.shape[0])]
    paper = (first.min(axis=2) > 250)[int(0.2 * first.shape[0]) : int(0.45 * first.shape[0])]
    assert brick.sum() > 200  # the bands of hazards
    assert ink.sum() > 500  # runs
    assert paper.mean() < 0.6  # the hillshade and the map's own paper, not white all over
