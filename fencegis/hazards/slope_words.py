"""What is printed of side slopes. A tip angle never stands alone: the level and what a hole adds go with it."""

from __future__ import annotations

import math
from itertools import groupby
from typing import TYPE_CHECKING

from fencegis.hazards.machine import called
from fencegis.hazards.plane import slope_error, square_m
from fencegis.hazards.slope_limits import TIPS, side_value
from fencegis.hazards.slopes import Band
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from fencegis.hazards.slope_limits import Limits
    from fencegis.hazards.slope_spans import Span
    from fencegis.hazards.slopes import Side
    from fencegis.line.chainage import Line
    from fencegis.records.spec import Spec

ADVICE = (
    "Walk it before the machine comes: a hole, a stump or soft ground under one wheel tips a machine that the slope "
    "alone does not. Go by the makers' limits of machine and driver, mast down to travel, belt on under a roll-over "
    "frame, nobody on the low side; where they are reached, work from elsewhere or by hand."
)
TIP_ADVICE = "By its numbers the machine may tip here standing still. " + ADVICE


def rule(limits: Limits) -> str:
    """Return what flags, as printed: the common level or the share of the first tip angle, whichever is less."""
    return (
        f"flagged from {limits.level_deg:.1f}°, the least of {side_value('level'):g}° and {100 * limits.share:g} % of "
        "the machine's first tip angle, and on the steepest of the ground from that share of the angle that tips it "
        f"that way (common practice); {side_value('sigmas'):g} standard errors added"
    )


def basis_of(span: Span, *, limits: Limits, error_m: float) -> str:
    """Return what a stretch rests on: roll, pitch and the steepest of the ground, and what the machine takes."""
    up = "nose up" if span.along_deg >= 0.0 else "nose down"
    parts = [
        f"roll: {fall(span)} at {span.at_m:.0f} m, machine on the {span.side} of the line",
        f"pitch: {abs(span.along_deg):.1f}° {up} walking on",
        f"steepest {span.steepest_deg:.1f}°",
    ]
    flags = f"flagged from a fall of {limits.level_deg:.1f}°"
    if limits.weight:
        flags += f" or a steepest of {limits.share * span.tips_deg:.1f}° lying this way"
    parts.append(f"{flags}, {side_value('sigmas'):g} standard errors added")
    if limits.weight:
        parts.append(
            f"tips standing still at {limits.first_tip_deg:.1f}° square to the slope, {limits.worst_tip_deg:.1f}° on "
            f"the worst diagonal, {span.tips_deg:.1f}° lying this way, sooner on uneven ground"
        )
    parts += [text for text in (hole(limits), f"plane of {side_value('window'):g} m") if text]
    parts[-1] += f", raster good to {error_m:g} m"
    if limits.machine.told(*TIPS):
        parts.append(f"machine's numbers assumed for a {limits.machine.kind}, see the notes")
    return "; ".join(parts)


def tips_from(spans: Sequence[Span]) -> str:
    """Return where among the spans of a flagged stretch the machine may tip standing still; empty where nowhere."""
    tips = [list(group) for band, group in groupby(spans, key=lambda span: span.band) if band == Band.TIP]
    at = [f"{own[0].stretch[0]:.0f} to {own[-1].stretch[1]:.0f} m" for own in tips]
    return f"up to its tip angle from {', '.join(at)}; " if at else ""


def fall(span: Span) -> str:
    """Return the fall of a stretch as printed."""
    side = "right" if span.fall_deg >= 0.0 else "left"
    return f"falls {abs(span.fall_deg):.1f}° ± {span.sigma_deg:.1f}° to the {side}"


def hole(limits: Limits) -> str:
    """Return what a hole under the low wheel adds; empty when the track is not known."""
    track_m, deep_m = limits.machine.track_m, side_value("hole")
    if track_m is None:
        return ""
    adds_deg = math.degrees(math.atan(deep_m / track_m))
    return f"a {deep_m:g} m hole under the low wheel adds {adds_deg:.1f}° on a {track_m:g} m track"


def rest_basis(spec: Spec, limits: Limits, *, cell_m: float) -> tuple[bool, str]:
    """Return whether somebody walked and nothing was lacking, and what is printed where nothing is flagged."""
    seen = (spec.walked.ground or "").strip()
    lacking = []
    if limits.lacking:
        lacking.append(f"no tip angle: {_lacking(limits)}")
    elif not limits.own:
        lacking.append("the machine's own numbers not all given")
    if cell_m > side_value("coarsest"):
        lacking.append(f"cells of {cell_m:.1f} m tell little of {side_value('window'):g} m")
    walked = f"walked {seen}" if seen else "not walked"
    return bool(seen) and not lacking, "; ".join([f"not flagged by the raster — {walked}", *lacking])


