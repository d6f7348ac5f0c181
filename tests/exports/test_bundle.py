"""The folder of a plan is whole or not there, and never anybody else's."""

from __future__ import annotations

import dataclasses
import errno
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fencegis.errors import OutputError, StrangersError
from fencegis.exports import bundle, kml, summary
from fencegis.exports.bundle import exchange, mend, write_plan

if TYPE_CHECKING:
    from fencegis.records.plan import Plan

TESTS = Path(__file__).parents[1]
FILES = [
    "client.html",
    "client.pdf",
    "handheld.txt",
    "long_section.svg",
    "map.html",
    "plan.gpkg",
    "points_penzd.csv",
    "points_pnezd.csv",
    "points_pnezd.txt",
    "setout.pdf",
    "summary.json",
    "takeoff.csv",
    "waypoint_names.csv",
    "waypoints.gpx",
    "waypoints.kml",
]
# Writes the plan made by hand to argv[2]; argv[3] is run before, to break something.
ALONE = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location("by_hand", sys.argv[1])
by_hand = importlib.util.module_from_spec(spec)
sys.modules["by_hand"] = by_hand
spec.loader.exec_module(by_hand)
from fencegis.exports import bundle
exec(sys.argv[3])
bundle.write_plan(by_hand.plan_by_hand(), sys.argv[2])
"""


def write_alone(folder: Path, *, before: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", ALONE, str(TESTS / "plan_by_hand.py"), str(folder), before]
    return subprocess.run(command, capture_output=True, check=False, cwd=TESTS.parent, text=True)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def beside(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.parent.iterdir() if path != folder)


@pytest.fixture
def light(monkeypatch):
    """Two small files in place of all the others: these tests are about the folder."""

    def fill(plan, part, *, all_posts) -> None:
        names = ["takeoff.csv", *(["posts.gpx"] if all_posts else []), "summary.json"]
        for name in names[:-1]:
            (part / name).write_text(plan.site.name)
        (part / "summary.json").write_bytes(summary.summary(plan, files=names))

    monkeypatch.setattr(bundle, "_fill", fill)


@pytest.fixture(params=["exchanged", "moved"])
def way(request, monkeypatch):
    """Both ways to put a folder in another's place: in one step, or where the system cannot, in two."""
    if request.param == "moved":
        monkeypatch.setattr(bundle, "exchange", lambda *_: False)


def named(plan, name):
    return dataclasses.replace(plan, site=dataclasses.replace(plan.site, name=name))


def test_every_file_is_there_and_listed(small_plan: Plan, tmp_path) -> None:
    written = write_plan(small_plan, tmp_path / "deep" / "plan")
    assert [path.name for path in written] == FILES
    assert json.loads((tmp_path / "deep" / "plan" / "summary.json").read_text())["files"] == FILES
    assert beside(tmp_path / "deep" / "plan") == []
    operations = json.loads((tmp_path / "deep" / "plan" / "summary.json").read_text())["datum_operations"]
    assert [used["between"] for used in operations][1:] == [
        "working grid to WGS 84",
        "working grid to GDA2020 / MGA zone 55",
    ]


def test_two_runs_give_the_same_bytes_whatever_the_hash_seed(tmp_path) -> None:
    command = [sys.executable, "-c", ALONE, str(TESTS / "plan_by_hand.py")]
    in_two_processes([[*command, str(tmp_path / seed), ""] for seed in "12"])
    assert contents(tmp_path / "1") == contents(tmp_path / "2")
    assert sorted(contents(tmp_path / "1")) == FILES


def test_a_sample_read_planned_and_written_twice_gives_the_same_bytes(tmp_path) -> None:
    sample = TESTS.parent / "sample_sites" / "roadside"
    command = [sys.executable, "-m", "fencegis", "plan", str(sample), "--all-posts", "--out"]
    in_two_processes([[*command, str(tmp_path / seed)] for seed in "12"])
    assert contents(tmp_path / "1") == contents(tmp_path / "2")
    assert sorted(contents(tmp_path / "1")) == sorted([*FILES, "order.xlsx", "posts.gpx", "quote.csv", "schedule.csv"])


