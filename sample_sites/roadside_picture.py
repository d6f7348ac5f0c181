"""The orthophoto of the roadside sample, painted from the same numbers as its other files."""

from __future__ import annotations

from itertools import pairwise
from random import Random
from typing import TYPE_CHECKING

import numpy as np
from drawing import along, cell_noise, normal
from painting import Canvas, Tree
from roadside_place import CORNERS, DEAD, ENTRANCE_M, HIGH_M, POLES, ROAD_DEG, SEED, TREES, WIDE_M, ground, tree_points

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

SHEEP_SHADOW = np.array([-0.5, -0.4])
ROAD_RIGHT_M = 17.0


def paint(cell_m: float) -> npt.NDArray[np.uint8]:
    """Return the orthophoto's bands."""
    chance = Random(SEED + 3)
    canvas = Canvas.of((int(HIGH_M / cell_m), int(WIDE_M / cell_m)), cell_m, (164, 150, 108), chance)
    _grass(canvas)
    _tracks(canvas)
    _yard(canvas)
    _sheep(canvas)
    for pole, height in zip(POLES, (9.0, 9.0, 8.0, 6.0), strict=True):
        canvas.pole(pole, height_m=height, arm_deg=80.0)
    for offset in (-0.3, 0.3):
        canvas.stroke(POLES + np.array([offset, 0.0]), (206, 202, 194), width_m=0.05, cover=0.9)
    canvas.trees([*_row(), *_scattered()])
    canvas.dead_tree(tree_points()[DEAD], height_m=TREES[DEAD][2], spread_m=TREES[DEAD][4])
    return canvas.picture()


def _road() -> Floats:
    """Return the middle of the road: beside the frontage, and straight on past both of its ends."""
    first = along(CORNERS, -60.0, right_m=ROAD_RIGHT_M)
    stations = (50.0, 112.0, 172.0, 232.0, 300.0)
    beside = [along(CORNERS, chainage, right_m=ROAD_RIGHT_M) for chainage in stations]
    return _rounded(np.array([first, *beside, _onward(beside[-1], 190.0)]))


def _onward(start: Floats, metres: float) -> Floats:
    """Return the point so far on in the direction in which the road leaves the picture."""
    bearing = np.radians(ROAD_DEG[-1])
    return start + metres * np.array([np.sin(bearing), np.cos(bearing)])


def _rounded(path: Floats, times: int = 4) -> Floats:
    """Return the path with its corners cut again and again, ends kept."""
    for _ in range(times):
        quarters = [point for a, b in pairwise(path) for point in (0.75 * a + 0.25 * b, 0.25 * a + 0.75 * b)]
        path = np.array([path[0], *quarters, path[-1]])
    return path


def _grass(canvas: Canvas) -> None:
    """Lay the verge, the grazed paddock on the left, the stubble behind the last leg, and the lie of the land."""
    broad, middling, tufts, small = (canvas.spots(size_m) for size_m in (38.0, 9.0, 1.7, 0.7))
    canvas.lay((122, 126, 80), 0.45 + 0.35 * broad + 0.25 * middling)
    paddock = canvas.area([(-5, 78.9), *CORNERS, CORNERS[-1] + 1.5 * (CORNERS[-1] - CORNERS[-2]), (-5, 330)])
    canvas.lay((196, 178, 132), paddock * (0.84 + 0.12 * middling))
    canvas.lay((152, 148, 100), paddock * 0.7 * (canvas.spots(26.0) - 0.1))
    back = CORNERS[-1] + 1.5 * (CORNERS[-1] - CORNERS[-2])
    stubble = canvas.area([CORNERS[-2], _onward(CORNERS[-2], 120.0), (500, 330), back])
    east, north = canvas.centres
    rows = np.sin((east * 0.94 - north * 0.34) * 2 * np.pi / 2.4)
    canvas.lay((208, 190, 138), stubble * (0.85 + 0.12 * rows))
    canvas.lay((178, 156, 108), stubble * 0.5 * (middling + 0.15))
    heights = ground(canvas.cell_m)
    bare = 0.35 * (heights - 143.2) + 0.7 * broad + 0.75 * middling + 0.3 * tufts
    canvas.lay((206, 160, 114), (1.0 - stubble) * np.clip(1.5 * (bare - 0.5), 0.0, 0.8))
    verge = (1.0 - paddock) * (1.0 - stubble)
    canvas.lay((104, 108, 66), verge * np.clip(1.6 * (tufts + 0.4 * small) - 0.5, 0.0, 0.45))
    canvas.lay((142, 134, 90), paddock * np.clip(1.8 * (tufts + 0.5 * small) - 0.75, 0.0, 0.4))
    canvas.shade(1.0 + 0.05 * small + 0.035 * cell_noise(canvas.chance, canvas.shape))
    down, across = np.gradient(heights, canvas.cell_m)
    canvas.shade(1.0 + 1.4 * (-0.54 * across + 0.40 * down))


