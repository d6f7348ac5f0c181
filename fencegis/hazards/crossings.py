"""Creeks and drains that a line crosses or keeps to, from `watercourses` only: the ground alone makes no crossing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.hazards import checks, crossing_words
from fencegis.hazards.checks import Part
from fencegis.hazards.crossing_ends import bans_of, ends_of, stretches_on
from fencegis.hazards.crossing_fit import Crossing, Terms, crossing_of, together
from fencegis.hazards.dips import dip_note
from fencegis.hazards.found import Answer, Found, Stand, checks_table, flagged_rows, hazards_table
from fencegis.hazards.measure import Flag
from fencegis.hazards.near import Legs
from fencegis.hazards.treatment import distance, treatment
from fencegis.hazards.watercourse import alongside, inside, meetings, watercourses
from fencegis.records.notes import Note
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.hazards.found import Ground, Scene, Stretch
    from fencegis.hazards.treatment import Treatment
    from fencegis.hazards.watercourse import Watercourse
    from fencegis.line.chainage import Line
    from fencegis.line.course import Course
    from fencegis.records.spec import Spec

KIND = "crossing"
ALONG = "along it"  # as the layer's kind, and as the class of the catalogue
_OFF_M = 0.5  # of the ground from the fitted grades: a ditch that the notes on the ground name already


@dataclass(frozen=True, eq=False)
class Zone:
    """A stretch of a line that keeps to one watercourse for long; `crossed` are the crossings in it."""

    waters: tuple[Watercourse, ...]
    stretch: Stretch
    crossed: tuple[Crossing, ...]


@dataclass(frozen=True, eq=False)
class Told:
    """One row of the layer as it is told: a crossing or a zone, its name, and where its end assemblies stand."""

    name: str
    course: Course
    of: Crossing | Zone
    ends: tuple[float, ...]
    basis: str

    @property
    def line(self) -> Line:
        """The line it lies on."""
        return self.course.line

    @property
    def treatment(self) -> Treatment:
        """The class of the catalogue."""
        return treatment(ALONG) if isinstance(self.of, Zone) else self.of.treatment

    @property
    def waters(self) -> list[Watercourse]:
        """The watercourses that it is about."""
        return list(self.of.waters) if isinstance(self.of, Zone) else [meet.of for meet in self.of.meets]

    @property
    def parts(self) -> list[Stretch]:
        """Its stretch as it lies on the line, in two where a loop's start cuts it."""
        return stretches_on(self.line, self.of.stretch)

    @property
    def crossed(self) -> tuple[Crossing, ...]:
        """The crossings in it."""
        return self.of.crossed if isinstance(self.of, Zone) else (self.of,)


def crossings(scene: Scene, *, file: str = "watercourses.geojson") -> Found:
    """Return where the lines cross or keep to water, how each crossing is fenced, and what was looked at.

    Without the file everything is *not checked*. Where the class of a crossing asks for it the work ends on both banks
    on assemblies of its own; no strainer stands between those and no post between the banks. Within the drawing's error
    of a watercourse nothing is `clear`. A dip of the fitted ground where no water is drawn is a note, never a crossing.
    """
    layer, terms = scene.site.watercourses, _terms(scene)
    waters = [] if layer is None else watercourses(layer)
    told: list[Told] = []
    tiles, notes = [], []
    for course in scene.courses:
        legs = Legs(course.line)
        met = _met(course, legs, waters, ground=scene.ground, terms=terms, bay_m=scene.spec.fence.post_spacing_m)
        own = [_told(f"X{len(told) + 1 + place}", course, one, scene.spec, file) for place, one in enumerate(met)]
        near = [(water, part) for water in waters for part in _near(legs, water, terms)]
        if layer is None:
            parts = [checks.absent(course.line, file=file)]
        else:
            rest = _rest(course.line, walked=scene.spec.walked.water, features=len(layer), waters=waters, file=file)
            parts = checks.tiled(rest, [*_flagged(own), *_doubtful(near, terms, file=file)])
        tiles.append((course.line, KIND, parts))
        notes += [*_doubts(own), *_passing(course.line, own, near, terms, file=file)]
        drawn = [part for one in own for part in one.parts] + [part for _, part in near]
        notes += _dips(course, drawn, terms)
        told += own
    return Found(
        hazards_table([_hazard_rows(one) for one in told]),
        checks_table(tiles),
        tuple(notes),
        layers={"crossings": checked("crossings", pd.DataFrame([row for one in told for row in _rows(one)]))}
        if told
        else {},
        bans=tuple(ban for one in told for crossed in one.crossed for ban in bans_of(crossed)),
        stands=tuple(Stand(one.line.line_id, at_m, KIND) for one in told for at_m in one.ends),
        openings=tuple((one.line.line_id, (one.ends[0], one.ends[1])) for one in told if _opens(one.ends)),
    )


