"""What the short names in the unit stand for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.csv_tables import BYTE_ORDER_MARK, csv_text
from fencegis.exports.file_text import inert
from fencegis.exports.hand.run_places import RunPlaces
from fencegis.exports.page_text import plain
from fencegis.exports.post_places import PostPlaces

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.hand.files import HandFile
    from fencegis.exports.key_points import Place
    from fencegis.records.plan import Plan

NAME = "waypoint_names.csv"
COLUMNS = ("short_name", "long_name", "what", "run", "longitude", "latitude", "post_number", "file")


def name_table(plan: Plan, files: Sequence[HandFile]) -> bytes:
    """Return `waypoint_names.csv`: short and long name, what, run, longitude, latitude, post number, file.

    In walking order; UTF-8 with a byte order mark for spreadsheets. The post number is that of the post at the place,
    or of those on both sides of it.
    """
    posts, runs = PostPlaces(plan), RunPlaces(plan)
    cells = [
        (
            place.name,
            long_name,
            inert(f"{place.short}, line {plain(place.line_id)} at {place.chainage_m:.1f} m"),
            inert(runs.at(place)),
            f"{place.lon_deg:.7f}",
            f"{place.lat_deg:.7f}",
            inert(_posts_at(posts, place)),
            file.name,
        )
        for file in files
        for long_name, place in zip(file.long_names, file.places, strict=True)
    ]
    return (BYTE_ORDER_MARK + csv_text([COLUMNS, *sorted(cells)])).encode()


def _posts_at(posts: PostPlaces, place: Place) -> str:
    first, last = posts.between(place.line_id, place.chainage_m, place.chainage_m)
    return first if first == last else f"{first} to {last}"
