"""The commands. Exit codes: 0 done; 1 a bug (traceback); 2 faulty input; 3 the machine (disk, rights, killed)."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeVar

import click

from fencegis import __version__
from fencegis.errors import InputError, OutputError, StrangersError

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan
    from fencegis.records.site import Site

FAULTY, MACHINE = 2, 3
Result = TypeVar("Result")

SITE = click.argument("site", type=click.Path(path_type=Path, file_okay=False))
ELEVATION = click.option(
    "--elevation", type=click.Path(path_type=Path), help="Ground heights from this raster instead of the site's own."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="fencegis")
def main() -> None:
    """From a drawn boundary and an elevation raster to a fence plan that a crew can carry.

    A plan is a desk study: it replaces no site inspection, survey, service location or safe work method.
    """


@main.command()
@SITE
@ELEVATION
def check(site: Path, elevation: Path | None) -> None:
    """Read everything of SITE, list all faults at once, write nothing."""
    planned = _guarded(lambda: _planned(site, elevation))
    click.echo(f"{planned.site.name}: no faults found. {_in_short(planned)}")


@main.command()
@SITE
@click.option("--out", type=click.Path(path_type=Path), help="Folder to write to.  [default: outputs/<site>]")
@click.option("--all-posts", is_flag=True, help="Also write posts.gpx, every post: for finding, not for set-out.")
@ELEVATION
def plan(site: Path, out: Path | None, all_posts: bool, elevation: Path | None) -> None:
    """Plan SITE and write the map, waypoints, sections and tables."""

    def work() -> tuple[Plan, list[Path]]:
        from fencegis.exports.bundle import write_plan

        made = _planned(site, elevation)
        return made, write_plan(made, out or Path("outputs") / made.site.folder_name, all_posts=all_posts)

    made, written = _guarded(work)
    click.echo(f"{made.site.name}: {_in_short(made)}")
    for path in written:
        click.echo(f"  {path}")
    click.echo(_in_words(made))


def _planned(folder: Path, elevation: Path | None) -> Plan:
    from fencegis.inputs.site_folder import read_site

    site: Site = read_site(folder, elevation=elevation)
    from fencegis.pipeline import plan_site

    return plan_site(site)


def _in_short(made: Plan) -> str:
    metres = made.runs["ground_length_m"].sum()
    return (
        f"{metres:,.0f} m along the ground, {len(made.runs)} runs, {len(made.posts)} posts, {len(made.gates)} gates,"
        f" {made.hazards['hazard_id'].nunique()} flagged stretches."
    )


def _in_words(made: Plan) -> str:
    """Return what has to be said on the way out: what was not checked, and that this is a desk study."""
    kinds = made.checks.loc[made.checks["status"] == "not checked", "kind"].unique()
    lines = [f"Not checked, on all or part of the line: {', '.join(kinds)}."] if len(kinds) else []
    doubts = int((made.notes["severity"] == "doubt").sum())
    if doubts:
        lines.append(f"{doubts} doubts are in the notes: read them before the walk.")
    lines.append("A desk study: it replaces no site inspection, survey, service location or safe work method.")
    return "\n".join(lines)


def _guarded(work: Callable[[], Result]) -> Result:
    """Run the work; a fault of the input or the machine ends the command in a line each, without a traceback."""
    try:
        return work()
    except (InputError, StrangersError) as error:
        _end(str(error), FAULTY)
    except OutputError as error:
        _end(str(error), MACHINE)
    except (OSError, MemoryError) as error:
        _end(f"the machine does not let this be done: {error}", MACHINE)
    except KeyboardInterrupt:
        _end("stopped; nothing was written", MACHINE)


def _end(message: str, code: int) -> NoReturn:
    click.echo(message, err=True)
    sys.exit(code)
