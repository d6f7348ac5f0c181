"""Paint ground as an aerial photograph shows it: textures, lines, crowns with their shadows, roofs.

A canvas is red, green and blue from 0 to 255 in cells; metres east and north are those of the site's place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from drawing import cell_centres, cell_noise, patches
from PIL import Image, ImageDraw

if TYPE_CHECKING:
    from collections.abc import Sequence
    from random import Random

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Colour = tuple[int, int, int]
    Window = tuple[slice, slice]

# A summer morning in the south: the sun stands in the north-east, shadows fall south-west, 0.8 of a height long.
SHADOW = 0.8 * np.array([-0.80, -0.60])
LIGHT = np.array([0.54, 0.40, 0.74])


@dataclass(frozen=True)
class Tree:
    """A tree as seen from above, in metres."""

    middle: tuple[float, float]
    height_m: float
    limb_m: float
    spread_m: float
    colour: Colour


@dataclass(eq=False)
class Canvas:
    """A picture being painted; `chance` gives it its grain."""

    rgb: Floats
    cell_m: float
    chance: Random

    @classmethod
    def of(cls, shape: tuple[int, int], cell_m: float, colour: Colour, chance: Random) -> Canvas:
        """Return an even canvas."""
        return cls(np.full((*shape, 3), colour, float), cell_m, chance)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rgb.shape[0], self.rgb.shape[1]

    @cached_property
    def centres(self) -> tuple[Floats, Floats]:
        """East of the columns and north of the rows."""
        return cell_centres(self.shape, self.cell_m)

    def lay(self, colour: Colour, cover: Floats, window: Window = (slice(None), slice(None))) -> None:
        """Lay a colour over the window, as thick as `cover` from 0 to 1."""
        below = self.rgb[window]
        below += (np.array(colour, float) - below) * np.clip(cover, 0.0, 1.0)[..., None]

    def shade(self, factor: Floats, window: Window = (slice(None), slice(None))) -> None:
        """Make the window lighter or darker."""
        self.rgb[window] *= factor[..., None]

    def window(self, low: npt.ArrayLike, high: npt.ArrayLike) -> tuple[Window, Floats, Floats]:
        """Return the cells between two corners in metres, with their centres."""
        rows, columns = self.shape
        left, bottom = (int(np.floor(value / self.cell_m)) for value in np.asarray(low, float))
        right, top = (int(np.ceil(value / self.cell_m)) for value in np.asarray(high, float))
        down = slice(int(np.clip(rows - top, 0, rows)), int(np.clip(rows - bottom, 0, rows)))
        across = slice(int(np.clip(left, 0, columns)), int(np.clip(right, 0, columns)))
        east, north = self.centres
        return (down, across), east[:, across], north[down]

    def spots(self, size_m: float) -> Floats:
        """Return soft patches of about that size over the whole canvas, from −1 to 1."""
        return patches(self.chance, self.shape, size_m / self.cell_m)

    def area(self, corners: npt.ArrayLike) -> Floats:
        """Return the cover of a polygon over the whole canvas, its edges smooth."""
        rows, columns = self.shape
        mask = Image.new("L", (2 * columns, 2 * rows))
        points = np.asarray(corners, float) / self.cell_m * 2
        ImageDraw.Draw(mask).polygon([(x, 2 * rows - y) for x, y in points], fill=255)
        return np.asarray(mask.resize((columns, rows), Image.Resampling.BOX), float) / 255.0

    def away(self, path: Floats, reach_m: float) -> tuple[Window, Floats]:
        """Return the cells within `reach_m` of a path's extent, and how far each is from the path (at most that)."""
        window, east, north = self.window(path.min(axis=0) - reach_m, path.max(axis=0) + reach_m)
        distance = np.full((north.shape[0], east.shape[1]), reach_m)
        for start, end in pairwise(path):
            step = end - start
            across = (east[0] >= min(start[0], end[0]) - reach_m) & (east[0] <= max(start[0], end[0]) + reach_m)
            down = (north[:, 0] >= min(start[1], end[1]) - reach_m) & (north[:, 0] <= max(start[1], end[1]) + reach_m)
            near = np.ix_(down, across)
            east_off, north_off = east[:, across] - start[0], north[down] - start[1]
            share = np.clip((east_off * step[0] + north_off * step[1]) / (step @ step), 0.0, 1.0)
            gap = np.hypot(east_off - share * step[0], north_off - share * step[1])
            distance[near] = np.minimum(distance[near], gap)
        return window, distance

    def stroke(self, path: npt.ArrayLike, colour: Colour, *, width_m: float, cover: float = 1.0, soft_m: float = 0.0,
               ragged: Floats | float = 0.0) -> None:  # fmt: skip
        """Paint a line of a width, its edge blurred over `soft_m` and moved by `ragged` metres."""
        soft, width = max(soft_m, self.cell_m), max(width_m, self.cell_m)
        reach = width / 2 + 2 * soft + float(np.max(np.abs(ragged)))
        window, away = self.away(np.asarray(path, float), reach)
        edge = ragged[window] if isinstance(ragged, np.ndarray) else ragged
        self.lay(colour, cover * width_m / width * np.clip(0.5 + (width / 2 + edge - away) / soft, 0.0, 1.0), window)

    def disc(self, middle: npt.ArrayLike, colour: Colour, *, width_m: float, cover: float = 1.0,
             soft_m: float = 0.0) -> None:  # fmt: skip
        """Paint a round spot."""
        path = np.asarray(middle, float) + np.array([(0.0, 0.0), (0.01, 0.0)])
        self.stroke(path, colour, width_m=width_m, cover=cover, soft_m=soft_m)

    def trees(self, trees: Sequence[Tree]) -> None:
        """Paint crowns of lobes lit from the sun's side, all their shadows first."""
        lobes = [_lobes(self.chance, tree.spread_m / 2) for tree in trees]
        for tree, parts in zip(trees, lobes, strict=True):
            self._shadow(tree, parts)
        for tree, parts in zip(trees, lobes, strict=True):
            self._crown(tree, parts)

    def _crown(self, tree: Tree, lobes: Floats) -> None:
        middle = np.array(tree.middle)
        window, east, north = self.window(middle - tree.spread_m, middle + tree.spread_m)
        dome = _dome(lobes, east - middle[0], north - middle[1])
        down, across = np.gradient(dome, self.cell_m)
        lit = (LIGHT[2] - LIGHT[0] * across + LIGHT[1] * down) / np.sqrt(1.0 + down**2 + across**2)
        leaf = cell_noise(self.chance, dome.shape) * 0.09
        tone = np.array(tree.colour, float) * np.clip(0.55 + 0.66 * lit + leaf, 0.3, 1.6)[..., None]
        below = self.rgb[window]
        below += (tone - below) * np.clip(dome / 0.5, 0.0, 1.0)[..., None]

    def _shadow(self, tree: Tree, lobes: Floats) -> None:
        middle, fall = np.array(tree.middle), SHADOW * tree.height_m
        window, east, north = self.window(
            middle + np.minimum(0.0, fall) - tree.spread_m, middle + np.maximum(0.0, fall) + tree.spread_m
        )
        dark = np.zeros((north.shape[0], east.shape[1]))
        for share in np.linspace(0.15, 0.95, 5):
            at = middle + SHADOW * (tree.limb_m + share * (tree.height_m - tree.limb_m))
            size = float(np.sqrt(1.0 - (2 * share - 0.9) ** 2 * 0.7))
            dark = np.maximum(dark, np.clip(_dome(lobes, (east - at[0]) / size, (north - at[1]) / size), 0.0, 1.0))
        self.shade(1.0 - 0.52 * dark, window)
        self.stroke(np.array([middle, middle + SHADOW * tree.limb_m]), (62, 60, 56), width_m=0.5, cover=0.5)

    def dead_tree(self, middle: Floats, *, height_m: float, spread_m: float) -> None:
        """Paint bare grey limbs and their shadow."""
        for number in range(9):
            turn = 2 * np.pi * number / 9 + self.chance.randrange(-200, 201) / 1000
            reach = spread_m / 2 * (0.65 + self.chance.randrange(0, 351) / 1000)
            tip = middle + reach * np.array([np.sin(turn), np.cos(turn)])
            fork = middle + 0.6 * (tip - middle)
            side = fork + 0.35 * reach * np.array([np.sin(turn + 0.7), np.cos(turn + 0.7)])
            fall = SHADOW * height_m * 0.75
            self.stroke(np.array([middle + SHADOW * 2, fork + fall, tip + fall]), (70, 66, 60), width_m=0.4, cover=0.5)
            self.stroke(np.array([middle, tip]), (196, 190, 180), width_m=0.4, cover=0.95)
            self.stroke(np.array([fork, side]), (186, 180, 170), width_m=0.25, cover=0.9)

    def roof(self, middle: npt.ArrayLike, *, size_m: tuple[float, float], turn_deg: float, colour: Colour,
             height_m: float = 4.0) -> None:  # fmt: skip
        """Paint a ridged roof with its shadow; `size_m` is length along the ridge and width."""
        turn = np.radians(turn_deg)
        along = np.array([np.sin(turn), np.cos(turn)]) * size_m[0] / 2
        square = np.array([np.cos(turn), -np.sin(turn)]) * size_m[1] / 2
        corners = np.array([along + square, along - square, -along - square, square - along]) + np.asarray(
            middle, float
        )
        for share in (0.3, 0.6, 0.9):
            self.shade(1.0 - 0.25 * self.area(corners + SHADOW * height_m * share))
        self.lay(colour, self.area(corners))
        lit = np.array([*(square / size_m[1]), 0.6]) @ LIGHT
        dim = np.array([*(-square / size_m[1]), 0.6]) @ LIGHT
        ridge = np.asarray(middle, float) + np.array([along, -along])
        self.shade(1.0 + (0.75 + 0.55 * lit - 1.0) * self.area([corners[0], *ridge, corners[3]]))
        self.shade(1.0 + (0.75 + 0.55 * dim - 1.0) * self.area([corners[1], *ridge, corners[2]]))

    def pole(self, middle: Floats, *, height_m: float, arm_deg: float) -> None:
        """Paint a pole from above: its top, its cross-arm, its long thin shadow."""
        arm = 0.9 * np.array([np.sin(np.radians(arm_deg)), np.cos(np.radians(arm_deg))])
        self.stroke(np.array([middle, middle + SHADOW * height_m]), (58, 54, 50), width_m=0.35, cover=0.75)
        top = SHADOW * height_m * 0.94
        self.stroke(np.array([middle + top - arm, middle + top + arm]), (64, 60, 56), width_m=0.25, cover=0.6)
        self.stroke(np.array([middle - arm, middle + arm]), (92, 80, 68), width_m=0.3, cover=0.9)
        self.disc(middle, (70, 60, 52), width_m=0.6)

    def picture(self) -> npt.NDArray[np.uint8]:
        """Return the bands in steps of four, which no eye sees below the grain and a file half the size holds."""
        return np.moveaxis(np.clip(np.round(self.rgb / 4) * 4, 0, 252).astype(np.uint8), 2, 0)


def _lobes(chance: Random, radius: float) -> Floats:
    """Return (n, 3): east, north and radius of the rounded parts of a crown that fills about `radius`."""
    lobes = [(0.0, 0.0, 0.62 * radius)]
    for number in range(13):
        turn = 2 * np.pi * number / 13 + chance.randrange(-250, 251) / 1000
        out = radius * (0.38 + chance.randrange(0, 251) / 1000)
        lobes.append((out * np.sin(turn), out * np.cos(turn), radius * (0.28 + chance.randrange(0, 101) / 1000)))
    return np.array(lobes)


def _dome(lobes: Floats, east: Floats, north: Floats) -> Floats:
    """Return the height of a crown's outside above its rim, 0 outside."""
    top = np.zeros(np.broadcast_shapes(east.shape, north.shape))
    for out_east, out_north, radius in lobes:
        inside = radius**2 - (east - out_east) ** 2 - (north - out_north) ** 2
        top = np.maximum(top, np.sqrt(np.maximum(inside, 0.0)))
    return top
