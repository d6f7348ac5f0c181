"""Shares of a post in the ground: rules that a book prints against the range that agencies print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.records.spec import Fence
from fencegis.strength.footing import ratio_band

if TYPE_CHECKING:
    from collections.abc import Callable

FOOT_M = 0.3048


@pytest.mark.published(
    source="sheep-book-130", where="posts of corners and ends: a third of their height, or a little deeper"
)
def test_the_rule_of_a_third_is_what_agencies_print_for_line_posts_and_less_than_for_strainers() -> None:
    third = 1.0 / 3.0
    least, most = ratio_band("line")
    assert least <= third <= most
    assert ratio_band("strainer")[0] >= third


@pytest.mark.published(source="sheep-book-130", where="an 8 ft post 3 ft deep is better than the least")
def test_the_shallowest_strainer_of_the_agencies_is_the_books_better_one(compare: Callable, printed: type) -> None:
    compare(8.0 * ratio_band("strainer")[0], printed("3", 1e-9))


@pytest.mark.published(source="sheep-book-130", where="an 8 ft post under a heavy gate: at least 4 ft (1.2 m)")
def test_a_gate_post_stands_as_deep_as_the_book_has_it(compare: Callable) -> None:
    compare(Fence().gate_embed_m, "1.2")


@pytest.mark.parametrize(
    ("kind", "least", "most"),
    [
        pytest.param(
            "line",
            "0.308",
            "0.386",
            marks=pytest.mark.published(
                source="wfl-619", where="least: 2 ft of 6 ft 6 in; most: bc-barbed-2016, 81 of 210 cm"
            ),
        ),
        pytest.param(
            "strainer",
            "0.375",
            "0.458",
            marks=pytest.mark.published(source="nrcs-oh-382", where="least: 3 of 8 ft; most: alberta-ne, 44 of 96 in"),
        ),
        pytest.param(
            "sand or bog",
            "0.500",
            "0.508",
            marks=pytest.mark.published(
                source="nrcs-oh-382", where="least: 4 of 8 ft; most: bc-barbed-2016, 1.22 of 2.4 m"
            ),
        ),
    ],
)
def test_the_range_of_each_kind(compare: Callable, kind: str, least: str, most: str) -> None:
    found = ratio_band(kind)
    compare(found[0], least)
    compare(found[1], most)
