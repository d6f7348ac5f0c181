"""The folder of a plan: whole or not there, and never anybody else's."""

from __future__ import annotations

import ctypes
import errno
import json
import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from fencegis.errors import OutputError, StrangersError
from fencegis.exports import geopackage, kml, summary
from fencegis.exports.csv_tables import placed_csv, takeoff_csv
from fencegis.exports.hand.files import every_name, post_files, waypoint_files
from fencegis.exports.hand.name_table import NAME as NAME_TABLE
from fencegis.exports.hand.name_table import name_table
from fencegis.exports.hand.page import NAME as HAND_PAGE
from fencegis.exports.hand.page import hand_page
from fencegis.exports.plan_hash import reckoned_once
from fencegis.exports.points import rover_file
from fencegis.exports.positions import WGS84, operation
from fencegis.exports.schedule_csv import schedule_csv

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fencegis.records.plan import Plan

_HERE = -100  # AT_FDCWD of Linux's fcntl.h: a path as a path
_EXCHANGE = 2  # RENAME_EXCHANGE of Linux's renameat2
NO_EXCHANGE = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM}  # this system or this disk cannot
EVERY_NAME = every_name() | frozenset({
    "plan.gpkg", "map.html", "waypoints.kml", NAME_TABLE, HAND_PAGE, "points_pnezd.csv", "points_penzd.csv",
    "points_pnezd.txt", "long_section.svg", "takeoff.csv", "quote.csv", "order.xlsx", "schedule.csv",
    "posts_placed.csv", "setout.pdf", "client.pdf", "client.html", summary.NAME,
})  # fmt: skip

HALF_WRITTEN = frozenset({"plan.gpkg-journal", "plan.gpkg-wal", "plan.gpkg-shm"})  # SQLite's own, while it writes


def write_plan(plan: Plan, folder: str | os.PathLike[str], *, all_posts: bool = False) -> list[Path]:
    """Write every file of the plan into `folder` and return their paths, sorted.

    All is written into `.<name>.part` beside the folder, which then takes its place in one step where the system can do
    that; where it cannot, the folder is absent for that instant and the next run mends what a kill left. `all_posts`
    adds `posts.gpx`. A folder that exists is replaced when it is empty or an older plan of ours and nothing else: else
    StrangersError names what is in the way and nothing is touched. OutputError when disk or rights do not let it.
    """
    return write_whole(folder, lambda part: _fill(plan, part, all_posts=all_posts))


def write_whole(
    folder: str | os.PathLike[str], fill: Callable[[Path], None], *, listed: frozenset[str] = frozenset()
) -> list[Path]:
    """Let `fill` write into a new folder, which then takes the place of `folder`; return the paths, sorted.

    A folder that exists is replaced only when it holds nothing beside `listed` and what a summary of ours in it lists:
    else StrangersError, and nothing is touched. OutputError when disk or rights do not let it.
    """
    target = Path(folder).expanduser()
    try:
        target = target.resolve()
        if not target.name:
            raise StrangersError(f"{target}: a plan gets a folder of its own. Name another folder.")
        target.parent.mkdir(parents=True, exist_ok=True)
        mend(target, listed=listed)
        refuse_strangers(target, listed=listed)
        part = _beside(target, "part")
        part.mkdir()
        try:
            fill(part)
            _put(part, target)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as error:
        raise OutputError(f"{error.filename or target}: {error.strerror or error}") from error
    return sorted(target.iterdir())


def mend(target: Path, *, listed: frozenset[str] = frozenset()) -> None:
    """Tidy up what a killed run left beside `target`: a plan moved aside comes back, half-written files go.

    Raises StrangersError, touching nothing, when what lies there is not ours.
    """
    aside, part = _beside(target, "old"), _beside(target, "part")
    for left in (aside, part):
        refuse_strangers(left, listed=EVERY_NAME | HALF_WRITTEN | listed)
    if aside.is_dir():
        if target.exists():
            shutil.rmtree(aside)
        else:
            aside.rename(target)
    if part.is_dir():
        shutil.rmtree(part)


