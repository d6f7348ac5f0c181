"""A wire fence round a hill paddock, with a cross fence: invented, in the foothills of Montana.

The loop climbs from a creek flat over a ridge and comes back along its far side, where the ground falls across it.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any

import numpy as np
from drawing import (
    Place,
    Truth,
    along,
    cell_centres,
    cell_noise,
    clicked,
    feature,
    normal,
    patches,
    walked,
    write_features,
    write_raster,
)

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

PLACE = Place(epsg=6341, datum_epsg=6318, origin=(585_600.0, 5_162_400.0))
WIDE_M, HIGH_M, CELL_M = 2300, 1850, 5.0
SIGMA_M = 1.0
SEED = 47_110

# South-west corner first, then east along the flat, up the east side, back west behind the ridge, and down again.
CORNERS = np.array([
    (230.0, 290.0), (860.0, 215.0), (1490.0, 330.0), (2060.0, 245.0), (2120.0, 800.0), (1965.0, 1480.0),
    (1380.0, 1590.0), (830.0, 1455.0), (290.0, 1530.0), (175.0, 880.0),
])  # fmt: skip
RING = np.vstack([CORNERS, CORNERS[:1]])
# Distances between clicks, leg by leg: traced along the old fence on the flat and up the west side, clicked elsewhere.
CLICK_EVERY_M = [9.0, 14.0, 260.0, 330.0, 180.0, 240.0, 400.0, 300.0, 11.0, 160.0]
CROSS = np.vstack([along(RING, 920.0), (1150.0, 800.0), along(RING, 4150.0)])
CROSS_EVERY_M = [150.0, 220.0]
GATES_M = (330.0, 2070.0)
CROSS_GATE_M = 95.0

TOWERS = walked((1495.0, 168.0), [(11.0, span_m) for span_m in (320.0, 320.0, 260.0, 375.0, 175.0, 185.0)])
CREST_TOWER = 4
TOWER_M = 19.0  # lowest conductor above the foot of its tower
SAG_M = (8.0, 3.0)  # greatest drop in a span, before and behind the crest
PHONE = np.array([(20.0, 395.0), (128.0, 425.0), (236.0, 455.0), (340.0, 480.0), (440.0, 490.0)])


def truth() -> Truth:
    """Return what the drawing stands for."""
    origin = np.array(PLACE.origin)
    gates = [*(along(RING, chainage) for chainage in GATES_M), along(CROSS, CROSS_GATE_M)]
    lines = {"loop": CORNERS + origin, "cross": CROSS + origin}
    points = {"gates": np.array(gates) + origin, "towers": TOWERS + origin}
    return Truth(PLACE.epsg, lines, {"loop": True, "cross": False}, points)


def make(folder: Path) -> None:
    """Write the site's files; `site.toml` is kept by hand beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    chance = Random(SEED)
    write_features(folder / "boundary.geojson", _boundary(chance))
    write_features(folder / "pegs.geojson", _pegs())
    write_features(folder / "gates.geojson", _gates())
    write_features(folder / "overhead.geojson", _overhead())
    write_features(folder / "watercourses.geojson", [_creek()])
    write_features(folder / "soils.geojson", _soils())
    write_features(folder / "walk.geojson", _walk())
    write_features(folder / "services.geojson", [_pipe()])
    write_features(folder / "keepout.geojson", [_spring()])
    write_features(folder / "tracks.geojson", _tracks())
    write_features(folder / "existing.geojson", [_old_posts()])
    heights = ground(*cell_centres((int(HIGH_M / CELL_M), int(WIDE_M / CELL_M)), CELL_M))
    noisy = heights + 0.2 * cell_noise(chance, heights.shape)
    write_raster(folder / "elevation.tif", PLACE, np.round(noisy * 64).astype(np.float32) / 64, cell_m=CELL_M)


