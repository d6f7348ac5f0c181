"""The client's map as a file: whole, small, the same every time, and closed to what comes from files."""

from __future__ import annotations

import base64
import colorsys
import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from fencegis.exports.answers import not_checked
from fencegis.exports.map.layers import map_data
from fencegis.exports.map.page import map_page
from fencegis.exports.map.skeleton import TILE_HOST, slot, whole_page
from fencegis.exports.pictures import picture_uri
from fencegis.exports.plan_hash import plan_sha256
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from fencegis.records.backdrop import Backdrop
    from fencegis.records.plan import Plan

TESTS = Path(__file__).parents[2]
SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">')


@pytest.fixture(scope="module")
def page(small_plan: Plan) -> str:
    return map_page(small_plan).decode()


def _data(page: str) -> Any:
    (found,) = re.findall(r'<script type="application/json" id="plan-data">(.*?)</script>', page, re.DOTALL)
    return json.loads(found)


def _many_posts(plan: Plan, count: int) -> Plan:
    """Return the plan with `count` posts and as many bays shared out along run A1."""
    chainage = np.linspace(0.0, 72.0, count)
    course = shapely.LineString(plan.runs.geometry.iloc[0])
    names = [f"A{number:05d}" for number in range(count)]
    posts = pd.DataFrame(
        {
            "line_id": "A",
            "chainage_m": chainage,
            "post_id": names,
            "kind": "line",
            "tape_m": chainage,
            "ground_chainage_m": chainage,
        }
    )
    bays = pd.DataFrame(
        {
            "line_id": "A",
            "from_m": chainage[:-1],
            "to_m": chainage[1:],
            "bay_id": names[1:],
            "from_post": names[:-1],
            "to_post": names[1:],
            "length_m": np.diff(chainage),
            "ground_length_m": np.diff(chainage),
            "grade_pct": np.linspace(-9.0, 9.0, count - 1),
        }
    )
    points = gpd.GeoSeries(shapely.line_interpolate_point(course, chainage), crs=plan.crs)
    spans = gpd.GeoSeries(
        shapely.linestrings(
            np.stack([shapely.get_coordinates(points)[:-1], shapely.get_coordinates(points)[1:]], axis=1)
        ),
        crs=plan.crs,
    )
    return replace(
        plan,
        posts=gpd.GeoDataFrame(checked("posts", posts), geometry=points),
        bays=gpd.GeoDataFrame(checked("bays", bays), geometry=spans),
    )


def test_places_are_those_of_a_transformation_by_hand(small_plan: Plan, page: str) -> None:
    to_degrees = pyproj.Transformer.from_crs(small_plan.crs, "EPSG:4326", always_xy=True)
    data = _data(page)
    east, north = shapely.get_coordinates(small_plan.corners.geometry.iloc[0])[0]
    longitude, latitude = to_degrees.transform(east, north)
    assert data["corners"][0]["at"] == [round(latitude, 7), round(longitude, 7)]
    points = shapely.get_coordinates(small_plan.posts.geometry.to_numpy())
    longitudes, latitudes = to_degrees.transform(points[:, 0], points[:, 1])
    assert np.abs(np.cumsum(data["posts"]["lat"]) / 1e7 - latitudes).max() < 0.51e-7
    assert np.abs(np.cumsum(data["posts"]["lon"]) / 1e7 - longitudes).max() < 0.51e-7


def test_a_site_on_the_180th_meridian_stays_in_one_piece(small_plan: Plan) -> None:
    conversion = pyproj.CRS(small_plan.crs).to_wkt().replace("149.2", "179.9999")
    assert "179.9999" in conversion
    grid = replace(small_plan.site.grid, centre_lon_deg=179.9999)
    moved = {
        name: frame.set_crs(conversion, allow_override=True)
        for name, frame in small_plan.layers()
        if "geometry" in frame
    }
    plan = replace(small_plan, crs=conversion, site=replace(small_plan.site, grid=grid), **moved)
    longitudes = [place[1] for run in map_data(plan)["runs"] for place in run["at"]]
    assert min(longitudes) < 180.0 < max(longitudes)
    assert max(longitudes) - min(longitudes) < 0.01


