"""A deed's dimensions: the legs of the title as given, in metres and degrees from the deed's own north."""

from __future__ import annotations

from dataclasses import dataclass

# Metres in each unit of a deed. By definition: the international foot 0.3048 m, the US survey foot 1200/3937 m, a chain
# 66 international feet, a link a hundredth of it (NIST, revised unit conversion factors, 2023).
METRES = {"m": 1.0, "ft": 0.3048, "us-ft": 1200 / 3937, "chain": 20.1168, "link": 0.201168}


@dataclass(frozen=True)
class TitleLeg:
    """One leg, in the order of the deed. Its bearing is clockwise from the deed's own north, which nobody has stated.

    `run` names the run of the plan that a person wants it held against; None leaves the choice to the program.
    """

    row: int  # of title.csv, the heading being row 1
    line_id: str
    run: str | None
    bearing_deg: float
    distance: float  # as given, in `unit`
    unit: str
    chord: bool  # the deed says that it is the chord of a curve

    @property
    def length_m(self) -> float:
        """The distance in metres."""
        return self.distance * METRES[self.unit]
