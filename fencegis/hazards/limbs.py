"""Tree limbs overhead: where hammer or mast come too near."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fencegis.hazards import checks
from fencegis.hazards.approach import allowance, at_limb
from fencegis.hazards.checks import Part
from fencegis.hazards.crowns import crowns
from fencegis.hazards.envelope import Allowance, envelope_of
from fencegis.hazards.found import Answer, Found, checks_table, flagged_rows, flat, hazards_table
from fencegis.hazards.measure import Flag, Measured, Target, measured
from fencegis.hazards.near import Legs
from fencegis.hazards.trees import Tree, trees
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import geopandas as gpd

    from fencegis.hazards.envelope import Envelope
    from fencegis.hazards.found import Ground
    from fencegis.line.chainage import Line
    from fencegis.records.site import Site
    from fencegis.records.spec import Spec

KIND = "tree limb"
ADVICE = (
    "Look up before every post, and keep hammer and mast off the limbs, or have the tree limbed by a competent person "
    "before the machine comes; near a power line only by people whom its owner and the local code allow. "
    "Driving shakes dead limbs down: nobody stands below."
)
DEAD_ADVICE = (
    "Dead tree: driving shakes limbs down from any height. Have a competent person look at it, and limb or fell it, "
    "before anybody works below; near a power line only people whom its owner and the local code allow. "
    "Look up before every post."
)


def limbs(
    lines: Sequence[Line],
    *,
    ground: Ground | None,
    layer: gpd.GeoDataFrame | None,
    spec: Spec,
    site: Site | None = None,
    file: str = "trees.geojson",
) -> Found:
    """Return where the envelope comes too near to a limb, and what was looked at, line by line.

    `layer` is in the working grid, None when the file is absent: then nothing is `clear`. With `site` crowns of its
    canopy raster are flagged as well. `ground` is None when the site has no elevation: it is then taken as flat. A
    stretch is flagged where the distance after allowances
    is less than half a metre (common practice). Taken off are two standard errors of the drawing in plan, and of a
    height judged from the ground. A limb of unknown height, and any limb of a dead tree, counts as reaching down to
    the ground. Within twice an assumed spread nothing is `clear`.
    """
    envelope = envelope_of(spec)
    drawn = [] if layer is None else trees(layer, ground=ground or flat)
    off, sigma_m = _allowance(spec, elevation=ground is not None)
    targets = [_target(tree, off) for tree in drawn]
    rows, tiles, met = [], [], set[int]()
    for line in lines:
        legs = Legs(line)
        found = measured(legs, targets, envelope=envelope, ground=ground or flat)
        met |= found.keys()
        for place, one in found.items():
            tree = drawn[place]
            advice = DEAD_ADVICE if tree.dead else ADVICE
            answer = Answer(KIND, sigma_m, targets[place].required_m, at_limb().rule, advice)
            basis = [_basis(tree, flag, off, envelope, file=file, elevation=ground is not None) for flag in one.flags]
            flags = [Flag(flag.stretch) if tree.doubt else flag for flag in one.flags]
            rows.append(flagged_rows(line, flags, answer=answer, basis=basis))
        if layer is None:
            rest = checks.absent(line, file=file)
        else:
            rest = _rest(line, layer, drawn, spec, file=file, elevation=ground is not None)
        missing = checks.without_ground(line, ground=ground, rest=rest) if ground else []
        parts = [*missing, *_parts(drawn, found), *_spreads(legs, drawn, off, envelope)]
        if site is not None:
            flagged, unmeasured = _of_canopy(line, site, drawn, envelope.reach_m + off.plan_m, sigma_m)
            rows += flagged
            parts += unmeasured
        tiles.append((line, KIND, checks.tiled(rest, parts)))
    notes = tuple(_notes([drawn[place] for place in sorted(met)], envelope, file=file))
    return Found(hazards_table(rows), checks_table(tiles), notes)


def _of_canopy(
    line: Line, site: Site, drawn: Sequence[Tree], reach_m: float, sigma_m: float
) -> tuple[list[list[dict[str, object]]], list[Part]]:
    """Return the rows and parts of crowns that only the canopy raster shows, and of where it says nothing."""
    asked = at_limb()
    measured_trees = [tree for tree in drawn if not tree.doubt and tree.spread_known]
    found, silent = crowns(line, site=site, within_m=reach_m + asked.search_m, measured=measured_trees)
    answer = Answer(KIND, sigma_m, asked.distance_m, asked.rule, ADVICE)
    rows, parts = [], [Part(stretch, "not checked", "canopy.tif says nothing here") for stretch in silent]
    for crown in found:
        high = f"leaves up to {crown.highest_m:.0f} m" if math.isfinite(crown.highest_m) else "leaves"
        basis = f"height unknown; canopy.tif, {high} over the machine's reach: how low limbs hang nobody measured"
        rows.append(flagged_rows(line, [Flag(crown.stretch)], answer=answer, basis=[basis]))
        parts.append(Part(crown.stretch, "flagged", f"flagged: canopy.tif, {high}"))
    return rows, parts


def _allowance(spec: Spec, *, elevation: bool) -> tuple[Allowance, float]:
    plan_m = math.hypot(spec.boundary.vertex_sigma_m, spec.boundary.shift_sigma_m)
    height_m = math.hypot(allowance("limb_error_m"), spec.elevation.vertical_error_m if elevation else 0.0)
    sigmas = allowance("allowance_sigmas")
    return Allowance(sigmas * plan_m, sigmas * height_m), math.hypot(plan_m, height_m)


def _target(tree: Tree, off: Allowance) -> Target:
    asked = at_limb()
    return Target(tree.shape, tree.may_be, tree.given, off, asked.distance_m, asked.search_m)


def _rest(
    line: Line, layer: gpd.GeoDataFrame, drawn: Sequence[Tree], spec: Spec, *, file: str, elevation: bool
) -> Part:
    lacking = [] if elevation else ["no ground heights"]
    if len({tree.row for tree in drawn}) < len(layer):
        lacking.append("a feature that is no point or polygon cannot be placed")
    return checks.rest_of(
        line, features=len(layer), file=file, walked=spec.walked.trees, envelope=envelope_of(spec), lacking=lacking
    )


def _parts(drawn: Sequence[Tree], found: Mapping[int, Measured]) -> Iterator[Part]:
    for place, one in found.items():
        tree = drawn[place]
        for flag in one.flags:
            near = tree.doubt or ("dead" if tree.dead else f"{flag.after_m:.2f} m after allowances")
            yield Part(flag.stretch, "flagged", f"flagged: {tree.label}, {near}")
        for stretch in one.unknown:
            yield Part(stretch, "not checked", f"{tree.label} is near and there is no ground height here")


def _spreads(legs: Legs, drawn: Sequence[Tree], off: Allowance, envelope: Envelope) -> Iterator[Part]:
    """Yield the stretches near trees whose spread is a guess: it may raise a flag, and takes back a `clear`."""
    for tree in drawn:
        if not tree.spread_known:
            near_m = envelope.reach_m + off.plan_m + allowance("limb_m") + tree.may_be.radius_m
            for stretch in legs.within(tree.shape, distance_m=near_m):
                yield Part(stretch, "not checked", f"{tree.label} is near and nobody said how far it spreads")


def _basis(tree: Tree, flag: Flag, off: Allowance, envelope: Envelope, *, file: str, elevation: bool) -> str:
    parts = [tree.doubt] if tree.doubt else []
    parts += [f"{file}, {tree.label}", tree.about]
    parts.append(f"taken off: {off.plan_m:.2f} m in plan, {off.height_m:.2f} m in height")
    if tree.dead:
        parts.append("limbs of a dead tree counted down to the ground")
    if math.isfinite(flag.at_m) and not tree.doubt:
        parts.append(f"least at {flag.at_m:.1f} m")
    assumed = [*tree.assumed, *([envelope.assumed] if envelope.assumed else [])]
    if assumed:
        parts.append("assumed: " + ", ".join(assumed))
    if not elevation:
        parts.append("no elevation, ground taken as flat")
    return "; ".join(parts)


def _notes(near: Sequence[Tree], envelope: Envelope, *, file: str) -> Iterator[Note]:
    if near and envelope.assumed:
        yield Note("default", f"limbs: {envelope.assumed} assumed, to raise flags only: tape the machine at work")
    for tree in near:
        if tree.doubt:
            yield Note("doubt", f"{file}, {tree.label}: {tree.doubt}: everything near it is flagged")
        for text in tree.assumed:
            yield Note("default", f"{file}, {tree.label}: taken: {text}")
