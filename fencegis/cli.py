"""The commands. Exit codes: 0 done; 1 a bug (traceback); 2 faulty input; 3 the machine (disk, rights, killed)."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeVar

import click

from fencegis import __version__
from fencegis.errors import InputError, OutputError, Problem, StrangersError

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


@main.command()
@click.argument("sites", nargs=-1, type=click.Path(path_type=Path, file_okay=False), metavar="SITE SITE…")
@click.option("--out", type=click.Path(path_type=Path), help="Folder to write to.  [default: outputs/compare]")
def compare(sites: tuple[Path, ...], out: Path | None) -> None:
    """Plan two to six SITEs, options for one job, and write them side by side: compare.html and compare.pdf."""
    from fencegis.exports.compare import LEAST, MOST

    if not LEAST <= len(sites) <= MOST:
        raise click.UsageError(f"{LEAST} to {MOST} sites fit on one page; {len(sites)} were named.")

    def work() -> list[Path]:
        plans = _all_planned(sites)
        from fencegis.exports.compare.folder import write_comparison

        return write_comparison(plans, out or Path("outputs") / "compare")

    for path in _guarded(work):
        click.echo(f"  {path}")
    click.echo("Desk studies: they replace no site inspection, survey, service location or safe work method.")


def _all_planned(sites: tuple[Path, ...]) -> list[Plan]:
    """Plan every site; the faults of all of them are raised together, each with its site's folder before its file."""
    plans: list[Plan] = []
    problems: list[Problem] = []
    for site in sites:
        try:
            plans.append(_planned(site, None))
        except InputError as error:
            problems += [replace(problem, file=str(site / problem.file)) for problem in error.problems]
    if problems:
        raise InputError(problems)
    return plans


@main.command()
@click.argument("imagery", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--elevation", type=click.Path(path_type=Path, dir_okay=False), help="Ground heights, to show as relief.")
@click.option("--boundary", type=click.Path(path_type=Path, dir_okay=False), help="Lines to begin with, in any system.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="PAGE",
    help="File to write.  [default: outputs/<name>_draft.html]",
)
def draft(imagery: Path, elevation: Path | None, boundary: Path | None, out: Path | None) -> None:
    """Write an offline page on which fence lines are traced over IMAGERY, an orthophoto.

    What it saves is the site folder's: boundary.geojson, gates.geojson and the rest.
    """

    def work() -> tuple[Path, str]:
        from fencegis.inputs.tracing import read_tracing

        tracing = read_tracing(imagery, elevation=elevation, boundary=boundary)
        from fencegis.exports.draft.write import write_draft

        return write_draft(tracing, out or Path("outputs") / f"{tracing.file_name}_draft.html")

    page, says = _guarded(work)
    click.echo(f"{page} ({page.stat().st_size / 1e6:.1f} MB): open it in a browser; it needs no network.\n{says}")
    click.echo("A traced line is not a boundary: only a licensed surveyor marks one. Imagery may be out by metres.")


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
