"""How long each post is, which stock length it is taken from and what it weighs; and what drives it.

A post's length is what stands above the ground, what stands in it and what is trimmed off its top once it stands. In
post and rail the part above the ground is the top line's; in wire it is the top wire's height.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.errors import Problem
from fencegis.layout.meetings import notes_on_meetings
from fencegis.layout.rail_rows import rail_number
from fencegis.records.notes import Note
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt
    import pandas as pd

    from fencegis.layout.railed import Railed
    from fencegis.records.spec import Fence, FenceKind, Spec

    Floats = npt.NDArray[np.float64]

NAMED = 12  # posts named in one note
A_MILLIMETRE = 0.001


def with_lengths(
    posts: pd.DataFrame,
    lines: Sequence[Railed],
    *,
    kind_of_line: Mapping[str, FenceKind],
    wire_m: float,
    post_mm: Floats,
    fence: Fence,
) -> pd.DataFrame:
    """Return the layer `posts` with `top_m`, `length_m`, `stock_m` and `mass_kg`.

    `lines` are all lines of rails; a post where two of them meet is as tall as the taller. Where the ground is unknown
    the height wanted stands in for the top line, in lengths only. `wire_m` is how high posts stand in wire, `post_mm`
    (n,) their diameters at the ground.
    """
    tops = tops_m(lines)
    top = posts["post_id"].map({name: max(each) for name, each in tops.items()}).astype(float)
    rail = posts["line_id"].map(dict(kind_of_line)).ne("wire").to_numpy() | posts["post_id"].isin(tops).to_numpy()
    trim_m = rail_number("over-length")
    above = np.where(rail, top.fillna(fence.height_m) + trim_m, wire_m)
    length = above + posts["embed_m"].to_numpy(dtype=float)
    stock = stock_m(length, fence.post_lengths_m)
    mass = mass_kg(np.where(np.isnan(stock), length, stock), post_mm=post_mm, timber=fence.post_timber)
    return checked("posts", posts.assign(top_m=top, length_m=length, stock_m=stock, mass_kg=mass))


def tops_m(lines: Sequence[Railed]) -> dict[str, list[float]]:
    """Return by post the top lines' heights above the ground there, of each line that has one at it."""
    found: dict[str, list[float]] = {}
    for one in lines:
        for name, top in zip(one.laid_out.post_id, one.top_m.tolist(), strict=True):
            if not math.isnan(top):
                found.setdefault(name, []).append(top)
    return found


def stock_m(length_m: Floats, lengths_m: Sequence[float] | None) -> Floats:
    """Return the shortest stock length as long as each (n,), NaN where none is; a millimetre short is long enough."""
    stock = np.full(len(length_m), np.nan)
    for each in sorted(lengths_m or (), reverse=True):
        stock[length_m <= each + A_MILLIMETRE] = each
    return stock


def mass_kg(length_m: npt.ArrayLike, *, post_mm: npt.ArrayLike, timber: str) -> Floats:
    """Return the mass of round posts of one diameter throughout, green, by `catalogue/timber.csv`.

    Raises KeyError for a timber that is not in the catalogue.
    """
    density = {row["timber"]: float(row["density_kg_m3"]) for row in rows("timber")}[timber]
    radius_m = np.asarray(post_mm, dtype=float) / 2000.0
    return np.asarray(math.pi * radius_m**2 * np.asarray(length_m, dtype=float) * density)


def gate_post_mm(posts: pd.DataFrame, strainers: pd.DataFrame, *, fence: Fence) -> Floats:
    """Return the diameter of each post (n,): what holds a gate, whatever else it holds, has the gate's."""
    why = strainers["reason"].str.cat(strainers["also"].fillna(""), sep=", ")
    gate = np.array(["gate" in text.split(", ") for text in why], dtype=bool)
    gates = set(zip(strainers["line_id"][gate], strainers["chainage_m"][gate], strict=True))
    places = zip(posts["line_id"], posts["chainage_m"], strict=True)
    return np.array([fence.gate_post_mm if place in gates else fence.post_mm for place in places])


def too_low(posts: pd.DataFrame, *, spec: Spec) -> list[Problem]:
    """Return the fault of a machine that is said to be lower than the longest post that it drives."""
    driven = posts[posts["set_by"] == "driven"]
    given = None if spec.machine is None else spec.machine.working_height_m
    if given is None or driven.empty:
        return []
    as_it_comes = driven["stock_m"].fillna(driven["length_m"]).to_numpy(dtype=float)
    place, over = int(as_it_comes.argmax()), rail_number("hammer over post")
    name, longest = driven["post_id"].iloc[place], float(as_it_comes[place])
    least = longest + over
    if given >= least - A_MILLIMETRE:
        return []
    fault = (
        f"working_height_m is {given:.2f} m, but post {name} is {longest:.2f} m long"
        f" and the hammer stands {over:.1f} m over it: the machine cannot be lower than the post it drives."
    )
    fix = f"tape it with the hammer at its highest over the longest post; it is {least:.2f} m at least."
    return [Problem("site.toml", "[machine] working_height_m", fault, fix)]


def notes_on_lengths(posts: pd.DataFrame, lines: Sequence[Railed], *, fence: Fence) -> list[Note]:
    """Return what lengths and masses rest on, where no stick reaches, and what it costs that top rails meet."""
    alone_kg = rail_number("lift alone")
    heavy = int((posts["mass_kg"] > alone_kg).sum())
    lift = f"; {heavy} are over {alone_kg:.0f} kg, a lift for two or for a machine" if heavy else ""
    trim = f", {rail_number('over-length') * 1000.0:.0f} mm of it to trim their tops on lines of rails" if lines else ""
    notes = [
        Note(
            "default",
            f"posts: {posts['length_m'].min():.2f} to {posts['length_m'].max():.2f} m long{trim}; masses up to"
            f" {posts['mass_kg'].max():.0f} kg, for green {fence.post_timber}, round, as thick all along as at the"
            f" ground{lift}",
        )
    ]
    return [*notes, *_on_unknown(posts, lines, fence), *_on_short(posts, fence), *notes_on_meetings(lines)]


def _on_unknown(posts: pd.DataFrame, lines: Sequence[Railed], fence: Fence) -> list[Note]:
    on_rails = posts[posts["line_id"].isin([one.line_id for one in lines])]
    unknown = int(on_rails["top_m"].isna().sum())
    if not unknown:
        return []
    return [
        Note(
            "doubt",
            f"the ground is not known at {unknown} posts for rails: their lengths take {fence.height_m:.2f} m, the"
            " height wanted, to stand above it; gaps under the bottom rail are not checked there",
        )
    ]


def _on_short(posts: pd.DataFrame, fence: Fence) -> list[Note]:
    if fence.post_lengths_m is None:
        return []
    longest = max(fence.post_lengths_m)
    notes = []
    for line_id, short in posts[posts["stock_m"].isna()].groupby("line_id", sort=False):
        worst = short.iloc[int(short["length_m"].to_numpy().argmax())]
        more = f" and {len(short) - NAMED} more" if len(short) > NAMED else ""
        notes.append(
            Note(
                "doubt",
                f"no post on hand reaches at {', '.join(short['post_id'][:NAMED])}{more}: the longest is"
                f" {longest:.2f} m, {worst['post_id']} asks for {worst['length_m']:.2f} m, so order longer ones or fill"
                " the ground there",
                str(line_id),
                float(worst["chainage_m"]),
            )
        )
    return notes
