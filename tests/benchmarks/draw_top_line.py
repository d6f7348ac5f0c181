"""The top line drawn over the ground: following it, flowing, and in straight grades. A PNG to look at, figures as text.

    python tests/benchmarks/draw_top_line.py [PNG]

Above, the road-side sample as it is planned (rails over two bays, limits of its site.toml); below, a rough line across
the lidar tile kept beside the project, where it is there (rails of one bay, limits that following the ground just
keeps). The band is where the top line may run for the gap under the bottom rail to keep its limits; marks are posts
where the grade changes. Without a name the picture goes to outputs/pictures/top_line.png.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np

from fencegis.inputs.site_folder import read_site
from fencegis.layout.rail_rows import bottom_drop_m
from fencegis.layout.top_line import top_line
from fencegis.pipeline import plan_site

mpl.use("Agg")
import matplotlib.pyplot as plt

sys.path.insert(0, str(Path(__file__).parent))
import measure_top_line

if TYPE_CHECKING:
    import numpy.typing as npt
    from matplotlib.axes import Axes

    Floats = npt.NDArray[np.float64]

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "outputs" / "pictures" / "top_line.png"
INK, BRICK, PLUM, BAND, EARTH = "#211b2e", "#9c2f1f", "#7d6b94", "#efe2bf", "#cfc4b2"
WIDE_IN, SIDE_IN, DPI = 13.0, 0.75, 84
ROW_M, ROWS = 200.0, 2  # metres to a row of the drawing; rows of the sample
LIDAR_LINE, LIDAR_M = 3, 0.0  # which of the seeded lines, and where its row begins
TIMES = 10.0  # heights over distances, the same in every row
MARKED_PCT = 0.5  # a change of grade that the eye may find is marked
# Width, dashes, colour and mark of each kind: told apart in grey by all but the colour.
LOOK = {
    "ground": (0.9, (1.5, 1.2), PLUM, ""),
    "flowing": (2.2, (), INK, "o"),
    "straight": (1.3, (7.0, 2.5), BRICK, "D"),
}
WORDS = {"ground": "following the ground", "flowing": "flowing", "straight": "straight grades"}


@dataclass(frozen=True, eq=False)
class Case:
    """A line of fence: ground at stations (s,), posts (n,), and each kind's level at posts and change of grade there.

    The band runs from `low_m` to `high_m` over the ground.
    """

    title: str
    station_m: Floats
    ground_m: Floats
    post_m: Floats
    level_m: dict[str, Floats]
    change_pct: dict[str, Floats]
    low_m: float
    high_m: float


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURE
    sample = roadside()
    cases, rows = [sample], [(sample, row * ROW_M) for row in range(ROWS)]
    if measure_top_line.TILE.exists():
        cases.append(across_the_tile())
        rows.append((cases[1], LIDAR_M))
    plt.rcParams.update({"font.size": 8, "font.family": "DejaVu Sans", "text.color": INK, "axes.edgecolor": INK})
    talls = [tall_in(case, begin) for case, begin in rows]
    high = sum(talls) + 0.62 * len(rows) + 0.4
    figure = plt.figure(figsize=(WIDE_IN, high), facecolor="white")
    down = high - 0.4
    for (case, begin), tall in zip(rows, talls, strict=True):
        down -= tall + 0.24
        place = (SIDE_IN / WIDE_IN, down / high, 1.0 - 1.2 * SIDE_IN / WIDE_IN, tall / high)
        draw(figure.add_axes(place), case, begin)
        down -= 0.38
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="upper center", ncols=len(labels), frameon=False)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=DPI)
    for case in cases:
        sys.stdout.write(told(case))
    sys.stdout.write(f"{path}, {path.stat().st_size / 1000.0:.0f} kB\n")


def roadside() -> Case:
    """The sample's frontage, planned three times."""
    site = read_site(ROOT / "sample_sites" / "roadside")
    level, change = {}, {}
    for kind in LOOK:
        fence = site.spec.fence.model_copy(update={"top_line": kind})
        plan = plan_site(replace(site, spec=site.spec.model_copy(update={"fence": fence})))
        level[kind] = (plan.posts["ground_m"] + plan.posts["top_m"]).to_numpy(dtype=float)
        change[kind] = changes(plan.posts["chainage_m"].to_numpy(dtype=float), level[kind])
    drop_m, fence = bottom_drop_m(site.spec.fence), site.spec.fence
    return Case(
        f"{site.name}: rails over two bays, gap {fence.gap_min_m:.2f} to {fence.gap_max_m:.2f} m",
        plan.profile["chainage_m"].to_numpy(dtype=float),
        plan.profile["ground_m"].to_numpy(dtype=float),
        plan.posts["chainage_m"].to_numpy(dtype=float),
        level,
        change,
        drop_m + fence.gap_min_m,
        drop_m + fence.gap_max_m,
    )


