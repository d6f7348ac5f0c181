"""What the sheets say of a run in words: from what to what, by which posts, what to mind there."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from fencegis.exports.answers import KINDS
from fencegis.exports.positions import lon_lat_deg
from fencegis.exports.sheets.paper import named
from fencegis.exports.words import RUN_LABELS, Places, compass, counted, metres, present
from fencegis.quantities.takeoff import drawn_line

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy.typing as npt

    from fencegis.exports.answers import Answer
    from fencegis.exports.sheets.posts import Walk
    from fencegis.records.plan import Plan

DESK = "Desk study; replaces no site inspection, survey, service location or safe work method."
NOT_A_FINDING = "Nothing is listed on this run. That is no finding: look up, down and along the whole run."
HURTS = ("service", "tree", "access", "rock", "wet", "old post", "soil")  # kinds seen on the walk, first to mind first
SIGNAL = "phone signal"
ASK_OWNER = "Overhead: ask the line's owner before the machine comes, whatever this says."
CONDUCTORS = {"overhead power", "overhead phone"}
OWNER_SETS = "the line's owner sets the distance"


@dataclass(frozen=True)
class RunWords:
    """A run's own lines of text, ready to be printed."""

    heading: str
    from_to: str
    about: str
    hazards: tuple[str, ...]
    seen: tuple[str, ...]  # on the walk, by place
    seen_first: tuple[str, ...]  # the same, what can hurt before the rest; what the emergency box says left out
    unlooked: str
    middle: str
    gate: str


def run_words(plan: Plan, walks: list[Walk], answers: tuple[Answer, ...]) -> list[RunWords]:
    """Return the words of every run, in their order; `answers` are what nobody has looked at."""
    places, meets = Places(plan), _Meets(walks)
    runs = [walk.run for walk in walks]
    degrees_of = lon_lat_deg(plan, np.array([_middle(run) for run in runs]))
    unlooked = _unlooked(answers)
    return [
        RunWords(
            heading=str(walk.run.run_id),
            from_to=_from_to(walk, places, meets),
            about=_about(walk),
            hazards=tuple(_hazards(walk)),
            seen=tuple(_seen(walk, walk.seen)),
            seen_first=tuple(_seen(walk, _what_hurts_first(walk.seen))),
            unlooked=unlooked,
            middle=position(*degrees.tolist()),
            gate=_nearest_gate(plan, middle),
        )
        for walk, middle, degrees in zip(walks, map(_middle, runs), degrees_of, strict=True)
    ]


def position(lon_deg: float, lat_deg: float) -> str:
    """Return a place as degrees to five decimals, about a metre, with N or S and E or W."""
    south, west = "S" if lat_deg < 0 else "N", "W" if lon_deg < 0 else "E"
    return f"{abs(lat_deg):.5f}° {south}, {abs(lon_deg):.5f}° {west}"


def site_name(plan: Plan) -> str:
    """Return the site's name; of one in another script the words that say where it is."""
    return named(plan.site.name, "site")


def line_name(plan: Plan, line_id: str) -> str:
    """Return `line A (North side)`; of a name in another script its feature's number."""
    line = drawn_line(plan.site, line_id)
    if line is None or line.name in {"", line_id}:
        return f"line {line_id}"
    return f"line {line_id} ({named(line.name, line.feature.split(' (', maxsplit=1)[0])})"


def millimetres(value_m: float) -> str:
    """Return metres as whole millimetres, thousands apart."""
    return f"{round(float(value_m) * 1000.0):,}".replace(",", "\u00a0")


def heaps(walk: Walk) -> str:
    """Return how many posts of each kind, stock length and heap the run takes, those of its ends counted here too."""
    posts = list(walk.posts.values())
    if not posts:
        return "No post between its ends."
    parts = [", ".join(f"{count} {kind}" for kind, count in _counted(str(post.kind) for post in posts))]
    stock = _counted(f"{stock_m:.2f} m" for stock_m in walk.numbers("stock_m").tolist())
    if stock:
        parts.append("stock " + ", ".join(f"{count} × {length}" for length, count in stock))
    else:
        parts += _lengths(walk.numbers("length_m"), "long")
    heap = _counted(str(post.heap) for post in posts if present(post.heap))
    if heap:
        parts.append("heap " + ", ".join(f"{name}: {count}" for name, count in sorted(heap)))
    parts += _lengths(walk.numbers("embed_m"), "in the ground")
    return f"Posts: {'; '.join(parts)}."


def _counted(names: Iterable[str]) -> list[tuple[str, int]]:
    """Return each name once with how often it is there, the most frequent first."""
    return sorted(Counter(names).items(), key=lambda item: (-item[1], item[0]))


def _lengths(known: npt.NDArray[np.float64], word: str) -> list[str]:
    """Return the least and the greatest of lengths in words; nothing where none is known."""
    if not len(known):
        return []
    low, high = f"{known.min():.2f}", f"{known.max():.2f}"
    return [f"{low}{f' to {high}' if high != low else ''} m {word}"]


def _middle(run: Any) -> tuple[float, float]:
    point = run.geometry.interpolate(0.5, normalized=True)
    return point.x, point.y


class _Meets:
    """Which run ends and which begins at a place of a line: an arc's ends have no other name."""

    def __init__(self, walks: list[Walk]) -> None:
        self._ends = {(run.line_id, round(run.to_m, 2)): run for run in (walk.run for walk in walks)}
        self._begins = {(run.line_id, round(run.from_m, 2)): run for run in (walk.run for walk in walks)}

    def before(self, run: Any) -> str:
        return self._named("end", self._ends.get((run.line_id, round(run.from_m, 2))))

    def after(self, run: Any) -> str:
        return self._named("start", self._begins.get((run.line_id, round(run.to_m, 2))))

    @staticmethod
    def _named(word: str, run: Any) -> str:
        return "" if run is None else f"{word} of {run.kind} {run.run_id}"


