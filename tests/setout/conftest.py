"""Plans from hand-made tables: a run, its posts, its ground."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fencegis.records.tables import checked


@pytest.fixture
def tables():
    def make(*, length=100.0, ends=(0.0, 100.0), spacing=2.0, opens=(), kinds=None, profile=None, arc=False, line="A"):
        """One straight run: posts every `spacing`, those at `ends` end a string, `opens` are gates (from, to)."""
        at = np.arange(0.0, length + 0.5 * spacing, spacing)
        inside = (
            np.any([(at > begin) & (at < end) for begin, end in opens], axis=0) if opens else np.zeros(len(at), bool)
        )
        at = np.unique(np.concatenate([at[~inside], np.ravel(opens), ends]))
        names = [f"{line}-{number:03d}" for number in range(1, len(at) + 1)]
        kind = ["strainer" if any(abs(x - end) < 1e-9 for end in ends) else "line" for x in at]
        kind = ["gate" if x in np.ravel(opens) else own for x, own in zip(at, kind, strict=True)]
        posts = pd.DataFrame(
            {
                "line_id": line,
                "chainage_m": at,
                "post_id": names,
                "kind": [(kinds or {}).get(float(x), own) for x, own in zip(at, kind, strict=True)],
                "ground_chainage_m": at,
                "tape_m": at,
                "top_m": 1.2,
            }
        )
        bays = pd.DataFrame(
            {
                "line_id": line,
                "from_m": at[:-1],
                "to_m": at[1:],
                "bay_id": [f"{line}-B{number}" for number in range(1, len(at))],
                "from_post": names[:-1],
                "to_post": names[1:],
                "length_m": np.diff(at),
                "ground_length_m": np.diff(at),
            }
        )
        gate = [begin in [pair[0] for pair in opens] for begin in at[:-1]]
        runs = pd.DataFrame(
            {
                "line_id": [line],
                "from_m": [0.0],
                "to_m": [length],
                "run_id": [f"{line}-R1"],
                "kind": ["arc" if arc else "straight"],
                "length_m": [length],
                "ground_length_m": [length],
                "offset_left_m": [0.0],
                "offset_right_m": [0.0],
            }
        )
        station = np.linspace(0.0, length, int(length) + 1)
        ground = np.zeros(len(station)) if profile is None else np.interp(station, *profile)
        heights = pd.DataFrame({"line_id": line, "chainage_m": station, "ground_m": ground})
        return {
            "posts": checked("posts", posts),
            "bays": checked("bays", bays[~np.array(gate)]),
            "runs": checked("runs", runs),
            "profile": checked("profile", heights),
        }

    return make
