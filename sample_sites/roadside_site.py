"""The files of the roadside sample, as a hand would leave them; its `site.toml` is kept beside them."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any

import numpy as np
from drawing import Truth, along, cell_noise, clicked, feature, normal, write_features, write_raster
from roadside_picture import paint
from roadside_place import (
    CLICK_EVERY_M,
    CORNERS,
    DEAD,
    ENTRANCE_M,
    FIELD_GATE_M,
    HIGH_M,
    KEPT,
    PLACE,
    POLES,
    SEED,
    SIGMA_M,
    TREES,
    WIDE_M,
    ground,
    tree_points,
)

if TYPE_CHECKING:
    from pathlib import Path

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

HOUSE, TANK, TROUGH = (145.0, 234.0), (130.0, 243.0), (232.0, 196.0)  # as painted on the imagery


def truth() -> Truth:
    """Return what the drawing stands for."""
    origin = np.array(PLACE.origin)
    points = {
        "gates": np.array([along(CORNERS, ENTRANCE_M), along(CORNERS, FIELD_GATE_M)]),
        "poles": POLES,
        "trees": tree_points(),
    }
    moved = {name: places + origin for name, places in points.items()}
    return Truth(PLACE.epsg, {"frontage": CORNERS + origin}, {"frontage": False}, moved)


def make(folder: Path) -> None:
    """Write the site's files; `site.toml` is kept by hand beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    chance = Random(SEED)
    drawn = clicked(CORNERS, CLICK_EVERY_M, sigma_m=SIGMA_M, chance=chance)
    frontage = feature(PLACE, "LineString", drawn, name="Road frontage", line_id="A", label="boundary")
    write_features(folder / "boundary.geojson", [frontage])
    write_features(folder / "pegs.geojson", _pegs())
    write_features(folder / "gates.geojson", _gates())
    write_features(folder / "overhead.geojson", _overhead())
    write_features(folder / "trees.geojson", _trees(chance))
    write_features(folder / "walk.geojson", _walk())
    write_features(folder / "services.geojson", _services())
    write_features(folder / "keepout.geojson", [_orchids()])
    write_features(folder / "tracks.geojson", _tracks())
    write_features(folder / "existing.geojson", _existing())
    write_features(folder / "watercourses.geojson", [_drain()])
    heights = ground(1.0) + 0.04 * cell_noise(chance, (HIGH_M, WIDE_M))
    write_raster(folder / "elevation.tif", PLACE, np.round(heights * 256).astype(np.float32) / 256, cell_m=1.0)
    write_raster(folder / "imagery.tif", PLACE, paint(0.25), cell_m=0.25)


def _pegs() -> list[dict[str, Any]]:
    return [
        feature(PLACE, "Point", CORNERS[0], kind="agreed", name="West end, agreed with the neighbour"),
        feature(PLACE, "Point", CORNERS[-1], kind="survey", name="North end, surveyor's peg"),
    ]


def _gates() -> list[dict[str, Any]]:
    entrance = {"name": "Main entrance", "opening_m": 6.1, "leaf_m": 3.0, "leaves": 2, "swing_side": "left"}
    field = {"name": "Field gate", "opening_m": 3.7, "leaf_m": 3.6, "leaves": 1, "hinge": "to", "swing_side": "left"}
    return [
        feature(PLACE, "Point", along(CORNERS, ENTRANCE_M + 0.3, right_m=0.4), **entrance),
        feature(PLACE, "Point", along(CORNERS, FIELD_GATE_M - 0.2, right_m=-0.5), **field),
    ]


def _overhead() -> list[dict[str, Any]]:
    owner = {"voltage_kv": 0.4, "height_m": 5.7, "height_error_m": 0.3, "half_width_m": 0.6, "height_from": "owner"}
    name = "Service line to the house"
    return [feature(PLACE, "LineString", POLES, name=name, kind="power", support="pole", **owner)]


def _trees(chance: Random) -> list[dict[str, Any]]:
    """Return the row as read off the imagery: the middles half a metre out, as a hand has them."""
    middles = tree_points() + 0.4 * normal(chance, 2 * len(TREES)).reshape(-1, 2)
    rows = zip(middles, TREES, strict=True)
    return [
        feature(PLACE, "Point", middle, name=f"Tree {number + 1}", height_m=height, limb_m=limb, spread_m=spread,
                dead=number == DEAD, **({"keep": True} if number in KEPT else {}))
        for number, (middle, (_, _, height, limb, spread)) in enumerate(rows)
    ]  # fmt: skip


