"""A small plan built by hand, for testing what is made from a plan without planning one.

Two lines near 149.2 degrees east, 34.5 degrees south. A is an open rail line of 120 m in two runs: a gate, a corner
of 45 degrees, a power line over it, a limb beside it and a stretch without ground heights. B is a wire stem of 60 m
that joins A at chainage 40. Names and notes are as hostile as a file can make them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion

from fencegis.line.chainage import Line, cut, points_at
from fencegis.records.backdrop import Backdrop, Picture
from fencegis.records.notes import Note
from fencegis.records.plan import Plan
from fencegis.records.site import DrawnLine, Grid, Site
from fencegis.records.spec import Spec
from fencegis.records.tables import LAYERS, checked, empty
from fencegis.records.terrain import Operation, Patch, Terrain

LONGITUDE, LATITUDE, SCALE = 149.2, -34.5, 1.0 + 620.0 / 6_371_000.0
HOSTILE = ("</script><b>North</b>", "=cmd|' /C calc'!A0", "${1+1} `x`", "Žitava 牧場 κτήμα", "A&B \"quote\" 'single'")
GATE = (24.0, 27.84)  # 3.6 m clear between faces of two posts of 240 mm
VOID = (96.0, 110.0)  # no ground heights from here to here on A


def walk(start: tuple[float, float], *legs: tuple[float, float]) -> np.ndarray:
    """Return the corners of a walk of (bearing in degrees, metres) legs."""
    points = [start]
    for bearing_deg, length_m in legs:
        east, north = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
        points.append((points[-1][0] + length_m * east, points[-1][1] + length_m * north))
    return np.array(points)


A = Line("A", False, walk((50_000.0, 80_000.0), (80.0, 72.0), (125.0, 48.0)))
B = Line("B", False, walk(tuple(points_at(A, 40.0)[0]), (350.0, 60.0)))
LINES = {"A": A, "B": B}


def grid_wkt() -> str:
    conversion = TransverseMercatorConversion(
        latitude_natural_origin=LATITUDE,
        longitude_natural_origin=LONGITUDE,
        false_easting=50_000.0,
        false_northing=80_000.0,
        scale_factor_natural_origin=SCALE,
    )
    return str(ProjectedCRS(conversion, geodetic_crs=pyproj.CRS("EPSG:4326"), name="site grid").to_wkt())


def ground_m(line: str, chainage_m: np.ndarray) -> np.ndarray:
    """A crest of 12 % at chainage 50 of A, a dip of 10 % at 30 of B; unknown in VOID."""
    chainage = np.asarray(chainage_m, dtype=float)
    if line == "B":
        return 622.0 + 0.05 * np.abs(chainage - 30.0)
    heights = 622.0 - 0.06 * np.abs(chainage - 50.0) + 0.6
    return np.where((chainage > VOID[0]) & (chainage < VOID[1]), np.nan, heights)


def layer(name: str, rows: list[dict[str, object]]) -> gpd.GeoDataFrame:
    """Return the rows as the layer, with the geometry that their chainages give."""
    frame = checked(name, pd.DataFrame(rows)) if rows else empty(name)
    if LAYERS[name].shape == "station":
        shapes = [
            shapely.Point(points_at(LINES[line], at)[0])
            for line, at in zip(frame.line_id, frame.chainage_m, strict=True)
        ]
    else:
        stretches = zip(frame.line_id, frame.from_m, frame.to_m, strict=True)
        shapes = [shapely.LineString(cut(LINES[line], begin, end)) for line, begin, end in stretches]
    return gpd.GeoDataFrame(frame, geometry=gpd.GeoSeries(shapes, index=frame.index, crs=grid_wkt()), crs=grid_wkt())


def shares(from_m: float, to_m: float, greatest_m: float) -> list[float]:
    bays = math.ceil((to_m - from_m - 0.001) / greatest_m)
    return [from_m + (to_m - from_m) * bay / bays for bay in range(bays + 1)]


def post_rows() -> list[dict[str, object]]:
    kinds = {0.0: "strainer", GATE[0]: "gate", GATE[1]: "gate", 40.0: "strainer", 72.0: "strainer", 120.0: "strainer"}
    stands = sorted(
        {
            at
            for stretch in ((0.0, GATE[0]), (GATE[1], 40.0), (40.0, 72.0), (72.0, 120.0))
            for at in shares(*stretch, 2.373)
        }
    )
    rows = [_post("A", at, kinds.get(at, "line"), number) for number, at in enumerate(stands, start=1)]
    for row in rows:
        row["tape_m"] = float(row["chainage_m"]) - (72.0 if float(row["chainage_m"]) > 72.0 else 0.0)
        row["node_id"] = "N1" if row["chainage_m"] == 40.0 else None
    return rows + [
        _post("B", at, "strainer" if at == 60.0 else "key" if at == 30.0 else "line", number)
        for number, at in enumerate(shares(0.0, 60.0, 5.0)[1:], start=1)
    ]


def _post(line: str, at: float, kind: str, number: int) -> dict[str, object]:
    grade = 0.06 if line == "A" else 0.05
    return {
        "line_id": line,
        "chainage_m": at,
        "post_id": f"{line}{number:03d}",
        "kind": kind,
        "tape_m": at,
        "ground_chainage_m": at * math.hypot(1.0, grade),
        "ground_m": float(ground_m(line, np.array(at))),
    }


def bay_rows(posts: list[dict[str, object]]) -> list[dict[str, object]]:
    """Bays between neighbours on a line; the gate is none, and B's first starts at the junction's post on A."""
    node = next(post for post in posts if post["node_id"] == "N1")
    chains = [
        [post for post in posts if post["line_id"] == "A"],
        [node | {"line_id": "B", "chainage_m": 0.0, "ground_m": 623.5}, *(p for p in posts if p["line_id"] == "B")],
    ]
    rows: list[dict[str, object]] = []
    for chain in chains:
        for before, after in pairwise(chain):
            if before["kind"] == after["kind"] == "gate":
                continue
            length = float(after["chainage_m"]) - float(before["chainage_m"])
            grade = 6.0 if after["line_id"] == "A" else 5.0
            known = not math.isnan(float(before["ground_m"]) + float(after["ground_m"]))
            rows.append(
                {
                    "line_id": after["line_id"],
                    "from_m": before["chainage_m"],
                    "to_m": after["chainage_m"],
                    "bay_id": f"{before['post_id']}-{after['post_id']}",
                    "from_post": before["post_id"],
                    "to_post": after["post_id"],
                    "length_m": length,
                    "ground_length_m": length * math.hypot(1.0, grade / 100.0) if known else length,
                    "grade_pct": (float(after["ground_m"]) - float(before["ground_m"])) / length * 100.0,
                }
            )
    return rows


def run_rows() -> list[dict[str, object]]:
    runs = (
        ("A1", "A", 0.0, 72.0, 80.0, 0.06, "boundary"),
        ("A2", "A", 72.0, 120.0, 125.0, 0.06, "boundary"),
        ("B1", "B", 0.0, 60.0, 350.0, 0.05, "internal"),
    )
    return [
        {
            "line_id": line,
            "from_m": begin,
            "to_m": end,
            "run_id": run,
            "kind": "straight",
            "label": label,
            "length_m": end - begin,
            "ground_length_m": (end - begin) * math.hypot(1.0, grade),
            "sigma_length_m": 1.3,
            "bearing_true_deg": bearing,
            "bearing_grid_deg": (bearing - 1.2) % 360.0,
            "bearing_magnetic_deg": (bearing - 12.5) % 360.0,
            "offset_left_m": 0.8,
            "offset_right_m": 1.1,
        }
        for run, line, begin, end, bearing, grade, label in runs
    ]


def strainer_rows() -> list[dict[str, object]]:
    stands = (
        ("A", 0.0, "end", None, None),
        ("A", GATE[0], "gate", None, None),
        ("A", GATE[1], "gate", None, None),
        ("A", 40.0, "junction", None, "N1"),
        ("A", 72.0, "corner", 45.0, None),
        ("A", 120.0, "end", None, None),
        ("B", 60.0, "end", None, None),
    )
    return [
        {
            "line_id": line,
            "chainage_m": at,
            "strainer_id": f"{line}S{number}",
            "reason": reason,
            "turn_deg": turn,
            "node_id": node,
            "ground_m": float(ground_m(line, np.array(at))),
            "also": "length" if reason == "corner" else None,
        }
        for number, (line, at, reason, turn, node) in enumerate(stands, start=1)
    ]


def hazard_rows() -> list[dict[str, object]]:
    return [
        {
            "line_id": "A",
            "from_m": 12.0,
            "to_m": 31.5,
            "hazard_id": "H1",
            "kind": "overhead power",
            "clearance_m": 1.2,
            "clearance_given_m": 3.4,
            "clearance_sigma_m": 0.9,
            "required_m": 3.0,
            "rule": "an invented rule, for tests",
            "basis": f"overhead.geojson, feature 1 ({HOSTILE[0]}), not walked",
            "advice": "Ask the line's owner before the machine comes; hand work, rails and wire count as well.",
        },
        {
            "line_id": "A",
            "from_m": 80.0,
            "to_m": 84.0,
            "hazard_id": "H2",
            "kind": "tree limb",
            "clearance_m": 0.0,
            "clearance_given_m": 0.4,
            "required_m": 0.5,
            "rule": "common practice",
            "basis": "trees.geojson, feature 1, limb height as given, not walked",
            "advice": "Limb it, or drive elsewhere.",
        },
        {
            "line_id": "B",
            "from_m": 48.0,
            "to_m": 60.0,
            "hazard_id": "H3",
            "kind": "overhead power",
            "rule": "an invented rule, for tests",
            "basis": "height unknown, not walked",
            "advice": "Ask the line's owner for height and voltage.",
        },
    ]


def check_rows() -> list[dict[str, object]]:
    none_found = "none found in overhead.geojson (2 features), not walked"
    rows = (
        ("A", 0.0, 12.0, "overhead power", "clear", none_found),
        ("A", 12.0, 31.5, "overhead power", "flagged", "less than the distance asked for; see H1"),
        ("A", 31.5, 120.0, "overhead power", "clear", none_found),
        ("A", 80.0, 84.0, "tree limb", "flagged", "less than the distance asked for; see H2"),
        ("A", VOID[0], VOID[1], "side slope", "not checked", "no ground heights here"),
        ("B", 0.0, 48.0, "overhead power", "clear", none_found),
        ("B", 48.0, 60.0, "overhead power", "flagged", "height unknown; see H3"),
        ("B", 0.0, 60.0, "tree limb", "not checked", "no trees.geojson"),
        ("B", 0.0, 60.0, "buried service", "not checked", "services are not looked at yet"),
    )
    names = ("line_id", "from_m", "to_m", "kind", "status", "basis")
    return [dict(zip(names, row, strict=True)) for row in rows]


def notes() -> tuple[Note, ...]:
    return (
        Note("default", "boundary.geojson: no datum is named; WGS 84 is taken"),
        Note("repair", f"feature 1 ({HOSTILE[0]}): 2 duplicate vertices left out", "A"),
        Note("doubt", f"no ground heights from {VOID[0]:.0f} to {VOID[1]:.0f} m", "A", VOID[0]),
        Note("seen", f"rock {HOSTILE[1]} {HOSTILE[2]} {HOSTILE[3]}", "B", 17.5),
        Note("doubt", "overhead: owner to be asked before the machine comes", "A", 12.0),
    )


def site_by_hand() -> Site:
    spec = Spec.model_validate(
        {
            "name": f"Roadside {HOSTILE[4]}",
            "date": date(2026, 3, 4),
            "fence": {"kind": "post and rail", "rail_m": [4.8]},
            "machine": {"working_height_m": 5.2, "reach_m": 2.0},
        }
    )
    wire = shapely.LineString([points_at(A, 20.0)[0] + (-40.0, -90.0), points_at(A, 22.0)[0] + (10.0, 110.0)])
    overhead = gpd.GeoDataFrame(
        {"kind": ["power"], "voltage_kv": [11.0], "height_m": [8.6], "name": [HOSTILE[2]]},
        geometry=[wire],
        crs=grid_wkt(),
    )
    trees = gpd.GeoDataFrame(
        {"height_m": [14.0], "limb_m": [3.1], "spread_m": [9.0], "dead": [False], "name": [HOSTILE[3]]},
        geometry=[shapely.Point(points_at(A, 82.0)[0] + (1.0, 3.0))],
        crs=grid_wkt(),
    )
    patch = Patch(
        "elevation.tif",
        pyproj.CRS("EPSG:7855").to_wkt(),
        (1.0, 0.0, 701_000.0, 0.0, -1.0, 6_181_000.0),
        (8, 8),
        np.full((1, 8, 8), 622.0, dtype=np.float32),
        np.zeros((1, 1), dtype=np.int32),
    )
    used = Operation("WGS 84 to GDA2020", "an operation written by hand", 3.0, ("a grid that is not here",))
    return Site(
        folder_name="by_hand",
        name=f"Roadside {HOSTILE[4]}",
        spec=spec,
        grid=Grid(grid_wkt(), pyproj.CRS("EPSG:4326").to_wkt(), LONGITUDE, LATITUDE, 620.0, SCALE),
        drawn=(
            DrawnLine("A", HOSTILE[0], f"feature 1 ({HOSTILE[0]})", "post and rail", "boundary", False, A.corners, 1.0),
            DrawnLine("B", HOSTILE[1], f"feature 2 ({HOSTILE[1]})", "wire", "internal", False, B.corners, 1.0),
        ),
        terrain=Terrain((patch,), 1.0, (used,)),
        overhead=overhead,
        trees=trees,
        notes=notes()[:2],
        inputs={
            "boundary.geojson": {"sha256": "0" * 64, "size": "512"},
            "site.toml": {"sha256": "1" * 64, "size": "99"},
        },
        operations=(used,),
        unread=("canopy.tif",),
        backdrop=_backdrop,
    )


def _backdrop() -> Backdrop:
    rgba = np.full((16, 16, 4), 255, dtype=np.uint8)
    rgba[..., :3] = np.arange(16, dtype=np.uint8)[:, None, None] * 8 + 90
    return Backdrop(hillshade=Picture("hillshade", rgba, (-34.503, 149.196, -34.497, 149.206)))


def plan_by_hand() -> Plan:
    """Return the plan; nothing in it depends on a clock, on chance or on a file."""
    posts = post_rows()
    profile = [
        {"line_id": line, "chainage_m": at, "ground_m": height, "fitted_m": height, "sigma_m": 0.05}
        for line in LINES
        for at in np.arange(0.0, LINES[line].length_m + 0.1, 2.0)
        for height in [float(ground_m(line, np.array(at)))]
    ]
    return Plan(
        site=site_by_hand(),
        crs=grid_wkt(),
        runs=layer("runs", run_rows()),
        corners=layer(
            "corners",
            [
                {
                    "line_id": "A",
                    "chainage_m": 72.0,
                    "corner_id": "AC1",
                    "turn_deg": 45.0,
                    "interior_deg": 135.0,
                    "held": False,
                    "sigma_m": 0.7,
                }
            ],
        ),
        faint_breaks=layer(
            "faint_breaks",
            [
                {
                    "line_id": "A",
                    "chainage_m": 90.0,
                    "change_pct": 2.1,
                    "sigma_pct": 1.0,
                    "kind": "dip",
                    "says": "2.1 standard errors: noise alone makes as much; look on the walk",
                }
            ],
        ),
        breaks=layer(
            "breaks",
            [
                {"line_id": "A", "chainage_m": 50.0, "change_pct": -12.0, "sigma_pct": 1.1, "kind": "crest"},
                {"line_id": "B", "chainage_m": 30.0, "change_pct": 10.0, "sigma_pct": 1.4, "kind": "dip"},
            ],
        ),
        nodes=layer(
            "nodes",
            [
                {"line_id": "A", "chainage_m": 40.0, "node_id": "N1"},
                {"line_id": "B", "chainage_m": 0.0, "node_id": "N1"},
            ],
        ),
        strainers=layer("strainers", strainer_rows()),
        posts=layer("posts", posts),
        bays=layer("bays", bay_rows(posts)),
        profile=layer("profile", profile),
        soils=layer("soils", []),
        rails=layer("rails", []),
        cuts=empty("cuts"),
        gaps=layer("gaps", []),
        spots=layer("spots", []),
        yard=empty("yard"),
        divide=empty("divide"),
        strings=layer(
            "strings",
            [
                {
                    "line_id": "A",
                    "from_m": 72.0,
                    "to_m": 120.0,
                    "string_id": "A-L01",
                    "run_id": "A2",
                    "from_post": "A031",
                    "to_post": "A052",
                    "strung": "cord 1.5 mm",
                    "length_m": 48.1,
                    "drift_mm": 12.8,
                    "sag_mm": 28.4,
                    "pins": 1,
                }
            ],
        ),
        sights=layer(
            "sights",
            [
                {"line_id": "B", "chainage_m": 0.0, "sight_id": "B1-P01", "run_id": "B1", "sees": "next"},
                {"line_id": "B", "chainage_m": 60.0, "sight_id": "B1-P02", "run_id": "B1", "sees": "previous"},
            ],
        ),
        reference_pegs=checked(
            "reference_pegs",
            pd.DataFrame(
                [
                    {
                        "line_id": "A",
                        "post_id": "A001",
                        "peg": 1,
                        "way": "square",
                        "along_m": 0.0,
                        "offset_m": 3.0,
                        "tape_mm": 3000.0,
                    }
                ]
            ),
        ),
        title=empty("title"),
        gates=layer(
            "gates",
            [
                {
                    "line_id": "A",
                    "from_m": GATE[0],
                    "to_m": GATE[1],
                    "gate_id": "G1",
                    "name": HOSTILE[4],
                    "opening_m": 3.6,
                    "leaf_m": 3.6,
                    "leaves": 1,
                    "hinge": "from",
                    "swing_side": "left",
                }
            ],
        ),
        hazards=layer("hazards", hazard_rows()),
        checks=layer("checks", check_rows()),
        crossings=layer("crossings", []),
        trees=layer("trees", []),
        clearing=layer("clearing", []),
        headroom=layer("headroom", []),
        side_slopes=layer("side_slopes", []),
        access=layer("access", []),
        moves=layer("moves", []),
        clearances=empty("clearances"),
        quantities=empty("quantities"),
        drops=layer("drops", []),
        days=empty("days"),
        price=empty("price"),
        how_sure=empty("how_sure"),
        drivers=empty("drivers"),
        notes=checked(
            "notes",
            pd.DataFrame(
                [
                    {"line_id": n.line_id, "chainage_m": n.chainage_m, "severity": n.severity, "text": n.text}
                    for n in notes()
                ]
            ),
        ),
        not_computed=(
            "rails: the rails are not laid out yet",
            "divide: needs the strings' ends, not computed yet",
            "posts.length_m: needs the top line and the footing, not computed yet",
        ),
    )


FLAGS = (
    ("A", 45.0, 60.0, "buried service", "Have it located and exposed by hand.", "services.geojson, feature 1"),
    ("A", 62.0, 64.0, "tree trunk", "Shift the line.", "trees.geojson, feature 2"),
    ("A", 70.0, 74.0, "survey mark", "Tie it to two pegs first.", "pegs.geojson, feature 1"),
    ("A", 88.0, 95.0, "side slope", "Walk it.", f"roll: falls 9.0° ± 1.0° to the left {HOSTILE[0]}"),
    ("B", 5.0, 15.0, "crossing", "First choice: do not cross.", f"X1: {HOSTILE[1]}"),
    ("B", 20.0, 26.0, "keep-out", "Nothing is dug in it.", f"keepout.geojson, feature 1 ({HOSTILE[2]})"),
    ("B", 40.0, 44.0, "access", "Walk the way in.", "1.9 m between a keep-out and the line"),
    ("B", 0.0, 60.0, "parallel power", "Ask the line's owner before wire is run.", "overhead.geojson, feature 1"),
)


def register_by_hand() -> Plan:
    """Return the same plan with a flag of every kind, and a row or two in each layer that hazard steps fill."""
    rows = hazard_rows() + [
        {
            "line_id": line,
            "from_m": begin,
            "to_m": end,
            "hazard_id": f"H{number}",
            "kind": kind,
            "rule": f"{HOSTILE[2]}, in tests" if kind == "keep-out" else "an invented rule, for tests",
            "basis": basis,
            "advice": advice,
        }
        for number, (line, begin, end, kind, advice, basis) in enumerate(FLAGS, start=4)
    ]
    checks = check_rows() + [
        {"line_id": line, "from_m": begin, "to_m": end, "kind": kind, "status": "flagged", "basis": f"flagged: {basis}"}
        for line, begin, end, kind, _, basis in FLAGS
    ]
    return replace(plan_by_hand(), hazards=layer("hazards", rows), checks=layer("checks", checks), **_found_layers())


def _found_layers() -> dict[str, gpd.GeoDataFrame]:
    crossing = {
        "line_id": "B", "from_m": 5.0, "to_m": 15.0, "crossing_id": "X1", "feature": HOSTILE[0], "kind": "crossing",
        "angle_deg": 71.0, "from_bank_m": 623.2, "to_bank_m": 622.9, "bed_m": 621.6, "bed_at_m": 10.0, "span_m": 10.0,
        "drop_m": 1.5, "treatment": "swinging panel", "own_ends": True, "basis": f"X1: {HOSTILE[1]}",
    }  # fmt: skip
    whats = (("to go", 60.0, -3.1), ("to limb", 82.0, -4.2), ("to keep", 86.0, 6.0), ("to look at", 90.0, -2.0))
    trees = [
        {
            "line_id": "A", "chainage_m": at, "tree_id": f"T{number:02d}",
            "feature": f"feature {number} ({HOSTILE[3]})",
            "what": what, "why": f"because {HOSTILE[0]}", "offset_m": offset, "height_m": 14.0, "limb_m": 3.1,
            "spread_m": 9.0, "limb_to_m": 5.7 if what == "to limb" else math.nan, "dead": False,
        }
        for number, (what, at, offset) in enumerate(whats, start=1)
    ]  # fmt: skip
    stretches = (
        ("left", "dense", 76.0, 88.0, 20.5),
        ("left", "open", 88.0, 98.0, 4.0),
        ("right", "open", 84.0, 90.0, 2.0),
    )
    clearing = [
        {"line_id": "A", "from_m": begin, "to_m": end, "side": side, "density": density, "width_m": 2.2,
         "area_m2": area, "basis": f"trees.geojson {HOSTILE[0]}"}
        for side, density, begin, end, area in stretches
    ]  # fmt: skip
    headroom = [
        {"line_id": "A", "from_m": 78.0, "to_m": 86.0, "least_m": 2.4, "least_at_m": 82.0, "machines": "by hand",
         "basis": f"trees.geojson {HOSTILE[2]}"},
        {"line_id": "A", "from_m": 86.0, "to_m": 90.0, "basis": "a limb that nobody measured"},
    ]  # fmt: skip
    slope = {
        "line_id": "A", "from_m": 88.0, "to_m": 95.0, "band": "level", "fall_deg": -9.0, "sigma_deg": 1.0,
        "fall_at_m": 91.0, "along_deg": 1.0, "worst_deg": 9.1, "flag_deg": 8.0, "flagged": True, "cannot_plumb": False,
        "basis": "an 8 m plane",
    }  # fmt: skip
    access = {
        "line_id": "B", "from_m": 40.0, "to_m": 44.0, "kind": "narrow", "free_m": 1.9, "needed_m": 2.2, "side": "left",
        "basis": f"between a keep-out and the line {HOSTILE[0]}",
    }  # fmt: skip
    move = {
        "line_id": "B", "from_m": 20.0, "to_m": 26.0, "hazard_id": "H9", "kind": "keep-out", "how": "shift the line",
        "shift_m": 0.6, "says": f"0.60 m to the right {HOSTILE[0]}",
    }  # fmt: skip
    proof = pd.DataFrame(
        [
            {"thing": f"services.geojson, {HOSTILE[0]}", "kind": "buried service", "required_m": 0.61,
             "post_id": "A025", "least_m": 0.35, "kept": False, "basis": "quality level C"},
            {"thing": "keepout.geojson, feature 1", "kind": "keep-out", "required_m": 0.0, "post_id": "B004",
             "least_m": 3.43, "kept": True, "basis": "from its edge, as drawn"},
        ]
    )  # fmt: skip
    return {
        "crossings": layer("crossings", [crossing]),
        "trees": layer("trees", trees),
        "clearing": layer("clearing", clearing),
        "headroom": layer("headroom", headroom),
        "side_slopes": layer("side_slopes", [slope]),
        "access": layer("access", [access]),
        "moves": layer("moves", [move]),
        "clearances": checked("clearances", proof),
    }
