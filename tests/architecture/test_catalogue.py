"""No trade number without its unit, its source and how well it stands."""

from __future__ import annotations

from importlib.resources import files

import pytest

from fencegis import catalogue

NAMES = sorted(path.name.removesuffix(".csv") for path in files(catalogue).iterdir() if path.name.endswith(".csv"))
STANDINGS = {"read", "second hand", "common practice", "from memory"}


def test_there_are_catalogues() -> None:
    assert "bend_rules" in NAMES


@pytest.mark.parametrize("name", NAMES)
def test_every_row_names_its_source_and_its_standing(name: str) -> None:
    rows = catalogue.rows(name)
    assert rows
    for place, row in enumerate(rows, start=2):
        assert None not in row, f"{name}.csv line {place}: more cells than columns"
        assert None not in row.values(), f"{name}.csv line {place}: fewer cells than columns"
        assert row["source"].strip(), f"{name}.csv line {place}: no source"
        assert row["standing"] in STANDINGS, f"{name}.csv line {place}: standing {row['standing']!r}"


@pytest.mark.parametrize("name", NAMES)
def test_a_row_stands_once(name: str) -> None:
    rows = [tuple(row.items()) for row in catalogue.rows(name)]
    assert len(rows) == len(set(rows))


@pytest.mark.parametrize("name", NAMES)
def test_what_was_read_says_where(name: str) -> None:
    """What was `read` can be looked up again: an address, or a document with its edition."""
    for row in catalogue.rows(name):
        if row["standing"] == "read":
            assert (row.get("address") or "").strip() or "." in row["source"] or row["edition"].strip(), row["source"]