def test_what_popups_say(page: str) -> None:
    data = _data(page)
    facts = {
        row["id"]: dict(row["say"]["facts"])
        for row in (*data["runs"], *data["hazards"], *data["gates"], *data["strainers"])
    }
    assert facts["A1"] == {
        "Horizontal": "72.0\u00a0m",
        "Along the ground": "72.1\u00a0m",
        "Bearing, true": "080°",
        "Bearing, magnetic": "068°",
        "It is": "boundary",
    }
    assert data["runs"][0]["say"]["lead"].endswith("From start of line A to corner AC1.")
    assert facts["H1"]["Least distance, after allowances"] == "1.2\u00a0m"
    assert facts["H1"]["The same, as the data has it"] == "3.4\u00a0m"
    assert facts["H1"]["Distance asked for"] == "3.0\u00a0m"
    assert facts["H3"]["Least distance"] == "not known"
    assert facts["H3"]["Distance asked for"] == "to be set by the line's owner"
    assert facts["H3"]["Rests on"] == "height unknown, not walked"
    assert facts["G1"]["Clear opening"] == "3.60\u00a0m between post faces"
    assert facts["AS5"]["Why here"] == "corner; also length"


def test_posts_carry_their_tape_and_the_grade_to_the_next(small_plan: Plan, page: str) -> None:
    posts = _data(page)["posts"]
    row = posts["id"].index(small_plan.bays["from_post"].iloc[3])
    assert posts["grade"][row] == round(small_plan.bays["grade_pct"].iloc[3] * 10)
    assert posts["tape"][row] == round(small_plan.posts["tape_m"].iloc[row] * 100)
    assert posts["grade"][posts["id"].index(small_plan.posts["post_id"].iloc[-1])] is None
    assert posts["kind"][0] == "s"
    assert set(posts["deep"]) == set(posts["soil"]) == {None}  # the plan by hand has neither


def test_posts_carry_their_depth_and_their_soil(small_plan: Plan) -> None:
    known = small_plan.posts.assign(embed_m=1.04, soil="</script>")
    known.loc[1, ["embed_m", "soil"]] = float("nan"), "not checked"
    posts = _data(map_page(replace(small_plan, posts=known)).decode())["posts"]
    assert posts["deep"][:3] == [104, None, 104]
    assert [posts["soils"][row] for row in posts["soil"][:3]] == ["</script>", "not checked", "</script>"]


def test_the_words_beside_the_map(small_plan: Plan, page: str) -> None:
    assert "<strong>180.0\u00a0m</strong> horizontal" in page
    assert f"plan {plan_sha256(small_plan)[:12]}" in page
    assert f"Not checked <b>{len(not_checked(small_plan))}</b>" in page
    assert "None found in overhead.geojson (2 features), not walked." in page
    assert "A traced line fixes no boundary." in page
    assert "rails: the rails are not laid out yet" in page
    assert (
        re.search(r"\bclear\b(?! of| opening)", re.sub(r"<(style|script).*?</\1>", "", page, flags=re.DOTALL)) is None
    )


def test_only_scripts_of_the_page_itself_are_allowed_and_nothing_from_outside(page: str) -> None:
    (policy,) = POLICY.findall(page)
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe-inline" not in policy.split(";")[1]
    allowed = re.findall(r"'sha256-([^']+)'", policy)
    scripts = SCRIPT.findall(page)
    assert [base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in scripts] == allowed
    assert len(scripts) == page.count("<script") - 1
    loaded = re.findall(r"""(?:src|href)=["'](?!data:|#)([^"']*)""", SCRIPT.sub("", page))
    assert loaded == []
    assert "jquery" not in page.lower()
    assert "bootstrap" not in page.lower()


def test_the_policy_comes_before_anything_that_it_rules(page: str) -> None:
    assert page.index("Content-Security-Policy") < page.index("<style>") < page.index("<script>")


def test_leaflet_is_inside_with_its_licence(page: str) -> None:
    assert "Leaflet 1.9.4" in page
    assert re.search(r"Copyright \(c\) 20\d\d-?\d*, (Volodymyr|Vladimir) Agafonkin", page)
    assert page.index("Redistribution and use in source and binary forms") < page.index("<script>")
    assert "sourceMappingURL" not in page


def test_online_maps_only_when_asked_for(small_plan: Plan, page: str) -> None:
    assert "tile.openstreetmap.org" not in page
    spec = small_plan.site.spec.model_copy(update={"map": small_plan.site.spec.map.model_copy(update={"online": True})})
    online = map_page(replace(small_plan, site=replace(small_plan.site, spec=spec))).decode()
    (policy,) = POLICY.findall(online)
    assert f"img-src data: {TILE_HOST};" in policy
    assert f"{TILE_HOST}/{{z}}/{{x}}/{{y}}.png" in online
    assert "OpenStreetMap contributors" in online


