"""Draw a plan of each kind of drawing over its drawing, the truth beside it: a PNG to look at.

    python tests/benchmarks/draw_kinds.py [PNG]

The truth is made by `tests/line/drawings.py`; without a name the picture goes to outputs/pictures/drawn_kinds.png.
"""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from PIL import Image

from fencegis.line.chainage import Line, nearest
from fencegis.line.network import network
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Boundary, Spec

sys.path.insert(0, str(Path(__file__).parents[1] / "line"))
import drawings

mpl.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.patches import Ellipse

if TYPE_CHECKING:
    import numpy.typing as npt
    from matplotlib.axes import Axes

    from fencegis.line.network import PlannedLine

    Floats = npt.NDArray[np.float64]
    Box = tuple[float, float, float, float]

PICTURE = Path(__file__).parents[2] / "outputs" / "pictures" / "drawn_kinds.png"
MOST_BYTES = 250_000
SIGMA_M = 0.7
LARGER = 20.0  # times, the ellipses
SEEDS = {  # what fills its panel well
    ("sparse", False): 2,
    ("sparse", True): 3,
    ("mixed", False): 8,
    ("mixed", True): 5,
    ("dense", False): 6,
    ("dense", True): 9,
}
INK, BRICK, PLUM, OCHRE, FAINT, WATER = "#211b2e", "#9c2f1f", "#6a5480", "#d08a1e", "#8d857b", "#2b6a94"
PAPER, BAND = "#fbf8f2", "#efe6d6"


@dataclass(frozen=True, eq=False)
class Kind:
    title: str
    true: Line
    corners: int  # true ones, without ends
    points: Floats


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURE
    plt.rcParams.update({"font.size": 8, "font.family": "DejaVu Sans", "text.color": INK, "axes.edgecolor": FAINT})
    figure = plt.figure(figsize=(14.0, 9.4), facecolor="white")
    grid = figure.add_gridspec(2, 4, left=0.035, right=0.99, top=0.915, bottom=0.035, hspace=0.16, wspace=0.12)
    for place, kind in enumerate(kinds()):
        row, column = divmod(place, 4)
        panel = grid[row, column].subgridspec(2, 1, height_ratios=[3.6, 1.0], hspace=0.04)
        planned = plan_of(kind)
        draw_plan(figure.add_subplot(panel[0]), kind, planned)
        draw_offsets(figure.add_subplot(panel[1]), kind, planned, first=column == 0)
    legend(figure)
    save(path, figure)


def kinds() -> list[Kind]:
    made = []
    for (kind, closed), seed in SEEDS.items():
        one = drawings.drawing(kind, sigma_m=SIGMA_M, closed=closed, seed=seed)
        title = f"{kind}, {'loop' if closed else 'open'}"
        made.append(Kind(title, Line("A", closed, one.corners), len(one.bends), one.points))
    return [*made, curve(), hairpin()]


def curve() -> Kind:
    """A road's frontage: straight, a bend of radius 140 m, straight; traced every 8 m."""
    corners = np.array([[0.0, 0.0], [260.0, 0.0], [400.0, -140.0], [400.0, -340.0]])
    true = Line("A", False, corners, np.array([0.0, 140.0 * (1.0 - np.sqrt(0.5)), 0.0]))
    return Kind("curve", true, 0, traced(true, 8.0))


def hairpin() -> Kind:
    """Out along a track and back beside it, 171° round; traced every 9 m."""
    corners = np.array([[0.0, 0.0], [120.0, 160.0], [560.0, 190.0], [210.0, 110.0], [240.0, -60.0]])
    true = Line("A", False, corners)
    return Kind("hairpin", true, len(corners) - 2, traced(true, 9.0))


def traced(true: Line, step_m: float) -> Floats:
    rng = np.random.default_rng(4)
    chainage = np.append(np.arange(0.0, true.length_m, step_m), true.length_m)
    chainage[1:-1] += rng.uniform(-0.2, 0.2, len(chainage) - 2) * step_m
    on = np.column_stack([np.interp(chainage, true.chainage_m, true.path[:, axis]) for axis in (0, 1)])
    return on + rng.normal(0.0, SIGMA_M, on.shape)


def plan_of(kind: Kind) -> PlannedLine:
    drawn = DrawnLine("A", "", "feature 1", "wire", None, kind.true.closed, kind.points, SIGMA_M)
    spec = Spec(boundary=Boundary(position_error_m=SIGMA_M))
    (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=spec).lines
    return planned


