"""What tests of several rooms share."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from fencegis.records.plan import Plan

TESTS = Path(__file__).parent


def _plan_by_hand(which: str = "plan_by_hand") -> Plan:
    """Run `plan_by_hand.py` as a module of its own: in importlib mode tests import nothing from each other."""
    name = "tests_plan_by_hand"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, TESTS / "plan_by_hand.py")
        assert spec
        assert spec.loader
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    plan: Plan = getattr(sys.modules[name], which)()
    return plan


@pytest.fixture(scope="session")
def small_plan() -> Plan:
    """The plan of `plan_by_hand.py`."""
    return _plan_by_hand()


@pytest.fixture(scope="session")
def register_plan() -> Plan:
    """The same with a flag of every kind, crossings, trees and all that goes with them."""
    return _plan_by_hand("register_by_hand")


@pytest.fixture(scope="session")
def require_program() -> Callable[[str], str]:
    """Return a function that gives a program's path, or skips the test naming it and the package that brings it.

    A program named in the environment's FENCEGIS_REQUIRE (`chromium,gpsbabel`) may not be missing: that fails the test.
    """
    required = [name.strip() for name in os.environ.get("FENCEGIS_REQUIRE", "").split(",")]
    packages = {"xmllint": "libxml2-utils", "pdftoppm": "poppler-utils", "soffice": "libreoffice-calc"}

    def path_of(program: str) -> str:
        path = shutil.which(program)
        if path is None:
            missing = f"needs the program {program}: apt-get install {packages.get(program, program)}"
            (pytest.fail if program in required else pytest.skip)(missing)
        return str(path)

    return path_of


@pytest.fixture(scope="session")
def outside_data() -> Callable[[str], Path]:
    """Return a function that gives the path of a file of test data kept beside the project, or skips without it."""

    def path_of(name: str) -> Path:
        path = TESTS.parent.parent / "shared" / "data" / name
        if not path.exists():
            pytest.skip(f"needs {name}, kept beside the project, not in it")
        return path

    return path_of
