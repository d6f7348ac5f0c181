"""Posts that the wires lift in a dip, and which of them the ground alone does not hold down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.catalogue import rows
from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.post_holes import NOT_CHECKED
from fencegis.strength.values import value_of

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    Floats = npt.NDArray[np.float64]

TIE = "tie down or foot"
LEAST_KN = 0.01  # a kilogram's weight: less is rounding of the grades


def holds_kn(soil: str, *, set_by: str) -> float:
    """Return the lift that a line post holds: of its soil where `post_holding.csv` has that, else as it is set.

    Raises KeyError for a way of setting that the catalogue does not have.
    """
    of_soil = {row["item"] for row in rows("post_holding") if row["unit"] == "kN"}
    return value_of("post_holding", soil if soil in of_soil else set_by)


def held_down(posts: pd.DataFrame, *, assumed: str) -> pd.DataFrame:
    """Return the layer `posts` with `tie_down` where the lift is more than a post holds as it is set in its soil.

    Each post's own `set_by` and `soil` count; `assumed` is the soil where no zone says one. Strainers have
    a brace or a stay and are left out. To be called before anything else is written to `tie_down`.
    """
    lift = posts["uplift_kn"].to_numpy(dtype=float)
    loose = (lift > holding_kn(posts, assumed=assumed) + LEAST_KN) & posts["kind"].ne("strainer").to_numpy()
    says = np.full(len(posts), None, dtype=object)
    says[loose] = TIE
    return checked("posts", posts.assign(tie_down=says))


def holding_kn(posts: pd.DataFrame, *, assumed: str) -> Floats:
    """Return what each post (n,) holds by its own `soil` and `set_by`, in kN."""
    soils = posts["soil"].fillna(NOT_CHECKED).replace(NOT_CHECKED, assumed)
    pairs = list(zip(soils, posts["set_by"], strict=True))
    known = {pair: holds_kn(pair[0], set_by=pair[1]) for pair in set(pairs)}
    return np.array([known[pair] for pair in pairs], dtype=float)


def notes_on_uplift(posts: pd.DataFrame, *, assumed: str) -> list[Note]:
    """Return for each line one note that counts the posts which the ground alone does not hold down."""
    loose = posts[posts["tie_down"].fillna("").str.contains(TIE.partition(" or ")[0], regex=False)]
    loose = loose.assign(holds=holding_kn(loose, assumed=assumed))
    notes = []
    for line_id, on_line in loose.groupby("line_id", sort=False):
        over = on_line["uplift_kn"] - on_line["holds"]
        worst = on_line.iloc[int(over.to_numpy().argmax())]
        stand = "post stands" if len(on_line) == 1 else "posts stand"
        soil = " in bog" if worst["soil"] == "bog" else ""
        notes.append(
            Note(
                "doubt",
                f"{len(on_line)} {stand} in a dip where the wires lift more than a post so set holds: {TIE}, most of"
                f" all at {worst['post_id']} ({worst['uplift_kn']:.2f} kN, where {worst['set_by']}{soil} it holds"
                f" {worst['holds']:.2f}); not an engineer's certificate",
                str(line_id),
            )
        )
    return notes
