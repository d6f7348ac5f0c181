"""The plan's tables as places that something is built at: every reading of them for the take-off, in one room.

Assemblies and their measures (a number for each place; `each` is 1 everywhere):

* `post`, then `line post` or `key post` again for what the fence hangs on it: `posts to buy`, `posts on hand`,
  `concrete m3`, `backfill m3`, `water l`, `wires`, `mesh`. A stick that stands already takes nothing.
* `end`, `corner`, `gate post`, `junction`, `crossing end`, `line brace`: `pulls` (ways that wires pull: bays of wire
  that meet there), `plain ends`, `barbed ends`, `mesh ends`, `brace panels`, `brace diagonals m`, `stays`.
* `tie-down`: posts that the ground alone does not hold down.
* `bay`: `plain wire m`, `barbed wire m`, `mesh m`, `droppers`, `dropper ties`. A gate is no bay.
* `rail`, `cap`: `posts met`, `rail fixings`. `rail stick`, `cap stick`: sticks of the cut list.
* `gate`: `leaves`, `leaves after the first`. A crossing by its treatment: `span m`, `span m2` (span by drop).
* `fill`, `cut`: `volume m3`. `clearing`: `area m2`. `tree to go`, `tree to limb`. `old fence`: `length m`.

Lengths are along the fitted grades; nothing is measured again.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fencegis.catalogue import rows
from fencegis.quantities.assembly_parts import Places
from fencegis.quantities.piece_sizes import brace_named, hanging_m, nominal_length_m, post_sizes

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.records.spec import Fence, FenceKind

    Floats = npt.NDArray[np.float64]
    Names = npt.NDArray[np.object_]
    Flags = npt.NDArray[np.bool_]

OF_REASON = {
    "end": "end",
    "junction": "junction",
    "corner": "corner",
    "peg": "corner",
    "gate": "gate post",
    "crossing": "crossing end",
    "grade": "line brace",
    "length": "line brace",
    "turning": "line brace",
}
A_CENTIMETRE = 0.01


def plan_places(
    tables: Mapping[str, pd.DataFrame],
    *,
    kind_of_line: Mapping[str, FenceKind],
    fence: Fence,
    existing: gpd.GeoDataFrame | None,
) -> list[Places]:
    """Return all places of a plan; also those of no row, so that their measures are known.

    `tables` are the plan's layers, `existing` the old fence as read. Raises ValueError for a brace that is not in
    `catalogue/assemblies.csv`.
    """
    read = _Reading(kind_of_line, fence)
    bays = fenced(tables["bays"], tables["gates"])
    return [
        read.posts(tables["posts"]),
        read.hung_on(tables["posts"]),
        read.strainers(tables["strainers"], tables["posts"], bays),
        read.tied_down(tables["posts"]),
        read.bays(bays),
        read.rails(tables["rails"]),
        read.sticks(tables["cuts"]),
        read.gates(tables["gates"]),
        read.crossings(tables["crossings"]),
        read.spots(tables["spots"]),
        read.clearing(tables["clearing"]),
        read.trees(tables["trees"]),
        read.old_fence(existing),
    ]


def fenced(bays: pd.DataFrame, gates: pd.DataFrame) -> pd.DataFrame:
    """Return the bays without those that are a gate, their index kept."""
    inside = np.zeros(len(bays), dtype=bool)
    line, begin, end = (bays[name].to_numpy() for name in ("line_id", "from_m", "to_m"))
    for line_id, from_m, to_m in gates[["line_id", "from_m", "to_m"]].itertuples(index=False):
        inside |= (begin >= from_m - A_CENTIMETRE) & (end <= to_m + A_CENTIMETRE) & (line == line_id)
    kept: pd.DataFrame = bays[~inside]
    return kept


class _Reading:
    """What all readings share: which fence each line is, and the specification."""

    def __init__(self, kind_of_line: Mapping[str, FenceKind], fence: Fence) -> None:
        self.kinds, self.fence = dict(kind_of_line), fence
        self.brace = brace_named(fence.brace)
        self.plain = max(0, fence.wires - fence.barbed)
        self.barbed = fence.wires - self.plain
        top = next(float(row["value"]) for row in rows("footing") if row["item"] == "top wire")
        self.height_m = {"wire": top, "post and rail": fence.height_m}
        self.mesh = fence.mesh_solidity is not None

    def posts(self, posts: pd.DataFrame) -> Places:
        hand = (posts["timber_id"].notna() | posts["heap"].notna()).to_numpy()
        stands = posts["settled"].to_numpy(dtype=bool)
        holes = np.where(stands, 0.0, _ring_m3(posts))
        concrete = np.where(self._concreted(posts), holes, 0.0)
        post_mm = posts["face_mm"].fillna(self.fence.post_mm).to_numpy(dtype=float)
        return self._places(
            "posts",
            posts,
            "post",
            {
                "posts to buy": (~hand & ~stands).astype(float),
                "posts on hand": (hand & ~stands).astype(float),
                "concrete m3": concrete,
                "backfill m3": holes - concrete,
                "water l": np.where(stands, 0.0, posts["water_l"].fillna(0.0).to_numpy(dtype=float)),
            },
            {"own": post_sizes(post_mm, nominal_length_m(posts))},
            own_kg=posts["mass_kg"].to_numpy(dtype=float),
        )

    def hung_on(self, posts: pd.DataFrame) -> Places:
        count = len(posts)
        names = np.where(posts["kind"].isin(("line", "key", "brace")), posts["kind"] + " post", "")
        names = np.where(names == "brace post", "line post", names).astype(object)
        measures = {"wires": np.full(count, float(self.fence.wires)), "mesh": np.full(count, float(self.mesh))}
        return self._places("posts", posts, names, measures)

    def strainers(self, strainers: pd.DataFrame, posts: pd.DataFrame, bays: pd.DataFrame) -> Places:
        """Return the strainers; where a wire ends on a post of rails, that post is a wire's too."""
        wire = bays[self._kinds(bays) == "wire"]
        met = pd.concat([wire["from_post"], wire["to_post"]]).value_counts()
        at = pd.MultiIndex.from_frame(posts[["line_id", "chainage_m"]])
        place = at.get_indexer(pd.MultiIndex.from_frame(strainers[["line_id", "chainage_m"]]))
        names = posts["post_id"].to_numpy(dtype=object)[place] if len(posts) else np.array([], dtype=object)
        pulls = np.where(place >= 0, pd.Series(names).map(met).fillna(0.0).to_numpy(dtype=float), 0.0)
        panels = self.brace.panels * pulls
        places = self._places(
            "strainers",
            strainers,
            strainers["reason"].map(OF_REASON).to_numpy(dtype=object),
            {
                "pulls": pulls,
                "plain ends": self.plain * pulls,
                "barbed ends": self.barbed * pulls,
                "mesh ends": self.mesh * pulls,
                "brace panels": panels,
                "brace diagonals m": self.brace.diagonal_m * panels,
                "stays": pulls * float(self.brace.panels == 0),
            },
            {"brace post": self.brace.post, "brace rail": self.brace.rail, "mesh": self._mesh_size()},
        )
        places.fence[pulls > 0.0] = "wire"
        for there, of_posts in ((places.method, _text(posts, "set_by")), (places.soil, _text(posts, "soil"))):
            there[place >= 0] = of_posts[place[place >= 0]]
        return places

    def tied_down(self, posts: pd.DataFrame) -> Places:
        names = np.where(posts["tie_down"].notna(), "tie-down", "").astype(object)
        return self._places("posts", posts, names, {})

    def bays(self, bays: pd.DataFrame) -> Places:
        ground_m = bays["ground_length_m"].to_numpy(dtype=float)
        hung_m = hanging_m(ground_m, tension_kn=self.fence.tension_kn)
        hangs = np.full(len(bays), float(self.fence.droppers_per_bay))
        return self._places(
            "bays",
            bays,
            "bay",
            {
                "plain wire m": self.plain * hung_m,
                "barbed wire m": self.barbed * hung_m,
                "mesh m": self.mesh * ground_m,
                "droppers": hangs,
                "dropper ties": hangs * self.fence.wires,
            },
            {"mesh": self._mesh_size()},
        )

    def rails(self, rails: pd.DataFrame) -> Places:
        """Return each rail and each board of a cap once: where a loop's start cuts one, its second row is no rail."""
        own = rails[rails["cut_m"].notna()]
        met = own["bays"].to_numpy(dtype=float) + 1.0
        names = np.where(own["row"].to_numpy(dtype=float) == 0.0, "cap", "rail").astype(object)
        return self._places("rails", own, names, {"posts met": met, "rail fixings": self.fence.rail_fixings * met})

    def sticks(self, cuts: pd.DataFrame) -> Places:
        first = cuts[cuts["place"] == 1]
        fence = self.fence
        across = {
            "rail": f"{fence.rail_depth_mm:g} x {fence.rail_thick_mm:g}",
            "cap": f"{fence.cap_width_mm:g} x {fence.cap_thick_mm:g}",
        }
        sizes = [f"{across[kind]} x {long_m:g}" for kind, long_m in zip(first["kind"], first["stick_m"], strict=True)]
        names = (first["kind"] + " stick").to_numpy(dtype=object)
        return self._places("cuts", first, names, {}, {"own": np.array(sizes, dtype=object)})

    def gates(self, gates: pd.DataFrame) -> Places:
        """Return each gate once; a leaf that nobody gave is as wide as its share of the opening."""
        own = gates.drop_duplicates("gate_id")
        leaves = own["leaves"].fillna(1).to_numpy(dtype=float)
        leaf_m = own["leaf_m"].to_numpy(dtype=float)
        wide_m = np.where(np.isnan(leaf_m), own["opening_m"].to_numpy(dtype=float) / leaves, leaf_m)
        sizes = np.array([f"{wide:.4g}" for wide in wide_m], dtype=object)
        measures = {"leaves": leaves, "leaves after the first": leaves - 1.0}
        return self._places("gates", own, "gate", measures, {"own": sizes})

    def crossings(self, crossings: pd.DataFrame) -> Places:
        own = crossings.drop_duplicates("crossing_id")
        span_m = own["span_m"].fillna(0.0).to_numpy(dtype=float)
        drop_m = own["drop_m"].fillna(0.0).to_numpy(dtype=float)
        names = own["treatment"].to_numpy(dtype=object)
        return self._places("crossings", own, names, {"span m": span_m, "span m2": span_m * drop_m})

    def spots(self, spots: pd.DataFrame) -> Places:
        volume = {"volume m3": spots["volume_m3"].to_numpy(dtype=float)}
        return self._places("spots", spots, spots["kind"].to_numpy(dtype=object), volume)

    def clearing(self, clearing: pd.DataFrame) -> Places:
        sizes = {"own": clearing["density"].to_numpy(dtype=object)}
        return self._places(
            "clearing", clearing, "clearing", {"area m2": clearing["area_m2"].to_numpy(dtype=float)}, sizes
        )

    def trees(self, trees: pd.DataFrame) -> Places:
        return self._places("trees", trees, ("tree " + trees["what"]).to_numpy(dtype=object), {})

    def old_fence(self, existing: gpd.GeoDataFrame | None) -> Places:
        none = existing is None or existing.empty
        length_m = np.array([]) if none else existing.geometry.length.to_numpy(dtype=float)  # type: ignore[union-attr]
        pull = np.array([]) if none else existing["kind"].eq("pull").to_numpy()  # type: ignore[index]
        table = pd.DataFrame({"line_id": np.full(int(pull.sum()), "", dtype=object), "chainage_m": math.nan})
        return self._places("existing.geojson", table, "old fence", {"length m": length_m[pull.astype(bool)]})

    def _places(
        self,
        layer: str,
        table: pd.DataFrame,
        assembly: Names | str,
        measures: Mapping[str, Floats],
        sizes: Mapping[str, Names | str] | None = None,
        *,
        own_kg: Floats | None = None,
    ) -> Places:
        count, fence = len(table), self._kinds(table)
        at = next(name for name in ("chainage_m", "from_m") if name in table)
        return Places(
            layer=layer,
            assembly=np.full(count, assembly, dtype=object) if isinstance(assembly, str) else assembly,
            line_id=table["line_id"].to_numpy(dtype=object),
            chainage_m=table[at].to_numpy(dtype=float),
            fence=fence,
            method=_text(table, "set_by"),
            soil=_text(table, "soil"),
            height_m=_each(fence, self.height_m, math.nan).astype(float),
            measures={"each": np.ones(count), **measures},
            sizes=sizes or {},
            own_kg=own_kg,
        )

    def _kinds(self, table: pd.DataFrame) -> Names:
        return _each(table["line_id"].to_numpy(dtype=object), self.kinds, "")

    def _concreted(self, posts: pd.DataFrame) -> Flags:
        which = {"none": [], "ends": ["strainer", "gate", "junction"], "all": list(posts["kind"].unique())}
        return np.asarray(posts["kind"].isin(which[self.fence.concrete]).to_numpy(), dtype=bool)

    def _mesh_size(self) -> str:
        return f"{self.fence.mesh_m or self.height_m[self.fence.kind]:g}"


def _ring_m3(posts: pd.DataFrame) -> Floats:
    """Return the volume (n,) between each hole and its post; 0 where the post is driven without one."""
    hole, post = (posts[name].to_numpy(dtype=float) / 1000.0 for name in ("hole_mm", "face_mm"))
    ring = math.pi / 4.0 * (hole**2 - post**2) * posts["embed_m"].to_numpy(dtype=float)
    return np.asarray(np.maximum(np.nan_to_num(ring), 0.0), dtype=float)


def _each(names: Names, meaning: Mapping[Any, object], unknown: object) -> Names:
    """Return what each name (n,) means."""
    place, different = pd.factorize(names)
    return np.array([*(meaning.get(name, unknown) for name in different), unknown], dtype=object)[place]


def _text(table: pd.DataFrame, column: str) -> Names:
    if column not in table:
        return np.full(len(table), "", dtype=object)
    return table[column].fillna("").to_numpy(dtype=object)