def across_the_tile() -> Case:
    """One of the seeded lines across farmland, ground every 0.25 m."""
    bays = list(measure_top_line.across_the_tile(LIDAR_LINE))[-1]
    limits = measure_top_line.own_limits(bays, factor=1.0, through=False)
    lines = {kind: top_line(bays, limits=limits, kind=kind) for kind in LOOK}
    gap = f"{limits.gap_min_m:.2f} to {limits.gap_max_m:.2f} m".replace("-", "\N{MINUS SIGN}")
    return Case(
        f"Farmland, lidar of 1 m: rails of one bay of {measure_top_line.BAY_M} m, gap {gap}",
        bays.station_m,
        bays.ground_m,
        bays.post_m,
        {kind: line.level_m for kind, line in lines.items()},
        {kind: line.change_pct for kind, line in lines.items()},
        limits.drop_m + limits.gap_min_m,
        limits.drop_m + limits.gap_max_m,
    )


def changes(post_m: Floats, level_m: Floats) -> Floats:
    """Grade after less grade before at each post, in percent; NaN at both ends."""
    grade = 100.0 * np.diff(level_m) / np.diff(post_m)
    return np.concatenate([[np.nan], np.diff(grade), [np.nan]])


def tall_in(case: Case, begin: float) -> float:
    """How tall a row of the drawing is on paper."""
    low, high = heights(case, begin)
    return (high - low) * TIMES * (WIDE_IN - 1.2 * SIDE_IN) / ROW_M


def heights(case: Case, begin: float) -> tuple[float, float]:
    """Lowest and highest place of a row of the drawing."""
    here = (case.station_m >= begin) & (case.station_m <= begin + ROW_M)
    ground = case.ground_m[here]
    return float(np.nanmin(ground)) - 0.2, float(np.nanmax(ground)) + case.high_m + 0.1


def draw(axes: Axes, case: Case, begin: float) -> None:
    low, high = heights(case, begin)
    ground = case.ground_m
    axes.fill_between(case.station_m, ground, low, color=EARTH, linewidth=0, label="ground")
    band = (ground + case.low_m, ground + case.high_m)
    axes.fill_between(case.station_m, *band, color=BAND, linewidth=0, label="gap within its limits")
    for kind, (width, dashes, colour, mark) in LOOK.items():
        axes.plot(case.post_m, case.level_m[kind], color=colour, linewidth=width,
                  dashes=dashes or (None, None), label=WORDS[kind], zorder=3)  # fmt: skip
        if mark:
            bends = np.abs(np.nan_to_num(case.change_pct[kind])) >= MARKED_PCT
            face = "white" if kind == "straight" else colour
            axes.plot(case.post_m[bends], case.level_m[kind][bends], mark, color=colour, markersize=4.0,
                      markerfacecolor=face, label=f"its changes from {MARKED_PCT:g} % up", zorder=4)  # fmt: skip
    axes.set_xlim(begin, begin + ROW_M)
    axes.set_ylim(low, high)
    axes.set_title(f"{case.title}; heights {TIMES:g} × distances", loc="left", fontsize=9)
    axes.set_ylabel("height, m")
    axes.annotate("chainage, m", (1.0, 0.0), xycoords="axes fraction", xytext=(0, -20), textcoords="offset points",
                  ha="right")  # fmt: skip
    axes.spines[["top", "right"]].set_visible(False)


def told(case: Case) -> str:
    """The figures: what each objective makes least, beside ground-following's own."""
    lines = [f"{case.title}:"]
    for kind, change in case.change_pct.items():
        size = np.abs(np.nan_to_num(change))
        lines.append(
            f"- {WORDS[kind]}: squared changes of grade {np.sum(size**2):.1f} %², absolute {size.sum():.1f} %, "
            f"{(size >= MARKED_PCT).sum()} of {MARKED_PCT:g} % and more"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
