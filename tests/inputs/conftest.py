"""Small site folders, written in the tests' own temporary folder."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from pyproj import Transformer

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

MIDDLE = (148.15, -35.25)
# Metres east and north of the middle, by a projection unlike the working grid's.
_FROM_METRES = Transformer.from_crs(
    f"+proj=aeqd +lon_0={MIDDLE[0]} +lat_0={MIDDLE[1]} +ellps=WGS84", "EPSG:4326", always_xy=True
)


def at(east_m: float, north_m: float, *height_m: float) -> list[float]:
    lon, lat = _FROM_METRES.transform(east_m, north_m)
    return [round(lon, 9), round(lat, 9), *height_m]


def as_feature(kind: str, coordinates: Any, /, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def as_layer(*features: Any, **members: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", **members, "features": list(features)}


@pytest.fixture(scope="session")
def place() -> Callable[..., list[float]]:
    """Return the position at metres east and north of the middle of the sites here, with a height when given."""
    return at


@pytest.fixture(scope="session")
def feature() -> Callable[..., dict[str, Any]]:
    """Return a GeoJSON Feature: `feature("Point", [148, -35], name="x")`."""
    return as_feature


@pytest.fixture(scope="session")
def layer() -> Callable[..., dict[str, Any]]:
    """Return a FeatureCollection of features, with further members by name."""
    return as_layer


@pytest.fixture(scope="session")
def straight() -> dict[str, Any]:
    """A boundary of one line, 200 m to the east with a corner north of 100 m."""
    return as_layer(as_feature("LineString", [at(0, 0), at(200, 0), at(200, 100)], name="North side"))


@pytest.fixture
def make_site(tmp_path: Path, straight: dict[str, Any]) -> Callable[..., Path]:
    """Return a function that writes a site folder from its files' names (`_` for `.`) and what they hold.

    What is not text or bytes is written as JSON. The boundary is `straight` when none is given; None leaves it out.
    """

    def make(folder: str = "home paddock", /, **files: Any) -> Path:
        site = tmp_path / folder
        site.mkdir(exist_ok=True)
        for key, holds in {"boundary_geojson": straight, **files}.items():
            if holds is None:
                continue
            path = site / key.replace("_", ".")
            data = holds if isinstance(holds, str | bytes) else json.dumps(holds)
            path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return site

    return make
