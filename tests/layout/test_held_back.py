"""Cells coarser than the bays: what they cannot tell is left empty and named, everything else stands."""

import numpy as np
import pandas as pd
import pytest

from fencegis import Site, Spec, plan_site
from fencegis.inputs.crs import geographic, working_grid
from fencegis.layout.held_back import HANGS_ON_A_POST, held_back
from fencegis.records.site import DrawnLine
from fencegis.records.tables import checked
from fencegis.records.terrain import Patch, Terrain

GRID = working_grid(np.array([[149.2, -34.5]]), datum=geographic("WGS 84"), height_m=300.0)
START = np.array([50_000.0, 80_000.0])


def terrain(cell_m):
    """Ground 400 m about the start: a valley 30 m deep across a line that runs east, steep enough for strainers."""
    many = int(np.ceil(1200.0 / cell_m))
    west, north = START[0] - 400.0, START[1] + 600.0
    east = west + cell_m * (np.arange(many) + 0.5)
    level = np.broadcast_to(300.0 + 0.4 * np.abs(east - START[0] - 200.0), (many, many))
    affine = (cell_m, 0.0, west, 0.0, -cell_m, north)
    tiles = level.astype("float32")[None]
    patch = Patch("elevation.tif", GRID.wkt, affine, (many, many), tiles, np.zeros((1, 1), "int32"))
    return Terrain((patch,), cell_m)


def plan_on(cell_m, spacing_m):
    corners = START + np.array([[0.0, 0.0], [400.0, 3.0]])
    line = DrawnLine("A", "", "feature 1", "wire", None, False, corners, 1.0)
    spec = Spec.model_validate({"fence": {"post_spacing_m": spacing_m}, "elevation": {"vertical_error_m": 0.2}})
    return plan_site(Site("any", "Any", spec, GRID, (line,), terrain=terrain(cell_m)))


@pytest.mark.parametrize("spacing_m", [2.4, 5.0])
def test_cells_of_thirty_metres_tell_nothing_of_a_post(spacing_m):
    plan = plan_on(30.0, spacing_m)
    for layer, columns in HANGS_ON_A_POST.items():
        assert getattr(plan, layer)[list(columns)].isna().all(axis=None)
    for path in ("bays.grade_pct", "posts.ground_m", "posts.uplift_kn", "strainers.ground_m"):
        assert f"{path}: held back: cells of 30 m are coarser than the posts" in plan.not_computed
    (said,) = (note for note in plan.notes["text"] if note.startswith("cells of 30 m are coarser"))
    assert f"({spacing_m:.1f} m)" in said
    assert plan.breaks["change_pct"].tolist() == pytest.approx([80.0], abs=6.0)  # told, to a cell
    assert plan.breaks["sigma_chainage_m"].min() > 30.0 / np.sqrt(12.0)
    along = plan.bays["ground_length_m"].sum()
    assert 400.0 < along <= 400.0 * np.hypot(1.0, 0.4) + 0.2  # the valley's floor is cut off: at least this long


@pytest.mark.parametrize(("cell_m", "spacing_m"), [(1.0, 2.4), (5.0, 5.0), (5.0, 4.6)])
def test_cells_as_fine_as_the_bays_tell_it(cell_m, spacing_m):
    plan = plan_on(cell_m, spacing_m)
    assert plan.bays["grade_pct"].notna().all()
    assert plan.posts["ground_m"].notna().all()
    assert not any("held back" in text for text in plan.not_computed)


def test_a_plumb_post_is_plumb_on_any_ground():
    frame = pd.DataFrame(
        {
            "line_id": "A",
            "chainage_m": [0.0, 2.4],
            "post_id": ["A-1", "A-2"],
            "kind": "line",
            "ground_chainage_m": [0.0, 2.5],
            "tape_m": [0.0, 2.5],
            "ground_m": [300.0, 301.0],
            "lean_deg": [0.0, 4.0],
        }
    )
    posts = checked("posts", frame)
    held = held_back("posts", posts, terrain=Terrain((), 30.0), bay_m=2.4)
    assert held["ground_m"].isna().all()
    assert held["lean_deg"].iloc[0] == 0.0
    assert np.isnan(held["lean_deg"].iloc[1])
    assert held_back("posts", posts, terrain=None, bay_m=2.4) is posts
