"""Posts on hand: sticks in the yard, measured one by one or by the heap."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Timber:
    """One row of `posts.csv`: a stick with a name of its own, or `count` alike that have none.

    A stick tapers straight from its butt, which goes into the ground, to its top. `place` is the post that a stick
    stands at already and keeps; `sweep_mm`, how far it bows, is None when nobody measured it.
    """

    row: int  # of posts.csv, the heading being row 1
    timber_id: str | None
    length_m: float
    butt_mm: float
    top_mm: float
    sweep_mm: float | None
    count: int
    place: str | None
    note: str

    def ground_mm(self, embed_m: float) -> float:
        """Return the diameter at the ground when `embed_m` of it stands in the ground, butt down."""
        return self.butt_mm - (self.butt_mm - self.top_mm) * embed_m / self.length_m
