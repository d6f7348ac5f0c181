"""Two hundred uneven posts placed on the road-side sample and drawn: a PNG to look at, and the figures as text.

    python tests/benchmarks/draw_yard.py [PNG]

Above, the posts in the order of the pile; below as placed along the line, heavy places marked, heaps by shade. Without
a name the picture goes to outputs/pictures/yard.png.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np

from fencegis.inputs.site_folder import read_site
from fencegis.layout.yard import STRONG
from fencegis.pipeline import plan_site
from fencegis.records.timber import Timber

mpl.use("Agg")
import matplotlib.pyplot as plt

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "outputs" / "pictures" / "yard.png"
INK, BRICK, FAINT, OCHRE = "#211b2e", "#9c2f1f", "#8d857b", "#d08a1e"
HEAPS = {"1": "#d9c7a7", "2": "#b08d57", "3": "#6f4e2a"}


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURE
    site = read_site(ROOT / "sample_sites" / "roadside")
    start = time.perf_counter()
    plan = plan_site(replace(site, timber=sticks()))
    took = time.perf_counter() - start
    start = time.perf_counter()
    plan_site(site)
    without = time.perf_counter() - start
    plt.rcParams.update({"font.size": 8, "font.family": "DejaVu Sans", "text.color": INK, "axes.edgecolor": FAINT})
    figure, (pile, placed) = plt.subplots(2, 1, figsize=(13.0, 6.4), facecolor="white", sharex=True, sharey=True)
    draw_pile(pile, plan.yard, len(plan.posts))
    draw_placed(placed, plan.posts)
    figure.tight_layout()
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=110)
    for text in plan.notes["text"]:
        if text.startswith(("steps in face", "posts by girth", "posts.csv")):
            sys.stdout.write(f"- {text}\n")
    sys.stdout.write(f"plan_site {took:.2f} s, {without:.2f} s without the yard; {path}\n")


def sticks() -> tuple[Timber, ...]:
    """Two hundred hardwood posts as they come: uneven in girth, taper, length and bow; eight stout ones for gates."""
    rng = np.random.default_rng(7)
    butt = np.append(rng.normal(200.0, 18.0, 192), rng.normal(262.0, 6.0, 8)).round()
    top = butt - rng.integers(8, 35, 200)
    length = np.append(rng.choice([2.4, 2.7], 192, p=[0.4, 0.6]), np.full(8, 2.7))
    bow = np.append(rng.gamma(2.0, 5.0, 192), np.full(8, 5.0)).round()
    order = rng.permutation(200)
    return tuple(
        Timber(row, f"T{row - 1:03d}", float(length[at]), float(butt[at]), float(top[at]), float(bow[at]), 1, None, "")
        for row, at in enumerate(order, start=2)
    )


def draw_pile(axes: Axes, yard: pd.DataFrame, places: int) -> None:
    face = yard["face_mm"].to_numpy()[:places]
    colours = [HEAPS.get(heap, FAINT) for heap in yard["heap"].fillna("")[:places]]
    axes.bar(np.arange(len(face)), face, width=0.86, color=colours)
    dress(axes, f"As they lie in the pile (the first {places}): steps add up to {np.abs(np.diff(face)).sum():.0f} mm,"
          f" the worst is {np.abs(np.diff(face)).max():.0f} mm")  # fmt: skip


def draw_placed(axes: Axes, posts: pd.DataFrame) -> None:
    face = posts["face_mm"].to_numpy()
    colours = [HEAPS.get(heap, "white") for heap in posts["heap"].fillna("")]
    axes.bar(np.arange(len(face)), face, width=0.86, color=colours, edgecolor=INK, linewidth=0.3)
    for kind, mark in (("strainer", "v"), ("gate", "s"), ("key", ".")):
        at = np.flatnonzero(posts["kind"].eq(kind))
        axes.plot(at, face[at] + 6.0, mark, color=BRICK, markersize=5, linestyle="none", label=kind)
    for number, colour in HEAPS.items():
        axes.bar([0], [0], color=colour, label=f"heap {number}")
    axes.legend(ncols=6, frameon=False, loc="upper right")
    has = posts["heap"].notna().to_numpy()
    step = np.abs(np.diff(face[has]))
    dress(axes, f"As placed along the line: steps add up to {step.sum():.0f} mm, the worst is {step.max():.0f} mm;"
          f" heavy places marked ({', '.join(STRONG)}), {int((~has).sum())} without a stick")  # fmt: skip
    axes.set_xlabel("post")


def dress(axes: Axes, title: str) -> None:
    axes.set_title(title, loc="left", fontsize=9)
    axes.set_ylim(140.0, 285.0)
    axes.set_ylabel("face at the ground, mm")
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(axis="y", color="#e6e0d4", linewidth=0.6)
    axes.set_axisbelow(True)


if __name__ == "__main__":
    main()
