"""Conductors overhead: where the machine comes too near, what was not looked at, and whom to ask."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fencegis.hazards import checks
from fencegis.hazards.approach import Approach, allowance, at_phone, at_power
from fencegis.hazards.checks import Part
from fencegis.hazards.conductors import SAG_UNKNOWN, Conductor, conductors
from fencegis.hazards.envelope import Allowance, Envelope
from fencegis.hazards.found import Answer, Ban, Found, checks_table, flagged_rows, flat, hazards_table
from fencegis.hazards.handling import handling_of, nearer, working_envelope
from fencegis.hazards.measure import LOOK_M, Flag, Measured, Target, measured
from fencegis.hazards.near import Legs
from fencegis.hazards.overhead_notes import default_notes, gate_notes, owner_notes, pole_notes
from fencegis.hazards.poles import cannot_be_placed

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import geopandas as gpd

    from fencegis.hazards.found import Ground
    from fencegis.line.chainage import Line
    from fencegis.records.notes import Note
    from fencegis.records.spec import FenceKind, Spec

POWER_ADVICE = (
    "Ask the line's owner before the machine comes, and work by what the owner, the local code and licensed people "
    "say. No choice of machine is enough at a power line: hand work, long rails, steel pickets and wire being run or "
    "strained count as well. One person in sight of the driver does nothing but watch. "
    "A metal fence along or under a line may need earthing and gaps: the owner says."
)
PHONE_ADVICE = (
    "Ask the line's owner before the machine comes, and follow the local code. Until somebody licensed has told "
    "one from the other, treat it as a power line."
)
KINDS = {"power": "overhead power", "phone": "overhead phone"}


@dataclass(frozen=True, eq=False)
class _Case:
    """A conductor with what is asked at it and what is measured."""

    conductor: Conductor
    approach: Approach
    target: Target
    answer: Answer


@dataclass(frozen=True)
class _Given:
    """What all conductors of a site have in common."""

    spec: Spec
    layer: gpd.GeoDataFrame
    file: str
    ground: Ground
    elevation: bool

    @property
    def plan_sigma_m(self) -> float:
        """One standard error of the drawing, in east and in north, each."""
        return math.hypot(self.spec.boundary.vertex_sigma_m, self.spec.boundary.shift_sigma_m)


@dataclass(frozen=True)
class _Swept:
    """What is swept along a line, as printed, and what it comes near; of what is handled only where that is nearer."""

    envelope: Envelope
    what: str
    handled: bool
    found: Mapping[int, Measured]

    @property
    def taken(self) -> str:
        """What was assumed of it, as a note says it; empty when all of it was taped."""
        if self.handled:
            reach = f"within {self.envelope.reach_m:g} m of the line"
            return f"{self.what}, {reach}, counts besides the machine (common practice), to raise flags only"
        assumed = self.envelope.assumed
        return f"{assumed} assumed, to raise flags only: tape the machine at work" if assumed else ""


@dataclass(frozen=True)
class _Along:
    """What was found along one line: `hazards` rows, each conductor's in a list; tiles for each kind; notes."""

    rows: list[list[dict[str, Any]]]
    tiles: list[tuple[Line, str, list[Part]]]
    notes: list[Note]
    sweeps: list[_Swept]


