"""The map's tools in a real browser: long section, search, tape, coordinates, where the reader stands, landscape."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pyproj
import pytest
import shapely

from fencegis import plan_site, read_site
from fencegis.line.official_grid import official_grid, to_official

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

    from fencegis.records.plan import Plan

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
LYING = {**PHONE, "viewport": {"width": 844, "height": 390}}
SCREENS = pytest.mark.parametrize("screen", [DESK, PHONE, LYING], ids=["desk", "phone", "phone lying"])
ELLIPSOID = pyproj.Geod(ellps="WGS84")
ROOT = Path(__file__).parents[2]
KNOWN = """const map = window[Object.keys(window).find((name) => /^map_/.test(name))];
    const frame = map.getContainer().getBoundingClientRect();
    const data = JSON.parse(document.getElementById("plan-data").textContent);"""
NOT_FOR = "Not for finding a wire, a cable or a boundary."


def _settle(page: Page) -> None:
    page.wait_for_selector("body[data-settled=yes]", state="attached")


def _ask(page: Page, script: str, given: Any = None) -> Any:
    """Return what a script says that knows the `map`, its `frame` on the screen, the `data`, and what is `given`."""
    return page.evaluate(f"(given) => {{ {KNOWN} {script} }}", given)


def _metres(text: str) -> float:
    return float(text.replace("\u202f", "").replace("\u2212", "-"))


def _degrees(plan: Plan, east_m: float, north_m: float) -> tuple[float, float]:
    to_degrees = pyproj.Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    longitude, latitude = to_degrees.transform(east_m, north_m)
    return float(longitude), float(latitude)


@SCREENS
def test_the_audit_finds_nothing_serious(
    opened: Callable[..., Page], audit: Callable[[Page], list[str]], register_plan: Plan, screen: Any
) -> None:
    page = opened(register_plan, screen)
    assert page.locator("html").get_attribute("lang") == "en"
    assert audit(page) == []
    for tool in ("tape", "here", "grid"):
        page.locator(f"[data-tool={tool}]").click()
        assert audit(page) == [], tool
    if page.locator("[data-tool=section]").get_attribute("aria-expanded") == "false":
        page.locator("[data-tool=section]").click()
    page.focus("#section-drawing")
    page.keyboard.press("PageUp")
    assert audit(page) == []
    page.locator("[data-tool=paper]").click()
    _settle(page)
    assert audit(page) == []


def test_the_audit_sees_what_is_wrong(
    opened: Callable[..., Page], audit: Callable[[Page], list[str]], small_plan: Plan
) -> None:
    page = opened(small_plan, DESK)
    page.evaluate("document.documentElement.removeAttribute('lang')")
    assert [fault.split(" ")[0] for fault in audit(page)] == ["html-has-lang"]


@SCREENS
def test_every_tool_is_large_enough_for_a_finger_and_leaves_the_map_its_room(
    opened: Callable[..., Page], small_plan: Plan, screen: Any
) -> None:
    page = opened(small_plan, screen)
    for button in page.locator(".tools button").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
        assert button.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), button.inner_text()
    frame = page.locator(".folium-map").bounding_box()
    assert frame is not None
    assert frame["height"] >= 0.4 * screen["viewport"]["height"]
    assert frame["width"] >= 0.6 * screen["viewport"]["width"]
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_phone_on_its_side_gives_the_map_nearly_all_of_its_height(
    opened: Callable[..., Page], small_plan: Plan
) -> None:
    page = opened(small_plan, LYING)
    frame = page.locator(".folium-map").bounding_box()
    assert frame is not None
    assert frame["height"] > 330
    page.locator(".tabs button", has_text="Cautions").click()
    assert page.locator("#look-cautions h2").is_visible()
    heading = page.locator("#look-cautions h2").bounding_box()
    assert heading is not None
    assert 0 <= heading["y"] < 390


# ---- long section ------------------------------------------------------------------------------------------------


def test_the_section_is_folded_on_a_phone_and_open_on_a_desk(opened: Callable[..., Page], small_plan: Plan) -> None:
    assert opened(small_plan, DESK).locator("#section").is_visible()
    page = opened(small_plan, PHONE)
    button = page.locator("[data-tool=section]")
    assert not page.locator("#section").is_visible()
    assert button.get_attribute("aria-expanded") == "false"
    button.click()
    assert page.locator("#section").is_visible()
    assert button.get_attribute("aria-expanded") == "true"
    page.locator(".tabs button", has_text="Legend").click()
    assert not page.locator("#section").is_visible()
    assert page.locator("#look-legend").is_visible()


def test_pointing_at_the_section_marks_the_map_and_tells_what_is_there(
    opened: Callable[..., Page], small_plan: Plan
) -> None:
    page = opened(small_plan, DESK)
    assert page.locator(".place-mark").count() == 0
    box = page.locator("#section-drawing").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 46 + (box["width"] - 58) / 3, box["y"] + 90)
    said = page.locator("#section-says").inner_text()
    length = small_plan.runs[small_plan.runs["line_id"] == "A"]["to_m"].max()
    told = re.search(r"A, ([\d.]+)\sm", said)
    assert told
    chainage = float(told[1])
    assert chainage == pytest.approx(length / 3, abs=0.3)
    profile = small_plan.profile[small_plan.profile["line_id"] == "A"]
    ground = float(np.interp(chainage, profile["chainage_m"], profile["ground_m"]))
    height = re.search(r"ground ([\d\u202f.]+)\sm", said)
    assert height
    assert _metres(height[1]) == pytest.approx(ground, abs=0.1)
    posts = small_plan.posts[small_plan.posts["line_id"] == "A"]
    nearest = posts.iloc[(posts["chainage_m"] - chainage).abs().argmin()]["post_id"]
    assert f"post {nearest}" in said
    mark = page.locator(".place-mark").bounding_box()
    assert mark is not None
    # the place on the map under the mark's middle is that chainage of that line
    near = _ask(
        page,
        """const [x, y] = given;
        const at = map.containerPointToLatLng([x - frame.left, y - frame.top]);
        return nearestOn(readLines(data, unpackPosts(data.posts)), [at.lat, at.lng]);""",
        [mark["x"] + mark["width"] / 2, mark["y"] + mark["height"] / 2],
    )
    assert near["line"] == 0
    assert near["m"] == pytest.approx(chainage, abs=1.0)


def test_pointing_at_the_line_on_the_map_marks_the_section(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    corner = _ask(
        page,
        """const at = map.latLngToContainerPoint(data.corners[0].at);
        return [at.x + frame.left, at.y + frame.top];""",
    )
    page.mouse.move(corner[0] + 3, corner[1] + 2)
    page.mouse.move(corner[0], corner[1])
    page.wait_for_selector(".place-mark")
    chainage = float(small_plan.corners["chainage_m"].iloc[0])
    told = page.locator("#section-drawing").get_attribute("aria-valuenow")
    assert told is not None
    assert float(told) == pytest.approx(chainage, abs=0.8)
    assert small_plan.corners["corner_id"].iloc[0] in page.locator("#section-says").inner_text()


def test_keys_go_along_the_section_post_by_post(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.focus("#section-drawing")
    bays = small_plan.bays[small_plan.bays["line_id"] == "A"]
    for step in range(4):
        page.keyboard.press("ArrowRight")
        told = page.locator("#section-drawing").get_attribute("aria-valuenow")
        assert told == f"{bays['from_m'].iloc[step]:.1f}"
    page.keyboard.press("End")
    length = small_plan.runs[small_plan.runs["line_id"] == "A"]["to_m"].max()
    assert page.locator("#section-drawing").get_attribute("aria-valuenow") == f"{length:.1f}"
    assert page.locator("#section-drawing").get_attribute("aria-valuemax") == f"{length:.1f}"
    assert "post" in (page.locator("#section-drawing").get_attribute("aria-valuetext") or "")
    page.keyboard.press("Home")
    assert page.locator("#section-drawing").get_attribute("aria-valuenow") == "0.0"


def test_the_section_says_how_far_heights_are_stretched_and_what_is_unknown(
    opened: Callable[..., Page], small_plan: Plan
) -> None:
    page = opened(small_plan, DESK)
    assert re.search(r"Heights are drawn ([\d.]+ times )?as large as distances", page.inner_text("#section-scale"))
    bare = small_plan.profile.assign(ground_m=np.nan, fitted_m=np.nan)
    page = opened(replace(small_plan, profile=bare), DESK)
    assert "heights and grades are not checked" in page.inner_text("#section-scale")
    page.focus("#section-drawing")
    page.keyboard.press("ArrowRight")
    assert "ground not known" in page.inner_text("#section-says")


def test_a_part_of_the_section_moves_along_with_the_mark(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    options = page.locator("#section-span option").evaluate_all("all => all.map(e => [e.value, e.disabled])")
    length = small_plan.runs[small_plan.runs["line_id"] == "A"]["to_m"].max()
    assert [disabled for value, disabled in options if value != "0"] == [
        float(value) >= length for value, _ in options if value != "0"
    ]
    page.select_option("#section-span", "100")
    page.focus("#section-drawing")
    page.keyboard.press("End")
    box = page.locator("#section-drawing").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 46, box["y"] + 80)
    told = page.locator("#section-drawing").get_attribute("aria-valuenow")
    assert told is not None
    assert float(told) == pytest.approx(length - 100.0, abs=0.3)


# ---- search ------------------------------------------------------------------------------------------------------


def test_enter_goes_to_the_first_that_is_found_and_shows_its_layer(
    opened: Callable[..., Page], register_plan: Plan
) -> None:
    page = opened(register_plan, DESK)
    names = {
        "Post": register_plan.posts["post_id"].iloc[10],
        "Run": register_plan.runs["run_id"].iloc[1],
        "Gate": register_plan.gates["gate_id"].iloc[0],
        "Strainer": register_plan.strainers["strainer_id"].iloc[0],
        "Crossing": register_plan.crossings["crossing_id"].iloc[0],
        "Tree": register_plan.trees["tree_id"].iloc[0],
    }
    page.locator("label", has_text="Trees to go").locator("input").evaluate("box => box.click()")
    for kind, name in names.items():
        page.fill("#find", str(name))
        assert "found" in page.inner_text("#found-count")
        page.press("#find", "Enter")
        _settle(page)
        said = page.locator(".leaflet-popup-content h3").first.inner_text()
        assert str(name) in said, (kind, said)
    assert page.locator("label", has_text="Trees to go").locator("input").is_checked()
    page.fill("#find", str(register_plan.hazards["hazard_id"].iloc[0]))
    page.press("#find", "Enter")
    assert str(register_plan.hazards["kind"].iloc[0]) in page.inner_text(".leaflet-popup-content").lower()
    page.fill("#find", "gate")
    assert page.locator("#found li").count() == len(register_plan.gates)


def test_find_opens_the_field_wherever_it_is(opened: Callable[..., Page], small_plan: Plan) -> None:
    for screen in (DESK, PHONE, LYING):
        page = opened(small_plan, screen)
        page.locator("[data-tool=find]").click()
        assert page.evaluate("document.activeElement.id") == "find"
        assert page.locator("#find").is_visible()


# ---- tape and coordinates ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("latitude", [-34.5, 0.0, 46.6, 64.0])
def test_the_tape_measures_on_the_ellipsoid(opened: Callable[..., Page], small_plan: Plan, latitude: float) -> None:
    page = opened(small_plan, DESK)  # PROJ's geodesics (C. Karney) against the page's own
    chance = np.random.default_rng(7)
    for reach in (1e-5, 1e-3, 0.05, 1.0):
        one = (latitude, 149.2)
        other = (latitude + reach * chance.uniform(-1, 1), 149.2 + reach * chance.uniform(-1, 1))
        told = page.evaluate("([one, other]) => geodesic(one, other)", [one, other])
        bearing, _, metres = ELLIPSOID.inv(one[1], one[0], other[1], other[0])
        assert told["metres"] == pytest.approx(metres, abs=1e-4)
        assert (told["bearing"] - bearing + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-4)
    assert page.evaluate("geodesic([1, 2], [1, 2])") == {"metres": 0, "bearing": 0}


def test_two_taps_give_distance_and_bearing_and_no_popup(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    tape = page.locator("[data-tool=tape]")
    tape.click()
    assert tape.get_attribute("aria-pressed") == "true"
    sign = page.locator(".sign.hazard").first.bounding_box()
    assert sign is not None
    first, second = (sign["x"] + 22, sign["y"] + 20), (sign["x"] + 222, sign["y"] - 30)
    places = []
    for x, y in (first, second):
        page.mouse.click(x, y)
        places.append(
            _ask(
                page,
                """const [x, y] = given;
        const at = map.containerPointToLatLng([x - frame.left, y - frame.top]);
        return [at.lng, at.lat];""",
                [x, y],
            )
        )
    assert page.locator(".leaflet-popup").count() == 0
    said = page.locator(".told-tape").inner_text()
    told = re.search(r"([\d\u202f.]+)\sm, ([\d.]+)° true", said)
    assert told, said
    bearing, _, metres = ELLIPSOID.inv(*places[0], *places[1])
    assert _metres(told[1]) == pytest.approx(metres, abs=0.06)
    assert float(told[2]) == pytest.approx(bearing % 360.0, abs=0.06)
    page.locator(".told-tape .away").click()
    assert page.locator(".told-tape").count() == 0
    assert tape.get_attribute("aria-pressed") == "false"
    page.locator(".sign.hazard").first.click()
    assert page.locator(".leaflet-popup").count() == 1


def test_the_tape_works_by_keys_alone(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.focus("[data-tool=tape]")
    page.keyboard.press("Enter")
    page.focus(".folium-map")
    page.keyboard.press("Enter")
    assert page.locator(".cross").is_visible()
    assert "One end is set" in page.inner_text(".told-tape")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
        _settle(page)
    page.keyboard.press("Enter")
    told = re.search(r"([\d\u202f.]+)\sm, ([\d.]+)° true", page.inner_text(".told-tape"))
    assert told
    assert _metres(told[1]) > 5.0
    assert float(told[2]) == pytest.approx(90.0, abs=0.5)
    page.keyboard.press("Escape")
    assert page.locator(".told-tape").count() == 0


def test_coordinates_are_the_official_grids(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    page.locator("[data-tool=grid]").click()
    corner = _ask(
        page,
        """map.setView(data.corners[0].at, 21, { animate: false });
        return [frame.left + map.getSize().x / 2, frame.top + map.getSize().y / 2];""",
    )
    page.mouse.move(*corner)
    said = page.inner_text(".told-grid")
    assert "Of the pointer" in said
    point = shapely.get_coordinates(small_plan.corners.geometry.iloc[0])[:1]
    official = official_grid(small_plan.site)
    east, north = to_official(point, grid_wkt=small_plan.crs, official=official)[0]
    told = re.search(r"E ([\d\u202f.]+)\s+N ([\d\u202f.]+)", said)
    assert told, said
    assert _metres(told[1]) == pytest.approx(east, abs=0.15)
    assert _metres(told[2]) == pytest.approx(north, abs=0.15)
    assert pyproj.CRS(official).name in said
    longitude, latitude = _degrees(small_plan, *point[0])
    degrees = re.search(r"Longitude ([\u2212\d.]+)°, latitude ([\u2212\d.]+)°", said)
    assert degrees
    assert _metres(degrees[1]) == pytest.approx(longitude, abs=2e-6)
    assert _metres(degrees[2]) == pytest.approx(latitude, abs=2e-6)
    assert "not a boundary" in said


# ---- where the reader stands -------------------------------------------------------------------------------------


def _standing(opened: Callable[..., Page], plan: Plan, chainage_m: float, right_m: float, within_m: float) -> Page:
    """Open the map where a device says that it stands so far along run A1 and so far to its right."""
    (begin, *_, end) = shapely.get_coordinates(plan.runs.geometry.iloc[0])
    way = (end - begin) / np.hypot(*(end - begin))
    east, north = begin + way * chainage_m + np.array([way[1], -way[0]]) * right_m
    longitude, latitude = _degrees(plan, east, north)
    place = {"latitude": latitude, "longitude": longitude, "accuracy": within_m}
    page = opened(plan, {**PHONE, "geolocation": place, "permissions": ["geolocation"]})
    page.locator("[data-tool=here]").click()
    page.wait_for_selector(".told-here strong")
    return page


def test_it_tells_chainage_and_offset_with_the_accuracy(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = _standing(opened, small_plan, 12.0, -9.0, 4.0)
    said = page.inner_text(".told-here")
    told = re.search(r", ([\d.]+)\sm ± 4.0\sm\s+([\d.]+)\sm left of it ± 4.0\sm", said)
    assert told, said
    assert float(told[1]) == pytest.approx(12.0, abs=0.2)
    assert float(told[2]) == pytest.approx(9.0, abs=0.2)
    assert NOT_FOR in said


def test_the_circle_is_as_wide_as_the_device_says(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = _standing(opened, small_plan, 30.0, 3.0, 25.0)
    said = page.inner_text(".told-here")
    assert "right of it ± 25\u00a0m" in said
    assert "Which side of the line this is cannot be told." in said
    circle = page.locator(".leaflet-tools-pane path[stroke-dasharray='6 4']").bounding_box()
    assert circle is not None
    metres_a_pixel = _ask(
        page,
        """const at = map.getCenter();
        const one = map.latLngToContainerPoint(at), other = map.containerPointToLatLng(one.add([100, 0]));
        return geodesic([at.lat, at.lng], [other.lat, other.lng]).metres / 100;""",
    )
    assert circle["width"] * metres_a_pixel == pytest.approx(50.0, rel=0.06)


def test_where_the_browser_refuses_it_says_why(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, PHONE)
    page.locator("[data-tool=here]").click()
    page.wait_for_selector(".told-here:has-text('refused')")
    said = page.inner_text(".told-here")
    assert NOT_FOR in said
    assert page.locator(".leaflet-tools-pane path").count() == 0
    for code in (1, 2, 3):
        assert len(page.evaluate(f"NO_PLACE[{code}]")) > 40


@pytest.mark.parametrize(
    ("broken", "why"),
    [
        ("delete Navigator.prototype.geolocation", "This browser tells no page where it is."),
        ("Object.defineProperty(window, 'isSecureContext', { value: false })", "opened in this way"),
    ],
)
def test_where_the_browser_cannot_it_says_why(
    opened: Callable[..., Page], small_plan: Plan, broken: str, why: str
) -> None:
    page = opened(small_plan, PHONE)
    page.evaluate(broken)
    page.locator("[data-tool=here]").click()
    said = page.inner_text(".told-here")
    assert why in said
    assert NOT_FOR in said


def test_nothing_from_a_file_runs_in_the_tools(opened: Callable[..., Page], register_plan: Plan) -> None:
    nasty = "<img src=x onerror='window.hit=1'>"
    plan = replace(
        register_plan,
        site=replace(register_plan.site, name=nasty),
        hazards=register_plan.hazards.assign(hazard_id=nasty, kind=nasty),
        corners=register_plan.corners.assign(corner_id="</script><script>window.hit=2</script>"),
        strainers=register_plan.strainers.assign(strainer_id="${window.hit=3}"),
        crossings=register_plan.crossings.assign(crossing_id=nasty),
    )
    page = opened(plan, DESK)
    page.focus("#section-drawing")
    said = ""
    for _ in range(12):
        page.keyboard.press("PageUp")
        said += page.inner_text("#section-says")
    assert nasty in said
    assert "</script>" in said
    assert "${window.hit=3}" in said
    for tool in ("here", "grid", "tape", "paper"):
        page.locator(f"[data-tool={tool}]").click()
    assert nasty in page.inner_text(".sheet")
    assert page.locator("img").count() == 1  # the hillshade
    assert page.evaluate("typeof window.hit") == "undefined"


# ---- mended flaws ------------------------------------------------------------------------------------------------


def test_labels_come_back_when_the_list_of_layers_is_folded(opened: Callable[..., Page], small_plan: Plan) -> None:
    page = opened(small_plan, DESK)
    before = page.locator(".label").all_inner_texts()
    toggle = page.locator(".leaflet-control-layers-toggle").bounding_box()
    assert toggle is not None
    page.mouse.move(toggle["x"] + 20, toggle["y"] + 20)
    for _ in range(2):
        page.locator("label", has_text="Posts").locator("input").evaluate("box => box.click()")
    page.mouse.move(500, 400)
    page.wait_for_selector(".leaflet-control-layers:not(.leaflet-control-layers-expanded)")
    _settle(page)
    assert sorted(page.locator(".label").all_inner_texts()) == sorted(before)


def test_a_pole_is_a_mark_and_not_a_line(opened: Callable[..., Page], small_plan: Plan) -> None:
    overhead = small_plan.site.overhead
    assert overhead is not None
    poles = overhead.set_geometry(shapely.get_point(overhead.geometry.to_numpy(), 0))
    page = opened(replace(small_plan, site=replace(small_plan.site, overhead=poles)), DESK)
    assert page.locator("path[stroke-dasharray='11 5 1 5']").count() == 0
    assert page.locator('[href="#key-given-pole"]').count() == 1
    place = _ask(
        page,
        """const wire = data.given.overhead[0].at;
        map.setView(wire[0], 21, { animate: false });
        return [wire.length, frame.left + map.getSize().x / 2, frame.top + map.getSize().y / 2];""",
    )
    assert place[0] == 1
    _settle(page)
    page.mouse.click(*place[1:])
    assert "Overhead line, as given" in page.inner_text(".leaflet-popup-content")


def test_plates_hide_no_tree_of_the_road_side_sample(opened: Callable[..., Page]) -> None:
    page = opened(plan_site(read_site(ROOT / "sample_sites" / "roadside")), DESK)
    trees = _ask(
        page,
        """const at = data.trees.map((tree) => map.latLngToContainerPoint(tree.at));
        return at.map((place) => [place.x + frame.left, place.y + frame.top]);""",
    )
    plates = page.locator(".sign:visible").evaluate_all("all => all.map(e => e.getBoundingClientRect())")
    assert len(trees) > 5
    assert page.locator(".sign.hazard.under:visible").count() > 0  # above the line it would hide some
    for x, y in trees:
        assert not any(p["left"] < x < p["right"] and p["top"] < y < p["bottom"] for p in plates), (x, y)
