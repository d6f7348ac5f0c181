"""What a plan does not hold is named, with the reason."""

from types import SimpleNamespace

import pandas as pd

from fencegis.records.spec import Spec
from fencegis.records.terrain import Terrain
from fencegis.records.unbuilt import not_computed


def test_a_column_empty_in_every_row_is_named_with_its_reason():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="wire"),), rates=None)
    empty = pd.DataFrame({"bearing_magnetic_deg": [float("nan")] * 2, "radius_m": [float("nan")] * 2})
    found = not_computed(site, {"runs": empty.reindex(columns=_columns("runs"))})
    assert "runs.bearing_magnetic_deg: no date in site.toml, or one outside the magnetic model" in found
    assert not any("radius_m" in text for text in found)  # straight runs have none
    assert len(found) == 2


def test_without_rates_nothing_is_priced_and_with_them_that_is_not_said():
    site = SimpleNamespace(drawn=(), rates=None)
    assert not_computed(site, {}) == ("price: no rates.csv, so nothing is priced and no quote.csv is written",)
    assert not_computed(SimpleNamespace(drawn=(), rates=()), {}) == ()


def test_a_rail_fence_has_no_lift_because_it_has_no_wire():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="post and rail"),), rates=None, terrain=None, timber=None)
    posts = pd.DataFrame({"uplift_kn": [float("nan")]}).reindex(columns=_columns("posts"))
    assert "posts.uplift_kn: no wire to lift a post" in not_computed(site, {"posts": posts})


def test_cells_too_coarse_for_the_posts_are_the_reason_for_what_is_held_back():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="wire"),), rates=None, terrain=Terrain((), 30.0), spec=Spec())
    bays = pd.DataFrame({"grade_pct": [float("nan")]}).reindex(columns=_columns("bays"))
    assert "bays.grade_pct: held back: cells of 30 m are coarser than the posts" in not_computed(site, {"bays": bays})
    fine = SimpleNamespace(drawn=site.drawn, rates=None, terrain=Terrain((), 1.0), spec=Spec())
    assert "bays.grade_pct: no ground heights" in not_computed(fine, {"bays": bays})


def test_no_stick_is_chosen_without_a_yard_or_where_the_yard_names_none():
    posts = pd.DataFrame({"top_m": [1.2]}).reindex(columns=_columns("posts"))
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="post and rail"),), rates=None, terrain=None, timber=None)
    assert "posts.timber_id: no posts.csv" in not_computed(site, {"posts": posts})
    site.timber = ()
    assert "posts.timber_id: posts.csv names no stick" in not_computed(site, {"posts": posts})


def test_a_wire_fence_has_no_top_rail_because_it_has_no_rails():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="wire"),), rates=None, terrain=None, timber=None)
    posts = pd.DataFrame({"top_m": [float("nan")]}).reindex(columns=_columns("posts"))
    assert "posts.top_m: no rails" in not_computed(site, {"posts": posts})


def _columns(layer):
    from fencegis.records.tables import LAYERS

    return [column.name for column in LAYERS[layer].columns]