def _boundary(chance: Random) -> list[dict[str, Any]]:
    """Return the loop and the cross fence, whose ends a hand leaves past the loop and short of it."""
    ring = clicked(RING, CLICK_EVERY_M, sigma_m=SIGMA_M, chance=chance)[:-1]
    first, last = ((a - b) / np.hypot(*(a - b)) for a, b in ((CROSS[0], CROSS[1]), (CROSS[-1], CROSS[-2])))
    past, short = CROSS[0] + 0.9 * first, CROSS[-1] - 0.6 * last
    cross = clicked(np.vstack([past, CROSS[1:-1], short]), CROSS_EVERY_M, sigma_m=SIGMA_M, chance=chance)
    cross[[0, -1]] = past, short
    return [
        feature(PLACE, "Polygon", ring, name="Hill boundary", line_id="H", label="agreed"),
        feature(PLACE, "LineString", cross, name="Cross fence", line_id="X", label="internal"),
    ]


def _pegs() -> list[dict[str, Any]]:
    return [
        feature(PLACE, "Point", CORNERS[0], kind="survey", name="South-west corner, surveyor's cap"),
        feature(PLACE, "Point", CORNERS[5], kind="found", name="Old corner post, leaning"),
        feature(PLACE, "Point", along(RING, 1850.0), kind="line mark", name="Pin on the south line"),
    ]


def _gates() -> list[dict[str, Any]]:
    wide = {"opening_m": 4.3, "leaf_m": 4.2, "leaves": 1}
    south, east = (along(RING, chainage, right_m=0.8) for chainage in GATES_M)
    return [
        feature(PLACE, "Point", south, name="Flat gate", hinge="from", swing_side="left", **wide),
        feature(PLACE, "Point", east, name="East gate", hinge="to", swing_side="left", **wide),
        feature(PLACE, "Point", along(CROSS, CROSS_GATE_M, right_m=-0.6), name="Cross gate", hinge="from", **wide),
    ]


def _overhead() -> list[dict[str, Any]]:
    attached = np.column_stack([TOWERS, ground(TOWERS[:, 0], TOWERS[:, 1]) + TOWER_M])
    owner = {"voltage_kv": 138.0, "half_width_m": 6.0, "height_error_m": 0.5, "height_from": "owner"}
    given = {"kind": "power", "support": "tower", "insulated": False, **owner}
    flat, ridge = attached[: CREST_TOWER + 1], attached[CREST_TOWER:]
    return [
        feature(PLACE, "LineString", flat, name="Line on towers, up to the crest", sag_m=SAG_M[0], **given),
        feature(PLACE, "LineString", ridge, name="Line on towers, behind the crest", sag_m=SAG_M[1], **given),
        feature(PLACE, "LineString", PHONE, name="Phone line to the cabin", kind="phone"),
    ]


def _creek() -> dict[str, Any]:
    east = np.arange(-20.0, 2330.0, 25.0)
    bank = normal(Random(SEED + 1), len(east)) * 2.0
    centre = np.column_stack([east, _creek_north(east) + bank])
    return feature(PLACE, "LineString", centre, name="Creek", kind="creek", perennial=True)


def _pipe() -> dict[str, Any]:
    path = [along(CROSS, 470.0, right_m=-85.0), along(CROSS, 500.0), along(CROSS, 540.0, right_m=110.0)]
    return feature(PLACE, "LineString", path, name="Pipe to the trough", owner="private", kind="water", quality="D")


def _spring() -> dict[str, Any]:
    at = along(RING, 700.0, right_m=-14.0)
    return feature(PLACE, "Point", at, name="Spring box", reason="drinking water of the cabin", radius_m=8.0)


def _tracks() -> list[dict[str, Any]]:
    gate = [along(RING, GATES_M[0], right_m=right) for right in (110.0, 0.0, -60.0)]
    bench = [along(RING, chainage, right_m=28.0) for chainage in np.arange(3250.0, 4051.0, 100.0)]
    return [
        feature(PLACE, "LineString", gate, name="Way in at the flat gate", kind="gate access", width_m=3.5),
        feature(PLACE, "LineString", bench, name="Bench track", kind="farm track", width_m=2.8),
    ]


def _old_posts() -> dict[str, Any]:
    path = [along(CROSS, chainage, right_m=1.8) for chainage in (610.0, 700.0, 880.0)]
    return feature(PLACE, "LineString", path, name="Cedar posts, rotten", kind="pull", wires=3)


