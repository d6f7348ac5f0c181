"""The tracing page in a real browser with no network: drawn by mouse, finger and keys, saved, planned from."""

from __future__ import annotations

import io
import json
import math
import shutil
import sys
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from click.testing import CliRunner
from PIL import Image
from pyproj import Geod, Transformer

from fencegis.cli import main
from fencegis.exports.draft.page import draft_page
from fencegis.inputs.tracing import read_tracing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

    Places = list[tuple[float, float]]

SAMPLES = Path(__file__).parents[2] / "sample_sites"
ROADSIDE = SAMPLES / "roadside"
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
SCREENS = pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
NASTY = (
    "</script><script>window.hit=1</script>",
    "${window.hit=2}`${window.hit=2}`",
    "<img src=x onerror='window.hit=3'>",
    '"onmouseover="window.hit=4" x=\'',
    "\u202eright to left\u202c",
)
EARTH_RADIUS_M = 6_378_137.0


@pytest.fixture(scope="module")
def sample() -> bytes:
    return draft_page(read_tracing(ROADSIDE / "imagery.tif", elevation=ROADSIDE / "elevation.tif"))


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a page from a file; at the end any console line or request is a failure."""
    said: list[str] = []
    contexts = []

    def open_page(content: bytes, screen: dict[str, Any]) -> Page:
        file = tmp_path / "page.html"
        file.write_bytes(content)
        context = browser.new_context(**screen, accept_downloads=True)
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
        page.wait_for_selector("body[data-ready=yes]", state="attached")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert said == []


# ---- hands --------------------------------------------------------------------------------------------------------


class Ground:
    """Where a longitude and latitude lies on the screen, from where the browser shows the picture itself."""

    def __init__(self, page: Page) -> None:
        self.page = page
        south, west, north, east = json.loads(page.locator("#draft-data").inner_text())["ground"]["bounds"]
        self.edges = west, _mercator(north), east, _mercator(south)

    def spot(self, place: tuple[float, float]) -> tuple[float, float]:
        box = self.page.locator(".leaflet-tile-pane img").first.bounding_box()
        assert box is not None
        west, north, east, south = self.edges
        across, down = (place[0] - west) / (east - west), (_mercator(place[1]) - north) / (south - north)
        return box["x"] + across * box["width"], box["y"] + down * box["height"]


def _mercator(lat_deg: float) -> float:
    return math.asinh(math.tan(math.radians(lat_deg)))


def _choose_tool(page: Page, tool: str) -> None:
    if not page.locator(f'[data-tool="{tool}"]').is_visible():
        page.locator(".tabs button", has_text="Draw").click()
    page.locator(f'[data-tool="{tool}"]').click()


def _look_at(page: Page, part: str) -> None:
    tab = page.locator(".tabs button", has_text=part)
    if tab.get_attribute("aria-expanded") != "true":
        tab.click()


def _click(page: Page, places: Places) -> None:
    ground = Ground(page)
    for place in places:
        page.mouse.click(*ground.spot(place))


def _save(page: Page, layer: str, folder: Path) -> dict[str, Any]:
    _look_at(page, "Files")
    with page.expect_download() as waiting:
        page.locator(f'[data-save="{layer}"]').click()
    assert waiting.value.suggested_filename == f"{layer}.geojson"
    waiting.value.save_as(folder / f"{layer}.geojson")
    saved: dict[str, Any] = json.loads((folder / f"{layer}.geojson").read_text(encoding="utf-8"))
    return saved


def _counts(page: Page) -> str:
    return page.locator("#drawn").inner_text()


def _truth() -> tuple[Places, Places]:
    """Return the corners of the sample's frontage and its gates, in longitude and latitude."""
    sys.path.insert(0, str(SAMPLES))
    from make_samples import truth

    meant = truth()["roadside"]
    to_degrees = Transformer.from_crs(f"EPSG:{meant.epsg}", "EPSG:4326", always_xy=True)
    return tuple(  # type: ignore[return-value]
        list(zip(*to_degrees.transform(*np.asarray(places).T), strict=True))
        for places in (meant.lines["frontage"], meant.points["gates"])
    )


def _between(corners: Places, every: int) -> Places:
    """Return the corners with places evenly between them, as a hand clicks along a line."""
    steps = [np.linspace(one, other, every + 1)[:-1] for one, other in pairwise(corners)]
    return [(float(x), float(y)) for x, y in np.vstack([*steps, [corners[-1]]])]


def _off_truth_m(folder: Path) -> tuple[float, float]:
    """Return how far the planned runs lie from the truth at most, and how far the truth's corners from them."""
    sys.path.insert(0, str(SAMPLES))
    from make_samples import truth

    meant = truth()["roadside"]
    line = shapely.LineString(meant.lines["frontage"])
    runs = gpd.read_file(folder / "plan.gpkg", layer="runs").to_crs(meant.epsg).geometry
    ends = shapely.get_coordinates(runs.to_numpy())
    far = shapely.distance(shapely.points(ends), line).max()
    back = shapely.distance(shapely.points(meant.lines["frontage"]), shapely.union_all(runs.to_numpy())).max()
    return float(far), float(back)


