"""The words and figures of the client's pages as rows of the sheet's columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.exports.client.columns import COLUMN_MM, Cell, Row, heading, kept, paragraph, table, titled
from fencegis.exports.client.titles import (
    DAYS,
    EXCLUDED,
    FENCE,
    FLAGGED,
    FLAGGED_LEAD,
    GATES,
    LOOKED,
    LOOKED_LEAD,
    MADE_OF,
    MAY_CHANGE,
    MONEY,
    NOT_COMPUTED,
    NOTHING_FLAGGED,
    OLD_FENCE,
    TREES,
    TREES_LEAD,
    UNLOOKED,
    UNLOOKED_LEAD,
    WHO,
)  # fmt: skip
from fencegis.exports.sheets.paper import named

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fencegis.exports.client.content import Content
    from fencegis.exports.client.risks import Flagged

SMALL = 7.8
NAMES_LISTED = 40


def rows_of(content: Content) -> list[Row]:
    """Return all that is said below the maps, in the order in which it is read."""
    return [
        *_fence(content), *_trees(content), *_old(content), *_flagged(content), *_unlooked(content), *_looked(content),
        *_changes(content), *_money(content), *_days(content), *_duties(content),
    ]  # fmt: skip


def _fence(content: Content) -> Iterator[Row]:
    yield from heading(FENCE)
    rows = [(str(run.number), run.fence, run.heads, run.length) for run in content.runs]
    whole = ("", "all runs together", "", content.whole)
    yield from table([("", "", "goes", "length"), *rows, whole], (0.0, 6.5, 56.0, COLUMN_MM), right=(3,))
    if content.gates:
        yield from heading(GATES)
        gates = [
            (gate.mark, f"{named(gate.name, 'gate')}, {gate.run}: {gate.width}; {gate.leaf}") for gate in content.gates
        ]
        yield from table(gates, (0.0, 8.0))
    if content.materials:
        yield from heading(MADE_OF)
        for what, how_much in content.materials:
            yield from titled(f"{what}:", how_much)


def _trees(content: Content) -> Iterator[Row]:
    if not content.trees:
        return
    yield from heading(TREES)
    for lot in content.trees:
        more = f" and {len(lot.names) - NAMES_LISTED} more" if len(lot.names) > NAMES_LISTED else ""
        names = "; ".join(lot.why[:NAMES_LISTED]) or ", ".join(lot.names[:NAMES_LISTED])
        yield from titled(f"{lot.what.capitalize()}:", f"{names}{more}.")
    yield from paragraph(TREES_LEAD, size=SMALL)


def _old(content: Content) -> Iterator[Row]:
    yield from heading(OLD_FENCE)
    for text in content.old_fence:
        yield from paragraph(text)


def _flagged(content: Content) -> Iterator[Row]:
    yield from heading(FLAGGED)
    yield from paragraph(FLAGGED_LEAD if content.flagged else NOTHING_FLAGGED, size=SMALL)
    for hazard in content.flagged:
        yield from _one(hazard)


def _one(hazard: Flagged) -> Iterator[Row]:
    names = f" ({named(hazard.names, 'name on the map')})" if hazard.names else ""
    yield from titled(f"{hazard.letter}  {hazard.title}:", f"{hazard.places}, {hazard.where}{names}. {hazard.means}")
    yield from paragraph(f"→ {hazard.who}: {_small(hazard.does)}", indent_mm=3.0)


def _unlooked(content: Content) -> Iterator[Row]:
    yield from heading(UNLOOKED)
    yield from paragraph(UNLOOKED_LEAD, size=SMALL)
    for answer in content.unlooked:
        text = f"{answer.what}: {answer.where}; {answer.basis}."
        yield from paragraph(text, tick=True, above_mm=0.5)


def _looked(content: Content) -> Iterator[Row]:
    if not content.looked:
        return
    yield from heading(LOOKED)
    yield from paragraph(LOOKED_LEAD, size=SMALL)
    for answer in content.looked:
        yield from paragraph(f"{answer.what}: {answer.where}; {answer.basis}.", size=SMALL, above_mm=0.4)


def _money(content: Content) -> Iterator[Row]:
    rows = [*heading(MONEY), *paragraph(content.money_lead, size=SMALL)]
    for each in content.money:
        name = Cell(0.0, each.kind, bold=True)
        if each.amount is None:
            rows.append(Row((name, Cell(22.0, NOT_COMPUTED)), above_mm=2.2, blank_from_mm=45.0))
        else:
            rows.append(Row((name, Cell(COLUMN_MM, each.amount, right=True)), above_mm=1.2))
        rows += paragraph(each.means, size=SMALL)
    for name_of_sum, amount in content.totals:
        cells = (Cell(0.0, name_of_sum, bold=True), Cell(COLUMN_MM, amount, bold=True, right=True))
        rows.append(Row(cells, above_mm=0.8))
    yield from kept(rows)
    if content.not_priced:
        yield from paragraph(content.not_priced, bold=True)
    yield from titled(f"{EXCLUDED}:", "; ".join(map(_small, content.exclusions)) + ".", above_mm=1.4)


def _changes(content: Content) -> Iterator[Row]:
    yield from heading(MAY_CHANGE)
    for text in content.changes:
        yield from paragraph(text, above_mm=0.5)


def _days(content: Content) -> Iterator[Row]:
    yield from heading(DAYS)
    for what, answer in content.days:
        yield from titled(f"{what}:", answer)


def _duties(content: Content) -> Iterator[Row]:
    yield from heading(WHO)
    for who, what in content.duties:
        yield from titled(f"{who}:", " ".join(what), above_mm=0.9)


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]