def _tracks(canvas: Canvas) -> None:
    """Paint the road, the sand track through the entrance, and the strip of long grass where the old fence stood."""
    road, rag = _road(), canvas.spots(3.0)
    canvas.stroke(road, (196, 164, 120), width_m=10.5, cover=0.85, soft_m=1.6, ragged=0.7 * rag)
    canvas.stroke(road, (132, 130, 128), width_m=6.6, cover=0.95, soft_m=0.5, ragged=0.12 * rag)
    for side in (-1.6, 1.6):
        canvas.stroke(road + np.array([0.2, 0.98]) * side, (112, 110, 109), width_m=0.9, cover=0.45, soft_m=0.7)
    _dashes(canvas, road)
    gate = along(CORNERS, ENTRANCE_M)
    joins = along(CORNERS, ENTRANCE_M - 1.0, right_m=13.2)
    leaves = along(CORNERS, ENTRANCE_M + 9.0, right_m=-26.0)
    track = _rounded(np.array([joins, gate, leaves, (112, 150), (119, 184), (110, 205), (108, 222)]))
    spread = [(-2.0, -0.5), (-2.4, 6.0), (-4.5, 10.0), (-9.0, 13.6), (8.0, 13.6), (3.5, 10.0), (2.4, 6.0), (2.0, -0.5)]
    mouth = canvas.area([along(CORNERS, ENTRANCE_M + step, right_m=right) for step, right in spread])
    canvas.lay((210, 176, 130), mouth * (0.85 + 0.15 * rag))
    canvas.stroke(track, (214, 180, 134), width_m=4.4, cover=0.9, soft_m=1.2, ragged=0.5 * rag)
    canvas.stroke(track, (186, 158, 112), width_m=0.7, cover=0.5, soft_m=0.6, ragged=0.2 * rag)
    canvas.stroke(CORNERS[:-1], (142, 132, 86), width_m=0.9, cover=0.55, soft_m=0.7, ragged=0.3 * rag)
    canvas.stroke(CORNERS[-2:], (142, 132, 86), width_m=0.9, cover=0.55, soft_m=0.7, ragged=0.3 * rag)
    stock_track = (0, 40, 80, 112, 172, 232, 334)
    inside = np.array([along(CORNERS, chainage, right_m=-2.8) for chainage in stock_track])
    canvas.stroke(inside, (212, 190, 146), width_m=0.45, cover=0.6, soft_m=0.4, ragged=0.25 * rag)


def _dashes(canvas: Canvas, road: Floats) -> None:
    length = float(np.hypot(*np.diff(road, axis=0).T).sum())
    for start in np.arange(4.0, length - 4.0, 12.0):
        dash = np.array([along(road, start), along(road, start + 3.0)])
        canvas.stroke(dash, (214, 212, 206), width_m=0.2, cover=0.9)


def _yard(canvas: Canvas) -> None:
    """Paint the house, its lawn, a shed, a water tank and a trough."""
    lawn = canvas.area([(124, 208), (172, 214), (168, 256), (120, 250)])
    canvas.lay((120, 136, 80), lawn * (0.75 + 0.2 * canvas.spots(5.0)))
    sand = canvas.area([(96, 212), (123, 208), (119, 240), (92, 244)])
    canvas.lay((206, 174, 130), sand * (0.75 + 0.25 * canvas.spots(4.0)))
    canvas.roof((145.0, 234.0), size_m=(19.0, 11.0), turn_deg=78.0, colour=(204, 206, 204))
    canvas.roof((150.5, 242.0), size_m=(10.0, 8.0), turn_deg=-12.0, colour=(198, 200, 199))
    canvas.roof((102.0, 236.0), size_m=(15.0, 9.0), turn_deg=78.0, colour=(176, 182, 186), height_m=5.0)
    canvas.disc((130.0, 243.0), (150, 156, 148), width_m=4.6)
    canvas.disc((129.6, 243.5), (182, 188, 182), width_m=2.8, soft_m=1.2)
    canvas.disc((232.0, 196.0), (214, 178, 132), width_m=9.0, cover=0.45, soft_m=5.0)
    canvas.roof((232.0, 196.0), size_m=(3.0, 0.8), turn_deg=30.0, colour=(150, 150, 146), height_m=0.6)


def _sheep(canvas: Canvas) -> None:
    for _ in range(34):
        at = np.array([250.0, 190.0]) + 22.0 * normal(canvas.chance, 2) * (1.3, 0.7)
        turn = 2 * np.pi * canvas.chance.randrange(1000) / 1000
        body = np.array([at, at + 0.7 * np.array([np.sin(turn), np.cos(turn)])])
        canvas.stroke(body + SHEEP_SHADOW, (92, 84, 66), width_m=0.5, cover=0.7)
        canvas.stroke(body, (226, 220, 204), width_m=0.6)


def _row() -> list[Tree]:
    standing = [number for number in range(len(TREES)) if number != DEAD]
    return [
        Tree(tuple(tree_points()[number]), *TREES[number][2:], (102 + number * 2, 116 + number % 3 * 5, 84))
        for number in standing
    ]


def _scattered() -> list[Tree]:
    """Return trees far from the line, which nobody needs in the plan."""
    seen = (
        (48, 232, 13, 11), (61, 241, 10, 8), (214, 262, 14, 13), (292, 252, 12, 10), (158, 262, 9, 8),
        (118, 262, 10, 9), (174, 204, 7, 6), (36, 30, 12, 10), (88, 22, 10, 8), (236, 58, 13, 11), (262, 84, 9, 7),
        (330, 96, 12, 10), (382, 128, 11, 9),
    )  # fmt: skip
    return [
        Tree((east, north), height, 2.5, spread, (100 + east % 5 * 3, 112 + north % 4 * 3, 82))
        for east, north, height, spread in seen
    ]