def _planned(folder: Path) -> Path:
    for name in ("elevation.tif", "site.toml"):
        shutil.copy(ROADSIDE / name, folder)
    done = CliRunner().invoke(main, ["plan", str(folder), "--out", str(folder.parent / "plan")])
    assert done.exit_code == 0, done.output
    return folder.parent / "plan"


# ---- the whole way: traced, saved, planned ------------------------------------------------------------------------


def test_traced_with_the_mouse_saved_and_planned(opened: Callable[..., Page], sample: bytes, tmp_path: Path) -> None:
    page = opened(sample, DESK)
    corners, gates = _truth()
    _choose_tool(page, "boundary:line")
    _click(page, _between(corners, 2))
    page.locator("#end").click()
    assert "5 legs" not in page.locator(".measure").inner_text()
    _choose_tool(page, "gates:mark")
    for place, opening in zip(gates, ("6.1", "3.7"), strict=True):
        _click(page, [place])
        _look_at(page, "Chosen")
        page.fill("#field-opening_m", opening)
        page.keyboard.press("Tab")
    page.locator("#leave").click()
    folder = tmp_path / "site"
    folder.mkdir()
    saved = _save(page, "boundary", folder)
    assert saved["features"][0]["geometry"]["type"] == "LineString"
    assert len(saved["features"][0]["geometry"]["coordinates"]) == 11
    assert [one["properties"] for one in _save(page, "gates", folder)["features"]] == [
        {"opening_m": 6.1}, {"opening_m": 3.7},
    ]  # fmt: skip
    assert "Everything drawn was handed over to be saved" in page.locator("#keeps").inner_text()
    plan = _planned(folder)
    assert max(_off_truth_m(plan)) < 1.0
    openings = gpd.read_file(plan / "plan.gpkg", layer="gates")["opening_m"]
    assert sorted(openings) == [3.7, 6.1]


def test_traced_with_a_finger_saved_and_planned(opened: Callable[..., Page], sample: bytes, tmp_path: Path) -> None:
    page = opened(sample, PHONE)
    for _ in range(3):
        page.locator(".leaflet-control-zoom-in").tap()
    _choose_tool(page, "boundary:line")
    ground, finger = Ground(page), Finger(page)
    for place in _between(_truth()[0], 2):
        finger.bring_in(ground, place)
        page.touchscreen.tap(*ground.spot(place))
    page.locator("#end").tap()
    folder = tmp_path / "site"
    folder.mkdir()
    assert len(_save(page, "boundary", folder)["features"][0]["geometry"]["coordinates"]) == 11
    assert max(_off_truth_m(_planned(folder))) < 1.0


