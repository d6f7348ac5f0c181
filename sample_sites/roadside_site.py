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
                dead=number == DEAD)
        for number, (middle, (_, _, height, limb, spread)) in enumerate(rows)
    ]  # fmt: skip


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
