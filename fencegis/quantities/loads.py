"""What to load for a row of the day: posts by length and heap, water, wire, rails."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy.typing as npt
    import pandas as pd

    Whole = npt.NDArray[np.int_]

WITH_POSTS = ("ends", "key posts", "lay out")  # activities that posts are loaded for
SET = ("ends", "key posts", "line posts")  # activities that take water to the holes
TONNE_KG = 1000.0
NAMED = 8  # posts named one by one; those laid out are told by the first and the last


class Loads:
    """The plan's posts and what else is carted, asked row by row."""

    def __init__(self, tables: Mapping[str, pd.DataFrame]) -> None:
        """Read what the words need off the tables."""
        posts = tables["posts"]
        stock = posts["stock_m"].to_numpy(dtype=float)
        length = np.ceil(np.round(posts["length_m"].to_numpy(dtype=float) * 10.0, 6)) / 10.0
        self._length = np.where(np.isnan(stock), length, stock)
        self._name = posts["post_id"].to_numpy(dtype=object)
        self._heap = posts["heap"].fillna("").to_numpy(dtype=object)
        self._mass = np.nan_to_num(posts["mass_kg"].to_numpy(dtype=float))
        self._water = np.nan_to_num(posts["water_l"].to_numpy(dtype=float))
        self._cuts = tables["cuts"].drop_duplicates("stick_id") if len(tables["cuts"]) else tables["cuts"]
        self._gates = tables["gates"]

    def words(self, row: Any, posts: Whole) -> str | None:
        """Return what to load for a row; `posts` are those that it sets or lays out. None for nothing of its own."""
        if row.activity == "deliveries":
            return self._delivered(row.load)
        parts = []
        if row.activity in WITH_POSTS and len(posts):
            named = f", {', '.join(self._name[posts])}" if row.activity != "lay out" and len(posts) <= NAMED else ""
            parts.append(self.posts(posts) + named)
        if row.activity in SET and (water := float(self._water[posts].sum())) >= 0.5:
            parts.append(f"water {water:.0f} l")
        if row.activity == "wires":
            parts.append(f"{row.quantity:.0f} m of wire")
        if row.activity in {"rails", "caps"}:
            parts.append(f"{row.quantity:.0f} {'rails' if row.activity == 'rails' else 'boards'}")
        return "; ".join(parts) or None

    def posts(self, posts: Whole) -> str:
        """Return posts in words: how many of each length, the longest first, of each heap, and what they weigh."""
        lengths = Counter(self._length[posts].tolist())
        known = sorted((length, count) for length, count in lengths.items() if length == length)
        words = [f"{count} × {length:g} m" for length, count in reversed(known)]
        heaps = sorted(Counter(str(heap) for heap in self._heap[posts] if heap).items())
        if heaps:
            words.append("heap " + ", ".join(f"{heap}: {count}" for heap, count in heaps))
        mass = float(self._mass[posts].sum())
        if mass > 0.0:
            words.append(f"{mass / TONNE_KG:.1f} t" if mass >= TONNE_KG else f"{mass:.0f} kg")
        noun = "post" if len(posts) == 1 else "posts"
        return f"{len(posts)} {noun}" + (f" ({'; '.join(words)})" if words else "")

    def _delivered(self, load: str) -> str:
        if load == "posts":
            return self.posts(np.arange(len(self._length)))
        if load == "rails":
            each = zip(self._cuts["kind"].tolist(), self._cuts["stick_m"].tolist(), strict=True)
            sticks = sorted(Counter(each).items(), reverse=True)
            return ", ".join(f"{count} {kind} sticks of {stick_m:g} m" for (kind, stick_m), count in sticks) or load
        if load == "gates":
            return f"{len(self._gates)} gates with their fittings"
        return load
