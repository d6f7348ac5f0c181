"""The wind on each post and its share of fence, its moment at the ground, and the depth that would hold it there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.footing import depth_m, soil_named
from fencegis.strength.post_holes import NOT_CHECKED, above_ground_m
from fencegis.strength.strainer_pull import NOT_A_CERTIFICATE, at_gate, wires_height_m
from fencegis.strength.values import value_of
from fencegis.strength.wind import Shape, gust_kpa, open_coefficient, solidity, strip_kn_m

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import numpy.typing as npt

    from fencegis.records.spec import Fence, FenceKind, Wind

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class WindLoad:
    """What the gust does to each post (n,): its force in kN, and the force's moment about the ground in kNm."""

    force_kn: Floats
    moment_knm: Floats

    @property
    def height_m(self) -> Floats:
        """Where one force would do the same, in m above the ground; 0 where there is none."""
        return np.asarray(
            np.divide(self.moment_knm, self.force_kn, out=np.zeros_like(self.force_kn), where=self.force_kn > 0.0)
        )


class _Strip(NamedTuple):
    """One kind of member of a fence between two posts: its solid share, height, shape and where its force acts."""

    solid: Floats
    height_m: Floats
    shape: Shape
    at_m: Floats


def wind_load(
    posts: pd.DataFrame,
    bays: pd.DataFrame,
    *,
    strainers: pd.DataFrame,
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
    speed_m_s: float | None,
) -> WindLoad | None:
    """Return the load of a gust square to the fence: on each post, half of the bay either side of it, and itself.

    None without a speed: then wind is not checked. Heights are the posts' `top_m` where known, else the catalogue's.
    At a bend both bays count whole, and what hangs in gates does not count.
    """
    if speed_m_s is None:
        return None
    gust = float(gust_kpa(speed_m_s))
    top_m, diameter_m = _top_m(posts, kind_of_line, fence), post_diameter_m(posts, strainers, fence=fence)
    post_kn = gust * float(open_coefficient(0.0, shape="round")) * diameter_m * top_m
    force, moment = post_kn, post_kn * top_m / 2.0

    sides = _sides(posts, bays, kind_of_line)
    for kind, part in sides.groupby("kind", sort=False):
        post = part["post"].to_numpy(dtype=int)
        for strip in _strips("wire" if kind == "wire" else "post and rail", top_m[post], part, fence):
            kn_m = strip_kn_m(
                strip.solid,
                height_m=strip.height_m,
                shape=strip.shape,
                pressure_kpa=gust,
                from_end_m=part["from_end_m"].to_numpy(),
            )
            share = kn_m * part["half_m"].to_numpy()
            force = force + np.bincount(post, share, len(posts))
            moment = moment + np.bincount(post, share * strip.at_m, len(posts))
    return WindLoad(force, moment)


def wind_on_posts(posts: pd.DataFrame, load: WindLoad | None) -> pd.DataFrame:
    """Return the layer `posts` with `wind_kn`; empty without a load, for then wind is not checked."""
    return checked("posts", posts.assign(wind_kn=np.nan if load is None else load.force_kn))


def asked_m(
    load: WindLoad, *, diameter_m: Floats, soils: Names, set_by: Names, may_move: bool = False
) -> npt.NDArray[np.float64]:
    """Return the depth in m at which the ground alone holds each post (n,), by IBC 1807.3.2.1: `footing.depth_m`.

    `soils` and `set_by` (n,) are each post's; in a soil that is never taken shallower than another the deeper counts,
    and where the code presumes no bearing (bog) it is NaN. `may_move` doubles what the ground bears: wind is a short
    load, and 1806.3.4 lets isolated poles have it where half an inch of movement does no harm.
    Raises ValueError for a soil that is not in the catalogue.
    """
    asked = np.zeros(len(load.force_kn))
    for name, how in {*zip(soils, set_by, strict=True)}:
        here, own = (soils == name) & (set_by == how), soil_named(name)
        named = [own, *([soil_named(own.not_shallower_than)] if own.not_shallower_than else [])]
        depths = [
            depth_m(
                load.force_kn[here],
                height_m=load.height_m[here],
                width_m=diameter_m[here],
                lateral_kpa_m=value_of("footing", how) * one.lateral_kpa_m,
                isolated=may_move,
            )
            for one in named
        ]
        asked[here] = np.maximum.reduce(depths)
    return asked


