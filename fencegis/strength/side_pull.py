"""Posts that the wires pull sideways at a bend, and which of them the ground alone does not hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fencegis.records.notes import Note
from fencegis.records.tables import checked
from fencegis.strength.post_holes import NOT_CHECKED
from fencegis.strength.strainer_pull import NOT_A_CERTIFICATE, wires_height_m
from fencegis.strength.wind_posts import WindLoad, asked_m

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    from fencegis.records.spec import Fence

    Floats = npt.NDArray[np.float64]

STAY = "stay or foot"
LEAST_KN = 1e-6  # less is rounding


def held_sideways(posts: pd.DataFrame, *, fence: Fence, assumed: str) -> pd.DataFrame:
    """Return the layer `posts` with `tie_down` where the ground alone does not hold a post's `side_pull_kn`.

    The depth planned, `embed_m`, is set beside what IBC 1807.3.2.1 asks for in the post's soil and by its method; a
    depth that is not known or cannot be worked out holds nothing. Strainers have a stay or a brace and are left out.
    `assumed` is the soil where no zone says one. Raises ValueError for a soil that is not in the catalogue.
    """
    pull = np.nan_to_num(posts["side_pull_kn"].to_numpy(dtype=float))
    loose = (pull > LEAST_KN) & posts["kind"].ne("strainer").to_numpy()
    pulled = posts[loose]
    if pulled.empty:
        return checked("posts", posts)
    soils = pulled["soil"].fillna(NOT_CHECKED).replace(NOT_CHECKED, assumed).to_numpy(dtype=object)
    asked = asked_m(
        WindLoad(pull[loose], pull[loose] * wires_height_m()),
        diameter_m=np.full(len(pulled), fence.post_mm / 1000.0),
        soils=soils,
        set_by=pulled["set_by"].fillna(fence.post_set).to_numpy(dtype=object),
    )
    loose[loose] = ~(asked <= pulled["embed_m"].to_numpy(dtype=float))
    lifted = posts["tie_down"].notna().to_numpy()
    says = posts["tie_down"].to_numpy(dtype=object).copy()
    says[loose & ~lifted] = STAY
    says[loose & lifted] = f"tie down and {STAY}"
    return checked("posts", posts.assign(tie_down=says))


def notes_on_side_pull(posts: pd.DataFrame) -> list[Note]:
    """Return for each line one note that counts the posts which the ground alone does not hold sideways."""
    loose = posts[posts["tie_down"].fillna("").str.contains(STAY, regex=False)]
    notes = []
    for line_id, on_line in loose.groupby("line_id", sort=False):
        worst = on_line.iloc[int(on_line["side_pull_kn"].to_numpy().argmax())]
        take = "post takes" if len(on_line) == 1 else "posts take"
        notes.append(
            Note(
                "doubt",
                f"{len(on_line)} {take} a bend that the ground alone does not hold: a stay or a foot, most of all at"
                f" {worst['post_id']} ({worst['side_pull_kn']:.2f} kN sideways). Heights of the wires are assumed;"
                f" {NOT_A_CERTIFICATE}",
                str(line_id),
            )
        )
    return notes