def _opens(ends: Sequence[float]) -> bool:
    """Return whether the fence opens between two end assemblies; over a loop's start posts keep off the bed alone."""
    return len(ends) == 2 and ends[0] < ends[1]


def _terms(scene: Scene) -> Terms:
    spec, terrain = scene.spec, scene.site.terrain
    return Terms(
        off_m=math.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m),
        height_sigma_m=spec.elevation.vertical_error_m,
        cell_m=0.0 if terrain is None else terrain.cell_m,
    )


def _met(
    course: Course,
    legs: Legs,
    waters: Sequence[Watercourse],
    *,
    ground: Ground | None,
    terms: Terms,
    bay_m: float,
) -> list[Crossing | Zone]:
    """Return the crossings and the zones of one line, by chainage."""
    line = course.line
    reach_m = np.array([distance("zone_reach_m") + water.half_m for water in waters])
    by_name: dict[str, list[Watercourse]] = {}
    for place in legs.passing([water.shape for water in waters], within_m=reach_m):
        by_name.setdefault(waters[place].name, []).append(waters[place])
    zones: list[Zone] = []
    alone: list[Crossing] = []
    for parts in by_name.values():
        meets = [meet for water in parts for meet in meetings(legs, water)]
        fits = [(meet, crossing_of(line, meet, ground=ground, terms=terms)) for meet in meets]
        stretches = alongside(legs, parts, meets)
        for stretch in stretches:
            in_it = sorted((fit for meet, fit in fits if inside(line, stretch, meet)), key=lambda fit: fit.stretch)
            zones.append(Zone(tuple(parts), stretch, tuple(in_it)))
        alone += [fit for meet, fit in fits if not any(inside(line, stretch, meet) for stretch in stretches)]
    apart_m = 2.0 * distance("set_back_m") + bay_m  # no room for two end assemblies and a bay
    return sorted([*zones, *together(alone, line=line, apart_m=apart_m)], key=lambda one: one.stretch)


def _told(name: str, course: Course, one: Crossing | Zone, spec: Spec, file: str) -> Told:
    if isinstance(one, Zone):
        words = crossing_words.basis_along(
            course, one.waters, one.stretch, one.crossed, file=file, height_sigma_m=spec.elevation.vertical_error_m
        )
        return Told(name, course, one, (), f"{name}: {words}")
    ends = ends_of(one, course, bay_m=spec.fence.post_spacing_m)
    return Told(name, course, one, ends, f"{name}: {crossing_words.basis(one, ends=ends, file=file)}")


def _hazard_rows(one: Told) -> list[dict[str, object]]:
    parts = one.parts
    answer = Answer(KIND, math.nan, None, one.treatment.rule, crossing_words.advice(one.treatment))
    return flagged_rows(one.line, [Flag(part) for part in parts], answer=answer, basis=[one.basis] * len(parts))