def notes_on_wind(
    posts: pd.DataFrame, load: WindLoad | None, *, strainers: pd.DataFrame, fence: Fence, wind: Wind, assumed: str
) -> list[Note]:
    """Return what the wind asks for: the greatest moment, and each line where it asks for more than is planned.

    `assumed` is the soil where no zone says one. One note that wind is not checked where no speed is given.
    Raises ValueError for a soil that is not in the catalogue.
    """
    if posts.empty:
        return []
    if load is None:
        return [Note("doubt", "wind: not checked, since site.toml gives no gust ([wind] speed_m_s); the place decides")]
    diameter, soils = post_diameter_m(posts, strainers, fence=fence), _soils(posts, assumed)
    how = posts["set_by"].fillna(fence.post_set).to_numpy(dtype=object)
    asked = asked_m(load, diameter_m=diameter, soils=soils, set_by=how, may_move=wind.posts_may_move)
    planned = posts["embed_m"].to_numpy(dtype=float)
    worst = int(load.moment_knm.argmax())
    moved = ", half an inch of movement taken as no harm" if wind.posts_may_move else ""
    return [
        Note(
            "doubt",
            f"greatest wind moment {load.moment_knm[worst]:.2f} kNm at post {posts['post_id'].iloc[worst]}:"
            f" {load.force_kn[worst]:.2f} kN at {load.height_m[worst]:.2f} m in a gust of {wind.speed_m_s:g} m/s. Held"
            f" by the ground alone it needs {_metres(asked[worst])} of a {1000.0 * diameter[worst]:.0f} mm post in"
            f" {soils[worst]}{moved}; planned {_metres(planned[worst])}. Heights, and soil where no zone covers it,"
            f" are assumed, gate leaves left out; {NOT_A_CERTIFICATE}, and the regional wind speed and the code's"
            " factors are for the engineer",
            str(posts["line_id"].iloc[worst]),
            float(posts["chainage_m"].iloc[worst]),
        ),
        *_not_enough(posts, asked=asked, planned=planned),
    ]


def _not_enough(posts: pd.DataFrame, *, asked: Floats, planned: Floats) -> Iterator[Note]:
    """Yield for each line how many posts stand shallower than the wind asks, and for how many that cannot be told."""
    for line_id, on_line in posts.reset_index(drop=True).groupby("line_id", sort=False):
        at = on_line.index.to_numpy()
        over = np.nan_to_num(asked[at] - planned[at])
        told = []
        if (over > 0.0).any():
            most = at[int(over.argmax())]
            told.append(
                f"{int((over > 0.0).sum())} of {len(at)} posts stand shallower than it asks, most of all"
                f" {posts['post_id'].iloc[most]} ({planned[most]:.2f} m planned, {asked[most]:.2f} m asked): deeper,"
                " thicker or nearer together, or an engineer's word"
            )
        unknown = int(np.isnan(asked[at] - planned[at]).sum())
        if unknown:
            told.append(f"{unknown} of {len(at)} posts not checked: no depth is planned, or none can be worked out")
        if told:
            yield Note("doubt", f"wind: {'; '.join(told)}", str(line_id))


def _soils(posts: pd.DataFrame, assumed: str) -> Names:
    named = posts["soil"].fillna(NOT_CHECKED).to_numpy(dtype=object)
    return np.where(named == NOT_CHECKED, assumed, named)


def _metres(depth: float) -> str:
    return "not known" if np.isnan(depth) else f"{depth:.2f} m"


