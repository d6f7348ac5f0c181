"""The mark of each post's hole, measured from the string, so that faces stand true whatever the girth.

The string stands `string_gap_mm` off the faces, on `string_side`. The centre of a round post is half its diameter
behind its face, so at the ground the hole's centre is d/2 + gap from the string, square to the run; at a corner, where
two strings cross, it lies on the bisector, further by 1 ÷ cos(turn ÷ 2). d is the diameter at the ground, not the butt:
a tapered post has its face plumb, not its axis.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.line.counting import A_MILLIMETRE
from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.setout.string_line import value_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt

    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

NAMED = 8  # posts named in one note
SEEN_DEG = 5.0  # from a turn of this on a post is seen along two runs (common practice)
FOLDED_DEG = 179.0  # a line that comes back on itself has no bisector
ALONG = "along the fence"
BOTH_WAYS = "sight along both runs"


def hole_offset_mm(behind_face_mm: npt.ArrayLike, *, gap_mm: float, turn_deg: npt.ArrayLike = 0.0) -> Floats:
    """Return the distance from the string to the hole's centre, never negative, NaN where a line folds back.

    `behind_face_mm` is how far the post's centre is behind its face: half its diameter, less where it is flatted.
    """
    turn = np.abs(np.asarray(turn_deg, dtype=float))
    square = np.asarray(behind_face_mm, dtype=float) + gap_mm
    return np.asarray(
        np.where(turn < FOLDED_DEG, square / np.cos(np.radians(np.minimum(turn, FOLDED_DEG)) / 2.0), np.nan)
    )


def flat_depth_mm(diameter_mm: npt.ArrayLike, *, bearing_mm: float) -> Floats:
    """Return how deep a flat `bearing_mm` wide is cut into a round post, r − √(r² − (b/2)²); NaN in one too thin."""
    return np.asarray(diameter_mm, dtype=float) / 2.0 - behind_flat_mm(diameter_mm, bearing_mm=bearing_mm)


def behind_flat_mm(diameter_mm: npt.ArrayLike, *, bearing_mm: float) -> Floats:
    """Return how far a round post's centre is behind a flat so wide; NaN when the post is too thin for it."""
    square = (np.asarray(diameter_mm, dtype=float) ** 2 - bearing_mm**2) / 4.0
    return np.asarray(np.sqrt(np.where(square >= 0.0, square, np.nan)))


def string_from_line_mm(fence: Fence) -> float:
    """Return where the string stands from the planned line, right positive, for a post as thick as `post_mm`.

    `line_is` says whether the line runs through the posts' centres or along their faces; `offset_m` is in the planned
    line already.
    """
    half = 0.0
    if fence.line_is == "centre":
        half = fence.post_mm / 2.0
        if fence.face == "flatted":
            half = float(np.nan_to_num(behind_flat_mm(half * 2.0, bearing_mm=value_of("yard", "bearing"))))
    return -_to_right(fence) * (half + fence.string_gap_mm)


def with_marks(
    posts: pd.DataFrame, corners: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], fence: Fence
) -> pd.DataFrame:
    """Return the layer `posts` with `offset_mm`, `turn_sweep` and `shift_limit_mm`.

    `offset_mm` is right positive: a string on the left has all holes to its right. `shift_limit_mm` is how far a post
    may stand off its place along the fence, either way, with half a butt joint's width left for each of two rail ends
    where the post is thinnest and bows most; for rails between posts half of what is let in there. Empty in wire.
    """
    rail = posts["line_id"].map(dict(kind_of_line)).eq("post and rail").to_numpy(dtype=bool)
    turn = turns_at(posts, corners)
    behind, width = _behind_and_width(posts, rail & (fence.face == "flatted"))
    sweep = posts["sweep_mm"].fillna(0.0).to_numpy(dtype=float)
    limit = np.maximum(_spare_mm(posts, np.nan_to_num(width), fence) - sweep, 0.0)
    ways = np.where(np.abs(turn) < SEEN_DEG, ALONG, BOTH_WAYS)
    return checked(
        "posts",
        posts.assign(
            offset_mm=_to_right(fence) * hole_offset_mm(behind, gap_mm=fence.string_gap_mm, turn_deg=turn),
            turn_sweep=pd.Series(ways, index=posts.index, dtype="str").where(sweep > 0.0),
            shift_limit_mm=np.where(rail, limit, np.nan),
        ),
    )


def turns_at(posts: pd.DataFrame, corners: pd.DataFrame) -> Floats:
    """Return by how much the line turns at each post (n,), right positive, 0 where no corner is."""
    turn = np.zeros(len(posts))
    for line_id, chainage, turn_deg in corners[["line_id", "chainage_m", "turn_deg"]].itertuples(index=False):
        here = posts["line_id"].eq(line_id) & ((posts["chainage_m"] - chainage).abs() < A_MILLIMETRE)
        turn[here.to_numpy(dtype=bool)] = turn_deg
    return turn


