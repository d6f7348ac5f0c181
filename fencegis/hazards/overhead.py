"""Conductors overhead: where the machine comes too near, what was not looked at, and whom to ask."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.hazards import checks
from fencegis.hazards.approach import Approach, allowance, at_phone, at_power
from fencegis.hazards.checks import Part
from fencegis.hazards.conductors import Conductor, conductors
from fencegis.hazards.envelope import Allowance, Envelope, envelope_of
from fencegis.hazards.found import Answer, Ban, Found, checks_table, flagged_rows, hazards_table
from fencegis.hazards.measure import Flag, Measured, Target, measured
from fencegis.hazards.near import Legs
from fencegis.hazards.overhead_notes import default_notes, owner_notes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import geopandas as gpd

    from fencegis.hazards.found import Floats, Ground
    from fencegis.line.chainage import Line
    from fencegis.records.notes import Note
    from fencegis.records.spec import Spec

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
    envelope: Envelope
    file: str
    elevation: bool

    @property
    def plan_sigma_m(self) -> float:
        """One standard error of the drawing, in east and in north, each."""
        return math.hypot(self.spec.boundary.vertex_sigma_m, self.spec.boundary.shift_sigma_m)


def overhead(
    lines: Sequence[Line],
    *,
    ground: Ground | None,
    layer: gpd.GeoDataFrame | None,
    spec: Spec,
    file: str = "overhead.geojson",
) -> Found:
    """Return where the envelope comes too near to a conductor, and what was looked at, line by line.

    `layer` is in the working grid, None when the file is absent: then everything is *not checked*. `ground` is None
    when the site has no elevation: it is then taken as flat, which may raise a flag and never lowers one. A stretch
    is flagged where the distance after allowances is less than the rule asks. Taken off are, in plan, the half width
    and two standard errors of the drawing, and in height two standard errors of the conductor's height and of the
    raster's. `clearance_sigma_m` is the root of the squares of those standard errors. A height or sag that is unknown
    is flagged by plan distance alone. Raises InputError for a rule set that the catalogue does not have.
    """
    if layer is None:
        absent = [(line, kind, [checks.absent(line, file=file)]) for line in lines for kind in KINDS.values()]
        return Found(hazards_table([]), checks_table(absent), ())
    given = _Given(spec, envelope_of(spec), file, elevation=ground is not None)
    cases = [_case(one, given) for one in conductors(layer, ground=ground or _flat, elevation=given.elevation)]
    rows, tiles, met = [], [], set[int]()
    notes: list[Note] = []
    for line in lines:
        legs = Legs(line)
        found = measured(legs, [case.target for case in cases], envelope=given.envelope, ground=ground or _flat)
        met |= found.keys()
        for place, one in found.items():
            basis = [_basis(cases[place], flag, given) for flag in one.flags]
            rows.append(flagged_rows(line, one.flags, answer=cases[place].answer, basis=basis))
        rest = _rest(line, layer, cases, given)
        missing = checks.without_ground(line, ground=ground, rest=rest) if ground else []
        tiles += [(line, kind, checks.tiled(rest, [*missing, *_parts(kind, cases, found)])) for kind in KINDS.values()]
        notes += owner_notes(legs, [case.conductor for case in cases], found, file=file)
    near = [(cases[place].conductor, cases[place].approach) for place in sorted(met)]
    notes += default_notes(near, spec, given.envelope, file=file)
    return Found(hazards_table(rows), checks_table(tiles), tuple(notes), bans=tuple(_under_conductors(rows)))


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
    sigmas = allowance("allowance_sigmas")
    curve = None if conductor.doubt else conductor
    off = Allowance(conductor.half_width_m + sigmas * given.plan_sigma_m, sigmas * height_sigma_m)
    return _Case(
        conductor,
        approach,
        Target(conductor.line, curve, curve, off, approach.distance_m, approach.search_m),
        Answer(
            KINDS[conductor.kind],
            math.hypot(given.plan_sigma_m, height_sigma_m),
            approach.distance_m,
            approach.rule,
            PHONE_ADVICE if phone else POWER_ADVICE,
        ),
    )


def _rest(line: Line, layer: gpd.GeoDataFrame, cases: Sequence[_Case], given: _Given) -> Part:
    lacking = [] if given.elevation else ["no ground heights"]
    if len({case.conductor.row for case in cases}) < len(layer):
        lacking.append("a feature that is no line cannot be placed")
    walked = given.spec.walked.overhead
    return checks.rest_of(
        line, features=len(layer), file=given.file, walked=walked, envelope=given.envelope, lacking=lacking
    )


def _parts(kind: str, cases: Sequence[_Case], found: Mapping[int, Measured]) -> Iterator[Part]:
    """Yield what of one kind is flagged along a line, and where a height could not be worked out."""
    for place, one in found.items():
        case = cases[place]
        if case.answer.kind == kind:
            for flag in one.flags:
                yield Part(flag.stretch, "flagged", f"flagged: {case.conductor.about}, {_distance(case, flag)}")
            for stretch in one.unknown:
                yield Part(stretch, "not checked", f"{case.conductor.about}: near, and no ground height here")


def _distance(case: _Case, flag: Flag) -> str:
    required_m = case.approach.distance_m
    asked = "distance to be set by the line's owner" if required_m is None else f"{required_m:g} m asked for"
    known = math.isfinite(flag.after_m)
    near = f"{flag.after_m:.2f} m after allowances" if known else case.conductor.doubt or "not known"
    return f"{near}, {asked}"


def _basis(case: _Case, flag: Flag, given: _Given) -> str:
    """Return what a flag rests on: the conductor as given, what was taken off, what was assumed."""
    one, off = case.conductor, case.target.off
    parts = [one.doubt] if one.doubt else []
    parts.append(f"{given.file}, {one.about}")
    if one.doubt or case.approach.distance_m is None:
        parts.append(f"everything within {case.target.plan_m(given.envelope.reach_m):.1f} m in plan")
    if not one.doubt:
        parts.append(one.height_as_given)
        parts.append(f"taken off: {off.plan_m:.2f} m in plan, {off.height_m:.2f} m in height")
        if math.isfinite(flag.at_m):
            parts.append(f"least at {flag.at_m:.1f} m")
    assumed = [*one.assumed, *([given.envelope.assumed] if given.envelope.assumed else [])]
    if assumed:
        parts.append("assumed: " + ", ".join(assumed))
    if not given.elevation:
        parts.append("no elevation, ground taken as flat")
    return "; ".join(parts)


def _flat(points: Floats) -> Floats:
    return np.zeros(len(points))