def draw_plan(axes: Axes, kind: Kind, planned: PlannedLine) -> None:
    """The plan to scale, and its sharpest corner large."""
    draw_lines(axes, kind, planned, larger=LARGER, size=7.0 if len(kind.points) < 40 else 2.5)
    found = int((~planned.fit.tangent).sum()) - (0 if kind.true.closed else 2)
    bent = np.flatnonzero(planned.rise_m)
    radius = planned.line.run_length_m[bent] / np.abs(planned.line.run_turn_rad[bent])
    arcs = "".join(f", arc of {each:.0f} m" for each in radius)
    title = f"{kind.title}: {len(kind.points)} vertices, {kind.corners} corners, {found} found{arcs}"
    axes.set_title(title, fontsize=8.5, loc="left", pad=4)
    squared(axes, kind.points)
    corner = sharpest(planned.line)
    reach = max(6.0, 3.5 * float(planned.fit.sigma_m[corner]))
    size = axes.get_window_extent()
    room = roomiest(axes, kind.true.path, wide=0.36 * size.height / size.width, high=0.36)
    inset = axes.inset_axes(room)
    draw_lines(inset, kind, planned, larger=1.0, size=14.0)
    east, north = planned.corners[corner]
    inset.set(
        xlim=(east - reach, east + reach), ylim=(north - reach, north + reach), aspect="equal", xticks=[], yticks=[]
    )
    inset.set_facecolor("white")
    inset.set_title(f"{2.0 * reach:.0f} m", fontsize=6.5, color=FAINT, pad=2)
    axes.plot(east, north, "s", ms=11, mfc="none", mec=INK, mew=0.8)
    bar(axes, kind.true.path, taken=room)


def draw_lines(axes: Axes, kind: Kind, planned: PlannedLine, *, larger: float, size: float) -> None:
    drawn = np.vstack([kind.points, kind.points[:1]]) if kind.true.closed else kind.points
    axes.set_facecolor(PAPER)
    axes.plot(*planned.line.path.T, color=OCHRE, lw=2.6, solid_joinstyle="round", zorder=1)
    axes.plot(*drawn.T, color=WATER, lw=0.5, zorder=2)
    axes.plot(*kind.true.path.T, color=INK, lw=0.7, ls=(0, (5, 2)), zorder=3)
    axes.scatter(*kind.points.T, s=size, color=WATER, lw=0, zorder=4)
    for place, covariance, tangent in zip(planned.corners, planned.fit.covariance, planned.fit.tangent, strict=True):
        squares, ways = np.linalg.eigh(covariance)
        wide, high = 2.0 * larger * np.sqrt(np.maximum(squares[::-1], 0.0))
        angle = float(np.degrees(np.arctan2(ways[1, 1], ways[0, 1])))
        colour = PLUM if tangent else BRICK
        axes.add_patch(Ellipse(tuple(place), wide, high, angle=angle, fc="none", ec=colour, lw=1.0, zorder=5))
        axes.plot(*place, "+", color=colour, ms=4, mew=0.9, zorder=6)


def draw_offsets(axes: Axes, kind: Kind, planned: PlannedLine, *, first: bool) -> None:
    """How far the drawing and the truth lie off the planned line, along it: the noise, much larger than to scale."""
    line = planned.line
    axes.set_facecolor(PAPER)
    axes.axhspan(-2.0 * SIGMA_M, 2.0 * SIGMA_M, color=BAND, lw=0)
    axes.axhline(0.0, color=OCHRE, lw=2.0)
    for chainage, tangent in zip(line.run_m[: len(planned.corners)], planned.fit.tangent, strict=True):
        axes.axvline(chainage, color=PLUM if tangent else BRICK, lw=0.8)
    axes.scatter(*nearest(line, kind.points), s=8.0 if len(kind.points) < 40 else 3.0, color=WATER, lw=0, zorder=4)
    length = kind.true.length_m
    at = np.linspace(0.0, length, 600)
    fine = np.column_stack([np.interp(at, kind.true.chainage_m, kind.true.path[:, axis]) for axis in (0, 1)])
    chainage, off = nearest(line, fine)
    jump = np.abs(np.diff(chainage)) > 5.0 * length / len(at)
    broken = (np.insert(each, np.flatnonzero(jump) + 1, np.nan) for each in (chainage, off))
    axes.plot(*broken, color=INK, lw=0.7, ls=(0, (5, 2)))
    axes.set(xlim=(-0.01 * line.length_m, 1.01 * line.length_m), ylim=(-4.5 * SIGMA_M, 4.5 * SIGMA_M))
    axes.tick_params(length=2, pad=2, labelsize=7, colors=FAINT)
    axes.set_yticks([-2.0, 0.0, 2.0])
    if first:
        axes.set_ylabel("m right", fontsize=7, labelpad=1)