def notes_on_marks(posts: pd.DataFrame, *, kind_of_line: Mapping[str, FenceKind], fence: Fence) -> list[Note]:
    """Return what to know where posts are marked out; `posts` as made here."""
    where = string_from_line_mm(fence)
    stands = f"{abs(where):.0f} mm {'right' if where > 0.0 else 'left'} of the planned line" if where else "on the line"
    through = "centres" if fence.line_is == "centre" else "faces"
    notes = [
        Note(
            "default",
            f"the string stands {stands}, which runs through the posts' {through}, and {fence.string_gap_mm:.0f} mm off"
            " every face; offset_mm is from the string to the hole's centre at the ground, at a corner along the"
            " bisector. With a tapered post plumb the face, not the axis",
        ),
        Note(
            "default",
            "lay every post out at its mark before any hole is made, butt to the mark; look along them from both ends"
            " and change what catches the eye (common practice)",
        ),
    ]
    rail = posts[posts["line_id"].map(dict(kind_of_line)).eq("post and rail")]
    if fence.face == "flatted" and len(rail):
        notes += _on_flats(rail, fence)
    return [*notes, *_on_joints(rail), *_on_heavy(posts)]


def _to_right(fence: Fence) -> float:
    """Return 1 when the holes are right of the string, -1 when they are left of it."""
    return 1.0 if (fence.string_side or fence.rail_side) == "left" else -1.0


def _behind_and_width(posts: pd.DataFrame, flatted: Flags) -> tuple[Floats, Floats]:
    """Return how far each post's centre is behind its face, and how wide it is where two rail ends may meet.

    A flatted line has all its flats in one plane, as far from the centres as the thinnest top takes a flat of the
    bearing's width: there girth does not matter.
    """
    face = posts["face_mm"].to_numpy(dtype=float)
    top = posts["top_mm"].fillna(posts["face_mm"]).to_numpy(dtype=float)
    behind, width = face / 2.0, top.copy()
    for line_id in posts["line_id"][flatted].unique():
        here = flatted & posts["line_id"].eq(line_id).to_numpy(dtype=bool)
        plane = float(np.nan_to_num(behind_flat_mm(top[here].min(), bearing_mm=value_of("yard", "bearing"))))
        behind[here] = plane
        width[here] = 2.0 * np.sqrt((top[here] / 2.0) ** 2 - plane**2)
    return behind, width


def _spare_mm(posts: pd.DataFrame, width: Floats, fence: Fence) -> Floats:
    """Return how far each post may stand off either way, `width` (n,) where it is thinnest, when it does not bow."""
    if fence.rails_fixed == "face":
        return (width - value_of("yard", "least joint post")) / 2.0
    planned = np.where(posts["kind"] == "gate", fence.gate_post_mm, fence.post_mm)
    let_in = fence.housing_mm + (width - planned) / 2.0  # rails end as far from the centre of a thinner post
    return np.asarray(np.minimum(let_in, fence.housing_mm) / 2.0)


def _on_flats(rail: pd.DataFrame, fence: Fence) -> list[Note]:
    notes, bearing = [], value_of("yard", "bearing")
    sit = "rails sit on" if fence.rails_fixed == "face" else "posts have"
    for line_id, on_line in rail.groupby("line_id", sort=False):
        behind, _ = _behind_and_width(on_line, np.ones(len(on_line), dtype=bool))
        depth = on_line["face_mm"].to_numpy(dtype=float) / 2.0 - behind
        worst = int(depth.argmax())
        thick = float(on_line["face_mm"].iloc[worst])
        deep = depth[worst] > value_of("yard", "deepest flat") * thick
        name = on_line["post_id"].iloc[worst]
        notes.append(
            Note(
                "doubt" if deep else "default",
                f"{sit} flats of at least {bearing:.0f} mm, marked by the string once the posts stand: centres"
                f" are {behind[0] + 0.0:.0f} mm behind them, so girth does not move a hole. The deepest is"
                f" {depth[worst]:.0f} mm, in {thick:.0f} mm of {name}{': more than a quarter of it' if deep else ''}",
                str(line_id),
            )
        )
    return notes


def _on_joints(rail: pd.DataFrame) -> list[Note]:
    """Return which rail posts are too thin or too bowed for two rail ends to meet on them."""
    bad = rail.loc[rail["shift_limit_mm"] <= 0.0, "post_id"].tolist()
    if not bad or len(bad) == len(rail):  # flats as wide as the bearing leave nothing to shift anywhere
        return []
    more = f" and {len(bad) - NAMED} more" if len(bad) > NAMED else ""
    return [
        Note(
            "doubt",
            f"nothing to shift along the fence at {', '.join(bad[:NAMED])}{more}: where two rail ends meet there, set"
            " the post by the joint, not by the tape",
        )
    ]


def _on_heavy(posts: pd.DataFrame) -> list[Note]:
    wide = posts[posts["face_mm"] >= value_of("yard", "wide post")]
    if wide.empty:
        return []
    mass = wide["mass_kg"].max()
    weighs = f", up to {mass:.0f} kg each" if mass == mass else ""
    return [
        Note(
            "default",
            f"{len(wide)} posts are {value_of('yard', 'wide post'):.0f} mm or more at the ground{weighs}: as seen on"
            " display fences (common practice), and a lift for two people or a machine",
        )
    ]