class Finger:
    """One finger that drags, as the browser itself sees it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.tell = page.context.new_cdp_session(page)

    def drag(self, start: tuple[float, float], end: tuple[float, float], steps: int = 6) -> None:
        self._touch("touchStart", start)
        for step in range(1, steps + 1):
            share = step / steps
            self._touch("touchMove", (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])))
        self.tell.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    def bring_in(self, ground: Ground, place: tuple[float, float]) -> None:
        """Drag the map until the place is well within it."""
        box = self.page.locator("#map").bounding_box()
        assert box is not None
        middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        for _ in range(20):
            x, y = ground.spot(place)
            if abs(x - middle[0]) < 90 and abs(y - middle[1]) < 150:
                return
            across, down = (max(-120.0, min(120.0, step)) for step in (middle[0] - x, middle[1] - y))
            start = box["x"] + 60 if across > 0 else box["x"] + box["width"] - 60, middle[1] + 110
            self.drag(start, (start[0] + across, start[1] + down))
        raise AssertionError("the map does not follow the finger")

    def _touch(self, kind: str, at: tuple[float, float]) -> None:
        self.tell.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": at[0], "y": at[1]}]})


# ---- lines --------------------------------------------------------------------------------------------------------


def _spots(page: Page, *shares: tuple[float, float]) -> list[tuple[float, float]]:
    """Return places on the screen by their share of the map."""
    box = page.locator("#map").bounding_box()
    assert box is not None
    return [(box["x"] + across * box["width"], box["y"] + down * box["height"]) for across, down in shares]


def _draw(page: Page, tool: str, *shares: tuple[float, float], end: bool = True) -> None:
    _choose_tool(page, tool)
    for spot in _spots(page, *shares):
        page.mouse.click(*spot)
    if end:
        page.locator("#end").click()


def _hover(page: Page, spot: tuple[float, float], *, until: str) -> None:
    """Move the pointer there until the readout says so: without a screen, a last move may wait for a next frame."""
    for step in range(50):
        page.mouse.move(spot[0] + step % 2, spot[1])
        page.evaluate("() => new Promise(requestAnimationFrame)")
        if until in page.locator("#readout").inner_text():
            return
    raise AssertionError(page.locator("#readout").inner_text())


def _stored(page: Page) -> list[dict[str, Any]]:
    kept = page.evaluate(
        "JSON.parse(localStorage.getItem(JSON.parse(document.getElementById('draft-data').textContent).key))"
    )
    features: list[dict[str, Any]] = kept["state"]["features"]
    return features


def test_undo_and_redo_go_all_the_way(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.3), (0.4, 0.3), (0.6, 0.35))
    whole = _stored(page)
    handle = page.locator(".handle:not(.between)").nth(1)
    handle.focus()
    page.keyboard.press("Delete")
    assert len(_stored(page)[0]["parts"][0]) == 2
    page.locator("#undo").click()
    assert _stored(page) == whole
    for _ in range(3):
        page.keyboard.press("Control+z")
    assert _stored(page) == []
    assert page.locator("#undo").is_disabled()
    for _ in range(4):
        page.locator("#redo").click()
    assert len(_stored(page)[0]["parts"][0]) == 2
    assert page.locator("#redo").is_disabled()
    page.keyboard.press("Control+z")
    _draw(page, "pegs:mark", (0.5, 0.8), end=False)
    assert page.locator("#redo").is_disabled()  # a new change ends what could be done again


def test_corners_are_dragged_put_in_and_taken_out(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.3), (0.4, 0.3), (0.6, 0.35))
    before = _stored(page)[0]["parts"][0]
    _drag(page, page.locator(".handle:not(.between)").nth(1), (0, 60))
    after = _stored(page)[0]["parts"][0]
    assert after[0] == before[0]
    assert after[2] == before[2]
    assert after[1][1] < before[1][1]
    assert after[1][0] == pytest.approx(before[1][0], abs=1e-7)
    _drag(page, page.locator(".handle.between").first, (0, -50))
    assert len(_stored(page)[0]["parts"][0]) == 4
    assert "Corner put in." in page.locator("#heard").inner_text()
    page.locator(".handle:not(.between)").nth(2).click()
    page.locator("#take").click()
    assert len(_stored(page)[0]["parts"][0]) == 3
    assert page.locator(".handle.held").count() == 1


def _drag(page: Page, handle: Any, by: tuple[float, float]) -> None:
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for share in (0.2, 0.6, 1.0):
        page.mouse.move(x + share * by[0], y + share * by[1])
    page.mouse.up()


def test_corners_are_dragged_put_in_and_taken_out_by_finger(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, PHONE)
    _choose_tool(page, "boundary:line")
    for spot in _spots(page, (0.2, 0.45), (0.5, 0.45), (0.8, 0.5)):
        page.touchscreen.tap(*spot)
    page.locator("#end").tap()
    before = _stored(page)[0]["parts"][0]
    finger = Finger(page)
    for handle, by in (
        (page.locator(".handle:not(.between)").nth(1), 40),
        (page.locator(".handle.between").first, -40),
    ):
        box = handle.bounding_box()
        assert box is not None
        at = box["x"] + 12, box["y"] + 12
        finger.drag(at, (at[0], at[1] + by))
    after = _stored(page)[0]["parts"][0]
    assert len(after) == 4
    assert after[2][1] < before[1][1]
    page.locator(".handle:not(.between)").nth(2).tap()
    page.locator("#take").tap()
    assert len(_stored(page)[0]["parts"][0]) == 3


def test_an_end_takes_hold_of_an_end_and_a_line(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.3), (0.6, 0.3))
    first = _stored(page)[0]["parts"][0]
    onto_end, free = _spots(page, (0.6, 0.3), (0.7, 0.6))
    _choose_tool(page, "boundary:line")
    page.mouse.click(onto_end[0] + 6, onto_end[1] + 6)
    page.mouse.click(*free)
    page.locator("#end").click()
    assert _stored(page)[1]["parts"][0][0] == first[1]
    _choose_tool(page, "boundary:line")
    on_line, down = _spots(page, (0.4, 0.3), (0.4, 0.7))
    page.mouse.click(*down)
    _hover(page, (on_line[0], on_line[1] + 7), until="onto the line of Fence line 1")
    page.mouse.click(on_line[0], on_line[1] + 7)
    page.locator("#end").click()
    joined = _stored(page)[2]["parts"][0][1]
    share = (joined[0] - first[0][0]) / (first[1][0] - first[0][0])
    assert 0.45 < share < 0.55
    assert joined[1] == pytest.approx(first[0][1] + share * (first[1][1] - first[0][1]), abs=2e-8)
    # lines that meet stay met
    page.locator('[data-feature="1"]').click()
    _drag(page, page.locator(".handle:not(.between)").nth(1), (40, -30))
    now = _stored(page)
    assert now[0]["parts"][0][1] == now[1]["parts"][0][0] != first[1]
    _look_at(page, "Draw")
    page.locator("#grip").uncheck()
    _choose_tool(page, "boundary:line")
    page.mouse.click(down[0] + 5, down[1] + 5)
    assert _stored(page)[3]["parts"][0][0] != _stored(page)[2]["parts"][0][0]


def test_a_loop_closes_at_its_first_corner_and_tells_its_area(
    opened: Callable[..., Page], sample: bytes, tmp_path: Path
) -> None:
    page = opened(sample, DESK)
    corners = ((0.2, 0.2), (0.2, 0.7), (0.6, 0.75), (0.65, 0.25))
    _choose_tool(page, "boundary:loop")
    spots = _spots(page, *corners)
    for spot in spots:
        page.mouse.click(*spot)
    _hover(page, (spots[0][0] + 3, spots[0][1] + 20), until="\u00a0ha")
    page.mouse.click(spots[0][0] + 6, spots[0][1] + 4)
    assert page.locator('[data-tool="boundary:loop"]').get_attribute("aria-pressed") == "false"
    (feature,) = _save(page, "boundary", tmp_path)["features"]
    (ring,) = feature["geometry"]["coordinates"]
    assert feature["geometry"]["type"] == "Polygon"
    assert ring[0] == ring[-1]
    assert len(ring) == 5
    area_m2, around_m = Geod(ellps="WGS84").polygon_area_perimeter(*zip(*ring, strict=True))
    assert area_m2 > 0  # anticlockwise, as RFC 7946 has it
    _look_at(page, "Chosen")
    said = page.locator(".measure").inner_text().replace("\u202f", "").replace("\u00a0", " ")
    assert f"{around_m:.1f} m round, {area_m2 / 1e4:.2f} ha within" in said
    for line in ring:
        assert all(round(degrees, 8) == degrees for degrees in line)


def test_a_line_brought_back_to_its_start_is_a_loop(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.2), (0.2, 0.7), (0.6, 0.75), (0.2, 0.2), end=False)
    assert [one["type"] for one in _stored(page)] == ["Polygon"]
    _draw(page, "boundary:line", (0.7, 0.2), (0.7, 0.7), (0.9, 0.7), (0.9, 0.25))
    last, first = (page.locator(".handle.end").nth(place).bounding_box() for place in (1, 0))
    assert last is not None
    assert first is not None
    _drag(page, page.locator(".handle.end").nth(1), (first["x"] - last["x"] + 4, first["y"] - last["y"] + 4))
    assert [one["type"] for one in _stored(page)] == ["Polygon", "Polygon"]
    assert len(_stored(page)[1]["parts"][0]) == 3


def test_a_line_goes_on_from_either_end(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.3, 0.3), (0.5, 0.3))
    first = _stored(page)[0]["parts"][0]
    page.locator("#go-on").click()
    page.mouse.click(*_spots(page, (0.6, 0.4))[0])
    page.locator("#end").click()
    page.locator(".handle.end").first.click()
    page.locator("#go-on").click()
    page.mouse.click(*_spots(page, (0.2, 0.4))[0])
    page.locator("#end").click()
    now = _stored(page)[0]["parts"][0]
    assert now[1:3] == first
    assert len(now) == 4
    page.locator("button", has_text="Turn round").click()
    assert _stored(page)[0]["parts"][0] == now[::-1]
    page.locator("#take-away").click()
    assert _stored(page) == []


def test_undo_never_leaves_a_corner_in_hand_that_is_gone(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.3), (0.4, 0.3), (0.6, 0.35))
    page.locator(".handle:not(.between)").nth(2).click()
    page.locator("#undo").click()
    assert page.locator("#take").is_hidden()
    assert len(_stored(page)[0]["parts"][0]) == 2


def test_what_is_no_line_is_taken_away(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.3, 0.3), end=False)
    page.keyboard.press("Escape")
    assert _stored(page) == []
    assert "one place is none" in page.locator("#heard").inner_text()
    _draw(page, "trees:outline", (0.3, 0.3), (0.4, 0.3))
    assert _stored(page) == []


# ---- what lies about the line -------------------------------------------------------------------------------------


def test_every_layer_is_drawn_saved_and_read_by_plan(
    opened: Callable[..., Page], sample: bytes, tmp_path: Path
) -> None:
    page = opened(sample, DESK)
    folder = tmp_path / "site"
    folder.mkdir()
    _draw(page, "boundary:line", (0.2, 0.5), (0.8, 0.5))
    told: dict[str, dict[str, str]] = {
        "gates:mark": {"opening_m": "3,6"},
        "pegs:mark": {"kind": "agreed"},
        "overhead:line": {"voltage_kv": "22", "height_m": "7.5", "sag_m": "0.8", "kind": "power"},
        "trees:mark": {"height_m": "11", "limb_m": "3", "spread_m": "8", "dead": "true", "keep": "false"},
        "watercourses:line": {"kind": "creek", "width_m": "2.5"},
        "keepout:outline": {"reason": "nesting birds"},
        "services:line": {"owner": "water board", "kind": "water", "quality": "D"},
        "tracks:line": {"kind": "farm track", "width_m": "3"},
        "existing:line": {"kind": "pull", "wires": "4"},
        "soils:outline": {"soil": "sand"},
        "walk:mark": {"kind": "rock", "text": "floater at the surface"},
    }
    across = 0.24
    for tool, values in told.items():
        layer, shape = tool.split(":")
        shares = {
            "mark": [(across, 0.5)],
            "line": [(across, 0.3), (across + 0.01, 0.44)],
            "outline": [(across, 0.6), (across + 0.03, 0.6), (across + 0.03, 0.68)],
        }[shape]
        _draw(page, tool, *shares, end=shape != "mark")
        if shape == "mark":
            page.locator("#leave").click()
        _look_at(page, "Chosen")
        for name, value in values.items():
            field = page.locator(f"#field-{name}")
            if field.evaluate("e => e.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
                field.press("Tab")
        across += 0.05
        saved = _save(page, layer, folder)
        assert len(saved["features"]) == 1
    _save(page, "boundary", folder)
    (tree,) = json.loads((folder / "trees.geojson").read_text())["features"]
    assert tree["properties"] == {"height_m": 11, "limb_m": 3, "spread_m": 8, "dead": True, "keep": False}
    done = CliRunner().invoke(main, ["check", str(folder)])
    assert done.exit_code == 0, done.output
    assert "no faults found" in done.output


def test_a_gate_without_an_opening_is_not_saved_until_it_has_one(
    opened: Callable[..., Page], sample: bytes, tmp_path: Path
) -> None:
    page = opened(sample, PHONE)
    _choose_tool(page, "gates:mark")
    page.touchscreen.tap(*_spots(page, (0.5, 0.5))[0])
    page.locator("#leave").tap()
    _look_at(page, "Files")
    page.locator('[data-save="gates"]').tap()
    assert "gates.geojson, Gate 1: Opening between post faces is not given." in page.locator("#faults").inner_text()
    page.locator("#fill").tap()
    assert page.locator("#field-opening_m").evaluate("e => e === document.activeElement")
    page.fill("#field-opening_m", "wide")
    page.keyboard.press("Enter")
    page.locator("#field-leaves").focus()
    assert "a number, such as 2.5" in page.locator("#wrong-opening_m").inner_text()
    page.fill("#field-opening_m", "25")
    page.locator("#field-leaves").focus()
    assert "at most 20" in page.locator("#wrong-opening_m").inner_text()
    page.fill("#field-opening_m", "4.2")
    page.locator("#field-leaves").focus()
    assert page.locator("#wrong-opening_m").inner_text() == ""
    assert _save(page, "gates", tmp_path)["features"][0]["properties"] == {"opening_m": 4.2}


# ---- files and what is kept ---------------------------------------------------------------------------------------


def _open_files(page: Page, *paths: Path) -> list[str]:
    _look_at(page, "Files")
    page.locator("#open").set_input_files([str(path) for path in paths])
    page.wait_for_function("() => !document.getElementById('open').files.length")  # all of them are read
    return page.locator("#faults li").all_inner_texts()


@pytest.mark.parametrize("half", [0, 1])  # a browser asks before it takes more than ten files from one page
def test_the_samples_own_files_come_back_as_they_went_in(
    opened: Callable[..., Page], sample: bytes, tmp_path: Path, half: int
) -> None:
    page = opened(sample, DESK)
    paths = sorted(ROADSIDE.glob("*.geojson"))[half::2]
    assert _open_files(page, *paths) == []
    for path in paths:
        before = json.loads(path.read_text())["features"]
        after = _save(page, path.stem, tmp_path)["features"]
        assert [one["properties"] for one in after] == [one["properties"] for one in before]
        for one, other in zip(before, after, strict=True):
            meant, got = (shapely.geometry.shape(each["geometry"]) for each in (one, other))
            assert got.equals_exact(meant, 1e-8, normalize=True), path.name


def test_every_kind_of_geometry_is_kept_whole(opened: Callable[..., Page], sample: bytes, tmp_path: Path) -> None:
    square = [[146.282, -34.882], [146.283, -34.882], [146.283, -34.881], [146.282, -34.881], [146.282, -34.882]]
    hole = [[146.2822, -34.8818], [146.2828, -34.8818], [146.2828, -34.8812], [146.2822, -34.8818]]
    line = [[146.282, -34.882, 150.25], [146.284, -34.8815, 151.0]]
    given = {
        "services": [
            {"type": "MultiPolygon", "coordinates": [[square, hole[::-1]], [[[x + 0.0015, y] for x, y in square]]]},
            {"type": "MultiPoint", "coordinates": [[146.282, -34.882], [146.283, -34.882]]},
        ],
        "overhead": [{"type": "MultiLineString", "coordinates": [line, line[::-1]]}],
    }
    folder = tmp_path / "in"
    folder.mkdir()
    for name, shapes in given.items():
        features = [{"type": "Feature", "properties": {"mine": [1, {"a": None}]}, "geometry": one} for one in shapes]
        (folder / f"{name}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    page = opened(sample, DESK)
    assert _open_files(page, *folder.iterdir()) == []
    for name, shapes in given.items():
        after = _save(page, name, tmp_path)["features"]
        assert [one["properties"] for one in after] == [{"mine": [1, {"a": None}]}] * len(shapes)
        for one, other in zip(shapes, after, strict=True):
            assert other["geometry"]["type"] == one["type"]
            meant, got = (shapely.geometry.shape(each) for each in (one, other["geometry"]))
            assert got.equals_exact(meant, 1e-8, normalize=True)
            assert got.has_z == meant.has_z


def test_faults_of_opened_files_are_told_in_a_line(opened: Callable[..., Page], sample: bytes, tmp_path: Path) -> None:
    point = {"type": "Point", "coordinates": [146.283, -34.882]}
    gates = [
        {"type": "Feature", "properties": {"opening_m": 3.6}, "geometry": point},
        {"type": "Feature", "properties": {"name": "Big", "opening_m": "wide"}, "geometry": point},
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [434300.0, 6139700.0]}},
        {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": [[1, 2], [3, 4]]}},
    ]
    texts = {
        "gates (1).geojson": json.dumps({"type": "FeatureCollection", "features": gates}),
        "trees.geojson": "{",
        "fence.geojson": "{}",
        "pegs.geojson": json.dumps({"type": "FeatureCollection", "features": [], "crs": {"name": "EPSG:7855"}}),
        "walk.geojson": json.dumps(
            {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [10.0, 50.0]}}
        ),
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text)
    page = opened(sample, DESK)
    faults = _open_files(page, *(tmp_path / name for name in texts))
    assert len(faults) == 7
    for told in (
        'gates (1).geojson, feature 2 (Big): Opening between post faces is "wide": no number.',
        "feature 3: 434300, 6139700 is no longitude and latitude. Left out.",
        "feature 4: its geometry is LineString; gates are Point. Left out.",
        "trees.geojson: it is not JSON.",
        "fence.geojson: no layer goes by that name. Fix: name it boundary.geojson, gates.geojson,",
        "pegs.geojson: it states a system of its own.",
        "walk.geojson: some of it lies off the picture.",
    ):
        assert any(told in fault for fault in faults), told
    assert [one["layer"] for one in _stored(page)] == ["gates", "gates", "walk"]


def test_opening_takes_the_place_of_a_layer_and_can_be_undone(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    _draw(page, "boundary:line", (0.2, 0.3), (0.6, 0.3))
    before = _stored(page)
    _open_files(page, ROADSIDE / "boundary.geojson")
    assert [one["properties"]["name"] for one in _stored(page)] == ["Road frontage"]
    assert "1 opened in place of 1" in page.locator("#heard").inner_text()
    page.locator("#undo").click()
    assert _stored(page) == before


@SCREENS
def test_nothing_is_lost_on_reload(opened: Callable[..., Page], sample: bytes, screen: Any, tmp_path: Path) -> None:
    page = opened(sample, screen)
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    _draw(page, "boundary:line", (0.2, 0.5), (0.5, 0.5), (0.7, 0.55))
    page.locator("#field-name").evaluate("e => { e.value = 'North side'; e.dispatchEvent(new Event('change')); }")
    kept = _stored(page)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]", state="attached")
    assert asked == ["beforeunload"]
    assert _stored(page) == kept
    assert page.locator("#heard").inner_text() == "As it was left."
    _look_at(page, "Files")
    assert "not all of it in files yet" in page.locator("#keeps").inner_text()
    _save(page, "boundary", tmp_path)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]", state="attached")
    assert asked == ["beforeunload"]  # all of it is in a file: nobody is asked
    _look_at(page, "Chosen")
    assert "North side" in _counts(page)


def test_all_that_changed_is_saved_at_once(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    taken: list[str] = []
    page.on("download", lambda download: taken.append(download.suggested_filename))
    for row, layer in enumerate(("pegs", "trees", "walk")):
        _draw(page, f"{layer}:mark", (0.2 + 0.2 * row, 0.5), end=False)
    _draw(page, "boundary:line", (0.2, 0.3), (0.6, 0.3), end=False)
    _look_at(page, "Files")
    page.locator("#save-all").click()
    page.wait_for_function("() => document.getElementById('unsaved').hidden")
    page.wait_for_timeout(300)
    assert sorted(taken) == ["boundary.geojson", "pegs.geojson", "trees.geojson", "walk.geojson"]
    assert page.locator("#save-all").is_disabled()


def test_a_half_drawn_line_is_there_after_a_reload(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    page.on("dialog", lambda dialog: dialog.accept())
    _draw(page, "trees:outline", (0.2, 0.3), (0.4, 0.3), (0.4, 0.5), end=False)
    page.reload()
    page.wait_for_selector("body[data-ready=yes]", state="attached")
    assert [one["type"] for one in _stored(page)] == ["Polygon"]


def test_it_says_when_the_browser_refuses_to_keep_anything(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    page.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full'); }; }")
    _draw(page, "boundary:line", (0.2, 0.5), (0.5, 0.5))
    _look_at(page, "Files")
    assert "refuses to keep the drawing" in page.locator("#keeps").inner_text()


def test_a_boundary_to_begin_with_is_there_and_counts_as_saved(opened: Callable[..., Page]) -> None:
    page = opened(draft_page(read_tracing(ROADSIDE / "imagery.tif", boundary=ROADSIDE / "boundary.geojson")), DESK)
    _look_at(page, "Chosen")
    assert "Road frontage" in _counts(page)
    assert page.locator("#unsaved").is_hidden()
    page.locator('#drawn [data-feature="1"]').click()
    assert page.locator(".handle:not(.between)").count() == 32
    page.locator(".handle:not(.between)").first.focus()
    page.keyboard.press("ArrowUp")
    assert page.locator("#unsaved").inner_text() == "1"


# ---- keys, words, looks -------------------------------------------------------------------------------------------


def test_a_fence_is_drawn_by_keys_alone(opened: Callable[..., Page], sample: bytes, tmp_path: Path) -> None:
    page = opened(sample, DESK)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.tool") == "boundary:line":
            break
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "map"
    page.keyboard.press("Enter")
    for _ in range(3):
        for _ in range(2):
            page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
    heard = page.locator("#heard").inner_text()
    assert heard.startswith("Corner 4. Leg ")
    assert " m at 90" in heard.replace("\u00a0", " ")
    page.keyboard.press("Escape")
    (feature,) = _stored(page)
    assert len(feature["parts"][0]) == 4
    for _ in range(30):
        page.keyboard.press("Tab")
        if (page.evaluate("document.activeElement.getAttribute('aria-label')") or "").startswith("Corner 2"):
            break
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Corner 2 of 4, Fence line 1"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowUp")
    moved = _stored(page)[0]["parts"][0]
    assert moved[1][1] > feature["parts"][0][1][1]
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Corner 2 of 4, Fence line 1"
    page.keyboard.press("Delete")
    assert len(_stored(page)[0]["parts"][0]) == 3
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Corner 2 of 3, Fence line 1"
    page.locator(".handle.between").first.focus()
    page.keyboard.press("Enter")
    assert len(_stored(page)[0]["parts"][0]) == 4


@SCREENS
def test_what_a_finger_needs_is_large_and_everything_has_a_name(
    opened: Callable[..., Page], sample: bytes, screen: Any
) -> None:
    page = opened(sample, screen)
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.title() == "roadside: tracing page"
    _draw(page, "boundary:line", (0.2, 0.5), (0.5, 0.5), (0.7, 0.55))
    for part in ("Draw", "Chosen", "Files", "Read"):
        _look_at(page, part)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        assert page.evaluate("(e => e.scrollWidth <= e.clientWidth)(document.querySelector('.looks'))")
        boxes = page.locator(
            "button:visible, .handle:visible, .looks input:visible, select:visible, summary:visible"
        ).all()
        for one in boxes:
            box = one.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= 22, one.evaluate("e => e.outerHTML")
    unnamed = page.evaluate(
        "[...document.querySelectorAll('button, input, select, [tabindex]')].filter(e => !(e.getAttribute('aria-label')"
        " || e.textContent.trim() || (e.labels && e.labels.length) || e.title)).map(e => e.outerHTML)"
    )
    assert unnamed == []
    says = page.locator("body").inner_text()
    assert "A traced line is not a boundary" in says
    assert "Imagery may be out by metres" in says


def test_hostile_names_are_shown_and_never_run(opened: Callable[..., Page], tmp_path: Path) -> None:
    place = tmp_path / "</script><script>window.hit=5<"
    folder = Path(str(place).replace("/script", "-script"))
    folder.mkdir(parents=True)
    shutil.copy(ROADSIDE / "imagery.tif", folder / "${window.hit=6}.tif")
    coordinates = [[146.282, -34.882], [146.284, -34.881]]
    features = [
        {"type": "Feature", "properties": {"name": name, name: name, "__proto__": "x"},
         "geometry": {"type": "LineString", "coordinates": coordinates}}
        for name in NASTY
    ]  # fmt: skip
    file = tmp_path / "boundary.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    page = opened(draft_page(read_tracing(folder / "${window.hit=6}.tif", boundary=file)), DESK)
    assert page.locator("h1").inner_text() == "${window.hit=6}"
    _open_files(page, file)
    _look_at(page, "Chosen")
    listed = page.locator("#drawn").inner_text()
    for row, given in enumerate(NASTY):
        name = given.replace("\u202e", "\ufffd").replace("\u202c", "\ufffd")  # it turns nothing round
        assert name in listed
        page.locator("#drawn .go").nth(row).click()
        assert page.locator("#chosen h3").inner_text() == name
        assert page.locator("#field-name").input_value() == given
        assert name in page.locator("#heard").inner_text()
    page.mouse.move(700, 300)
    assert page.evaluate("typeof window.hit") == "undefined"
    assert page.locator("script").count() == 3
    after = _save(page, "boundary", tmp_path)["features"]
    assert [one["properties"]["name"] for one in after] == list(NASTY)


def test_the_picture_under_the_drawing_can_be_changed(opened: Callable[..., Page], sample: bytes) -> None:
    page = opened(sample, DESK)
    toggle = page.locator(".leaflet-control-layers-toggle").bounding_box()
    assert toggle is not None
    page.mouse.move(toggle["x"] + 20, toggle["y"] + 20)
    names = page.locator(".leaflet-control-layers-base label").all_inner_texts()
    assert [name.strip() for name in names] == ["Aerial picture", "Shaded relief", "Plain paper"]
    page.locator(".leaflet-control-layers-base input").nth(1).check()
    assert page.locator(".leaflet-tile-pane img").get_attribute("alt") == "Shaded relief"


@pytest.mark.parametrize("greatest_bytes", [24_000_000, 60_000], ids=["fine", "coarser"])
def test_what_is_traced_on_tiles_is_where_the_file_has_it(
    opened: Callable[..., Page], tmp_path: Path, greatest_bytes: int
) -> None:
    """A red square is found on the screenshot, clicked on, and its place compared with the raster's own."""
    rng = np.random.default_rng(5)
    cells = np.repeat(rng.integers(90, 150, (1, 2400, 2800), dtype=np.uint8), 3, axis=0)
    cells[:, 1500:1640, 2000:2140] = np.array([235, 10, 10], np.uint8)[:, None, None]
    affine = rasterio.Affine(0.1, 0.02, 434_300.0, 0.02, -0.1, 6_139_980.0)  # flown a little askew
    with rasterio.open(
        tmp_path / "flight.tif", "w", driver="GTiff", width=2800, height=2400, count=3, dtype="uint8",
        crs="EPSG:7855", transform=affine, tiled=True,
    ) as file:  # fmt: skip
        file.write(cells)
    tracing = read_tracing(tmp_path / "flight.tif")
    assert tracing.picture.whole is None
    page = opened(draft_page(tracing, greatest_bytes=greatest_bytes), DESK)
    _wait_for_tiles(page)
    assert page.locator(".leaflet-tile[src]").count() >= 4
    assert ("The file is finer" in page.locator("#ground").text_content()) == (greatest_bytes < 1e6)  # type: ignore[operator]
    for zoomed in (False, True):
        shot = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)[:, 420:]
        rows, columns = np.nonzero((shot[..., 0] > 190) & (shot[..., 1] < 70) & (shot[..., 2] < 70))
        spot = columns.mean() + 420.5, rows.mean() + 0.5
        if not zoomed:
            page.mouse.move(*spot)
            page.mouse.wheel(0, -120)
            page.wait_for_timeout(200)
            _wait_for_tiles(page)
    _choose_tool(page, "pegs:mark")
    page.mouse.click(*spot)
    (lon, lat), metre = _stored(page)[0]["parts"][0][0], 1 / 111_320.0
    east, north = 434_300.0 + 0.1 * 2070 + 0.02 * 1570, 6_139_980.0 + 0.02 * 2070 - 0.1 * 1570
    true_lon, true_lat = Transformer.from_crs(7855, 4326, always_xy=True).transform(east, north)
    assert lat == pytest.approx(true_lat, abs=0.5 * metre)
    assert lon == pytest.approx(true_lon, abs=0.6 * metre)