def in_two_processes(commands: list[list[str]]) -> None:
    quiet = {"cwd": TESTS.parent, "stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE, "text": True}
    running = [
        subprocess.Popen(command, env=os.environ | {"PYTHONHASHSEED": str(seed)}, **quiet)
        for seed, command in enumerate(commands, start=1)
    ]
    for process in running:
        _, said = process.communicate()
        assert process.returncode == 0, said


def test_all_posts_only_on_request(small_plan: Plan, tmp_path, light) -> None:
    assert "posts.gpx" in [path.name for path in write_plan(small_plan, tmp_path / "a", all_posts=True)]
    assert "posts.gpx" not in [path.name for path in write_plan(small_plan, tmp_path / "a")]


def test_an_older_plan_is_replaced_whole(small_plan: Plan, tmp_path, light, way) -> None:
    write_plan(named(small_plan, "older"), tmp_path / "plan", all_posts=True)
    write_plan(named(small_plan, "newer"), tmp_path / "plan")
    assert {name: b"newer" in text for name, text in contents(tmp_path / "plan").items()} == {
        "takeoff.csv": True,
        "summary.json": True,
    }
    assert beside(tmp_path / "plan") == []


def test_an_empty_folder_is_taken(small_plan: Plan, tmp_path, light, way) -> None:
    (tmp_path / "plan").mkdir()
    assert write_plan(small_plan, tmp_path / "plan")


@pytest.mark.parametrize("stranger", ["letter.doc", "photos/", ".hidden"])
def test_strangers_are_named_and_nothing_is_touched(small_plan: Plan, tmp_path, light, stranger) -> None:
    target = tmp_path / "plan"
    write_plan(named(small_plan, "older"), target)
    (target / stranger).mkdir() if stranger.endswith("/") else (target / stranger).write_text("mine")
    before = sorted(path.name for path in target.iterdir()), (target / "takeoff.csv").read_bytes()
    with pytest.raises(StrangersError, match=stranger.strip("/").replace(".", r"\.")) as caught:
        write_plan(small_plan, target)
    assert "holds what no plan wrote" in str(caught.value)
    assert (sorted(path.name for path in target.iterdir()), (target / "takeoff.csv").read_bytes()) == before
    assert beside(target) == []


@pytest.mark.parametrize(
    "text", ["{}", "[1]", "not json", '{"made_by": "another", "files": ["summary.json"]}', '{"made_by": "fencegis"}']
)
def test_somebody_elses_summary_opens_no_door(small_plan: Plan, tmp_path, light, text) -> None:
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "summary.json").write_text(text)
    with pytest.raises(StrangersError, match=r"summary\.json"):
        write_plan(small_plan, tmp_path / "plan")
    assert contents(tmp_path / "plan") == {"summary.json": text.encode()}


def test_many_strangers_are_not_all_named(small_plan: Plan, tmp_path, light) -> None:
    for number in range(9):
        (tmp_path / f"{number}.jpg").write_text("")
    with pytest.raises(StrangersError, match=r"0\.jpg, 1\.jpg, .*4\.jpg and 4 more"):
        write_plan(small_plan, tmp_path)


def test_a_file_of_that_name_stays(small_plan: Plan, tmp_path, light) -> None:
    (tmp_path / "plan").write_text("mine")
    with pytest.raises(StrangersError, match="there is a file of that name"):
        write_plan(small_plan, tmp_path / "plan")
    assert (tmp_path / "plan").read_text() == "mine"


def test_the_root_is_no_folder_for_a_plan(small_plan: Plan, light) -> None:
    with pytest.raises(StrangersError, match="a folder of its own"):
        write_plan(small_plan, "/")


@pytest.mark.parametrize("word", ["part", "old"])
def test_a_strangers_folder_of_our_side_names_stays(small_plan: Plan, tmp_path, light, word) -> None:
    (tmp_path / f".plan.{word}").mkdir()
    (tmp_path / f".plan.{word}" / "mine.txt").write_text("mine")
    with pytest.raises(StrangersError, match=r"mine\.txt"):
        write_plan(small_plan, tmp_path / "plan")
    assert beside(tmp_path / "plan") == [f".plan.{word}"]


def test_a_writer_that_fails_leaves_the_older_plan_and_nothing_else(small_plan: Plan, tmp_path, monkeypatch) -> None:
    def fails(plan) -> bytes:
        raise ZeroDivisionError

    write_plan(named(small_plan, "older"), tmp_path / "plan")
    before = contents(tmp_path / "plan")
    monkeypatch.setattr(kml, "waypoints", fails)
    with pytest.raises(ZeroDivisionError):
        write_plan(small_plan, tmp_path / "plan")
    assert contents(tmp_path / "plan") == before
    assert beside(tmp_path / "plan") == []


