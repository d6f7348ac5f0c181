"""Backfill in layers, and how posts stand, against what is printed."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

import pytest

from fencegis.catalogue import rows
from fencegis.records.spec import Fence
from fencegis.strength.holes import number, over_post_mm

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.published(source="ibc-backfill", where="clean sand in layers not more than 8 in (203 mm), tamped")
def test_sand_is_filled_in_layers(compare: Callable, printed: type) -> None:
    compare(number("layer", "sand") / 0.0254, printed("8", 1e-9))
    compare(number("layer", "sand") * 1000.0, "203")


@pytest.mark.published(source="caltrans-80-2-posts", where="a wood post set in a hole of its own diameter")
def test_firm_ground_takes_a_hole_of_the_posts_own_diameter(compare: Callable) -> None:
    compare(175.0 + over_post_mm("clay", how="bored"), "175")


@pytest.mark.parametrize(
    ("row_id", "setting"),
    [
        pytest.param(
            "bc-barbed-2016",
            "square",
            marks=pytest.mark.published(source="bc-barbed-2016", where="posts perpendicular to the ground"),
        ),
        pytest.param(
            "iowa-2519",
            "plumb",
            marks=pytest.mark.published(source="iowa-2519", where="A.1 b: firmly embedded, plumb, true to alignment"),
        ),
        pytest.param(
            "western-state-fence",
            "plumb",
            marks=pytest.mark.published(source="western-state-fence", where="posts set plumb (vertical)"),
        ),
    ],
)
def test_specifications_disagree_on_how_posts_stand(compare: Callable, row_id: str, setting: str) -> None:
    (row,) = (row for row in rows("posts_stand") if row["id"] == row_id)
    compare(row["setting"], setting)
    assert setting in get_args(Fence.model_fields["posts_stand"].annotation)
