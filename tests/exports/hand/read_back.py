"""Waypoints through other programs' formats and back, held against the plan's own places."""

from __future__ import annotations

import dataclasses
import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING

import gpxpy
import numpy as np
import pyogrio
from pyproj import Geod, Transformer

from fencegis.exports.hand.files import waypoint_files
from fencegis.records.spec import Handheld

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.exports.hand.files import HandFile
    from fencegis.records.plan import Plan

METRES_A_DEGREE = 111_320.0  # of latitude and at most of longitude
MINUTE = 1.0 / 60.0


@dataclass(frozen=True)
class Form:
    """One format as gpsbabel calls it: options, the file's ending, the kind of handheld it stands for, its last digit.

    `step_deg` is the last digit that it writes, in degrees; 0 where it carries all that GPX does (20 mm then).
    """

    name: str
    kind: str | None
    step_deg: float = 0.0
    options: str = ""
    ending: str = ""

    @property
    def most_m(self) -> float:
        """How far off a place may come back: half the last digit, in both directions."""
        return max(0.020, 0.5 * self.step_deg * METRES_A_DEGREE * 2.0**0.5)


FORMS = (
    Form("gpx", None),
    Form("garmin_txt", None, options=",prec=6"),
    Form("garmin_txt", None, 0.001 * MINUTE),
    Form("ozi", None, 1e-6, ending=".wpt"),
    Form("kml", None, options=",prec=8"),
    Form("kml", None, 1e-6),
    Form("unicsv", None, 1e-6),
    Form("gdb", None),
    Form("geojson", None),
    Form("gtm", "10 letters"),
    Form("magellan", "8 letters", 0.001 * MINUTE),
    Form("holux", "8 letters", 1e-3 * MINUTE * 2.0),
    Form("holux", "6 letters", 1e-3 * MINUTE * 2.0),
)


@dataclass(frozen=True)
class ReadBack:
    """What came back: points, names that are whole, different names, the worst error in metres."""

    sent: int
    back: int
    whole: int
    unique: int
    worst_m: float


def with_handheld(plan: Plan, **keys: object) -> Plan:
    """Return the plan as if its site.toml had these keys under [handheld]."""
    spec = plan.site.spec.model_copy(update={"handheld": Handheld.model_validate(keys)})
    return dataclasses.replace(plan, site=dataclasses.replace(plan.site, spec=spec))


def through(program: str, form: Form, file: HandFile, plan: Plan, folder: Path) -> ReadBack:
    """Return what gpsbabel reads from what gpsbabel wrote in that format of one file of ours."""
    source, middle, end = folder / "sent.gpx", folder / f"middle{form.ending}", folder / "back.gpx"
    source.write_bytes(file.content)
    only = ["-x", "nuketypes,routes,tracks"]
    for command in (
        ["-i", "gpx", "-f", str(source), *only, "-o", form.name + form.options, "-F", str(middle)],
        ["-i", form.name, "-f", str(middle), *only, "-o", "gpx", "-F", str(end)],
    ):
        subprocess.run([program, *command], check=True, capture_output=True)
    points = gpxpy.parse(end.read_text(encoding="utf-8")).waypoints
    names = [point.name.strip() for point in points]  # some pad to a fixed width
    return _compared(names, np.array([(point.longitude, point.latitude) for point in points]), plan, file)


def _compared(names: list[str], lon_lat: np.ndarray, plan: Plan, file: HandFile) -> ReadBack:
    true = true_places(plan, file)
    whole = [(*place, *true[name]) for place, name in zip(lon_lat, names, strict=True) if name in true]
    away_m = np.abs(Geod(ellps="WGS84").inv(*np.array(whole).reshape(-1, 4).T)[2])
    return ReadBack(len(true), len(names), len(whole), len(set(names)), float(away_m.max(initial=0.0)))


def straight(file: HandFile, plan: Plan, folder: Path) -> dict[str, ReadBack]:
    """Return what gpxpy and GDAL read from one file of ours."""
    path = folder / "sent.gpx"
    path.write_bytes(file.content)
    points = gpxpy.parse(file.content.decode()).waypoints
    by_gdal = pyogrio.read_dataframe(path, layer="waypoints")
    return {
        "gpxpy": _compared([p.name for p in points], np.array([(p.longitude, p.latitude) for p in points]), plan, file),
        "GDAL": _compared(list(by_gdal["name"]), by_gdal.geometry.get_coordinates().to_numpy(), plan, file),
    }


def true_places(plan: Plan, file: HandFile) -> dict[str, tuple[float, float]]:
    """Return longitude and latitude by name, straight from the plan's own grid and unrounded."""
    to_degrees = Transformer.from_crs(plan.crs, "EPSG:4326", always_xy=True)
    return {place.name: to_degrees.transform(place.easting_m, place.northing_m) for place in file.places}


def one_file(plan: Plan, kind: str | None) -> tuple[Plan, HandFile]:
    """Return the plan under a kind of handheld, and its one file of waypoints with no limit on points."""
    limited = with_handheld(plan, kind=kind, points=100_000, points_in_all=1_000_000)
    (file,) = waypoint_files(limited)
    return limited, file
