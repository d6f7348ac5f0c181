"""What each post stands in: its soil, how it is set, its depth, its hole, the water for it; and the layer `soils`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.line.zones import FILE, ROCKS
from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.holes import hole_mm, number, set_by, water_l
from fencegis.strength.in_ground import end_depth_m, line_depth_m, of_each
from fencegis.strength.strainer_pull import at_gate
from fencegis.strength.values import value_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from fencegis.line.zones import SoilSpan
    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]

NOT_CHECKED = "not checked"
ASSUMED = "assumed, not checked"


def taken_as(soils: Names, assumed: str) -> Names:
    """Return the soils (n,) with `assumed` where there is none."""
    return np.array([assumed if soil is None else soil for soil in soils], dtype=object)


def set_in_ground(
    posts: pd.DataFrame,
    strainers: pd.DataFrame,
    *,
    soils: Names,
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
    assumed: str,
) -> pd.DataFrame:
    """Return the layer `posts` with `soil`, `set_by`, `embed_m`, `hole_mm` and `water_l`.

    `soils` (n,) is the zone's at each post, None where none covers it: there depth, hole and water rest on `assumed`.
    A post of `strainers` has the depth it has there; a key post that of an end post; the others that of line posts.
    """
    taken = taken_as(soils, assumed)
    depth = _depth_m(posts, taken, kind_of_line=kind_of_line, fence=fence)
    own = pd.MultiIndex.from_frame(strainers[["line_id", "chainage_m"]])
    place = own.get_indexer(pd.MultiIndex.from_frame(posts[["line_id", "chainage_m"]]))
    ends = place >= 0
    depth[ends] = strainers["embed_m"].to_numpy(dtype=float)[place[ends]]
    post_mm = np.full(len(posts), fence.post_mm)
    post_mm[ends] = np.where(at_gate(strainers)[place[ends]], fence.gate_post_mm, fence.post_mm)
    how = _set_by(taken, fence)
    hole = hole_mm(taken, how, post_mm=post_mm)
    return checked(
        "posts",
        posts.assign(
            soil=taken_as(soils, NOT_CHECKED),
            set_by=how,
            embed_m=depth,
            hole_mm=hole,
            water_l=water_l(taken, hole_mm=hole, post_mm=post_mm, embed_m=depth),
        ),
    )


def soil_table(
    zones: Mapping[str, Sequence[SoilSpan]], *, kind_of_line: Mapping[str, FenceKind], fence: Fence, assumed: str
) -> pd.DataFrame:
    """Return the layer `soils`: along each line the soil, what that rests on, and hole and water of a line post."""
    spans = [(line_id, span) for line_id, along in zones.items() for span in along]
    taken = taken_as(np.array([span.soil for _, span in spans], dtype=object), assumed)
    how = _set_by(taken, fence)
    hole = hole_mm(taken, how, post_mm=fence.post_mm)
    depth = [
        line_depth_m(soil, height_m=above_ground_m(kind_of_line[line_id], fence=fence))
        for soil, (line_id, _) in zip(taken, spans, strict=True)
    ]
    return checked(
        "soils",
        pd.DataFrame(
            {
                "line_id": [line_id for line_id, _ in spans],
                "from_m": [span.from_m for _, span in spans],
                "to_m": [span.to_m for _, span in spans],
                "soil": taken,
                "basis": [ASSUMED if span.soil is None else FILE for _, span in spans],
                "post_set": how,
                "embed_m": depth,
                "hole_mm": hole,
                "water_l": water_l(taken, hole_mm=hole, post_mm=fence.post_mm, embed_m=depth),
            }
        ),
    )


def above_ground_m(kind: FenceKind, *, fence: Fence) -> float:
    """Return how high a post stands above the ground before its top is planned.

    In rail the height that is wanted, in wire the top wire of `catalogue/footing.csv`.
    """
    return value_of("footing", "top wire") if kind == "wire" else fence.height_m


def notes_on_holes(
    posts: pd.DataFrame, soils: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], fence: Fence
) -> list[Note]:
    """Return what to know of depths, holes and water; `posts` and `soils` as made here."""
    kinds = list(dict.fromkeys(kind_of_line.values()))
    return [
        _on_depths(soils, kinds, fence),
        *_on_rock_and_bog(soils),
        *_on_refilling(soils, fence),
        *_on_water(posts, soils),
    ]


def _set_by(soils: Names, fence: Fence) -> Names:
    ways = {soil: set_by(soil, post_set=fence.post_set) for soil in set(soils)}
    return np.array([ways[soil] for soil in soils], dtype=object)


def _depth_m(posts: pd.DataFrame, soils: Names, *, kind_of_line: Mapping[str, FenceKind], fence: Fence) -> Floats:
    depth = np.full(len(posts), np.nan)
    kinds = posts["line_id"].map(dict(kind_of_line)).to_numpy()
    key = posts["kind"].eq("key").to_numpy()
    for kind in set(kinds):
        height_m = above_ground_m(kind, fence=fence)
        for these, depth_of in ((key, end_depth_m), (~key, line_depth_m)):
            here = these & (kinds == kind)
            depth[here] = of_each(lambda soil: depth_of(soil, height_m=height_m), soils[here])  # noqa: B023
    return depth


def _on_depths(soils: pd.DataFrame, kinds: Sequence[FenceKind], fence: Fence) -> Note:
    heights = " or ".join(
        f"{above_ground_m(kind, fence=fence):.2f} m ({'assumed for wire' if kind == 'wire' else 'height_m, for rail'})"
        for kind in kinds
    )
    named = ", ".join(dict.fromkeys(soils["soil"]))
    return Note(
        "default",
        f"line posts: depths are the shares that agencies print, of posts that stand {heights} above the ground;"
        f" the leaf of a gate is not counted. Posts are {fence.post_set} unless the soil asks for another way; what"
        f" drives without a pilot is driven. The first post in each soil ({named}) is a trial: write down what it did",
    )


def _on_rock_and_bog(soils: pd.DataFrame) -> list[Note]:
    said = {
        **dict.fromkeys(ROCKS, "breaker, moil point or rock drill first, then the post in its hole"),
        "bog": "posts are driven, or the hole is cased: below the water table it falls in. The building code presumes"
        " no bearing here, so nothing is worked out from pull or wind",
    }
    return [
        Note("doubt", f"{soil} from here to {to_m:.0f} m: {said[soil]}", line_id, from_m)
        for line_id, from_m, to_m, soil in soils[["line_id", "from_m", "to_m", "soil"]].itertuples(index=False)
        if soil in said
    ]


def _on_refilling(soils: pd.DataFrame, fence: Fence) -> list[Note]:
    """Return how holes in sand are filled again, where there are any."""
    refilled = soils[soils["hole_mm"].notna() & soils["soil"].eq("sand")]
    if refilled.empty:
        return []
    least, most = (number(f"{which} bored over post", "sand") for which in ("least", "most"))
    over = f" ({least:.0f} to {most:.0f} mm over the post)" if fence.post_set == "bored" else ""
    layer_mm = number("layer") * 1000.0 // 10.0 * 10.0
    return [
        Note(
            "default",
            f"holes in sand are {refilled['hole_mm'].iloc[0]:.0f} mm wide for a {fence.post_mm:.0f} mm post{over},"
            f" filled in layers of at most {layer_mm:.0f} mm, each wetted and vibrated or tamped: clean, free-draining"
            " sand only. Silty sand is tamped damp, never flooded; below the water table the hole is cased or the post"
            " driven. Refilled sand is not undisturbed ground: sums for footings take"
            f" {value_of('footing', fence.post_set):g} of what the code's table bears",
        )
    ]


def _on_water(posts: pd.DataFrame, soils: pd.DataFrame) -> list[Note]:
    wet = posts[posts["water_l"] > 0.0]
    if wet.empty:
        return []
    guessed = "" if soils["basis"].eq(FILE).all() else "; soil is assumed along a part"
    return [
        Note(
            "default",
            f"water to cart: {wet['water_l'].sum():.0f} L for {len(wet)} holes, re-set after the first"
            f" {number('trial holes'):.0f}{guessed}",
        )
    ]