def _soils() -> list[dict[str, Any]]:
    """Return the two zones that somebody drew; the slopes between them nobody looked at."""
    flat = [(-40.0, 60.0), (2340.0, 60.0), (2340.0, 470.0), (-40.0, 430.0)]
    crest = [(-40.0, 1210.0), (2340.0, 1290.0), (2340.0, 1465.0), (-40.0, 1385.0)]
    return [
        feature(PLACE, "Polygon", flat, name="Creek flat", soil="loam"),
        feature(PLACE, "Polygon", crest, name="Crest", soil="rock"),
    ]


def _walk() -> list[dict[str, Any]]:
    seen = [
        (RING, 60.0, 1.0, "soil", "Deep loam on the flat; the bar went to 1 m without a stone."),
        (RING, 700.0, -1.5, "wet", "Seep across the line, soft to the ankle in March."),
        (RING, 2275.0, 0.5, "wet", "Creek: banks 2 m high, cut on the outside of the bend; old wire in the bed."),
        (RING, 2990.0, 1.0, "rock", "Sandstone at 0.3 m on the crest: bring the rock bar."),
        (RING, 3600.0, -1.0, "access", "Too steep to stand the machine by the line; a bench track runs 15 m below."),
        (RING, 5040.0, 0.5, "phone signal", "One bar on the crest, none behind the ridge."),
        (CROSS, 335.0, 2.0, "wet", "Creek: gravel bar, ankle deep, banks low here."),
        (CROSS, 700.0, 2.0, "old post", "Rotten line of cedar posts, some with wire still on."),
    ]
    return [
        feature(PLACE, "Point", along(line, chainage, right_m=right), kind=kind, text=text)
        for line, chainage, right, kind, text in seen
    ]


def _creek_north(east: Floats) -> Floats:
    return 560.0 + 0.03 * east + 46.0 * np.sin(east / 150.0) + 20.0 * np.sin(east / 61.0 + 1.0)


def _ridge_north(east: Floats) -> Floats:
    return 1300.0 + 0.03 * east + 48.0 * np.sin(east / 210.0) + 30.0 * np.sin(east / 95.0 + 2.0)


def ground(east: Floats, north: Floats) -> Floats:
    """Return the ground: a creek in its valley, a ridge along the north with a saddle and spurs, folds and swells."""
    off_ridge = north - _ridge_north(east)
    spurs = 1.0 + 0.16 * np.sin(east / 88.0 + off_ridge / 260.0)
    ridge = np.exp(-(np.abs(off_ridge / (245.0 * spurs)) ** 1.7))
    saddle = 1.0 - 0.30 * np.exp(-(((east - 1120.0) / 210.0) ** 2)) + 0.12 * np.exp(-(((east - 1750.0) / 300.0) ** 2))
    off_creek = north - _creek_north(east)
    valley = -16.0 * np.exp(-((off_creek / 210.0) ** 2)) - 2.6 * np.exp(-((off_creek / 7.0) ** 4))
    return 1392.0 + 104.0 * ridge * saddle + valley + 0.016 * east + 0.02 * north + _folds(east, north)


def _folds(east: Floats, north: Floats) -> Floats:
    """Return swells of some metres, read between the points of a wide net so that any place has its height."""
    total = np.zeros(np.broadcast_shapes(np.shape(east), np.shape(north)))
    for seed, size_m, height_m in ((2, 330.0, 10.0), (3, 130.0, 3.5), (4, 45.0, 0.5)):
        net = patches(Random(SEED + seed), (int(HIGH_M / 5) + 1, int(WIDE_M / 5) + 1), size_m / 5)
        row = np.clip(north / 5, 0, net.shape[0] - 1.001)
        column = np.clip(east / 5, 0, net.shape[1] - 1.001)
        down, across = np.broadcast_arrays(row, column)
        r, c = down.astype(int), across.astype(int)
        v, u = down - r, across - c
        low = net[r, c] * (1 - u) + net[r, c + 1] * u
        high = net[r + 1, c] * (1 - u) + net[r + 1, c + 1] * u
        total += height_m * (low * (1 - v) + high * v)
    return total
