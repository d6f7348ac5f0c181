"""What a handheld can take: limits in numbers, whoever made it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fencegis import catalogue

if TYPE_CHECKING:
    from fencegis.records.spec import Handheld

# One plain word for each kind of point. A unit that does not know the word shows its own mark, and loses nothing: the
# kind is in the name, the comment and the type as well.
SYMBOLS = {
    "hazard": "Danger", "crossing": "Water", "gate": "Gate", "corner": "Triangle", "end": "Square",
    "junction": "Diamond", "peg": "Pin", "strainer": "Circle", "post": "Dot",
}  # fmt: skip


@dataclass(frozen=True)
class Limits:
    """Letters in a name, waypoints in a file and in the unit, points in a route and in a track; None is no limit.

    Without `route_points` no route is written. `symbols` is whether points carry a symbol's word.
    """

    names: int | None = None
    points: int | None = None
    points_in_all: int | None = None
    route_points: int | None = None
    track_points: int | None = None
    symbols: bool = True

    @property
    def file_points(self) -> int | None:
        """Most waypoints in one file: no file may hold more than the unit does."""
        given = [limit for limit in (self.points, self.points_in_all) if limit is not None]
        return min(given, default=None)


def limits_of(handheld: Handheld) -> Limits:
    """Return the limits that the specification gives: each key, else its row of `catalogue/handhelds.csv`, else none.

    The rows are common practice. Raises KeyError for a kind that is not in the catalogue.
    """
    row: dict[str, str] = {}
    if handheld.kind is not None:
        rows = {row["kind"].casefold(): row for row in catalogue.rows("handhelds")}
        row = rows[" ".join(handheld.kind.split()).casefold()]
    numbers = {
        name: given if (given := getattr(handheld, name)) is not None else _number(row.get(name, ""))
        for name in ("names", "points", "points_in_all", "route_points", "track_points")
    }
    symbols = handheld.symbols or row.get("symbols", "plain")
    return Limits(**numbers, symbols=symbols == "plain")


def _number(cell: str) -> int | None:
    return int(cell) if cell else None
