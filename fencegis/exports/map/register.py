"""The register beside the map: what each flag means, the three answers, and what was found besides flags."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.exports.answers import three_answers
from fencegis.exports.hazard_pages import hazard_pages
from fencegis.exports.page_text import literal
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.words import beside, each, metres, number, present

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fencegis.exports.answers import Share
    from fencegis.records.plan import Plan

LISTED = 60  # rows of one list; the rest is on the printed sheets
WHATS = ("to go", "to limb", "to look at", "to keep")
THREE = (
    "Flagged; none found in the data, and somebody walked and looked; not checked. A missing file is never the second."
)


def means(kind: str) -> str:
    """Return the page of words for a kind of hazard as a folding block; nothing for one that has none."""
    page = hazard_pages().get(kind)
    if page is None:
        return ""
    words = "".join(f"<dt>{literal(name)}</dt><dd>{literal(text)}</dd>" for name, text in page.parts())
    return f'<details class="means"><summary>What this flag means</summary><dl>{words}</dl></details>'


def three_answer_table(plan: Plan) -> str:
    """Return the metres of fence with each of the three answers for every kind, as a table."""
    rows = "".join(_share(share) for share in three_answers(plan))
    heads = "".join(
        f'<th scope="col">{name}</th>' for name in ("Metres of fence", "Flagged", "None found", "Not checked")
    )
    return (
        f'<p class="small">{THREE}</p><table class="runs three"><thead><tr>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )


def _share(share: Share) -> str:
    cells = "".join(
        f"<td>{number(value, 0) if value >= 0.5 else '–'}</td>"
        for value in (share.flagged_m, share.none_found_m, share.not_checked_m)
    )
    return f'<tr><th scope="row">{literal(share.title)}</th>{cells}</tr>'


def findings(plan: Plan) -> str:
    """Return crossings, trees, clearing, air under limbs, ways, moves and proof as folding lists, none empty."""
    posts = PostPlaces(plan)
    blocks = (
        ("Crossings of water", len(plan.crossings), _crossings(plan, posts)),
        ("Trees", len(plan.trees), _trees(plan, posts)),
        ("Clearing", len(plan.clearing), _clearing(plan)),
        ("Air under limbs", len(plan.headroom), _headroom(plan, posts)),
        ("Where the machine finds no way", len(plan.access), _access(plan, posts)),
        ("Moves that help", len(plan.moves), _moves(plan, posts)),
        ("Distances of posts, proved", len(plan.clearances), _proof(plan)),
    )
    return "".join(_folded(title, count, list(rows)) for title, count, rows in blocks if count)


def _folded(title: str, count: int, rows: Sequence[str]) -> str:
    shown = "".join(f"<li>{row}</li>" for row in rows[:LISTED])
    if len(rows) > LISTED:
        shown += f"<li>{number(len(rows) - LISTED, 0)} more on the printed sheets.</li>"
    return f'<details><summary>{literal(title)} ({count})</summary><ul class="plain">{shown}</ul></details>'


def _go(layer: str, place: int, name: str) -> str:
    return f'<button type="button" class="go" data-go="{layer}:{place}">{literal(name)}</button>'


def _place(row: Any, posts: PostPlaces) -> str:
    return f"line {row.line_id}, {posts.words(row.line_id, row.from_m, row.to_m)}"


def _crossings(plan: Plan, posts: PostPlaces) -> Iterable[str]:
    for place, row in enumerate(each(plan.crossings)):
        sizes = (("span", row.span_m, metres), ("drop", row.drop_m, metres))
        said = [f"{name} {say(value) if present(value) else 'not known'}" for name, value, say in sizes]
        if present(row.angle_deg):
            said.append(f"{round(row.angle_deg)}° to the flow")
        text = f"{_place(row, posts)}: {row.treatment}; {', '.join(said)}."
        yield f"{_go('crossings', place, row.crossing_id)} {literal(text)}"


def _trees(plan: Plan, posts: PostPlaces) -> Iterable[str]:
    rows = list(enumerate(each(plan.trees)))
    rank = {what: place for place, what in enumerate(WHATS)}
    for place, row in sorted(rows, key=lambda item: rank.get(item[1].what, len(rank))):
        near = posts.near(row.line_id, row.chainage_m)
        text = (
            f"{row.what}: {f'by post {near}, ' if near else ''}{beside(row.offset_m)} of line {row.line_id}; {row.why}."
        )
        yield f"{_go('trees', place, row.tree_id)} {literal(text)}"


def _clearing(plan: Plan) -> Iterable[str]:
    sums = plan.clearing.groupby(["line_id", "side", "density"], sort=False)["area_m2"].sum().reset_index()
    for row in each(sums):
        yield literal(f"Line {row.line_id}, {row.side}, {row.density}: {number(row.area_m2, 0)} m² covered.")


def _headroom(plan: Plan, posts: PostPlaces) -> Iterable[str]:
    for place, row in enumerate(each(plan.headroom)):
        least = metres(row.least_m) if present(row.least_m) else "not known"
        machines = f"; by these heights under it: {row.machines}" if present(row.machines) else ""
        yield f"{_go('headroom', place, least)} {literal(f'{_place(row, posts)}{machines}.')}"


def _access(plan: Plan, posts: PostPlaces) -> Iterable[str]:
    for place, row in enumerate(each(plan.access)):
        room = ""
        if present(row.free_m) and present(row.needed_m):
            room = f": {metres(row.free_m)} left, {metres(row.needed_m)} needed"
        yield f"{_go('access', place, row.kind)} {literal(f'{_place(row, posts)}{room}; {row.basis}.')}"


def _moves(plan: Plan, posts: PostPlaces) -> Iterable[str]:
    for row in each(plan.moves):
        yield f"<b>{literal(row.hazard_id)}</b> {literal(f'{row.kind}, {_place(row, posts)}: {row.how}: {row.says}.')}"


def _proof(plan: Plan) -> Iterable[str]:
    for row in each(plan.clearances):
        kept = "kept" if row.kept else "NOT KEPT"
        stands = f"post {row.post_id} stands {metres(row.least_m, 2)} off, {metres(row.required_m, 2)} asked"
        text = f"{row.thing}: {stands}; {row.basis}."
        yield f"<b>{kept}</b> {literal(text)}"
