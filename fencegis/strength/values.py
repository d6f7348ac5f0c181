"""Single values of the catalogues of strength: an item of `wire.csv` or `footing.csv` in its own unit."""

from __future__ import annotations

from fencegis.catalogue import rows


def value_of(catalogue: str, item: str) -> float:
    """Return the value of an item of `catalogue/<catalogue>.csv`, in the unit of its row.

    Raises KeyError when there is no such item.
    """
    for row in rows(catalogue):
        if row["item"] == item:
            return float(row["value"])
    raise KeyError(f"{catalogue}.csv has no item {item!r}")
