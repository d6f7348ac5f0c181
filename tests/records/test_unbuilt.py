"""What a plan does not hold is named, with the reason."""

from types import SimpleNamespace

import pandas as pd

from fencegis.records.unbuilt import UNBUILT, not_computed


def test_a_column_empty_in_every_row_is_named_with_its_reason():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="wire"),))
    empty = pd.DataFrame({"bearing_magnetic_deg": [float("nan")] * 2, "radius_m": [float("nan")] * 2})
    found = not_computed(site, {"runs": empty.reindex(columns=_columns("runs"))})
    assert "runs.bearing_magnetic_deg: no date in site.toml, or one outside the magnetic model" in found
    assert not any("radius_m" in text for text in found)  # straight runs have none
    assert len(found) == len(UNBUILT) + 1


def test_a_rail_fence_has_no_lift_because_it_has_no_wire():
    site = SimpleNamespace(drawn=(SimpleNamespace(kind="post and rail"),))
    posts = pd.DataFrame({"uplift_kn": [float("nan")]}).reindex(columns=_columns("posts"))
    assert "posts.uplift_kn: no wire to lift a post" in not_computed(site, {"posts": posts})


def _columns(layer):
    from fencegis.records.tables import LAYERS

    return [column.name for column in LAYERS[layer].columns]