def test_names_from_files_are_shown_as_they_are(page: str) -> None:
    body = re.sub(r"<script.*?</script>", "", page[page.index("<body>") :], flags=re.DOTALL)
    assert "<b>North" not in body
    assert "&lt;/script&gt;&lt;b&gt;North&lt;/b&gt;" in body
    assert "&#36;{1+1} &#96;x&#96;" in body
    assert "${1+1}" not in body


def test_3000_posts_without_imagery_stay_under_2_mb(small_plan: Plan) -> None:
    plan = _many_posts(replace(small_plan, site=replace(small_plan.site, backdrop=None)), 3000)
    assert len(map_page(plan)) < 2_000_000


def test_imagery_of_any_kind_stays_under_8_mb(small_plan: Plan) -> None:
    noise = np.random.default_rng(1).integers(0, 256, (2048, 2048, 4), dtype=np.uint8)
    noise[..., 3] = 255
    page = len(map_page(_many_posts(small_plan, 3000)))
    assert page + 2 * len(picture_uri(noise)) < 8_000_000


def test_pictures_are_asked_for_once_and_lie_where_they_belong(small_plan: Plan) -> None:
    asked = []
    given = small_plan.site.backdrop
    assert given is not None

    def backdrop() -> Backdrop:
        asked.append(1)
        return given()

    page = map_page(replace(small_plan, site=replace(small_plan.site, backdrop=backdrop))).decode()
    assert len(asked) == 1
    assert re.search(
        r'L\.imageOverlay\(\s*"data:image/webp;base64,[^"]+",\s*\[\[-34\.503, 149\.196\], \[-34\.497, 149\.206\]\]',
        page,
    )


def test_no_green_on_the_page(page: str) -> None:
    colours = set(re.findall(r"#([0-9a-fA-F]{6}|[0-9a-fA-F]{3})(?=[\"';,\s)}])", re.sub(r"data:[^\"')]+", "", page)))
    assert len(colours) > 10
    for colour in colours:
        six = colour if len(colour) == 6 else "".join(2 * digit for digit in colour)
        red, green, blue = (int(six[place : place + 2], 16) / 255 for place in (0, 2, 4))
        hue, light, full = colorsys.rgb_to_hls(red, green, blue)
        assert not (0.19 < hue < 0.47 and full > 0.12 and 0.05 < light < 0.97), colour
    assert not re.search(r"\b(green|lime|olive|teal)\b", page)


def test_what_is_drawn_is_in_the_legend_with_its_shape(page: str) -> None:
    used = set(re.findall(r'href="#(key-[a-z-]+)"', page))
    assert {
        "key-run-boundary",
        "key-run-internal",
        "key-corner",
        "key-gate",
        "key-hazard-overhead-power",
        "key-hazard-tree-limb",
        "key-given-overhead",
    } <= used
    assert not {"key-run-agreed", "key-hazard-crossing"} & used
    assert used <= set(re.findall(r'<symbol id="(key-[a-z-]+)"', page))


def test_slots_are_filled_after_folium_is_done() -> None:
    skeleton = f'<html><head></head><body></body><script>var map_{"a" * 32}={{}}; "{slot("imagery")}"</script></html>'
    page = whole_page(
        skeleton, title="</title>", panel="", data={}, pictures={"imagery": "data:image/webp;base64,AA"}, online=False
    ).decode()
    assert 'var map_n1={}; "data:image/webp;base64,AA"' in page
    assert "<title>&lt;/title&gt;</title>" in page


def test_the_same_bytes_from_processes_with_other_hash_seeds() -> None:
    program = (
        "import hashlib, importlib.util, sys\n"
        f"spec = importlib.util.spec_from_file_location('by_hand', {str(TESTS / 'plan_by_hand.py')!r})\n"
        "module = importlib.util.module_from_spec(spec); spec.loader.exec_module(module)\n"
        "from fencegis.exports.section.long_section import section_drawing\n"
        "from fencegis.exports.map.page import map_page\n"
        "plan = module.plan_by_hand()\n"
        "print(*(hashlib.sha256(make(plan)).hexdigest() for make in (map_page, section_drawing)))\n"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", program],
            cwd=TESTS.parent,
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]
    assert len(set(runs[0].split())) == 2
