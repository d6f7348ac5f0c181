"""What a hazard step hands back, and what all of them are given: the scene."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from fencegis.hazards.checks import Part
    from fencegis.hazards.measure import Flag
    from fencegis.line.chainage import Line
    from fencegis.line.course import Course
    from fencegis.records.notes import Note
    from fencegis.records.site import Site
    from fencegis.records.spec import Spec

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Ground = Callable[[Floats], Floats]
"""(n, 2) points in the working grid → (n,) ground heights in the raster's datum, NaN where unknown."""

Stretch = tuple[float, float]
"""From and to, in metres of chainage."""


def flat(points: Floats) -> Floats:
    """Return the ground where a site has no elevation: level."""
    return np.zeros(len(points))


@dataclass(frozen=True, eq=False)
class Scene:
    """What every hazard step looks at: the planned lines with their ground, and the site's layers and specification.

    `ground` is None when the site has no elevation.
    """

    courses: Sequence[Course]
    site: Site
    ground: Ground | None

    @property
    def lines(self) -> list[Line]:
        """The lines with their chainage."""
        return [course.line for course in self.courses]

    @property
    def spec(self) -> Spec:
        """The specification."""
        return self.site.spec


@dataclass(frozen=True)
class Ban:
    """A stretch on which no strainer, or no post at all, should stand, and what forbids it in a word or two.

    Layout keeps off while another place will do; where none will, it says so.
    """

    line_id: str
    stretch: Stretch
    why: str
    of: Literal["strainers", "posts"]


@dataclass(frozen=True)
class Stand:
    """A place where the work has to end on an assembly of its own, as on each bank of a crossing."""

    line_id: str
    chainage_m: float
    reason: str


@dataclass(frozen=True, eq=False)
class Found:
    """Flags, what was looked at, what to know, and what layout has to mind.

    `hazards` has the columns of the layer without `hazard_id` and geometry; rows with the same index are one hazard,
    cut in two at a loop's start. `checks` tiles every line for every kind of hazard that the step answers for. `layers`
    are the step's own layers by name, without geometry.
    """

    hazards: pd.DataFrame
    checks: pd.DataFrame
    notes: tuple[Note, ...]
    layers: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    bans: tuple[Ban, ...] = ()
    stands: tuple[Stand, ...] = ()
    openings: tuple[tuple[str, Stretch], ...] = ()  # by line, ways between two assemblies of their own


@dataclass(frozen=True)
class Answer:
    """What one thing overhead asks, in the words and numbers of its `hazards` rows."""

    kind: str
    sigma_m: float
    required_m: float | None
    rule: str
    advice: str


def flagged_rows(line: Line, flags: Sequence[Flag], *, answer: Answer, basis: Sequence[str]) -> list[dict[str, object]]:
    """Return the `hazards` rows of one thing overhead along one line; `basis` has a text for each flag.

    Each row also has `cut`: true on a row that goes on across a loop's start.
    """
    end_m = line.length_m
    over_start = line.closed and len(flags) > 1 and flags[0].stretch[0] == 0.0 and flags[-1].stretch[1] == end_m
    return [
        {
            "line_id": line.line_id,
            "from_m": flag.stretch[0],
            "to_m": flag.stretch[1],
            "kind": answer.kind,
            "clearance_m": flag.after_m,
            "clearance_given_m": flag.given_m,
            "clearance_sigma_m": np.nan if np.isnan(flag.given_m) else answer.sigma_m,
            "required_m": np.nan if answer.required_m is None else answer.required_m,
            "rule": answer.rule,
            "basis": text,
            "advice": answer.advice,
            "cut": over_start and flag is flags[-1],
        }
        for flag, text in zip(flags, basis, strict=True)
    ]


def hazards_table(things: Sequence[Sequence[dict[str, object]]]) -> pd.DataFrame:
    """Return the rows, those of one thing along one line together in a list, as the layer without `hazard_id`."""
    import pandas as pd

    from fencegis.records.tables import LAYERS

    columns = [column.name for column in LAYERS["hazards"].columns if column.name != "hazard_id"]
    index, number = [], 0
    for rows in things:
        first = number
        for row in rows:
            index.append(first if row["cut"] else number)
            number += 0 if row["cut"] else 1
    return pd.DataFrame([row for rows in things for row in rows], index=index, columns=columns)


def checks_table(answers: Sequence[tuple[Line, str, Sequence[Part]]]) -> pd.DataFrame:
    """Return the tiles of every line and kind as the layer."""
    import pandas as pd

    rows = [
        (line.line_id, *part.stretch, kind, part.status, part.basis) for line, kind, parts in answers for part in parts
    ]
    return pd.DataFrame(rows, columns=["line_id", "from_m", "to_m", "kind", "status", "basis"])
