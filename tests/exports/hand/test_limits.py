"""Limits by their row, keys before it."""

from __future__ import annotations

import pytest

from fencegis import catalogue
from fencegis.exports.hand.limits import SYMBOLS, Limits, limits_of
from fencegis.exports.key_points import LETTERS
from fencegis.records.spec import Handheld


def test_without_keys_there_is_no_limit() -> None:
    assert limits_of(Handheld()) == Limits()
    assert Limits().file_points is None


def test_a_row_gives_all_and_a_key_goes_before_it() -> None:
    assert limits_of(Handheld(kind=" 6  LETTERS")) == Limits(6, 250, 250, 30, 500, symbols=False)
    assert limits_of(Handheld(kind="6 letters", names=7, symbols="plain")) == Limits(7, 250, 250, 30, 500)


def test_a_file_holds_no_more_than_the_unit() -> None:
    assert Limits(points=500, points_in_all=250).file_points == 250


def test_an_unknown_kind_is_an_error() -> None:
    with pytest.raises(KeyError):
        limits_of(Handheld(kind="7 letters"))


def test_every_row_is_a_specification_in_bounds_and_the_rows_rise() -> None:
    rows = catalogue.rows("handhelds")
    keys = ("names", "points", "points_in_all", "route_points", "track_points")
    for row in rows:
        Handheld.model_validate({key: int(row[key]) for key in keys} | {"symbols": row["symbols"]})
    assert [int(row["names"]) for row in rows] == [6, 8, 10, 14, 30]
    for key in keys:
        assert [int(row[key]) for row in rows] == sorted(int(row[key]) for row in rows)


def test_every_kind_of_point_has_a_symbol_of_its_own() -> None:
    assert set(LETTERS) | {"strainer", "post"} == set(SYMBOLS)
    assert len(set(SYMBOLS.values())) == len(SYMBOLS)
