"""Between which posts a stretch lies: a crew finds its place by post numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.exports.words import SAME_PLACE_M, metres

if TYPE_CHECKING:
    import numpy.typing as npt

    from fencegis.records.plan import Plan


class PostPlaces:
    """The posts of every line in walking order; one that stands under another line is counted on both."""

    def __init__(self, plan: Plan) -> None:
        """Read the posts off the bays, since a bay's first or last post may be another line's."""
        self._posts: dict[str, tuple[npt.NDArray[np.float64], list[str]]] = {}
        for line_id, bays in plan.bays.groupby("line_id", sort=False):
            ends = zip(bays["from_m"], bays["from_post"], strict=True), zip(bays["to_m"], bays["to_post"], strict=True)
            posts = sorted({(float(at), str(name)) for end in ends for at, name in end})
            self._posts[str(line_id)] = np.array([at for at, _ in posts]), [name for _, name in posts]

    def between(self, line_id: str, from_m: float, to_m: float) -> tuple[str, str]:
        """Return the last post at or before a stretch and the first at or behind it; empty where a line has none."""
        if line_id not in self._posts:
            return "", ""
        at, names = self._posts[line_id]
        first = int(np.searchsorted(at, from_m + SAME_PLACE_M, side="right")) - 1
        last = int(np.searchsorted(at, to_m - SAME_PLACE_M))
        return names[max(first, 0)], names[min(last, len(names) - 1)]

    def near(self, line_id: str, chainage_m: float) -> str:
        """Return the nearest post; empty where the line has none."""
        if line_id not in self._posts:
            return ""
        at, names = self._posts[line_id]
        return names[int(np.argmin(np.abs(at - chainage_m)))]

    def words(self, line_id: str, from_m: float, to_m: float) -> str:
        """Return a stretch in words: by its posts, and from where to where along the line."""
        first, last = self.between(line_id, from_m, to_m)
        stretch = f"{metres(from_m)} to {metres(to_m)}"
        return f"posts {first} to {last}, {stretch}" if first else stretch
