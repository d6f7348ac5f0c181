"""What makes lines and ground whose truth is known, for tests and for the measuring in tests/benchmarks."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType


def beside(name: str) -> ModuleType:
    """Return the module of a file beside this one: in importlib mode tests import nothing from each other."""
    full = f"tests_line_{name}"
    if full not in sys.modules:
        spec = importlib.util.spec_from_file_location(full, Path(__file__).parent / f"{name}.py")
        assert spec
        assert spec.loader
        sys.modules[full] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[full])
    return sys.modules[full]


@pytest.fixture(scope="session")
def drawings() -> ModuleType:
    """`drawings.py`."""
    return beside("drawings")


@pytest.fixture(scope="session")
def profiles() -> ModuleType:
    """`profiles.py`."""
    return beside("profiles")


@pytest.fixture(scope="session")
def bound() -> ModuleType:
    """`bound.py`."""
    return beside("bound")


@pytest.fixture(scope="session")
def curved() -> ModuleType:
    """`curved.py`."""
    return beside("curved")