def test_a_kill_while_writing_is_mended_by_the_next_run(small_plan: Plan, tmp_path, light) -> None:
    run = write_alone(tmp_path / "plan", before="import os; bundle.kml.waypoints = lambda plan: os._exit(9)")
    assert run.returncode == 9
    assert beside(tmp_path / "plan") == [".plan.part"]
    assert not (tmp_path / "plan").exists()
    write_plan(small_plan, tmp_path / "plan")
    assert beside(tmp_path / "plan") == []


def test_a_kill_between_the_two_moves_is_mended(small_plan: Plan, tmp_path, light) -> None:
    """The older plan is aside and the newer not yet in its place: the older comes back until a newer one is written."""
    target = tmp_path / "plan"
    write_plan(named(small_plan, "older"), target)
    before = contents(target)
    killed = """
import os, pathlib
bundle.exchange = lambda one, other: False
move = pathlib.Path.rename
pathlib.Path.rename = lambda self, to: os._exit(9) if self.name.endswith(".part") else move(self, to)
"""
    assert write_alone(target, before=killed).returncode == 9
    assert beside(target) == [".plan.old", ".plan.part"]
    assert not target.exists()
    mend(target)
    assert contents(target) == before
    assert beside(target) == []


def test_a_kill_before_the_older_plan_is_removed_is_mended(small_plan: Plan, tmp_path, light) -> None:
    target = tmp_path / "plan"
    write_plan(named(small_plan, "older"), tmp_path / ".plan.old")
    write_plan(named(small_plan, "newer"), target)
    after = contents(target)
    mend(target)
    assert contents(target) == after
    assert beside(target) == []


def test_a_second_move_that_fails_puts_the_older_plan_back(small_plan: Plan, tmp_path, light, monkeypatch) -> None:
    target = tmp_path / "plan"
    write_plan(named(small_plan, "older"), target)
    before = contents(target)
    move = Path.rename

    def refuses(self, to):
        if self.name.endswith(".part"):
            raise OSError(errno.EIO, "the disk is gone", str(self))
        return move(self, to)

    monkeypatch.setattr(bundle, "exchange", lambda *_: False)
    monkeypatch.setattr(Path, "rename", refuses)
    with pytest.raises(OutputError, match="the disk is gone"):
        write_plan(small_plan, target)
    assert contents(target) == before
    assert beside(target) == []


@pytest.mark.skipif(sys.platform != "linux", reason="two folders change places in one step on Linux only")
def test_two_folders_change_places_in_one_step(tmp_path) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / name).touch()
    assert exchange(tmp_path / "one", tmp_path / "other")
    assert [path.name for path in (tmp_path / "one").iterdir()] == ["other"]
    with pytest.raises(OSError, match="No such file"):
        exchange(tmp_path / "one", tmp_path / "nowhere")


@pytest.mark.parametrize(("room", "word"), [(2_000, "File too large"), (70_000, "plan.gpkg")])
def test_a_full_disk_is_one_line_and_leaves_nothing(tmp_path, room, word) -> None:
    """Stood in for by a limit on the size of a file: 70 kB stops the GeoPackage inside GDAL, 2 kB already its start."""
    full = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room}))"
    run = write_alone(tmp_path / "plan", before=full)
    assert run.returncode == 1
    last = run.stderr.strip().splitlines()[-1]
    assert last.startswith("fencegis.errors.OutputError: ")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere: run as another user")
def test_a_read_only_folder_is_one_line(small_plan: Plan, tmp_path, light) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="Permission denied"):
        write_plan(small_plan, tmp_path / "plan")


def test_a_parent_that_is_a_file_is_one_line(small_plan: Plan, tmp_path, light) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"plan|file") as caught:
        write_plan(small_plan, tmp_path / "file" / "plan")
    assert not isinstance(caught.value, StrangersError)
    assert "\n" not in str(caught.value)


def test_a_link_is_followed_and_stays(small_plan: Plan, tmp_path, light, way) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_plan(named(small_plan, "first"), tmp_path / "link")
    write_plan(named(small_plan, "second"), tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real" / "takeoff.csv").read_text() == "second"
