"""The tracing page: one file with everything inside, the same bytes each time, no larger than is said."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.errors import OutputError, StrangersError
from fencegis.exports.draft.ground_picture import inline_ground
from fencegis.exports.draft.layer_words import layer_table
from fencegis.exports.draft.page import draft_page, page_and_words
from fencegis.exports.draft.write import write_draft
from fencegis.records.backdrop import Picture
from fencegis.records.tracing import DrawnLayer, LayerField, Tile, Tracing, TracingPicture

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BOUNDS = (-34.883, 146.281, -34.880, 146.2855)
GATES = DrawnLayer("gates", "gates.geojson", ("Point", "MultiPoint"), (
    LayerField("opening_m", "number", above=0.0, most=20.0, needed=True), LayerField("leaves", "whole"),
))  # fmt: skip


def noise(side: int, seed: int) -> np.ndarray:
    rgba = np.random.default_rng(seed).integers(0, 255, (side, side, 4), dtype=np.uint8)
    rgba[..., 3] = 255
    return rgba


def tiles(deepest: int) -> Iterator[Tile]:
    for zoom in range(16, deepest + 1):
        for column in range(2 ** (zoom - 16)):
            for row in range(2 ** (zoom - 16)):
                yield Tile(zoom, column, row, noise(256, column))


@pytest.fixture
def tracing() -> Tracing:
    whole = Picture("imagery", noise(64, 1), BOUNDS)
    picture = TracingPicture("flight.tif", "GDA2020 / MGA zone 55", BOUNDS, 0.25, whole, 19, 16, tiles, accuracy_m=3.0)
    return Tracing("flight", "flight", picture, None, (GATES,))


def data_of(page: bytes) -> dict:
    return json.loads(re.search(rb'id="draft-data">(.*?)</script>', page, re.DOTALL)[1])


def test_the_same_files_give_the_same_bytes(tracing: Tracing) -> None:
    assert draft_page(tracing) == draft_page(tracing)


def test_its_policy_lets_its_own_scripts_run_and_nothing_be_loaded(tracing: Tracing) -> None:
    page = draft_page(tracing).decode()
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert len(scripts) == 2
    for script in scripts:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy
    assert "unsafe" not in policy.replace("style-src 'unsafe-inline'", "")
    assert not re.findall(r"""(?:src|href)=["']?https?:""", page.replace('href="https://leafletjs.com"', ""))
    assert "BSD 2-Clause" in page or "Redistribution and use" in page
    assert "fetch(" not in page.replace("prefetch(", "")


def test_text_of_files_can_end_no_script_and_fill_no_mark(tracing: Tracing) -> None:
    name = "</script><script>hit()</script> {{script}} ${x}"
    hostile = replace(
        tracing,
        name=name,
        notes=(name,),
        picture=replace(tracing.picture, file=name, system=name),
        boundary=({"type": "Feature", "properties": {"name": name}, "geometry": None},),
    )
    page = draft_page(hostile).decode()
    assert page.count("<script>hit()") == 0
    assert page.count("</script>") == 3
    assert data_of(page.encode())["boundary"]["features"][0]["properties"]["name"] == name
    assert page.count("{{script}}") == 6  # shown as it is: title, name, notes, file, system; and in the data


def test_it_says_what_the_picture_is_and_what_a_tracing_is_not(tracing: Tracing) -> None:
    page, said = page_and_words(tracing)
    assert said == (
        "flight.tif, GDA2020 / MGA zone 55; a pixel is 0.25 m on the ground."
        " Its system and WGS 84 are known to fit to 3 m only."
    )
    text = page.decode()
    assert said in text
    assert "A traced line is not a boundary" in text
    assert "Imagery may be out by metres" in text
    unknown = replace(tracing, picture=replace(tracing.picture, accuracy_m=None))
    assert "How well its system fits WGS 84 is not known." in page_and_words(unknown)[1]


def test_a_small_picture_is_laid_down_whole(tracing: Tracing) -> None:
    ground = inline_ground(tracing.picture)
    assert ground.whole
    assert ground.whole.startswith("data:image/")
    assert ground.tiles == {}
    assert not ground.coarser


def test_a_large_one_is_tiles_within_the_size_said_and_coarser_beyond(tracing: Tracing) -> None:
    picture = replace(tracing.picture, whole=None)
    whole = inline_ground(picture)
    assert (whole.deepest, whole.widest, whole.coarser, whole.pixel_m) == (19, 16, False, 0.25)
    assert len(whole.tiles) == 1 + 4 + 16 + 64
    size = sum(map(len, whole.tiles.values()))
    half = inline_ground(picture, greatest_bytes=size // 2)
    assert (half.deepest, half.coarser, half.pixel_m) == (18, True, 0.5)
    assert sum(map(len, half.tiles.values())) <= size // 2
    least = inline_ground(picture, greatest_bytes=1)
    assert (least.deepest, set(least.tiles)) == (16, {"16/0/0"})
    page, said = page_and_words(replace(tracing, picture=picture), greatest_bytes=size // 2)
    assert "a pixel is 0.50 m on the ground. The file is finer, 0.25 m" in said
    assert len(page) < size // 2 + 400_000


def test_a_drawing_is_kept_for_its_picture_and_its_beginning(tracing: Tracing) -> None:
    def key(one: Tracing) -> str:
        return data_of(draft_page(one))["key"]

    line = {"type": "LineString", "coordinates": [[146.281, -34.88], [146.282, -34.88]]}
    begun = replace(tracing, boundary=({"type": "Feature", "properties": {}, "geometry": line},))
    other = replace(tracing, picture=replace(tracing.picture, bounds=(-34.8, 146.2, -34.7, 146.3)))
    assert len({key(tracing), key(begun), key(other)}) == 3
    assert key(tracing) == key(replace(tracing, hillshade=Picture("hillshade", noise(8, 2), BOUNDS)))


def test_every_property_has_a_label_and_its_unit() -> None:
    (gates,) = layer_table((GATES,))
    assert gates["title"] == "Gates"
    assert gates["shapes"] == ["mark"]
    opening, leaves = gates["fields"]
    assert (opening["label"], opening["unit"], opening["needed"]) == ("Opening between post faces", "m", True)
    assert (leaves["label"], leaves["unit"]) == ("Leaves", "")
    (strange,) = layer_table((DrawnLayer("bores", "bores.geojson", ("Polygon",), (LayerField("cap_mm", "number"),)),))
    assert (strange["title"], strange["shapes"], strange["fields"][0]["label"]) == ("Bores", ["outline"], "Cap")


def test_it_is_written_whole_and_over_nobody_elses_file(tracing: Tracing, tmp_path: Path) -> None:
    page, _ = write_draft(tracing, tmp_path / "new" / "page.html")
    assert page.read_bytes() == draft_page(tracing)
    assert [path.name for path in page.parent.iterdir()] == ["page.html"]
    write_draft(replace(tracing, name="second"), page)
    assert b"second" in page.read_bytes()
    stranger = tmp_path / "index.html"
    stranger.write_text("<p>mine</p>")
    with pytest.raises(StrangersError, match="is no tracing page"):
        write_draft(tracing, stranger)
    with pytest.raises(StrangersError):
        write_draft(tracing, tmp_path)
    assert stranger.read_text() == "<p>mine</p>"
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        write_draft(tracing, tmp_path / "file" / "page.html")
