"""Faults of values, said in words: what pydantic finds wrong in a table of keys, and which known key was meant."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING, Any

from fencegis.inputs.findings import words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pydantic_core import ErrorDetails

_UNIT_TAIL = re.compile(r"_?(m|ft|kv|v|mm|cm|in|kn|deg)$")
_ALIASES = {
    "volts": "voltage_kv", "volt": "voltage_kv", "kv": "voltage_kv", "line": "line_id",
    "flood": "flood_level_m", "flood_m": "flood_level_m", "ql": "quality", "quality_level": "quality", "dbh": "trunk_m",
    "dbh_cm": "trunk_m",
}  # fmt: skip
_WANTED = {
    "string_type": "text in quotes",
    "float_type": "a number",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "tuple_type": "a list of numbers, as [4.8]",
    "model_type": "a table of keys",
    "dict_type": "a table of keys",
    "date_type": "a day without quotes, as 2026-03-01",
    "finite_number": "a finite number",
}
_LIMITS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


def nearest_key(key: str, known: Iterable[str], *, bare: bool = False) -> str | None:
    """Return the known key that `key` was probably meant to be, or None.

    With `bare` a key is near as well when it is a known one without its unit or with another (`height`, `height_ft`
    for `height_m`): what people write in a map's attribute table.
    """
    known = list(known)
    plain = key.strip().lower().replace(" ", "_").replace("-", "_")
    if plain in known:
        return plain
    if bare:
        if (alias := _ALIASES.get(plain)) in known:
            return alias
        stems = {_UNIT_TAIL.sub("", name): name for name in known if _UNIT_TAIL.search(name)}
        if stem := difflib.get_close_matches(_UNIT_TAIL.sub("", plain), stems, n=1, cutoff=0.8):
            return stems[stem[0]]
    close = difflib.get_close_matches(plain, known, n=3, cutoff=0.75 if bare else 0.6)
    swapped = [name for name in close if sorted(name) == sorted(plain)]  # the same letters in another order come first
    return next(iter(swapped or close), None)


def without_echoes(errors: list[ErrorDetails]) -> list[ErrorDetails]:
    """Return the errors without a list's "too short" that only repeats what is wrong with its items."""
    inner = {error["loc"][:-1] for error in errors}
    return [error for error in errors if not (error["type"] == "too_short" and error["loc"] in inner)]


def wording(key: str, error: ErrorDetails) -> tuple[str, str]:
    """Return fault and fix of one pydantic error about `key`, in words."""
    kind, context, given = error["type"], error.get("ctx", {}), shown(error["input"])
    if kind == "literal_error":
        allowed = str(context["expected"]).replace("'", '"')
        return f"{key} is {given}, which is not one of {allowed}.", f"write one of {allowed}."
    if kind == "unknown_word":
        nearest = context["nearest"]
        return f"{key} is {given}, which is none of {context['known']}.", f'write "{nearest}", if that is meant.'
    if kind in _LIMITS:
        name, how = _LIMITS[kind]
        limit = f"{how} {context[name]:g}"
        return f"{key} is {given}; it must be {limit}.", f"give a value of {limit}; the unit is the name's tail."
    if kind in _WANTED:
        return f"{key} is {given}, which is not {_WANTED[kind]}.", f"write {_WANTED[kind]}."
    if kind in {"string_too_short", "too_short"}:
        return f"{key} is empty.", "fill it in, or take the key out."
    if kind == "string_too_long":
        return f"{key} is longer than {context['max_length']} characters.", "shorten it."
    if kind == "missing":
        return f"{key} is missing.", f"add {key}."
    return f"{key} is {given}: {words(error['msg'])}.", "correct it."


def shown(value: Any) -> str:
    """Return a value as it is written in a file, shortened."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{words(value, most=40)}"'
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    return "empty (null)" if value is None else words(value, most=40)