def _from_to(walk: Walk, places: Places, meets: _Meets) -> str:
    run = walk.run
    begin, end = places.at(run.line_id, run.from_m), places.at(run.line_id, run.to_m)
    if begin.endswith(f" of line {run.line_id}") and begin[0].isdigit():
        begin = meets.before(run) or begin
    if end.endswith(f" of line {run.line_id}") and end[0].isdigit():
        end = meets.after(run) or end
    posts = ""
    if walk.stretches:
        posts = f" (posts {walk.stretches[0].names[0]} to {walk.stretches[-1].names[-1]})"
    return f"From {begin} to {end}{posts}"


def _about(walk: Walk) -> str:
    run = walk.run
    words = [walk.fence]
    if run.kind == "arc" and present(run.radius_m):
        words.append(f"arc of {metres(abs(run.radius_m), 0)} radius to the {'right' if run.radius_m > 0 else 'left'}")
    if present(run.label):
        words.append(RUN_LABELS.get(run.label, str(run.label)))
    if present(run.bearing_true_deg):
        words.append(f"walk towards {compass(run.bearing_true_deg)}")
    words.append(counted(walk.post_count, "post"))
    return ", ".join(words)


def _hazards(walk: Walk) -> list[str]:
    """Return what is flagged, conductors and whom to ask first."""
    overhead = [row for row in walk.hazards if row.kind in CONDUCTORS]
    others = [row for row in walk.hazards if row.kind not in CONDUCTORS]
    return [*_told(walk, overhead), *([ASK_OWNER] if overhead else []), *_told(walk, others)]


def _told(walk: Walk, rows: list[Any]) -> list[str]:
    """Return a line for each kind and distance, with the names of its flags and between which posts they lie."""
    kinds: dict[str, dict[str, list[str]]] = {}
    for row in rows:
        where = kinds.setdefault(f"{row.kind}{_distances(row)}", {})
        where.setdefault(by_posts(walk, row), []).append(str(row.hazard_id))
    return [
        f"{kind[:1].upper()}{kind[1:]}: "
        + "; ".join(f"{', '.join(names)} {posts}" for posts, names in where.items())
        + "."
        for kind, where in kinds.items()
    ]


def by_posts(walk: Walk, row: Any) -> str:
    """Return the posts of the run between which a span lies."""
    posts = walk.span_of_posts(max(row.from_m, walk.run.from_m), min(row.to_m, walk.run.to_m))
    if posts is None:
        return f"{metres(row.from_m)} to {metres(row.to_m)}"
    return f"post {posts[0]}" if posts[0] == posts[1] else f"posts {posts[0]} to {posts[1]}"


def _distances(hazard: Any) -> str:
    asked = f"{metres(hazard.required_m)} asked for" if present(hazard.required_m) else OWNER_SETS
    if hazard.kind in CONDUCTORS:
        reckoned = metres(hazard.clearance_m) if present(hazard.clearance_m) else "not known"
        return f", reckoned {reckoned}, {asked}"
    if present(hazard.clearance_m):
        return f", reckoned {metres(hazard.clearance_m)}, {asked}"
    return ""


def _what_hurts_first(notes: tuple[Any, ...]) -> list[Any]:
    kinds = [str(note.text).split(":", maxsplit=1)[0] for note in notes]
    rank = {kind: place for place, kind in enumerate(HURTS)}
    shown = [place for place, kind in enumerate(kinds) if kind != SIGNAL]
    return [notes[place] for place in sorted(shown, key=lambda place: rank.get(kinds[place], len(rank)))]


def _seen(walk: Walk, notes: Iterable[Any]) -> list[str]:
    """Return what was seen along this run, by the post before it."""
    found = []
    for note in notes:
        posts = walk.span_of_posts(note.chainage_m, note.chainage_m)
        where = f"at {metres(note.chainage_m)}" if posts is None else f"by post {posts[0]}"
        found.append(f"Seen {where}: {note.text}")
    return found


def _unlooked(answers: tuple[Answer, ...]) -> str:
    """Return the kinds of hazard that nobody has looked for somewhere on this site."""
    kinds = {answer.kind for answer in answers}
    order = [kind for kind in KINDS.values() if kind in kinds] + sorted(kinds - set(KINDS.values()))
    return "" if not order else "Not checked (see the cover): " + ", ".join(kind.lower() for kind in order) + "."


def _nearest_gate(plan: Plan, middle: tuple[float, float]) -> str:
    """Return the gate of the plan nearest to the run's middle, how far and which way in a straight line."""
    if not len(plan.gates):
        return ""
    spots = shapely.line_interpolate_point(plan.gates.geometry.to_numpy(), 0.5, normalized=True)
    away = shapely.get_coordinates(spots) - np.array(middle)
    nearest = int(np.argmin(np.hypot(*away.T)))
    gate_id, name = plan.gates["gate_id"].iloc[nearest], plan.gates["name"].iloc[nearest]
    bearing = float(np.degrees(np.arctan2(*away[nearest])))
    called = f" ({named(name, 'gate')})" if present(name) else ""
    far = float(np.hypot(*away[nearest]))
    return f"{gate_id}{called}, {metres(far, 0)} {compass(bearing % 360.0)} of there"


def site_layers(plan: Plan) -> list[tuple[str, Any]]:
    """Return what the site's files have beside the line and a sheet draws, by name; those without a row left out."""
    layers = (("trees", plan.site.trees), ("overhead", plan.site.overhead), ("pegs", plan.site.pegs))
    return [(name, layer) for name, layer in layers if layer is not None and len(layer)]