def squared(axes: Axes, points: Floats) -> None:
    """Set limits with the panel's own proportions, room round the line."""
    low, high = points.min(axis=0), points.max(axis=0)
    middle, span = (low + high) / 2.0, (high - low) * 1.12 + 30.0
    axes.set_xticks([])
    axes.set_yticks([])
    box = axes.get_window_extent()
    share = box.width / box.height
    half = max(span[0], span[1] * share) / 2.0
    axes.set_xlim(middle[0] - half, middle[0] + half)
    axes.set_ylim(middle[1] - half / share, middle[1] + half / share)


def roomiest(axes: Axes, path: Floats, *, wide: float, high: float, taken: Box | None = None) -> Box:
    """Return where in the panel a box hides least of the line: west, south, width and height in shares of the panel."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    steps = np.concatenate([np.linspace(one, other, 80) for one, other in pairwise(path)])
    on = (steps - [west, south]) / [east - west, north - south]
    if taken is not None:
        grid = np.stack(np.meshgrid(*2 * [np.linspace(0.0, 1.0, 9)]), axis=-1).reshape(-1, 2)
        on = np.vstack([on, np.array(taken[:2]) + np.array(taken[2:]) * grid])
    across, up = np.meshgrid(np.linspace(0.015, 0.985 - wide, 9), np.linspace(0.015, 0.985 - high, 9))
    places = np.column_stack([across.ravel(), up.ravel()])
    size = np.array([wide, high])
    edge = np.abs(places + size / 2.0 - 0.5).max(axis=1)  # of two as good, nearer the edge
    hidden = [((on >= place - 0.03) & (on <= place + size + 0.03)).all(axis=1).sum() for place in places]
    west, south = places[int(np.argmin(np.array(hidden) - edge))]
    return float(west), float(south), wide, high


def sharpest(line: Line) -> int:
    """Return the corner where the line turns most."""
    path = np.vstack([line.corners[-1:], line.corners, line.corners[:1]]) if line.closed else line.corners
    ahead = np.diff(path, axis=0) / np.hypot(*np.diff(path, axis=0).T)[:, None]
    return int((ahead[:-1] * ahead[1:]).sum(axis=1).argmin()) + (0 if line.closed else 1)


def bar(axes: Axes, path: Floats, *, taken: Box) -> None:
    """A bar of 100 m, where there is room."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    across, up, _, _ = roomiest(axes, path, wide=max(0.1, 100.0 / (east - west)), high=0.06, taken=taken)
    begin, height = west + (across + 0.02) * (east - west), south + (up + 0.02) * (north - south)
    axes.plot([begin, begin + 100.0], [height, height], color=FAINT, lw=2.0, solid_capstyle="butt")
    axes.text(
        begin + 50.0, height + 0.01 * (north - south), "100 m", color=FAINT, ha="center", va="bottom", fontsize=6.5
    )


def legend(figure: plt.Figure) -> None:
    made = [
        plt.Line2D([], [], color=WATER, lw=0.8, marker="o", ms=4),
        plt.Line2D([], [], color=INK, lw=0.8, ls=(0, (5, 2))),
        plt.Line2D([], [], color=OCHRE, lw=2.6),
        plt.Line2D([], [], color=BRICK, lw=0, marker="o", mfc="none", ms=8),
        plt.Line2D([], [], color=PLUM, lw=0, marker="o", mfc="none", ms=8),
        plt.Line2D([], [], color=INK, lw=0, marker="s", mfc="none", ms=8),
    ]
    words = [
        "drawn",
        "true",
        "planned",
        f"corner, one standard error × {LARGER:.0f}",
        "arc begins or ends, likewise",
        "the same corner in the small square, its ellipse to scale",
    ]
    figure.legend(
        made, words, loc="upper center", ncol=len(made), frameon=False, fontsize=8.5, bbox_to_anchor=(0.5, 0.972)
    )
    figure.text(
        0.5,
        0.975,
        f"Each vertex is drawn {SIGMA_M} m off (one standard deviation, east and north each). Under each plan: metres"
        " right of the planned line, along it; the band is two standard deviations.",
        ha="center",
        fontsize=9,
    )


def save(path: Path, figure: plt.Figure) -> None:
    """Save with few colours: a plan has few."""
    memory = io.BytesIO()
    figure.savefig(memory, format="png", dpi=110)
    picture = Image.open(memory).convert("RGB")
    for colours in (128, 64, 32):
        out = io.BytesIO()
        picture.quantize(colours, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
            out, "PNG", optimize=True
        )
        if out.tell() <= MOST_BYTES:
            break
    path.write_bytes(out.getvalue())


if __name__ == "__main__":
    main()
