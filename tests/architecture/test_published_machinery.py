"""A check of a published number cannot be added without saying where it is printed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PUBLISHED = Path(__file__).parents[1] / "published"
SOURCED = '@pytest.mark.published(source="{}", where="table 1, row 2")'


def run(folder: Path, mark: str, body: str, needs: str = "compare, printed") -> subprocess.CompletedProcess[str]:
    """Run one check with the machinery of tests/published, in a folder of its own with one source, `manual`."""
    shutil.copy(PUBLISHED / "conftest.py", folder)
    (folder / "sources.csv").write_text("id,citation,edition,address,how_read\nmanual,A manual,2020,example.org,read\n")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = published(source, where): as in the project\n")
    (folder / "test_it.py").write_text(f"import pytest\n\n{mark}\ndef test_it({needs}):\n    {body}\n")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--import-mode=importlib", str(folder)]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("mark", "said"),
    [
        ("", "no source: mark it published"),
        ('@pytest.mark.published(source="manual")', "no source: mark it published"),
        (SOURCED.format("hearsay"), "source 'hearsay' is not in sources.csv"),
    ],
)
def test_a_check_without_a_source_stops_collection(tmp_path: Path, mark: str, said: str) -> None:
    ended = run(tmp_path, mark, "assert True")
    assert ended.returncode == pytest.ExitCode.USAGE_ERROR
    assert "test_it.py::test_it" in ended.stderr
    assert said in ended.stderr


def test_a_run_ends_by_listing_ours_beside_the_print(tmp_path: Path) -> None:
    ended = run(tmp_path, SOURCED.format("manual"), 'compare(91.494, printed("91.49")); compare(-1.5, "-1 30 00.1")')
    assert ended.returncode == pytest.ExitCode.TESTS_FAILED
    assert "manual | table 1, row 2 | 91.494 | 91.49" in ended.stdout
    assert "manual | table 1, row 2 | -1.5 | -1 30 00.1" in ended.stdout
    assert "ours -1.5, printed -1 30 00.1 (manual, table 1, row 2)" in ended.stdout


def test_half_the_last_printed_digit_is_allowed(tmp_path: Path) -> None:
    held = (
        'compare(91.4949, "91.49"); compare(91.4851, "91.49"); compare(4, "4"); compare("corner", "corner"); '
        'compare(-1.501, "-1 30 04"); compare(306.868158, "306 52 05.37"); compare(91.6, printed("91.49", 0.2))'
    )
    assert run(tmp_path, SOURCED.format("manual"), held).returncode == pytest.ExitCode.OK


def test_more_is_not(tmp_path: Path) -> None:
    wrong = [(91.4951, "91.49"), ("line brace", "corner"), (306.868160, "306 52 05.37"), (1.5, "-1 30 00"), (5, "4")]
    cases = f'@pytest.mark.parametrize("pair", {[*wrong, "none"]!r})'
    body = 'compare(*pair if pair != "none" else (float("nan"), "1.0"))'
    ended = run(tmp_path, f"{SOURCED.format('manual')}\n{cases}", body, needs="compare, pair")
    assert f"{len(wrong) + 1} failed" in ended.stdout
    assert "passed" not in ended.stdout
