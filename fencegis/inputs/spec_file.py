"""`site.toml` → Spec. Loads neither maps nor rasters, so that a slip in it is told at once."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, NamedTuple, get_args

from pydantic import ValidationError

from fencegis import catalogue
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.given_values import nearest_key, shown, without_echoes, wording
from fencegis.inputs.text_file import TextFile, read_text
from fencegis.records.spec import Spec, Table

if TYPE_CHECKING:
    from pathlib import Path

    from pydantic_core import ErrorDetails

    from fencegis.errors import Problem
    from fencegis.records.notes import Note

NO_RAIL = "a post and rail fence needs rail_m, the stock lengths of its rails."
RAIL_FIX = "measure the rails in the yard and give their lengths, as rail_m = [4.8] under [fence]."

_LARGEST_CHARACTERS = 1_000_000
_RULE_TABLES = {"bends": "bend_rules", "approach": "approach_distances"}


class SpecRead(NamedTuple):
    """The specification, None when it has a fault; `source` is None without a readable file."""

    spec: Spec | None
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...] = ()
    source: TextFile | None = None


def read_spec(path: Path) -> SpecRead:
    """Return the specification of `site.toml` at `path`, with every fault in it; all defaults when there is no file."""
    found = Findings(path.name)
    if not path.exists() and not path.is_symlink():
        found.note("default", "", "there is none, so every setting is at its default (a wire fence).")
        return SpecRead(Spec(), (), tuple(found.notes))
    source = read_text(path, found, empty_allowed=True)
    given = None if source is None else _parsed(source, found)
    spec = None if given is None else _checked(given, found)
    return SpecRead(None if found.faults else spec, found.problems, tuple(found.notes), source)


def _parsed(source: TextFile, found: Findings) -> dict[str, Any] | None:
    if source.bom:
        found.fault("", "it begins with a byte order mark.", fix="save it as plain UTF-8, without one.")
        return None
    if len(source.text) > _LARGEST_CHARACTERS:
        found.fault("", "it is far too large for a specification.", fix="keep only keys that differ from the defaults.")
        return None
    try:
        return tomllib.loads(source.text)
    except RecursionError:
        found.fault("", "it is nested too deeply.", fix="write plain [table] and key = value lines.")
    except ValueError as error:  # TOMLDecodeError is one; a number of thousands of digits is another
        found.fault("", f"it is not TOML: {error}.", fix="correct that place; text stands in quotes, tables in [ ].")
    return None


def _checked(given: dict[str, Any], found: Findings) -> Spec | None:
    try:
        spec = Spec.model_validate(given)
    except ValidationError as error:
        for detail in without_echoes(error.errors(include_url=False)):
            _add_fault(detail, found)
        return None
    _check_together(given, spec, found)
    _check_crew(spec, found)
    _check_wire(spec, found)
    _check_rules(spec, found)
    _check_setting_out(spec, found)
    _check_machine(spec, found)
    _check_handheld(spec, found)
    return spec


def _add_fault(error: ErrorDetails, found: Findings) -> None:
    *tables, key = [part for part in error["loc"] if isinstance(part, str)] or [""]
    place = f"[{tables[0]}] {key}" if tables else key
    if error["type"] == "extra_forbidden":
        found.fault(words(place), f"there is no key {shown(key)} here.", fix=_meant(tables, key))
    else:
        fault, fix = wording(key, error)
        found.fault(place, fault, fix=fix)


def _meant(tables: list[str], key: str) -> str:
    """Say which key was meant: the same in the table that has it, else the nearest in its own."""
    known = _known_keys()
    here = known[tables[0] if tables else ""]
    top = "the top of the file, above all tables"
    owners = [f"[{table}]" if table else top for table in known if key in known[table]]
    if owners:
        return f"move it to {' or '.join(owners)}."
    if near := nearest_key(key, here):
        return f"the nearest known key is {near}."
    return f"take it out; known here: {', '.join(here)}."


def _known_keys() -> dict[str, tuple[str, ...]]:
    known = {"": tuple(Spec.model_fields)}
    for name, info in Spec.model_fields.items():
        for kind in (info.annotation, *get_args(info.annotation)):
            if isinstance(kind, type) and issubclass(kind, Table):
                known[name] = tuple(kind.model_fields)
    return known


def _check_together(given: dict[str, Any], spec: Spec, found: Findings) -> None:
    """Check what one key alone cannot show."""
    fence = spec.fence
    if fence.kind == "post and rail" and fence.rail_m is None:
        found.fault("[fence] rail_m", NO_RAIL, fix=RAIL_FIX)
    if isinstance(given.get("fence", {}).get("rail_bays"), bool):  # Python's true equals 1, so pydantic lets it through
        found.fault("[fence] rail_bays", "rail_bays is true, which is not 1 or 2.", fix="write 1 or 2.")
    if fence.gap_min_m > fence.gap_max_m:
        limits = f"gap_min_m ({fence.gap_min_m:g}) is more than gap_max_m ({fence.gap_max_m:g})."
        found.fault("[fence] gap_min_m", limits, fix="give a least gap below the greatest.")


def _check_crew(spec: Spec, found: Findings) -> None:
    """Check that a day has an hour of work left when setting up and travel are off it."""
    crew = spec.crew
    apart_h = crew.setup_h + (crew.travel_h or 0.0)
    if crew.work_h - apart_h < 1.0:
        left = f"work_h ({crew.work_h:g}) less setting up and travel ({apart_h:g}) leaves less than an hour of work."
        found.fault("[crew] work_h", left, fix="give the hours from leaving the yard to coming back.")


def _check_wire(spec: Spec, found: Findings) -> None:
    fence = spec.fence
    if fence.barbed > fence.wires:
        fault = f"barbed ({fence.barbed}) is more than wires ({fence.wires}), which counts all of them."
        found.fault("[fence] barbed", fault, fix="give how many of the wires are barbed.")
    known = [row["assembly"] for row in catalogue.rows("assemblies")] if "brace" in fence.model_fields_set else None
    if known and fence.brace not in known:
        near = nearest_key(fence.brace, known)
        fix = f"the nearest is {shown(near)}; " if near else ""
        listed = ", ".join(map(shown, known))
        found.fault("[fence] brace", f"there is no brace {shown(fence.brace)}.", fix=f"{fix}known: {listed}.")


def _check_rules(spec: Spec, found: Findings) -> None:
    for key, table in _RULE_TABLES.items():
        name = getattr(spec.rules, key)
        if name is None:
            continue
        known = list(dict.fromkeys(row["rule_set"] for row in catalogue.rows(table)))
        if name not in known:
            near = nearest_key(name, known)
            fix = f"the nearest is {shown(near)}; " if near else ""
            listed = ", ".join(map(shown, known))
            found.fault(f"[rules] {key}", f"there is no rule set {shown(name)}.", fix=f"{fix}known: {listed}.")


def _check_machine(spec: Spec, found: Findings) -> None:
    if spec.machine is None or (kind := spec.machine.kind) is None:
        return
    known = list(dict.fromkeys(row["machine"] for row in catalogue.rows("machines")))
    if " ".join(kind.split()).casefold() not in [name.casefold() for name in known]:
        near = nearest_key(kind, known)
        fix = f"the nearest is {shown(near)}; " if near else ""
        listed = "; ".join(map(shown, known))
        found.fault("[machine] kind", f"there is no kind of machine {shown(kind)}.", fix=f"{fix}known: {listed}.")


def _check_handheld(spec: Spec, found: Findings) -> None:
    if (kind := spec.handheld.kind) is None:
        return
    known = [row["kind"] for row in catalogue.rows("handhelds")]
    if " ".join(kind.split()).casefold() not in [name.casefold() for name in known]:
        near = nearest_key(kind, known)
        fix = f"the nearest is {shown(near)}; " if near else ""
        listed = "; ".join(map(shown, known))
        found.fault("[handheld] kind", f"there is no kind of handheld {shown(kind)}.", fix=f"{fix}known: {listed}.")


def _check_setting_out(spec: Spec, found: Findings) -> None:
    """Check that the cord is one we know, and that an eye and a pole stand above what they are sighted over."""
    if "cord" in spec.string.model_fields_set:
        known = [row["cord"] for row in catalogue.rows("strings")]
        if spec.string.cord not in known:
            near = nearest_key(spec.string.cord, known)
            fix = f"the nearest is {shown(near)}; " if near else ""
            listed = ", ".join(map(shown, known))
            found.fault("[string] cord", f"there is no cord {shown(spec.string.cord)}.", fix=f"{fix}known: {listed}.")
    sight = spec.sight
    if sight.clear_m >= min(sight.eye_m, sight.pole_m):
        fault = f"clear_m ({sight.clear_m:g}) is not below eye_m ({sight.eye_m:g}) and pole_m ({sight.pole_m:g})."
        found.fault("[sight] clear_m", fault, fix="nothing is seen so; cut the grass on paper, or raise eye and pole.")
