"""The top line drawn over the ground: following it, flowing, and in straight grades. A PNG to look at, figures as text.

    python tests/benchmarks/draw_top_line.py [PNG]

Above, the road-side sample as it is planned (rails over two bays, limits of its site.toml); below, one rough line across
the lidar tile kept beside the project, where it is there (rails of one bay, limits that following the ground just
keeps). The band is where the top line may run for the gap under the bottom rail to keep its limits; marks are posts where the grade
changes. Without a name the picture goes to outputs/pictures/top_line.png.
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
from fencegis.layout.top_line import SEEN_PCT, top_line
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
WIDE_IN, SIDE_IN, DPI = 13.0, 0.75, 100
LIDAR_LINE, LIDAR_M = 7, (0.0, 300.0)  # which of the seeded lines, and how much of it is drawn
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
    cases = [(roadside(), 11.0)]
    if measure_top_line.TILE.exists():
        cases.append((across_the_tile(), 6.0))
    plt.rcParams.update({"font.size": 8, "font.family": "DejaVu Sans", "text.color": INK, "axes.edgecolor": INK})
    talls = [tall_in(case, times) for case, times in cases]
    figure = plt.figure(figsize=(WIDE_IN, sum(talls) + 0.75 * len(cases) + 0.5), facecolor="white")
    down = figure.get_figheight() - 0.5
    for (case, times), tall in zip(cases, talls, strict=True):
        down -= tall + 0.35
        axes = figure.add_axes(
            (
                SIDE_IN / WIDE_IN,
                down / figure.get_figheight(),
                1.0 - 1.2 * SIDE_IN / WIDE_IN,
                tall / figure.get_figheight(),
            )
        )
        draw(axes, case, times)
        down -= 0.4
        for line in told(case):
            sys.stdout.write(f"- {line}\n")
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="upper center", ncols=len(labels), frameon=False)
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=DPI)
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
    gap = f"{limits.gap_min_m:.2f} to {limits.gap_max_m:.2f} m"
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


def window(case: Case) -> tuple[float, float]:
    return (LIDAR_M if "lidar" in case.title else (0.0, float(case.post_m[-1]))) if len(case.post_m) else (0.0, 1.0)


def tall_in(case: Case, times: float) -> float:
    """How tall the drawing is on paper at this exaggeration."""
    begin, end = window(case)
    here = (case.station_m >= begin) & (case.station_m <= end)
    rise = float(np.nanmax(case.ground_m[here]) + case.high_m + 0.3 - np.nanmin(case.ground_m[here]) + 0.3)
    return rise * times * (WIDE_IN - 1.2 * SIDE_IN) / (end - begin)


def draw(axes: Axes, case: Case, times: float) -> None:
    begin, end = window(case)
    here = (case.station_m >= begin) & (case.station_m <= end)
    station, ground = case.station_m[here], case.ground_m[here]
    foot = float(np.nanmin(ground)) - 0.3
    axes.fill_between(station, ground, foot, color=EARTH, linewidth=0, label="ground")
    axes.fill_between(
        station, ground + case.low_m, ground + case.high_m, color=BAND, linewidth=0, label="within the gap's limits"
    )
    for kind, (width, dashes, colour, mark) in LOOK.items():
        axes.plot(case.post_m, case.level_m[kind], color=colour, linewidth=width,
                  dashes=dashes if dashes else (None, None), label=f"{WORDS[kind]}", zorder=3)  # fmt: skip
        if mark:
            bends = np.abs(np.nan_to_num(case.change_pct[kind])) > (SEEN_PCT if kind == "straight" else 1.0)
            words = "changes of grade" if kind == "straight" else "of 1 % and more"
            axes.plot(case.post_m[bends], case.level_m[kind][bends], mark, color=colour, markersize=3.2,
                      markerfacecolor="white" if kind == "straight" else colour, label=f"{WORDS[kind]}: {words}", zorder=4)  # fmt: skip
    axes.set_xlim(begin, end)
    axes.set_ylim(foot, float(np.nanmax(ground)) + case.high_m + 0.3)
    axes.set_title(f"{case.title}; heights {times:g} × distances", loc="left", fontsize=9)
    axes.set_xlabel("chainage, m", labelpad=1)
    axes.set_ylabel("height, m")
    axes.spines[["top", "right"]].set_visible(False)


def told(case: Case) -> list[str]:
    """The figures: what each objective makes least, beside ground-following's own."""
    squares = {kind: float(np.nansum(change**2)) for kind, change in case.change_pct.items()}
    turned = {kind: float(np.nansum(np.abs(change))) for kind, change in case.change_pct.items()}
    bends = {kind: int((np.abs(np.nan_to_num(change)) > SEEN_PCT).sum()) for kind, change in case.change_pct.items()}
    return [
        f"{case.title}",
        "  " + "; ".join(
            f"{WORDS[kind]}: {squares[kind]:.1f} %² squared changes, {turned[kind]:.1f} % absolute, {bends[kind]} posts"
            for kind in LOOK
        ),
    ]  # fmt: skip


if __name__ == "__main__":
    main()
