"""Side slope: how the ground falls across the machine where it stands beside the line, and where that is flagged."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.hazards.checks import Part
from fencegis.hazards.found import Answer, Found, checks_table, flagged_rows, hazards_table
from fencegis.hazards.measure import Flag
from fencegis.hazards.slope_limits import limits_of
from fencegis.hazards.slope_spans import spans_of
from fencegis.hazards.slope_words import (
    ADVICE,
    TIP_ADVICE,
    basis_of,
    fall,
    notes_on_machine,
    notes_on_spans,
    plane_note,
    rest_basis,
    rule,
    tips_from,
)
from fencegis.hazards.slopes import Band, slopes_beside
from fencegis.records.tables import checked, empty

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.hazards.found import Scene
    from fencegis.hazards.slope_limits import Limits
    from fencegis.hazards.slope_spans import Span
    from fencegis.line.chainage import Line

KIND = "side slope"
WORDS = {Band.UNFLAGGED: "not flagged by the raster", Band.LEVEL: "level", Band.TIP: "tip"}


def side_slope(scene: Scene) -> Found:
    """Return where the ground falls across the machine by the level or more, and what was looked at, line by line.

    The machine's middle stands 2 m off the line on `work_side`, or on either side; about it a plane is fitted to the
    raster's heights on a square of 8 m (common practice), every 2 m along the line and at each corner. A stretch is
    flagged where the fall and two standard errors reach the least of 8° (common practice) and half the machine's first
    tip angle, and where the steepest of the ground and two standard errors reach half the angle at which a machine
    that stands along the line tips the way the ground lies. Where nothing is flagged the answer is *not flagged by the
    raster*. Raises InputError for a kind of machine that the catalogue does not have.
    """
    limits = limits_of(scene.spec)
    error_m = scene.spec.elevation.vertical_error_m
    hazards, tiles, spans, notes = [], [], [], []
    if scene.ground is not None:
        notes = [*notes_on_machine(limits), plane_note(error_m)]
    for line in scene.lines:
        if scene.ground is None:
            tiles.append((line, KIND, [Part((0.0, line.length_m), "not checked", "no ground heights")]))
            continue
        slopes = slopes_beside(line, ground=scene.ground, error_m=error_m, limits=limits)
        own = spans_of(slopes, limits=limits)
        hazards.append(_hazards(line, own, limits, error_m))
        tiles.append((line, KIND, _tiles(own, scene, limits)))
        spans += [_row(line, span, limits, error_m) for span in own if span.band != Band.UNKNOWN]
        notes += notes_on_spans(line, own, slopes.flagged_m, limits)
    layer = checked("side_slopes", pd.DataFrame(spans)) if spans else empty("side_slopes")
    return Found(hazards_table(hazards), checks_table(tiles), tuple(notes), layers={"side_slopes": layer})


def _hazards(line: Line, spans: Sequence[Span], limits: Limits, error_m: float) -> list[dict[str, object]]:
    """Return the `hazards` rows: flagged stretches that follow each other are one, told by the gravest of them."""
    flags, gravest, basis = [], [], []
    for flagged, group in groupby(spans, key=lambda span: span.flagged):
        own = list(group)
        if flagged:
            flags.append(Flag((own[0].stretch[0], own[-1].stretch[1])))
            gravest.append(max(own, key=lambda span: (span.band, abs(span.fall_deg))))
            basis.append(tips_from(own) + basis_of(gravest[-1], limits=limits, error_m=error_m))
    answer = Answer(KIND, np.nan, None, rule(limits), ADVICE)
    rows = flagged_rows(line, flags, answer=answer, basis=basis)
    return [
        row | ({"advice": TIP_ADVICE} if span.band == Band.TIP else {}) for row, span in zip(rows, gravest, strict=True)
    ]


def _tiles(spans: Sequence[Span], scene: Scene, limits: Limits) -> list[Part]:
    """Return the stretches with their answers, those that follow each other with one answer as one."""
    terrain = scene.site.terrain
    looked, rest = rest_basis(scene.spec, limits, cell_m=0.0 if terrain is None else terrain.cell_m)
    parts: list[Part] = []
    for span in spans:
        if span.flagged:
            part = Part(
                span.stretch,
                "flagged",
                f"flagged: {fall(span)}, steepest {span.steepest_deg:.1f}°, at {span.at_m:.0f} m",
            )
        elif span.band == Band.UNKNOWN:
            part = Part(span.stretch, "not checked", "no ground heights here")
        else:
            part = Part(span.stretch, "clear" if looked else "not checked", rest)
        if parts and (parts[-1].status, parts[-1].basis) == (part.status, part.basis):
            part = Part((parts.pop().stretch[0], part.stretch[1]), part.status, part.basis)
        parts.append(part)
    return parts


def _row(line: Line, span: Span, limits: Limits, error_m: float) -> dict[str, object]:
    return {
        "line_id": line.line_id,
        "from_m": span.stretch[0],
        "to_m": span.stretch[1],
        "band": WORDS[span.band],
        "fall_deg": span.fall_deg,
        "sigma_deg": span.sigma_deg,
        "fall_at_m": span.at_m,
        "along_deg": span.along_deg,
        "worst_deg": span.steepest_deg,
        "flag_deg": limits.level_deg,
        "tip_deg": limits.first_tip_deg,
        "front_pct": limits.front_pct,
        "flagged": span.flagged,
        "cannot_plumb": span.cannot_plumb,
        "less_side": span.less_side,
        "basis": basis_of(span, limits=limits, error_m=error_m),
    }
