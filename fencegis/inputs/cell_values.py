"""What the numbers in an elevation raster mean: their unit and scale, and which of them are no height at all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from pyproj.database import get_units_map
from rasterio.enums import ColorInterp, MaskFlags

from fencegis.inputs.findings import Findings, words
from fencegis.inputs.gdal import full_crs

if TYPE_CHECKING:
    from typing import Literal

    import numpy.typing as npt
    from pyproj import CRS
    from rasterio.io import DatasetReader

    from fencegis.records.notes import Severity

    VerticalUnit = Literal["m", "ft", "cm"] | None

# No ground is lower than the Dead Sea's shore (−440 m) or higher than Everest (8 849 m). −9999, −32768, −3.4e38, 1e20
# and the like are far outside, in feet too.
LOWEST_M, HIGHEST_M = -500.0, 9000.0
# A scale or an offset can bring these among the heights, so they are looked for in the numbers as stored.
VOID_NUMBERS = (-9999.0, -32768.0, -32767.0, -99999.0)
FOOT_M = 0.3048  # the international foot; the US survey foot is 2 parts per million longer
UNITS_M = {"m": 1.0, "ft": FOOT_M, "cm": 0.01}
ELEVATION_UNIT = "[elevation] vertical_unit"
SAME_FOOT_M = 1e-5  # the two feet differ by 6e-7


class Remark(NamedTuple):
    """A note that several rasters may share; the names are put before it."""

    severity: Severity
    text: str


@dataclass(frozen=True)
class Meaning:
    """How the stored numbers of a raster's first band become metres; `masked` when the file has a mask or alpha."""

    nodata: float | None
    masked: bool
    scale: float
    offset: float
    unit_m: float

    @property
    def plain(self) -> bool:
        """Whether the stored numbers are metres as they are."""
        return (self.scale, self.offset, self.unit_m) == (1.0, 0.0, 1.0)


def meaning_of(
    raster: DatasetReader,
    found: Findings,
    remarks: list[Remark],
    *,
    vertical_unit: VerticalUnit,
    unit_key: str = ELEVATION_UNIT,
) -> Meaning:
    """Return the meaning of the first band; its faults go to `found`, what is worth knowing to `remarks`.

    `vertical_unit` is the site file's word for the unit of height, None when it says nothing, and `unit_key` its key.
    """
    dtype = np.dtype(raster.dtypes[0])
    if dtype.kind not in "iuf":
        fix = "export the heights as 32-bit floating point numbers."
        found.fault("", f"its cells are of the type {words(raster.dtypes[0])}, which is no height.", fix=fix)
    elif raster.colorinterp[0] in {ColorInterp.red, ColorInterp.palette}:
        fix = "give the raster of heights, not a coloured picture of it."
        found.fault("", "it is a picture: its cells are colours, not heights.", fix=fix)
    elif sum(meant != ColorInterp.alpha for meant in raster.colorinterp) > 1:
        remarks.append(Remark("doubt", f"it has {raster.count} bands; the first is taken for the heights."))
    return Meaning(
        nodata=_as_stored(raster.nodata, dtype),
        masked=MaskFlags.per_dataset in raster.mask_flag_enums[0],
        scale=float(raster.scales[0]),
        offset=float(raster.offsets[0]),
        unit_m=_unit_m(raster, found, remarks, vertical_unit=vertical_unit, unit_key=unit_key),
    )


