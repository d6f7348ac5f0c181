"""KML for globe viewers: valid, fetching nothing, with no live markup in what viewers show as a page."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np
import pyogrio
import pytest
from lxml import etree

from fencegis.exports import kml
from fencegis.exports.key_points import hazards_first, key_points

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

SPACE = {"k": "http://www.opengis.net/kml/2.2"}


@pytest.fixture(scope="module")
def content(small_plan: Plan) -> bytes:
    return kml.waypoints(small_plan)


def test_valid_against_the_ogc_schema(content) -> None:
    """The schema that ships with fastkml is the OGC's own, with the files that it includes."""
    schema = next(path for path in files("fastkml").rglob("ogckml22.xsd"))
    etree.XMLSchema(etree.parse(schema)).assertValid(etree.fromstring(content))


def test_gdal_reads_every_point_and_line(small_plan: Plan, content, tmp_path) -> None:
    path = tmp_path / "waypoints.kml"
    path.write_bytes(content)
    places = hazards_first(key_points(small_plan))
    read = pyogrio.read_dataframe(path, layer="Key points")
    assert list(read["Name"]) == [f"{place.name} {place.kind}" for place in places]
    lon_lat = read.geometry.get_coordinates().to_numpy()
    assert np.abs(lon_lat - [(place.lon_deg, place.lat_deg) for place in places]).max() < 1e-9
    assert len(pyogrio.read_dataframe(path, layer="Lines")) == 2


def test_nothing_is_fetched_and_no_description_is_markup(content) -> None:
    root = ET.fromstring(content)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not tags & {"Icon", "href", "NetworkLink", "GroundOverlay", "BalloonStyle", "ExtendedData"}
    assert re.findall(rb"https?://[^\"]*", content) == [b"http://www.opengis.net/kml/2.2"]
    texts = [element.text for tag in ("name", "description") for element in root.iter(f"{{{SPACE['k']}}}{tag}")]
    assert len(texts) > 20
    assert not any(set(text) & set("<>") for text in texts)


def test_it_says_what_it_is_not_for(content) -> None:
    about = ET.fromstring(content).findtext("k:Document/k:description", namespaces=SPACE)
    assert "for finding, not for marking; not a boundary; drawn +-3.2 m" in about
