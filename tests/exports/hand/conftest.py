"""What the tests of the handheld's files share."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType

NAME = "tests_hand_read_back"


def _read_back() -> ModuleType:
    """In importlib mode tests import nothing from each other."""
    if NAME not in sys.modules:
        spec = importlib.util.spec_from_file_location(NAME, Path(__file__).parent / "read_back.py")
        assert spec is not None
        assert spec.loader is not None
        sys.modules[NAME] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[NAME])
    return sys.modules[NAME]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """One test for each format of `read_back.py`."""
    if "form" in metafunc.fixturenames:
        forms = _read_back().FORMS
        metafunc.parametrize("form", forms, ids=[f"{form.name}{form.options} {form.kind or ''}" for form in forms])


@pytest.fixture(scope="session")
def read_back() -> ModuleType:
    """`read_back.py`."""
    return _read_back()