def _beside(chainages_m: tuple[float, ...], right_m: float) -> list[Floats]:
    """Return points along the line at so far to its right."""
    return [along(CORNERS, chainage, right_m=right_m) for chainage in chainages_m]


def _services() -> list[dict[str, Any]]:
    """Return the cable of the owner's plan, with its branch to the house, and the pipe that the walk found."""
    verge = _beside((2.0, 56.0, 112.0, 172.0, 232.0, 336.0), 7.0)
    branch = [*_beside((63.0,), 7.0), *_beside((63.5, 64.0), -30.0), HOUSE]
    pipe = [TANK, *_beside((84.0, 112.0), -1.2), *_beside((128.0,), -3.0), TROUGH]
    cable = {"owner": "telephone company", "kind": "telecom", "quality": "QL-C"}
    return [
        feature(PLACE, "LineString", verge, name="Cable in the verge", **cable),
        feature(PLACE, "LineString", branch, name="Cable to the house", **cable),
        feature(PLACE, "LineString", pipe, name="Pipe, tank to trough", owner="private", kind="water", quality="QL-D"),
    ]


def _orchids() -> dict[str, Any]:
    edge = [along(CORNERS, chainage, right_m=-left) for chainage, left in ((224, 4), (231, 3.6), (232, 8), (225, 9))]
    return feature(PLACE, "Polygon", edge, name="Orchid patch", reason="rare plants, flagged off with tape")


def _tracks() -> list[dict[str, Any]]:
    to_gate = [*_beside((ENTRANCE_M - 1.0,), 13.2), *_beside((ENTRANCE_M,), 0.0), *_beside((ENTRANCE_M + 9.0,), -26.0)]
    drive = [*to_gate, (112.0, 150.0), (119.0, 184.0), (110.0, 205.0), (108.0, 222.0)]  # as painted
    field = [along(CORNERS, FIELD_GATE_M, right_m=30.0), along(CORNERS, FIELD_GATE_M, right_m=-40.0)]
    return [
        feature(PLACE, "LineString", drive, name="Drive", kind="farm track", width_m=4.0),
        feature(PLACE, "LineString", field, name="Track through the field gate", kind="gate access", width_m=3.2),
    ]


def _existing() -> list[dict[str, Any]]:
    old = [*_beside((150.0, 172.0), -0.7), *_beside((204.0,), 0.2), *_beside((232.0, 246.0), 0.3)]
    neighbour = [(-8.0, 79.2), CORNERS[0]]
    return [
        feature(PLACE, "LineString", old, name="Old wire fence", kind="pull", wires=4),
        feature(PLACE, "LineString", neighbour, name="Neighbour's fence", kind="tie in", wires=5),
    ]


def _drain() -> dict[str, Any]:
    """Return the drain that lets the dip run out to the road after rain."""
    bed = [*_beside((196.0,), -42.0), *_beside((203.0,), -16.0), *_beside((207.0,), 0.0), *_beside((209.0,), 10.8)]
    return feature(PLACE, "LineString", bed, name="Drain in the dip", kind="drain", width_m=0.8, perennial=False)


def _walk() -> list[dict[str, Any]]:
    seen = [
        (18.0, 1.0, "soil", "Loose red sand to 0.9 m, dry: the test hole fell in until it was wetted."),
        (46.0, 0.5, "phone signal", "Two bars on the crest, none in the dip."),
        (74.0, 6.0, "access", "Trucks turn in from the road here, under the service line: no tipping, no crane arm."),
        (88.0, -1.2, "service", "Blue pipe shows in the sand, likely tank to trough: depth unknown, ask the owner."),
        (142.0, -0.8, "old post", "Stump of an old strainer, cut at the ground, with wire grown into it."),
        (206.0, 0.6, "wet", "Soft after rain for some twenty metres; sand over grey clay at 0.5 m."),
        (308.5, -4.0, "tree", "Dead, limbs already down: keep from under it until it has been looked at."),
        (352.0, 0.4, "soil", "Firmer: sandy loam, the hole stood dry to 1.0 m."),
    ]
    return [
        feature(PLACE, "Point", along(CORNERS, chainage, right_m=right), kind=kind, text=text)
        for chainage, right, kind, text in seen
    ]
