"""Where a day's work lies: its runs, the flags that it meets by post number, what was seen there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fencegis.exports.answers import KINDS, not_checked, title_of
from fencegis.exports.map.layers import OWNER_SETS
from fencegis.exports.page_text import plain
from fencegis.exports.post_places import PostPlaces
from fencegis.exports.sheets.posts import rows_of
from fencegis.exports.sheets.words import ASK_OWNER
from fencegis.exports.words import metres, present

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import pandas as pd

    from fencegis.records.plan import Plan

NAMED = 6  # flags of one kind named one by one
BURIED = "Buried service: nothing is driven or bored in its buffer before it is dug out by hand; ask its owner first."
LAID_OUT = "lay out"
POWER = ("overhead power", "overhead phone", "parallel power")


class DayPlaces:
    """The plan's runs, flags and findings, asked by the stretches of a day."""

    owner = ASK_OWNER

    def __init__(self, plan: Plan) -> None:
        """Read the layers once."""
        self._posts = PostPlaces(plan)
        seen = plan.notes[(plan.notes["severity"] == "seen") & plan.notes["chainage_m"].notna()]
        self._seen = _Spans(seen, "chainage_m", "chainage_m")
        self._runs, self._hazards = _Spans(plan.runs), _Spans(plan.hazards)
        self._stacks = _Spans(plan.drops, "serves_from_m", "serves_to_m")
        kinds = dict.fromkeys(answer.kind for answer in not_checked(plan))
        self.unlooked = f"Not checked (see the cover): {', '.join(kinds).lower()}." if kinds else ""

    def runs(self, work: Sequence[Any]) -> str:
        """Return the runs that a day's work is on."""
        names = [str(run.run_id) for run in self._runs.met(work)]
        return f"{', '.join(names[:2])} … {names[-1]}" if len(names) > 4 else ", ".join(names)

    def stacks(self, work: Sequence[Any]) -> str:
        """Return the stacks that the posts laid out that day come from, and the post that each lies beside."""
        met = self._stacks.met([row for row in work if row.activity == LAID_OUT])
        return ", ".join(f"{plain(stack.drop_id)} by post {plain(stack.post_id)}" for stack in met)

    def hazards(self, work: Sequence[Any]) -> Iterator[str]:
        """Yield the flags that a day's stretches meet, kind by kind, and what their owners have to say first."""
        met: dict[str, list[Any]] = {}
        for flag in self._hazards.met(work):
            met.setdefault(str(flag.kind), []).append(flag)
        kinds = [kind for kind in KINDS if kind in met] + [kind for kind in met if kind not in KINDS]
        for kind in kinds:
            flags = met[kind]
            words = [self._words(flag) for flag in flags[:NAMED]]
            more = f"; and {len(flags) - NAMED} more, in the register" if len(flags) > NAMED else ""
            yield f"{title_of(kind)}: {'; '.join(words)}{more}."
        if any(kind in POWER for kind in kinds):
            yield self.owner
        if "buried service" in kinds:
            yield BURIED

    def _words(self, flag: Any) -> str:
        first, last = self._posts.between(flag.line_id, flag.from_m, flag.to_m)
        words = f", distance {OWNER_SETS}" if flag.kind == "overhead power" else ""
        if present(flag.required_m):
            words = f", {metres(flag.required_m)} asked for"
        return f"{plain(str(flag.hazard_id))} posts {first} to {last}{words}"

    def seen(self, work: Sequence[Any]) -> Iterator[str]:
        """Yield what the walk brought back from a day's stretches, by the post nearest to it."""
        found = self._seen.met(work)
        for note in found[:NAMED]:
            yield f"Seen by post {self._posts.near(note.line_id, note.chainage_m)}: {note.text}"
        if len(found) > NAMED:
            yield f"Seen besides: {len(found) - NAMED} more, on the runs' sheets."


class _Spans:
    """A layer's rows with where they begin and end."""

    def __init__(self, frame: pd.DataFrame, begin: str = "from_m", end: str = "to_m") -> None:
        self._rows = rows_of(frame)
        self._line = frame["line_id"].to_numpy(dtype=object)
        self._from_m, self._to_m = frame[begin].to_numpy(dtype=float), frame[end].to_numpy(dtype=float)

    def met(self, work: Sequence[Any]) -> list[Any]:
        """Return the rows that a day's stretches reach onto."""
        found = np.zeros(len(self._rows), dtype=bool)
        for row in work:
            if present(row.line_id):
                begun, not_over = self._from_m <= row.to_m, self._to_m >= row.from_m
                seam = self._from_m > self._to_m  # over a loop's own start
                reached = np.where(seam, begun | not_over, begun & not_over)
                found |= reached & (self._line == row.line_id)
        return [self._rows[place] for place in np.flatnonzero(found)]