def notes_on_machine(limits: Limits) -> Iterator[Note]:
    """Yield what to know of the machine before any slope: what was assumed or not given, its front axle, its hole."""
    if limits.lacking:
        yield Note(
            "default",
            f"side slope: flagged from {limits.level_deg:g}° (common practice) only, no tip angle: {_lacking(limits)}",
        )
    for text in _assumed(limits):
        yield Note("default", f"side slope: {text}, to raise flags only: weigh and tape your own")
    if limits.weight:
        yield Note(
            "doubt",
            f"side slope: flagged from {limits.level_deg:.1f}°; {hole(limits)}; the machine tips standing still at "
            f"{limits.first_tip_deg:.1f}° square to the slope, {limits.worst_tip_deg:.1f}° on the worst diagonal, "
            "sooner on uneven ground",
        )
    yield from _front_axle(limits)
    if limits.support and limits.machine.tilt_side_deg is None:
        yield Note(
            "default", "side slope: where a post cannot be plumbed is not checked: no tilt_side_deg in [machine]"
        )


def _front_axle(limits: Limits) -> Iterator[Note]:
    share = f"machine: the front axle carries {limits.front_pct:.0f} % of the weight on level ground"
    if limits.front_pct < side_value("front least"):
        yield Note("doubt", f"{share}, under {side_value('front least'):g} %: it steers badly and rears uphill")
    elif limits.front_pct > side_value("front most"):
        text = "the rear wheels hold and brake badly, and less on a slope"
        yield Note("doubt", f"{share}, over {side_value('front most'):g} %: {text} (common practice)")


def notes_on_spans(line: Line, spans: Sequence[Span], flagged_m: dict[Side, float], limits: Limits) -> Iterator[Note]:
    """Yield which side of the line is flagged less, and where the mast does not come to plumb."""
    if len(flagged_m) > 1 and any(flagged_m.values()):
        less, more = sorted(flagged_m, key=flagged_m.__getitem__)
        if flagged_m[more] - flagged_m[less] >= side_value("gap"):
            text = f"{flagged_m[less]:.0f} m of it, {flagged_m[more]:.0f} m on the {more}"
            yield Note("doubt", f"side slope: the {less} of the line is flagged less: {text}", line.line_id)
    for plumbless, group in groupby(spans, key=lambda span: span.cannot_plumb):
        if plumbless:
            own = list(group)
            start_m, end_m = own[0].stretch[0], own[-1].stretch[1]
            text = f"from {start_m:.0f} to {end_m:.0f} m a post cannot be plumbed from where the machine stands"
            yield Note("doubt", f"side slope: {text}: {_tilt(limits)}", line.line_id, start_m)


def _tilt(limits: Limits) -> str:
    side, fore = limits.machine.tilt_side_deg, limits.machine.tilt_fore_deg
    parts = [] if side is None else [f"{side:g}° sideways"]
    parts += [] if fore is None or limits.square else [f"{fore:g}° along the machine"]
    return f"the mast tilts {' and '.join(parts)}"


def plane_note(error_m: float) -> Note:
    """Return what a fall was read from and how sure that is, with neighbouring errors alike and each on its own."""
    at_m = square_m(side_value("window"), side_value("spacing"))
    alike, alone = (error_m * slope_error(at_m, alike_m=near_m) for near_m in (side_value("alike"), 0.0))
    return Note(
        "default",
        f"side slope: read from planes of {side_value('window'):g} m through the raster, whose heights are good to "
        f"{error_m:g} m: ± {math.degrees(alike):.1f}° with errors alike over some metres, as is taken, "
        f"± {math.degrees(alone):.1f}° if each height erred on its own; more where the ground stands off its plane by "
        "more than that",
    )


def _assumed(limits: Limits) -> list[str]:
    told = limits.machine.told(*TIPS)
    return [f"assumed for a {limits.machine.kind}: {told}"] if told and not limits.lacking else []


def _lacking(limits: Limits) -> str:
    if limits.machine.kind is None and len(limits.lacking) == len(TIPS):
        return "neither kind nor track, wheelbase, masses and their centres given in [machine]"
    if len(limits.lacking) == len(TIPS):
        return f"none is worked out for this kind ({limits.machine.kind})"
    return f"not given: the machine's {_listed(limits.lacking)}"


def _listed(names: Sequence[str]) -> str:
    words = [called(name) for name in names]
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)
