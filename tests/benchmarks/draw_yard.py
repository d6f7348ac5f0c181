"""Two hundred uneven posts placed on the road-side sample and drawn: a PNG to look at, and the figures as text.

    python tests/benchmarks/draw_yard.py [PNG]

Above, the posts in the order they came; below that as placed along the line, heavy places marked, heaps by shade; at
the foot the steps from post to post. Without a name the picture goes to outputs/pictures/yard.png.
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
from fencegis.pipeline import plan_site
from fencegis.records.timber import Timber

mpl.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.patches import Patch

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd
    from matplotlib.axes import Axes

    Floats = npt.NDArray[np.float64]

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "outputs" / "pictures" / "yard.png"
INK, BRICK, FAINT, OCHRE = "#211b2e", "#9c2f1f", "#8d857b", "#d08a1e"
MARKS = (
    ("strainer", "v", 6.0, "end or corner"), ("gate", "s", 5.0, "gate"), ("key", "o", 3.0, "crest, dip or bend"),
)  # fmt: skip
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
    figure, (pile, placed, steps) = plt.subplots(
        3, 1, figsize=(13.0, 7.6), facecolor="white", sharex=True, height_ratios=[3, 3, 1.5]
    )
    count, after = len(plan.posts), plan.posts["face_mm"].to_numpy()
    before = plan.yard.sort_values("row")["face_mm"].to_numpy()[:count]
    (said,) = (text for text in plan.notes["text"] if text.startswith("steps in face"))
    draw_pile(pile, before, plan.yard.sort_values("row")["heap"].fillna("").tolist()[:count])
    draw_placed(placed, plan.posts, said.replace("in face width from post to post ", ""))
    draw_steps(steps, before, after)
    pile.set_xlim(-1.5, count + 0.5)
    figure.legend(handles=[Patch(color=colour, label=f"heap {number}") for number, colour in HEAPS.items()]
                  + [Patch(color=FAINT, label="reject")], ncols=4, frameon=False, loc="upper center")  # fmt: skip
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


def draw_pile(axes: Axes, face: Floats, heaps: list[str]) -> None:
    axes.bar(np.arange(len(face)), face, width=0.9, color=[HEAPS.get(heap, FAINT) for heap in heaps])
    step = np.abs(np.diff(face))
    dress(axes, f"As they came (the first {len(face)})", f"steps from post to post add up to {step.sum():.0f} mm,"
          f" the greatest is {step.max():.0f} mm")  # fmt: skip


def draw_placed(axes: Axes, posts: pd.DataFrame, said: str) -> None:
    face = posts["face_mm"].to_numpy()
    colours = [HEAPS.get(heap, "white") for heap in posts["heap"].fillna("")]
    axes.bar(np.arange(len(face)), face, width=0.9, color=colours)
    for kind, mark, size, words in MARKS:
        at = np.flatnonzero(posts["kind"].eq(kind))
        axes.plot(at, face[at] + 7.0, mark, color=BRICK, markersize=size, linestyle="none", label=words)
    axes.legend(ncols=len(MARKS), frameon=False, loc="upper center", handletextpad=0.3)
    at = int(np.abs(np.diff(face)).argmax())
    low, high = sorted(face[at : at + 2])
    axes.plot([at + 0.5] * 2, [low, high], color=INK, linewidth=1.4)
    axes.annotate(f"{high - low:.0f} mm", (at + 0.5, (low + high) / 2.0), (14, 2), textcoords="offset points",
                  arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.6}, va="center")  # fmt: skip
    dress(axes, "As placed along the line", said)


def draw_steps(axes: Axes, before: Floats, after: Floats) -> None:
    middle = np.arange(len(after) - 1) + 0.5
    axes.bar(middle, np.abs(np.diff(before)), width=0.9, color=HEAPS["1"], label="as they came")
    axes.bar(middle, np.abs(np.diff(after)), width=0.9, color=INK, label="as placed")
    axes.legend(ncols=2, frameon=False, loc="upper right")
    dress(axes, "Step to the next post", "what the eye meets")
    axes.set_ylim(0.0, 1.15 * np.abs(np.diff(before)).max())
    axes.set_ylabel("mm")
    axes.set_xlabel("post")


def dress(axes: Axes, title: str, more: str) -> None:
    axes.set_title(title, loc="left", fontsize=10, fontweight="bold")
    axes.set_title(more, loc="right", fontsize=8.5, color="#5b554c")
    axes.set_ylim(140.0, 285.0)
    axes.set_ylabel("face at the ground, mm")
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(length=0)
    axes.grid(axis="y", color="#ece6da", linewidth=0.6)
    axes.set_axisbelow(True)


if __name__ == "__main__":
    main()