def refuse_strangers(folder: Path, *, listed: frozenset[str] = frozenset()) -> None:
    """Raise StrangersError when `folder` holds anything beside `listed` and what a summary of ours in it lists."""
    if not folder.exists() and not folder.is_symlink():
        return
    if not folder.is_dir():
        raise StrangersError(f"{folder}: there is a file of that name. Name another folder.")
    ours = listed | _listed(folder / summary.NAME)
    strangers = sorted(path.name for path in folder.iterdir() if path.name not in ours or path.is_dir())
    if strangers:
        shown = ", ".join(strangers[:5]) + (f" and {len(strangers) - 5} more" if len(strangers) > 5 else "")
        raise StrangersError(f"{folder}: holds what no plan wrote: {shown}. Name another folder, or move them away.")


def _listed(path: Path) -> frozenset[str]:
    """Return the names that a summary of ours lists; none when there is none or it is somebody else's."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return frozenset()
    if not isinstance(content, dict) or content.get("made_by") != summary.MADE_BY:
        return frozenset()
    files = content.get("files")
    return frozenset(name for name in files if isinstance(name, str)) if isinstance(files, list) else frozenset()


def _fill(plan: Plan, part: Path, *, all_posts: bool) -> None:
    with reckoned_once(plan):
        geopackage.write(plan, part / "plan.gpkg")
        rover = rover_file(plan)
        for name, content in _texts(plan, all_posts=all_posts):
            (part / name).write_bytes(content)
        (part / "points_pnezd.csv").write_bytes(rover.points)
        (part / "points_penzd.csv").write_bytes(rover.eastings_first)
        (part / "points_pnezd.txt").write_bytes(rover.text)
        files = [*(path.name for path in part.iterdir()), summary.NAME]
        used = [operation(plan, WGS84, name="WGS 84"), rover.operation]
        (part / summary.NAME).write_bytes(summary.summary(plan, files=files, operations=used))


def _texts(plan: Plan, *, all_posts: bool) -> Iterator[tuple[str, bytes]]:
    from fencegis.exports.client.page import client_page
    from fencegis.exports.client.paper import client_pdf
    from fencegis.exports.map.page import map_page
    from fencegis.exports.order.workbook import order_workbook
    from fencegis.exports.quote import quote_csv
    from fencegis.exports.section.long_section import section_drawing
    from fencegis.exports.sheets.setout import setout_pdf

    yield "map.html", map_page(plan)
    hand = [*waypoint_files(plan), *(post_files(plan) if all_posts else [])]
    yield from ((file.name, file.content) for file in hand)
    yield NAME_TABLE, name_table(plan, hand)
    yield HAND_PAGE, hand_page(plan, hand)
    yield "waypoints.kml", kml.waypoints(plan)
    yield "long_section.svg", section_drawing(plan)
    yield "takeoff.csv", takeoff_csv(plan)
    if (quote := quote_csv(plan)) is not None:
        yield "quote.csv", quote
    if (order := order_workbook(plan)) is not None:
        yield "order.xlsx", order
    if len(plan.days):
        yield "schedule.csv", schedule_csv(plan)
    if (placed := placed_csv(plan)) is not None:
        yield "posts_placed.csv", placed
    yield "setout.pdf", setout_pdf(plan)
    yield "client.pdf", client_pdf(plan)
    yield "client.html", client_page(plan)


def _put(part: Path, target: Path) -> None:
    """Let `part` be `target`; an older plan is then `part`, or gone."""
    if not target.exists():
        part.rename(target)
        return
    if exchange(part, target):
        return
    aside = _beside(target, "old")
    target.rename(aside)
    try:
        part.rename(target)
    except OSError:
        aside.rename(target)
        raise
    shutil.rmtree(aside)


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places in one step; False when this system or this disk cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, TypeError, AttributeError):
        return False
    if rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in NO_EXCHANGE:
        return False
    raise OSError(fault, os.strerror(fault), str(other))


def _beside(target: Path, word: str) -> Path:
    return target.with_name(f".{target.name}.{word}")
