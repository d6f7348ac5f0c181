"""From a drawn boundary and an elevation raster to a fence plan that a crew can carry.

    from fencegis import read_site, plan_site, write_plan

    site = read_site("sample_sites/roadside")  # raises InputError with every fault
    plan = plan_site(site)                     # touches no file
    write_plan(plan, "outputs/roadside")

Names are fetched when they are first used, so that `import fencegis` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fencegis.errors import FencegisError, InputError, OutputError, Problem
    from fencegis.exports.bundle import write_plan
    from fencegis.inputs.site_folder import read_site
    from fencegis.pipeline import plan_site
    from fencegis.records.plan import Plan
    from fencegis.records.site import Site
    from fencegis.records.spec import Spec

__version__ = "0.1.0"

_HOMES = {
    "FencegisError": "fencegis.errors",
    "InputError": "fencegis.errors",
    "OutputError": "fencegis.errors",
    "Plan": "fencegis.records.plan",
    "Problem": "fencegis.errors",
    "Site": "fencegis.records.site",
    "Spec": "fencegis.records.spec",
    "plan_site": "fencegis.pipeline",
    "read_site": "fencegis.inputs.site_folder",
    "write_plan": "fencegis.exports.bundle",
}

__all__ = [
    "FencegisError",
    "InputError",
    "OutputError",
    "Plan",
    "Problem",
    "Site",
    "Spec",
    "plan_site",
    "read_site",
    "write_plan",
]


def __getattr__(name: str) -> object:
    """Import a public name's home when it is first asked for (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