def heights_of(
    stored: npt.NDArray[np.generic], mask: npt.NDArray[np.uint8] | None, meaning: Meaning
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.generic]]:
    """Return heights in metres in the shape of `stored`, NaN where void, and the numbers that are untagged voids.

    These are what stands in the file where neither its void number nor its mask says void, and is no height of ground.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        if meaning.plain:
            heights = stored.astype(np.float32)
        else:
            heights = ((stored.astype(float) * meaning.scale + meaning.offset) * meaning.unit_m).astype(np.float32)
        good = (heights > LOWEST_M) & (heights < HIGHEST_M)
        told = np.isnan(heights)
    if not meaning.plain:
        good &= ~np.isin(stored, VOID_NUMBERS)
    if meaning.nodata is not None:
        told |= stored == meaning.nodata
    if mask is not None:
        told |= mask == 0
    good &= ~told
    if good.all():
        return heights, np.empty(0, dtype=stored.dtype)  # no view, which would keep `stored` alive
    heights[~good] = np.nan
    return heights, stored[~good & ~told]


def _as_stored(nodata: float | None, dtype: np.dtype[np.generic]) -> float | None:
    """Return the void number as the band holds it, so that it can be compared exactly; None when it holds none."""
    if nodata is None or np.isnan(nodata):
        return None
    if dtype.kind != "f":
        return int(nodata) if float(nodata).is_integer() else None
    with np.errstate(over="ignore"):
        return float(np.float64(nodata).astype(dtype))


def _unit_m(
    raster: DatasetReader, found: Findings, remarks: list[Remark], *, vertical_unit: VerticalUnit, unit_key: str
) -> float:
    """Return the length of the unit of height in metres: as the raster states it, else the site file, else one."""
    crs = full_crs(raster)
    stated = _stated(raster.units[0], crs, found, fix_by="" if vertical_unit else unit_key)
    if len(set(stated.values())) > 1:
        both = ", ".join(f"{source} say {unit:.10g} m" for source, unit in stated.items())
        found.fault("", f"it states two units of height: {both}.", fix="export it again with the right one.")
    if not stated:
        return _unstated(crs, remarks, vertical_unit=vertical_unit)
    unit = next(iter(stated.values()))
    keyed = UNITS_M[vertical_unit] if vertical_unit else unit
    if abs(keyed - unit) > SAME_FOOT_M:
        fault = f"{unit_key} says {vertical_unit}, but it states a unit of height of {unit:.10g} m."
        found.fault("", fault, fix="take the key out of site.toml, or export the raster again with the right unit.")
    if unit != 1.0:
        remarks.append(Remark("repair", f"its heights are in units of {unit:.10g} m and were turned into metres."))
    return unit


def _stated(tag: str | None, crs: CRS | None, found: Findings, *, fix_by: str) -> dict[str, float]:
    """Return the unit of height by each place that states one: the band's tag and the height part of the system.

    `fix_by` is the key of the site file that would say what a tag unknown here means; empty when it has said so.
    """
    stated = {}
    tag = (tag or "").strip()
    if tag.casefold() in _units():
        stated["its unit tag"] = _units()[tag.casefold()]
    elif tag and fix_by:
        fix = f'say {fix_by} = "m" or "ft" in site.toml.'
        found.fault("", f"its unit of height, “{words(tag)}”, is not known here.", fix=fix)
    upright = crs.sub_crs_list[1].axis_info[0] if crs and crs.is_compound else None
    if crs and not crs.is_compound and len(crs.axis_info) == len(("east", "north", "up")):
        upright = crs.axis_info[2]
    if upright:
        stated["its height system"] = round(upright.unit_conversion_factor, 12)
    return stated


def _unstated(crs: CRS | None, remarks: list[Remark], *, vertical_unit: VerticalUnit) -> float:
    if vertical_unit == "cm":
        text = "its heights are in centimetres, as site.toml says, and were turned into metres."
        remarks.append(Remark("repair", text))
    if vertical_unit == "ft":
        text = "its heights are in feet, as site.toml says, and were turned into metres by the international foot."
        remarks.append(Remark("repair", text))
    if vertical_unit is None:
        plan = crs.axis_info[0].unit_name if crs and crs.is_projected and crs.axis_info else "metre"
        text = "it does not state the unit of its heights; metres are taken."
        doubt = f"{text[:-1]}, though its map grid is in {words(plan)}: look whether the heights are in feet."
        remarks.append(Remark("default", text) if plan == "metre" else Remark("doubt", doubt))
    return UNITS_M[vertical_unit or "m"]


@cache
def _units() -> dict[str, float]:
    """Return the length in metres of each unit that a band may be tagged with, by its name in small letters."""
    survey_foot_m = 1200 / 3937
    units = {"meter": 1.0, "meters": 1.0, "metres": 1.0, "feet": FOOT_M}
    units |= {"ftus": survey_foot_m, "us survey feet": survey_foot_m}
    for unit in get_units_map(category="linear").values():
        units[unit.name.casefold()] = unit.conv_factor
        if unit.proj_short_name:
            units[unit.proj_short_name.casefold()] = unit.conv_factor
    return {name: round(length, 12) for name, length in units.items()}
