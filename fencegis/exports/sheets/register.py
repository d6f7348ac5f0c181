"""The register on paper: every flag in walking order, what to do, the three answers for every kind, and their words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.exports.answers import KINDS, three_answers, title_of
from fencegis.exports.hazard_pages import hazard_pages
from fencegis.exports.map.layers import OWNER_SETS
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.sheets.findings import finding_lines
from fencegis.exports.sheets.flow import Line, heading, paragraph, table
from fencegis.exports.words import each, metres, number, present

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from fencegis.exports.answers import Share
    from fencegis.records.plan import Plan

PART = "register"
SIZE = 9.0
NAMED = 8  # flags that share their words, named one by one
NO_FLAG = "Nothing is flagged. That is no finding: see what was not checked, and look on the ground."
WHAT_IT_IS = (
    "Every stretch of fence has one of three answers for every kind of hazard: flagged; none found in the data, and "
    "somebody walked and looked; not checked. A missing file is never the second. What was seen on the ground goes "
    "before all of it."
)


def register_lines(plan: Plan) -> list[Line]:
    """Return the register as lines, beginning on a sheet of its own."""
    shares = three_answers(plan)
    return [
        *heading("REGISTER OF HAZARDS", PART, size=16.0, breaks=True),
        *paragraph(WHAT_IT_IS, size=SIZE, part=PART),
        *_in_walking_order(plan),
        *_by_kind(plan),
        *_three_answers(shares),
        *finding_lines(plan, part=PART),
        *_pages_of_words(plan, shares),
    ]


def _in_walking_order(plan: Plan) -> list[Line]:
    """Return every flag as a row of a table: where it begins and ends, and how near it comes."""
    lines = heading("Flagged, in walking order", PART)
    if not len(plan.hazards):
        return [*lines, *paragraph(NO_FLAG, part=PART)]
    posts, rows = PostPlaces(plan), []
    for row in each(plan.hazards):
        first, last = posts.between(row.line_id, row.from_m, row.to_m)
        span = (number(row.from_m), number(row.to_m))
        where = (str(row.hazard_id), title_of(str(row.kind)), _runs(plan, row), first, last, *span)
        rows.append((*where, _distance(row.clearance_m), _asked(row)))
    names = ("flag", "what", "run", "from post", "to post", "from m", "to m", "least m", "asked m")
    return [*lines, *table(names, rows, left=(0, 1, 2, 3, 4), part=PART)]


def _runs(plan: Plan, row: Any) -> str:
    runs = plan.runs
    here = (runs["line_id"] == row.line_id) & (runs["from_m"] < row.to_m) & (runs["to_m"] > row.from_m)
    names = runs["run_id"][here].astype(str).tolist()
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}" if names else str(row.line_id)


def _distance(value_m: float) -> str:
    return number(value_m, 2) if present(value_m) else ""


def _asked(row: Any) -> str:
    return number(row.required_m, 2) if present(row.required_m) else "owner" if row.kind == "overhead power" else ""


def _by_kind(plan: Plan) -> list[Line]:
    """Return what to do and the rule once for those that share them, then each flag with what it rests on."""
    lines: list[Line] = []
    posts = PostPlaces(plan)
    for kind, rows in _kinds(plan.hazards):
        lines += heading(title_of(kind), PART, size=11.0)
        for names, advice in _shared(rows, "advice"):
            lines += paragraph(f"What to do{names}: {advice}", size=SIZE, font="bold", part=PART)
        for names, rule in _shared(rows, "rule"):
            lines += paragraph(f"Rule{names}: {rule}.", size=SIZE, part=PART)
        for hazard_id, spans in rows.groupby("hazard_id", sort=False):
            where = "; ".join(
                f"line {row.line_id}, {posts.words(row.line_id, row.from_m, row.to_m)}" for row in each(spans)
            )
            first = next(each(spans))
            text = f"{hazard_id}, {where}{_near(first)}; {first.basis}."
            lines += paragraph(text, size=SIZE, tick=True, part=PART)
    return lines


def _kinds(hazards: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the flags of each kind, kinds in the order of KINDS and then as they come."""
    order = dict.fromkeys([kind for kind in KINDS if kind in set(hazards["kind"])] + list(hazards["kind"]))
    for kind in order:
        yield str(kind), hazards[hazards["kind"] == kind]


def _shared(rows: pd.DataFrame, column: str) -> Iterator[tuple[str, str]]:
    """Yield each text of a column once, with the names of the flags that have it unless all do."""
    said = rows[rows[column].notna()]
    everyone = rows["hazard_id"].nunique()
    for text, alike in said.groupby(column, sort=False):
        names = list(dict.fromkeys(alike["hazard_id"].astype(str)))
        more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
        yield ("" if len(names) == everyone else f" ({', '.join(names[:NAMED])}{more})"), str(text)


def _near(row: Any) -> str:
    """Return the least distance and the distance asked for in words; nothing where neither has a say."""
    asked = f"{metres(row.required_m, 2)} asked for" if present(row.required_m) else ""
    if row.kind == "overhead power" and not asked:
        asked = f"distance {OWNER_SETS}"
    least = ""
    if present(row.clearance_m):
        least = f"least distance after allowances {metres(row.clearance_m, 2)}"
    elif row.kind in {"overhead power", "overhead phone", "tree limb"}:
        least = "least distance not known"
    words = ", ".join(text for text in (least, asked) if text)
    return f": {words}" if words else ""


def _three_answers(shares: Sequence[Share]) -> list[Line]:
    """Return the metres of each answer for every kind, then what they rest on."""
    rows = [(share.title, *map(number, (share.flagged_m, share.none_found_m, share.not_checked_m))) for share in shares]
    lines = heading("Three answers for every kind, in metres of fence", PART)
    lines += table(("what", "flagged m", "none found m", "not checked m"), rows, left=(0,), part=PART)
    lines.append(Line("", gap_mm=2.5, part=PART))
    for share in shares:
        for basis in share.none_found:
            lines += paragraph(f"{share.title}: {basis}.", size=8.5, part=PART)
        for basis in share.unchecked:
            lines += paragraph(f"{share.title}, not checked: {basis}.", size=8.5, tick=True, part=PART)
    return lines


def _pages_of_words(plan: Plan, shares: Sequence[Share]) -> list[Line]:
    """Return the words of every kind that is flagged or not checked, all in one form."""
    flagged, pages = set(plan.hazards["kind"]), hazard_pages()
    lines = heading("What each kind of flag means", PART)
    for share in shares:
        if share.kind not in pages or not (share.kind in flagged or share.not_checked_m > 0.0):
            continue
        lines += heading(share.title, PART, size=10.5)
        for name, words in pages[share.kind].parts():
            lines += paragraph(f"{name}: {words}", size=SIZE, part=PART)
    return lines