def _rows(one: Told) -> Iterator[dict[str, object]]:
    """Yield the rows of the layer: one, or two with one name where a loop's start cuts it."""
    row: dict[str, object] = {
        "crossing_id": one.name,
        "line_id": one.line.line_id,
        "feature": crossing_words.called(one.waters),
        "kind": ALONG if isinstance(one.of, Zone) else KIND,
        "treatment": one.treatment.name,
        "own_ends": bool(one.ends),
        "basis": one.basis,
    }
    if isinstance(one.of, Crossing):
        bed_at_m = one.of.bed_at_m
        row |= {
            "angle_deg": one.of.angle_deg,
            "from_bank_m": one.of.from_bank.ground_m,
            "to_bank_m": one.of.to_bank.ground_m,
            "bed_m": one.of.bed_m,
            "bed_at_m": bed_at_m % one.line.length_m if one.line.closed else bed_at_m,
            "span_m": one.of.span_m,
            "drop_m": one.of.drop_m,
            "flood_m": one.of.flood_level_m - one.of.bed_m,
        }
    for low, high in one.parts:
        yield {**row, "from_m": low, "to_m": high}


def _near(legs: Legs, water: Watercourse, terms: Terms) -> list[Stretch]:
    """Return where water is drawn so near to a line that it may lie on it."""
    off_m = distance("search_sigmas") * terms.off_m + water.half_m
    return legs.within(water.shape, distance_m=off_m) if off_m > 0.0 else []


def _rest(line: Line, *, walked: str | None, features: int, waters: Sequence[Watercourse], file: str) -> Part:
    count = f"{features} feature" + ("" if features == 1 else "s")
    seen = walked.strip() if walked else ""
    basis = f"none found in {file} ({count}) — " + (f"walked {seen}" if seen else "not walked")
    lacking = len({water.row for water in waters}) < features
    if lacking:
        basis += "; a feature that is no line or polygon cannot be placed"
    return Part((0.0, line.length_m), "clear" if seen and not lacking else "not checked", basis)


def _flagged(told: Sequence[Told]) -> Iterator[Part]:
    for one in told:
        what = "keeps to" if isinstance(one.of, Zone) else "crosses"
        for part in one.parts:
            basis = f"flagged: {one.name}, {what} {crossing_words.called(one.waters)}: {one.treatment.name}"
            yield Part(part, "flagged", basis)


def _doubtful(near: Sequence[tuple[Watercourse, Stretch]], terms: Terms, *, file: str) -> Iterator[Part]:
    for water, part in near:
        yield Part(part, "not checked", f"{file}, {water.label}: {_within(water, terms)}: find its banks on site")


def _within(water: Watercourse, terms: Terms) -> str:
    return f"drawn within {distance('search_sigmas') * terms.off_m + water.half_m:.1f} m"


def _passing(
    line: Line,
    told: Sequence[Told],
    near: Sequence[tuple[Watercourse, Stretch]],
    terms: Terms,
    *,
    file: str,
) -> Iterator[Note]:
    """Yield a note where water is drawn so near that it may reach the line, and does not meet it as drawn."""
    flagged = [part for one in told for part in one.parts]
    for water, (low, high) in near:
        if not any(start <= high and low <= end for start, end in flagged):
            text = f"{file}, {water.label}: {_within(water, terms)} of the line for {high - low:.0f} m: it may reach it"
            yield Note("doubt", text, line.line_id, low)


def _doubts(told: Sequence[Told]) -> Iterator[Note]:
    """Yield what has to be settled on site: banks that are not known, and floods that come over them."""
    for one in told:
        for text in crossing_words.doubts(one.of) if isinstance(one.of, Crossing) else ():
            yield Note(
                "doubt", f"{one.name}, {crossing_words.called(one.waters)}: {text}", one.line.line_id, one.parts[0][0]
            )


def _dips(course: Course, drawn: Sequence[Stretch], terms: Terms) -> Iterator[Note]:
    noise_m = terms.height_sigma_m
    said_m = max(_OFF_M, 3.0 * noise_m)
    near_m = distance("search_sigmas") * terms.off_m + terms.cell_m
    note = dip_note(course, noise_m=noise_m, drawn=drawn, near_m=near_m, said_m=said_m)
    if note:
        yield note