def overhead(
    lines: Sequence[Line],
    *,
    ground: Ground | None,
    layer: gpd.GeoDataFrame | None,
    spec: Spec,
    kinds: Sequence[FenceKind] | None = None,
    gates: gpd.GeoDataFrame | None = None,
    file: str = "overhead.geojson",
) -> Found:
    """Return where the envelope comes too near to a conductor, and what was looked at, line by line.

    `layer` is in the working grid, None when the file is absent: then everything is *not checked*. `ground` is None
    when the site has no elevation: it is then taken as flat, which may raise a flag and never lowers one. `kinds` is
    what is built on each line, the specification's where absent. A stretch is flagged where the distance after
    allowances is less than the rule asks, of the machine and, in rows of its own where that comes nearer, of what is
    lifted and run out by hand. Taken off are, in plan, the half width, how far wind swings the conductor there and two
    standard errors of the drawing, and in height two standard errors of the conductor's height and of the raster's.
    `clearance_sigma_m` is the root of the squares of those standard errors. A height or sag that is unknown, and a
    pole by itself, is flagged by plan distance alone. Raises InputError for a rule set or a kind of machine that the
    catalogue does not have.
    """
    if layer is None:
        absent = [(line, kind, [checks.absent(line, file=file)]) for line in lines for kind in KINDS.values()]
        return Found(hazards_table([]), checks_table(absent), ())
    given = _Given(spec, layer, file, ground or flat, elevation=ground is not None)
    cases = [_case(one, given) for one in conductors(layer, ground=given.ground, elevation=given.elevation)]
    hung = [case.conductor for case in cases]
    all_along = [
        _along(line, kind, cases, given)
        for line, kind in zip(lines, kinds or [spec.fence.kind] * len(lines), strict=True)
    ]
    rows = [row for along in all_along for row in along.rows]
    met = sorted({place for along in all_along for swept in along.sweeps for place in swept.found})
    taken = [swept.taken for along in all_along for swept in along.sweeps if swept.found and swept.taken]
    notes = (
        *pole_notes(hung, file=file),
        *(note for along in all_along for note in along.notes),
        *default_notes([(hung[place], cases[place].approach) for place in met], spec, taken, file=file),
        *gate_notes(lines, hung, gates, plan_m=allowance("allowance_sigmas") * given.plan_sigma_m, file=file),
    )
    tiles = [tile for along in all_along for tile in along.tiles]
    return Found(hazards_table(rows), checks_table(tiles), notes, bans=tuple(_under_conductors(rows)))


def _along(line: Line, kind: FenceKind, cases: Sequence[_Case], given: _Given) -> _Along:
    """Return what one line comes near to, how it is tiled, and whom to ask about what."""
    legs = Legs(line)
    sweeps = _sweeps(legs, kind, cases, given)
    rows = [
        flagged_rows(
            line,
            one.flags,
            answer=cases[place].answer,
            basis=[_basis(cases[place], flag, swept, given) for flag in one.flags],
        )
        for swept in sweeps
        for place, one in swept.found.items()
    ]
    rest = _rest(line, cases, sweeps[0].envelope, given)
    missing = checks.without_ground(line, ground=given.ground, rest=rest) if given.elevation else []
    tiles = [(line, one, checks.tiled(rest, [*missing, *_parts(one, cases, sweeps)])) for one in KINDS.values()]
    flags = [swept.found for swept in sweeps]
    return _Along(
        rows, tiles, list(owner_notes(legs, [case.conductor for case in cases], flags, file=given.file)), sweeps
    )


def _sweeps(legs: Legs, kind: FenceKind, cases: Sequence[_Case], given: _Given) -> list[_Swept]:
    """Return what the machine comes near, and what is handled where that comes nearer."""
    targets, envelope = [case.target for case in cases], working_envelope(given.spec, kind)
    found = measured(legs, targets, envelope=envelope, ground=given.ground)
    machine = _Swept(envelope, f"a machine of {envelope.height_m:g} m", handled=False, found=found)
    handling = handling_of(given.spec, kind)
    if handling is None or handling.is_within(envelope):
        return [machine]
    by_hand = measured(legs, targets, envelope=handling.envelope, ground=given.ground)
    only = {place: nearer(one, found.get(place, Measured())) for place, one in by_hand.items()}
    only = {place: one for place, one in only.items() if one.flags or one.unknown}
    return [machine, _Swept(handling.envelope, handling.what, handled=True, found=only)]


def _under_conductors(rows: Sequence[Sequence[dict[str, Any]]]) -> Iterator[Ban]:
    """Yield where no strainer should stand: its stay, its driver and its straining all want room overhead."""
    for row in (row for one in rows for row in one):
        yield Ban(row["line_id"], (row["from_m"], row["to_m"]), "overhead", "strainers")