def _top_m(posts: pd.DataFrame, kind_of_line: Mapping[str, FenceKind], fence: Fence) -> Floats:
    usual = posts["line_id"].map({line_id: above_ground_m(kind, fence=fence) for line_id, kind in kind_of_line.items()})
    top = posts["top_m"].fillna(usual).to_numpy(dtype=float)
    if fence.mesh_solidity is None or fence.mesh_m is None:
        return top
    return np.asarray(np.maximum(top, fence.mesh_m))


def post_diameter_m(posts: pd.DataFrame, strainers: pd.DataFrame, *, fence: Fence) -> Floats:
    """Return each post's diameter at the ground in m: thicker at a gate."""
    at = pd.MultiIndex.from_frame(strainers.loc[at_gate(strainers), ["line_id", "chainage_m"]])
    gate = posts["kind"].eq("gate") | pd.MultiIndex.from_frame(posts[["line_id", "chainage_m"]]).isin(at)
    return np.asarray(np.where(gate, fence.gate_post_mm, fence.post_mm) / 1000.0)


def _sides(posts: pd.DataFrame, bays: pd.DataFrame, kind_of_line: Mapping[str, FenceKind]) -> pd.DataFrame:
    """Return both halves of every bay: its post's place in `posts`, half its length, how far from a free end it is."""
    place = pd.Index(posts["post_id"])
    halves = pd.concat(
        [
            pd.DataFrame(
                {
                    "line_id": bays["line_id"],
                    "kind": bays["line_id"].map(dict(kind_of_line)),
                    "post": place.get_indexer(bays[f"{end}_post"]),
                    "half_m": bays["length_m"] / 2.0,
                    "chainage_m": bays[f"{end}_m"],
                }
            )
            for end in ("from", "to")
        ],
        ignore_index=True,
    )
    alone = np.bincount(halves["post"], minlength=len(posts))[halves["post"]] == 1
    halves["from_end_m"] = np.inf
    for _, on_line in halves.groupby("line_id", sort=False):
        whole = on_line["chainage_m"].max()
        ends = on_line["chainage_m"].to_numpy()[alone[on_line.index]]
        if len(ends):
            apart = np.abs(on_line["chainage_m"].to_numpy()[:, None] - ends[None, :])
            halves.loc[on_line.index, "from_end_m"] = np.minimum(apart, whole - apart).min(
                axis=1
            )  # round a loop's start
    return halves


def _strips(kind: FenceKind, top_m: Floats, sides: pd.DataFrame, fence: Fence) -> Iterator[_Strip]:
    """Yield what the wind blows against between posts, in a fence of the given height at each of the sides."""
    if kind == "wire":
        level = np.full_like(top_m, wires_height_m())
        wires = solidity(fence.wires, size_m=value_of("wind", "wire") / 1000.0, height_m=top_m)
        yield _Strip(wires, top_m, "round", level)
        between_m = value_of("footing", "top wire") - value_of("footing", "bottom wire")
        wide_m = fence.droppers_per_bay * value_of("wind", "dropper") / 1000.0
        share = np.minimum(wide_m / (2.0 * sides["half_m"].to_numpy()), 1.0)
        yield _Strip(share, np.full_like(top_m, between_m), "flat", level)
    else:
        rails = solidity(fence.rails, size_m=fence.rail_depth_mm / 1000.0, height_m=top_m)
        yield _Strip(rails, top_m, "flat", (top_m + np.minimum(fence.gap_max_m, top_m)) / 2.0)
        if fence.cap_m is not None:  # its edge, on top of the posts: little wood, but with the longest arm
            thick_m = fence.cap_thick_mm / 1000.0
            yield _Strip(solidity(1, size_m=thick_m, height_m=top_m), top_m, "flat", top_m + thick_m / 2.0)
    if fence.mesh_solidity is not None:
        high = top_m if fence.mesh_m is None else np.full_like(top_m, fence.mesh_m)
        yield _Strip(np.full_like(top_m, fence.mesh_solidity), high, "round", high / 2.0)