def _wait_for_tiles(page: Page) -> None:
    page.wait_for_function("() => [...document.querySelectorAll('.leaflet-tile')].every(e => !e.src || e.complete)")


# ---- measures -----------------------------------------------------------------------------------------------------


def test_lengths_bearings_and_areas_agree_with_a_geodesic_library(browser: Browser) -> None:
    """Against GeographicLib (C. F. F. Karney) as PROJ has it, at fence lengths and latitudes up to 70°."""
    templates = Path(draft_page.__code__.co_filename).parent / "templates"
    geod, chance = Geod(ellps="WGS84"), np.random.default_rng(7)
    lon, lat = chance.uniform(-180, 180, 400), chance.uniform(-70, 70, 400)
    metres, bearing = 10.0 ** chance.uniform(-1, 4.5, 400), chance.uniform(0, 360, 400)
    to_lon, to_lat, _ = geod.fwd(lon, lat, bearing, metres)
    legs = np.stack([np.column_stack([lon, lat]), np.column_stack([to_lon, to_lat])], axis=1)
    rings = []
    for x, y in zip(lon, lat, strict=True):
        count = int(chance.integers(3, 9))
        radius = 10.0 ** chance.uniform(1, 4) * chance.uniform(0.3, 1.0, count)
        place = geod.fwd(np.full(count, x), np.full(count, y), -360.0 * np.arange(count) / count, radius)
        rings.append(np.column_stack(place[:2]).tolist())
    page = browser.new_page()
    page.add_script_tag(content=(templates / "geodesy.js").read_text(encoding="utf-8"))
    got = page.evaluate("legs => legs.map(([from, to]) => geodesic(from, to))", legs.tolist())
    areas = page.evaluate("rings => rings.map(areaWithin)", rings)
    nought = page.evaluate("geodesic([146, -34], [146, -34])")
    page.close()
    true_bearing, _, true_m = geod.inv(lon, lat, to_lon, to_lat)
    assert np.abs([one["metres"] for one in got] - true_m).max() < 1e-3
    turned = (np.array([one["bearing"] for one in got]) - true_bearing + 180.0) % 360.0 - 180.0
    assert np.abs(np.radians(turned) * true_m).max() < 1e-3  # across the line, at its far end
    for ring, area in zip(rings, areas, strict=True):
        assert area == pytest.approx(geod.polygon_area_perimeter(*zip(*ring, strict=True))[0], rel=1e-4)
    assert nought == {"metres": 0, "bearing": 0}


@SCREENS
def test_the_audit_finds_nothing_serious(
    opened: Callable[..., Page], audit: Callable[[Page], list[str]], sample: bytes, screen: dict[str, Any]
) -> None:
    page = opened(sample, screen)
    assert audit(page) == []
