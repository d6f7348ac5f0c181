"""The README's two commands, and what it shows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8") if (ROOT / "README.md").exists() else ""


def commands() -> list[str]:
    """Every line of the fenced blocks below *Start*, as .ci/run takes them."""
    found, in_section, fenced = [], False, False
    for line in README.splitlines():
        if line.startswith("## "):
            in_section = line == "## Start"
        elif in_section and line.startswith("```"):
            fenced = not fenced
        elif in_section and fenced:
            found.append(line)
    return found


def test_start_has_two_commands_that_plan_a_sample_and_run_the_tests() -> None:
    plan, tests = commands()
    site = re.search(r"fencegis plan (sample_sites/\w+)", plan)
    assert site
    assert (ROOT / site[1] / "boundary.geojson").is_file()
    for command in (plan, tests):
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install -q ")
    assert tests.endswith(".venv/bin/python -m pytest")


def test_every_picture_and_link_within_the_project_is_there() -> None:
    paths = [path for path in re.findall(r"\]\(([^)#\s]+)", README) if "://" not in path]
    assert [path for path in paths if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("section", ["Start", "Changes"])
def test_the_readme_has_its_sections(section: str) -> None:
    assert f"\n## {section}\n" in README
