"""Scenes for the hazard steps: layers as they come from reading, all in metres of the working grid."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pytest
import shapely

from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from types import ModuleType

NAN = float("nan")


def beside(name: str) -> ModuleType:
    """Return the module of a file beside this one: in importlib mode tests import nothing from each other."""
    full = f"tests_hazards_{name}"
    if full not in sys.modules:
        spec = importlib.util.spec_from_file_location(full, Path(__file__).parent / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        sys.modules[full] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[full])
    return sys.modules[full]


@pytest.fixture
def conductor_scenes() -> ModuleType:
    """`conductor_scenes.py`."""
    return beside("conductor_scenes")


@pytest.fixture
def limb_scenes() -> ModuleType:
    """`limb_scenes.py`."""
    return beside("limb_scenes")


@pytest.fixture
def kept_scenes() -> ModuleType:
    """`kept_scenes.py`."""
    return beside("kept_scenes")


@pytest.fixture
def slope_scenes() -> ModuleType:
    """`slope_scenes.py`."""
    return beside("slope_scenes")


@pytest.fixture
def conductor_layer() -> Callable[..., gpd.GeoDataFrame]:
    """Make an overhead layer of (vertices, columns that differ from an 11 kV pole line of unknown height)."""

    def make(*lines: tuple[Sequence[Sequence[float]], dict[str, object]]) -> gpd.GeoDataFrame:
        bare: dict[str, object] = {
            "name": None,
            "kind": "power",
            "voltage_kv": 11.0,
            "height_m": NAN,
            "sag_m": NAN,
            "half_width_m": NAN,
            "height_error_m": NAN,
            "swing_m": NAN,
            "height_from": None,
            "insulated": None,
            "support": "pole",
        }
        rows = [{"feature": f"feature {place}", **bare, **own} for place, (_, own) in enumerate(lines, start=1)]
        return gpd.GeoDataFrame(rows, columns=["feature", *bare], geometry=[shapely.LineString(at) for at, _ in lines])

    return make


@pytest.fixture
def tree_layer() -> Callable[..., gpd.GeoDataFrame]:
    """Make a trees layer of (geometry, columns that differ from a live tree of which nothing is known)."""

    def make(*trees: tuple[shapely.Geometry, dict[str, object]]) -> gpd.GeoDataFrame:
        bare: dict[str, object] = {"name": None, "height_m": NAN, "limb_m": NAN, "spread_m": NAN, "dead": False}
        rows = [{"feature": f"feature {place}", **bare, **own} for place, (_, own) in enumerate(trees, start=1)]
        return gpd.GeoDataFrame(rows, columns=["feature", *bare], geometry=[at for at, _ in trees])

    return make


@pytest.fixture
def exact_spec() -> Callable[..., Spec]:
    """Make a specification with a taped machine, a walked line and no allowance for the drawing or the raster."""

    def make(*, working_height_m: float = 4.0, reach_m: float = 1.5, **tables: object) -> Spec:
        given = {
            "boundary": {"drawn_from": "survey"},
            "elevation": {"vertical_error_m": 1e-9},
            "machine": {"working_height_m": working_height_m, "reach_m": reach_m},
            "walked": {"overhead": "2026-03-04, along the whole line", "trees": "2026-03-05"},
            "rules": {"approach": "nsw-2006"},
        }
        return Spec.model_validate({**given, **tables})

    return make


@pytest.fixture
def straight() -> Line:
    """A line of 100 m due east."""
    return Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))


@pytest.fixture
def ground() -> SimpleNamespace:
    """Ground heights: flat, falling across an east-going line, bumpy, missing on a stretch."""

    return SimpleNamespace(
        flat=lambda points: np.zeros(len(points)),
        across=lambda grade: lambda points: -grade * points[:, 1],
        bumpy=beside("conductor_scenes").bumpy,
        missing=lambda start, end: lambda points: np.where((points[:, 0] > start) & (points[:, 0] < end), np.nan, 0.0),
    )