def _case(conductor: Conductor, given: _Given) -> _Case:
    phone = conductor.kind == "phone"
    approach = (
        at_phone()
        if phone
        else at_power(conductor.voltage_kv, insulated=bool(conductor.insulated), rule_set=given.spec.rules.approach)
    )
    raster_m = given.spec.elevation.vertical_error_m if given.elevation else 0.0
    height_sigma_m = math.hypot(conductor.height_error_m, raster_m)
    sigmas, swing_m = allowance("allowance_sigmas"), conductor.most_swing_m
    curve = None if conductor.doubt else conductor
    off = Allowance(conductor.half_width_m + sigmas * given.plan_sigma_m, sigmas * height_sigma_m, swings=swing_m > 0.0)
    as_if = conductor.with_usual_sag() if conductor.doubt == SAG_UNKNOWN else None
    return _Case(
        conductor,
        approach,
        Target(conductor.line, curve, curve, off, approach.distance_m, approach.search_m, swing_m, as_if),
        Answer(
            KINDS[conductor.kind],
            math.hypot(given.plan_sigma_m, height_sigma_m),
            approach.distance_m,
            approach.rule,
            PHONE_ADVICE if phone else POWER_ADVICE,
        ),
    )


def _rest(line: Line, cases: Sequence[_Case], envelope: Envelope, given: _Given) -> Part:
    lacking = [] if given.elevation else ["no ground heights"]
    if cannot_be_placed(given.layer):
        lacking.append("a feature that is no line and no pole cannot be placed")
    if any(case.conductor.joined or case.conductor.pole for case in cases):
        lacking.append("poles given without the line between them, look up")
    walked, features = given.spec.walked.overhead, len(given.layer)
    return checks.rest_of(line, features=features, file=given.file, walked=walked, envelope=envelope, lacking=lacking)


def _parts(kind: str, cases: Sequence[_Case], sweeps: Sequence[_Swept]) -> Iterator[Part]:
    """Yield what of one kind is flagged along a line, and where a height could not be worked out."""
    for swept in sweeps:
        for place, one in swept.found.items():
            case = cases[place]
            if case.answer.kind != kind:
                continue
            for flag in one.flags:
                yield Part(flag.stretch, "flagged", f"flagged: {case.conductor.about}, {_distance(case, flag, swept)}")
            for stretch in one.unknown:
                yield Part(stretch, "not checked", f"{case.conductor.about}: near, and no ground height here")


def _distance(case: _Case, flag: Flag, swept: _Swept) -> str:
    """Return the distance left and the distance asked for: numbers to take to the line's owner, no more."""
    required_m = case.approach.distance_m
    asked = "distance to be set by the line's owner" if required_m is None else f"{required_m:g} m asked for"
    if math.isfinite(flag.after_m):
        return f"{flag.after_m:.2f} m left after allowances for {swept.what}, {asked}"
    return f"{case.conductor.doubt or 'not known'}, {asked}"


def _basis(case: _Case, flag: Flag, swept: _Swept, given: _Given) -> str:
    """Return what a flag rests on: the conductor as given, what was taken off, what was assumed."""
    one, off = case.conductor, case.target.off
    parts = [f"nearer than the machine: {swept.what}"] if swept.handled else []
    parts += [one.doubt] if one.doubt else []
    parts.append(f"{given.file}, {one.about}")
    if one.doubt or case.approach.distance_m is None:
        parts.append(f"everything within {case.target.plan_m(swept.envelope.reach_m):.1f} m in plan")
    parts += _usual_sag(flag)
    if not one.doubt:
        parts.append(one.height_as_given)
        parts.append(f"taken off: {off.plan_m:.2f} m in plan, {off.height_m:.2f} m in height")
    if one.sway:
        parts.append(f"taken off in plan besides: {one.sway}")
    if not one.doubt:
        if math.isfinite(flag.at_m):
            parts.append(f"least at {flag.at_m:.1f} m")
        parts.append(f"{_distance(case, flag, swept)}: the line's owner has the last word on both")
    assumed = [*one.assumed, *([swept.envelope.assumed] if swept.envelope.assumed and not swept.handled else [])]
    if assumed:
        parts.append("assumed: " + ", ".join(assumed))
    if not given.elevation:
        parts.append("no elevation, ground taken as flat")
    return "; ".join(parts)


def _usual_sag(flag: Flag) -> Iterator[str]:
    """Yield what would be left with the sag that such spans have: told beside the flag, which stays."""
    if not math.isnan(flag.as_if_m):
        left = f"{flag.as_if_m:.2f} m" if math.isfinite(flag.as_if_m) else f"more than {LOOK_M:g} m"
        sag = f"a sag of {allowance('sag_share'):.0%} of each span (common practice)"
        yield f"with {sag}, which nobody measured, {left} would be left after allowances; flagged all the same"
