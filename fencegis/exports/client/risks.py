"""What can hurt somebody or stop the work, in plain words; and, apart from it, what nobody has looked at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fencegis.catalogue import rows as catalogue_rows
from fencegis.exports.answers import KINDS, NOT_LOOKED, title_of
from fencegis.exports.answers import unlooked as unlooked_stretches
from fencegis.exports.client.run_numbers import RunNumbers
from fencegis.exports.page_text import plain
from fencegis.exports.words import counted, each
from fencegis.hazards.given import label

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from fencegis.exports.answers import Stretch
    from fencegis.records.plan import Plan

LAYERS = ("overhead", "trees", "watercourses", "services", "keepout", "pegs")  # files whose features have names
NAMED = 8  # features named one by one
# The words in which a check says that the data was looked through: the file, its features, who walked.
FOUND_NONE = re.compile(r"none found in .+? \([\d\s,.]+ features?\)(?: — (?:not walked|walked [^;]+))?")
NO_FILE = re.compile(r"no ([\w.-]+\.(?:geojson|tif|csv))")
OTHER_BASIS = "the data does not tell"


@dataclass(frozen=True)
class Flagged:
    """One kind of hazard: its letter on the map, what and where, what it means, who does what about it."""

    letter: str
    kind: str
    title: str
    names: str
    places: str
    where: str
    means: str
    who: str
    does: str
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True)
class Looked:
    """One thing that was or was not looked for: what, what the answer rests on, where that holds."""

    what: str
    basis: str
    where: str


def flagged(plan: Plan) -> tuple[Flagged, ...]:
    """Return each kind that is flagged, in the order in which hazards are listed everywhere."""
    numbers, words = RunNumbers(plan), _words()
    lots: dict[str, list[Any]] = {}
    for row in each(plan.hazards):
        lots.setdefault(str(row.kind), []).append(row)
    rank = {kind: place for place, kind in enumerate(KINDS)}
    found = []
    for place, kind in enumerate(sorted(lots, key=lambda kind: rank.get(kind, len(rank)))):
        rows = lots[kind]
        said = words.get(kind, {})
        stretches = tuple((str(row.line_id), float(row.from_m), float(row.to_m)) for row in rows)
        found.append(
            Flagged(
                letter=chr(ord("A") + place),
                kind=kind,
                title=title_of(kind),
                names=_named(plan, rows),
                places=counted(len({str(row.hazard_id) for row in rows}), "place"),
                where=numbers.words(stretches),
                means=said.get("flagged", ""),
                who=_capital(said.get("who", "contractor")),
                does=said.get("does", "Looks at it on the ground before the work."),
                stretches=stretches,
            )
        )
    return tuple(found)


def unlooked(plan: Plan) -> tuple[Looked, ...]:
    """Return what nobody has looked at on the ground, one row a kind and basis."""
    words = {kind: row["unchecked"] for kind, row in _words().items()}
    return tuple(_looked(plan, unlooked_stretches(plan), words))


def looked(plan: Plan) -> tuple[Looked, ...]:
    """Return where the data was looked through, somebody walked, and none was found; it is no leave to go ahead."""
    rows = plan.checks[(plan.checks["status"] == "clear") & ~plan.checks["basis"].str.startswith("no wire")]
    found = [(row.kind, row.basis, (row.line_id, row.from_m, row.to_m)) for row in each(rows)]
    return tuple(_looked(plan, found, {}))


def _looked(plan: Plan, rows: Iterable[tuple[str, str, Stretch]], words: dict[str, str]) -> Iterator[Looked]:
    numbers = RunNumbers(plan)
    lots: dict[str, dict[str, list[Stretch]]] = {}
    for kind, basis, stretch in rows:
        lots.setdefault(kind, {}).setdefault(plain_basis(basis), []).append(stretch)
    rank = {kind: place for place, kind in enumerate(KINDS)}
    for kind in sorted(lots, key=lambda kind: rank.get(kind, len(rank))):
        for basis, stretches in lots[kind].items():
            yield Looked(words.get(kind) or title_of(kind), basis, numbers.words(stretches))


def plain_basis(basis: str) -> str:
    """Return what an answer rests on without what only the crew can use; never in words that say more than it did."""
    basis = plain(basis)
    none_found, no_file = FOUND_NONE.match(basis), NO_FILE.match(basis)
    if none_found:
        return none_found[0]
    if no_file:
        return f"no data was given ({no_file[0]})"
    return basis if basis == NOT_LOOKED else _first_words(basis)


def _first_words(basis: str) -> str:
    """Return a basis in general words: "not flagged by the raster" as ground heights, the rest untold."""
    if basis.startswith("not flagged by the raster"):
        return "nobody walked it; the ground heights alone do not tell"
    if basis.startswith("no ground heights"):
        return "no ground heights there"
    return OTHER_BASIS


def _named(plan: Plan, rows: Sequence[Any]) -> str:
    """Return the names of the features that flags rest on, as the site's files have them."""
    basis = "\n".join(str(row.basis) for row in rows)
    on_map = dict(zip(plan.trees["feature"], plan.trees["tree_id"], strict=True))
    names: list[str] = []
    for file in LAYERS:
        layer = getattr(plan.site, file)
        for row in [] if layer is None else layer.drop(columns="geometry").to_dict("records"):
            name = on_map.get(label(row)) if file == "trees" else row.get("name")
            if isinstance(name, str) and plain(name) and f"{file}.geojson, {label(row)}" in basis:
                names.append(plain(name))
    names = list(dict.fromkeys(names))
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _words() -> dict[str, dict[str, str]]:
    return {row["kind"]: row for row in catalogue_rows("client_words")}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
