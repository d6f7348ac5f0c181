"""What to know of the take-off: what it assumes, what it leaves out, what is left over, what the freight is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fencegis.quantities.materials import numbers
from fencegis.quantities.piece_sizes import brace_named, nominal_length_m
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fencegis.records.spec import Fence

LEFT_PCT = 30.0  # of what is bought, above which a left-over is told of; common practice
PARTS_ONLY = "straight on", "swinging panel", "hung curtain"  # treatments that the take-off has parts for
NO_FREIGHT = ("hire and services", "on hand")
NO_TRUCK = ("water", "backfill")
A_LITTLE_MM, A_LITTLE_M = 3.0, 0.05  # 5 in and 8 ft in the yard's own sizes


def notes_on_quantities(bought: pd.DataFrame, tables: Mapping[str, pd.DataFrame], *, fence: Fence) -> list[Note]:
    """Return the notes on the layer `quantities`; `tables` are the layers it sums."""
    if bought.empty:
        return []
    return [
        *_on_braces(bought, fence),
        *_on_slight_strainers(tables, fence),
        *_on_fixings(bought, fence),
        *_on_concrete(tables["posts"], fence),
        *_on_crossings(tables["crossings"]),
        *_on_left_over(bought),
        *_on_freight(bought),
    ]


def _on_braces(bought: pd.DataFrame, fence: Fence) -> list[Note]:
    braces = bought[bought["material"].isin(("brace post", "stay"))]["exact"].sum()
    if not braces:
        return []
    return [
        Note(
            "default",
            f"take-off: each way that wires pull at a strainer has one {fence.brace}, {braces:.0f} posts or stays"
            " beside the posts of the plan; sizes by catalogue/assemblies.csv, ties and knots common practice",
        )
    ]


def _on_slight_strainers(tables: Mapping[str, pd.DataFrame], fence: Fence) -> list[Note]:
    """Return a note where strainers of wire, as planned, are less than the posts of the brace's print."""
    place = ["line_id", "chainage_m"]
    pulled = tables["strainers"].loc[tables["strainers"]["pull_kn"].notna(), place]
    posts = tables["posts"].merge(pulled, on=place)
    least_mm, least_m = numbers(brace_named(fence.brace).post)
    slight = posts["face_mm"].lt(least_mm - A_LITTLE_MM) | (nominal_length_m(posts) < least_m - A_LITTLE_M)
    if not slight.any():
        return []
    text = (
        f"take-off: {slight.sum()} of {len(posts)} strainers are slighter or shorter than the posts that the print of"
        f" the {fence.brace} has ({least_mm:g} mm x {least_m:g} m): they are ordered as the plan has them, so look at"
        " post_mm, and order longer ones where braces are to be as printed"
    )
    return [Note("doubt", text)]


def _on_fixings(bought: pd.DataFrame, fence: Fence) -> list[Note]:
    if not bought["material"].eq("rail fixing").any():
        return []
    words = "take-off: {} screws or nails hold each rail at each post (rail_fixings), a butt joint counted twice; no"
    return [Note("default", words.format(fence.rail_fixings) + " handbook was seen that prints a number")]


def _on_concrete(posts: pd.DataFrame, fence: Fence) -> list[Note]:
    asked = posts if fence.concrete == "all" else posts[~posts["kind"].isin(("line", "key", "brace"))]
    driven = int(asked["set_by"].eq("driven").sum()) if fence.concrete != "none" else 0
    if not driven:
        return []
    text = f"concrete is asked for, but {driven} of those posts are driven and have no hole for it: none there"
    return [Note("doubt", text)]


def _on_crossings(crossings: pd.DataFrame) -> list[Note]:
    own = crossings.drop_duplicates("crossing_id")
    no_parts = own[~own["treatment"].isin(PARTS_ONLY) | own["span_m"].isna()]
    return [
        Note(
            "doubt",
            f"{name}: nothing is taken off for this crossing ({treatment}): settle it on site before it is priced",
            str(line_id),
            float(at),
        )
        for name, treatment, line_id, at in zip(
            no_parts["crossing_id"], no_parts["treatment"], no_parts["line_id"], no_parts["from_m"], strict=True
        )
    ]


def _on_left_over(bought: pd.DataFrame) -> list[Note]:
    over = bought[bought["left_pct"].gt(LEFT_PCT)]
    if over.empty:
        return []
    said = "; ".join(
        f"{item} ({left:.0f} % of {packs} x {pack:g} {'' if unit == 'each' else unit}".rstrip() + ")"
        for item, left, packs, pack, unit in zip(
            over["item"], over["left_pct"], over["packs"], over["pack"], over["unit"], strict=True
        )
    )
    return [Note("doubt", f"more than {LEFT_PCT:.0f} % of what is bought is left over: {said}")]


def _on_freight(bought: pd.DataFrame) -> list[Note]:
    goods = bought[~bought["supplier"].isin(NO_FREIGHT) & ~bought["material"].isin(NO_TRUCK)]
    if goods.empty:
        return []
    unknown = list(dict.fromkeys(goods.loc[goods["mass_kg"].isna(), "material"]))
    tonnes = goods["mass_kg"].sum() / 1000.0
    heavy = f"freight: what is ordered weighs about {tonnes:.1f} t, timber green, without water"
    missing = f"; no mass is known of {', '.join(unknown)}" if unknown else ""
    longest = goods["longest_m"].max()
    long = "" if longest != longest else f"; the longest piece is {longest:.2f} m"
    return [Note("default", heavy + long + missing)]
