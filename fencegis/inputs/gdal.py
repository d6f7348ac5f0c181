"""The one place where rasters are opened: GDAL's settings, the formats allowed, and what a mosaic may name."""

from __future__ import annotations

import os.path
import warnings
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar
from xml.etree import ElementTree as ET

import rasterio
from pyproj import CRS
from pyproj.exceptions import CRSError as UnknownCRSError
from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError, RasterioIOError

from fencegis.errors import InputError, Problem
from fencegis.inputs.crs import UnknownSystemError, datum_of
from fencegis.inputs.findings import Findings, words
from fencegis.inputs.text_file import is_within

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from rasterio.io import DatasetReader

Job = TypeVar("Job")
Done = TypeVar("Done")

# The cache in bytes (rasterio hands the number on as it is; in the environment, GDAL would read 64 as MB): GDAL's own
# choice is a share of the machine's memory; each block is read about once, so a small one does. No listing of the
# folder, so files beside a raster (world files, .aux.xml, .ovr) are not read. No Python from inside a mosaic.
SETTINGS = {
    "GDAL_CACHEMAX": 32_000_000,
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
}

_BEGINNINGS = (  # how a file of each driver begins: GeoTIFF and BigTIFF in both byte orders, PNG, JPEG 2000
    (b"II*\x00", "GTiff"),
    (b"MM\x00*", "GTiff"),
    (b"II+\x00", "GTiff"),
    (b"MM\x00+", "GTiff"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"\x00\x00\x00\x0cjP  \r\n\x87\n", "JP2OpenJPEG"),
    (b"\xff\x4f\xff\x51", "JP2OpenJPEG"),
)
_MOSAIC = b"<VRTDataset"
_LARGEST_MOSAIC_BYTES = 50_000_000  # some 100 000 tiles
_FORMATS = "GeoTIFF, a .vrt over GeoTIFFs, JPEG 2000 or PNG"


@contextmanager
def open_raster(path: Path, *, name: str, folder: Path | None) -> Iterator[DatasetReader]:
    """Open an existing local raster for reading; raise `InputError` for what is wrong with it, also while it is read.

    `name` is what faults call it. What lies inside `folder`, the site's, must not lead out of it: neither as a link nor
    as a .vrt that names files elsewhere. A raster outside was typed by the user and is trusted that far; so is any when
    `folder` is None.
    """
    found = Findings(name)
    driver = _allowed(path, found, folder=folder)
    if driver is None or found.faults:
        raise InputError(found.problems)
    try:
        with rasterio.Env(**SETTINGS), warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # told as a fault by `place_faults`
            with rasterio.open(path.absolute(), driver=driver) as raster:
                yield raster
    except (RasterioError, CRSError) as error:
        raise InputError([_unreadable(error, path, name)]) from error


def by_two(raster: DatasetReader, work: Callable[[DatasetReader, Job], Done], jobs: Sequence[Job]) -> list[Done]:
    """Return `work(raster, job)` for each job, in order; the second half done by a thread with a handle of its own.

    To decode is nearly all the work of reading a GeoTIFF, and GDAL does it outside Python's lock. Others are read by
    one: a mosaic's tiles would be opened twice.
    """
    half = len(jobs) // 2 if raster.driver == "GTiff" else 0

    def second_half() -> list[Done]:
        settings = {name: value for name, value in SETTINGS.items() if name != "GDAL_CACHEMAX"}  # that is the process's
        with rasterio.Env(**settings), rasterio.open(raster.name, driver=raster.driver) as again:
            return [work(again, job) for job in jobs[len(jobs) - half :]]

    if not half:
        return [work(raster, job) for job in jobs]
    with ThreadPoolExecutor(max_workers=1) as other:
        second = other.submit(second_half)
        return [work(raster, job) for job in jobs[: len(jobs) - half]] + second.result()


def place_faults(raster: DatasetReader, *, name: str) -> list[Problem]:
    """Return what is wrong with where an open raster says it lies."""
    found = Findings(name)
    beside = "files beside it, such as .tfw or .aux.xml, are not read"
    crs = flat_crs(raster)
    if crs is None:
        fix = f"write its coordinate system into the file (gdal_edit.py -a_srs EPSG:…); {beside}."
        found.fault("", "it does not say which coordinate system it is in.", fix=fix)
    elif not _rests_on_degrees(crs):
        fix = "warp it to a national grid or to longitude and latitude (gdalwarp -t_srs EPSG:…)."
        found.fault("", f"its system, {words(crs.name)}, is neither a map grid nor longitude and latitude.", fix=fix)
    if raster.transform.is_identity or raster.transform.is_degenerate:
        fix = f"export it again as a GeoTIFF with its georeferencing inside; {beside}."
        found.fault("", "it does not say where its cells lie.", fix=fix)
    return found.faults


def _rests_on_degrees(crs: CRS) -> bool:
    try:
        datum_of(crs)
    except UnknownSystemError:
        return False
    return crs.is_projected or crs.is_geographic


def flat_crs(raster: DatasetReader) -> CRS | None:
    """Return the horizontal part of a raster's system, None when it has none."""
    crs = full_crs(raster)
    return crs and (crs.sub_crs_list[0] if crs.is_compound else crs).to_2d()


def full_crs(raster: DatasetReader) -> CRS | None:
    """Return a raster's system, that of its heights included where it states one; None when it has none."""
    try:
        return CRS(raster.crs.to_wkt(version="WKT2_2019")) if raster.crs else None
    except UnknownCRSError:
        return None


def _allowed(path: Path, found: Findings, *, folder: Path | None) -> str | None:
    """Return the driver for the file, None and a fault when it is not one of ours."""
    try:
        if not path.is_file():
            found.fault("", "there is no such file.", fix="see that the name is right and the file on this machine.")
            return None
        home = folder if folder and _lies_in(folder, path) else None
        if home and not is_within(home, path):
            fix = "put a copy of the file itself there, or give the shared raster with --elevation."
            found.fault("", "it is a link that leaves the site folder.", fix=fix)
            return None
        driver = _driver(path)
        if driver == "VRT":
            _check_mosaic(path, found, folder=home, seen={path.resolve()})
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle, before Python 3.13
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        found.fault("", f"it cannot be read ({reason}).", fix="see that the file is whole and that you may read it.")
        return None
    if driver is None:
        what = "the file is empty." if not path.stat().st_size else "it is not a raster of a kind that is read here."
        found.fault("", what, fix=f"export it as {_FORMATS}.")
    return driver


def _lies_in(folder: Path, path: Path) -> bool:
    return Path(os.path.abspath(path)).is_relative_to(os.path.abspath(folder))  # noqa: PTH100 (`..` goes, links stay)


def _driver(path: Path) -> str | None:
    with path.open("rb") as file:
        start = file.read(1024)
    if _MOSAIC in start:
        return "VRT"
    return next((driver for beginning, driver in _BEGINNINGS if start.startswith(beginning)), None)


def _check_mosaic(path: Path, found: Findings, *, folder: Path | None, seen: set[Path]) -> None:
    """Add the faults of a .vrt and of those it names: only plain mosaics of rasters that are there, inside `folder`."""
    root = _mosaic_xml(path, found)
    if root is None:
        return
    if any(element.get("subClass") for element in root.iter()) or root.find(".//PixelFunctionType") is not None:
        fix = "make it with gdalbuildvrt, or export one GeoTIFF."
        found.fault("", f"{words(path.name)} is more than a mosaic: it computes or warps.", fix=fix)
        return
    for source in root.iter():
        if source.tag in {"SourceFilename", "SourceDataset"}:
            _check_source(source, path, found, folder=folder, seen=seen)


def _mosaic_xml(path: Path, found: Findings) -> ET.Element | None:
    again = "make the mosaic again with gdalbuildvrt."
    if path.stat().st_size > _LARGEST_MOSAIC_BYTES:
        found.fault("", f"{words(path.name)} is too large for a list of tiles.", fix=again)
        return None
    text = path.read_bytes()
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:  # no mosaic has them; they can make a parser read other files
        found.fault("", f"{words(path.name)} holds XML declarations that no mosaic needs.", fix=again)
        return None
    try:
        return ET.fromstring(text)
    except ET.ParseError as error:
        found.fault("", f"{words(path.name)} is not whole ({words(error)}).", fix=again)
        return None


def _check_source(source: ET.Element, mosaic: Path, found: Findings, *, folder: Path | None, seen: set[Path]) -> None:
    given = source.text or ""
    told = words(given.strip() or "a file without a name")
    place = mosaic.parent / given if source.get("relativeToVRT") == "1" else Path(given)
    if folder is not None and not is_within(folder, place):
        fix = "copy its tiles into the folder elevation/ of the site, or give the mosaic with --elevation."
        found.fault("", f"it names {told}, which is outside the site folder.", fix=fix)
    elif given.startswith("/vsi") or not place.is_file():
        found.fault("", f"it names {told}, which is not there.", fix="make the mosaic again over the tiles there are.")
    elif (driver := _driver(place)) is None:
        found.fault("", f"it names {told}, which is no raster of a kind read here.", fix=f"give tiles of {_FORMATS}.")
    elif driver == "VRT" and place.resolve() not in seen:
        seen.add(place.resolve())
        _check_mosaic(place, found, folder=folder, seen=seen)


def _unreadable(error: Exception, path: Path, name: str) -> Problem:
    reason = str(error.__cause__ if isinstance(error, RasterioIOError) and error.__cause__ else error)
    if "missing codec" in reason:
        codec = words(reason.rpartition("codec")[2].strip(" ."))
        fix = "save it again with a common one: gdal_translate -co COMPRESS=DEFLATE."
        return Problem(name, "", f"it is compressed by a method that is not installed here ({codec}).", fix)
    reason = words(reason.replace(str(path), name), most=160)
    return Problem(name, "", f"it cannot be read ({reason}).", "see that the file is whole: copy or export it again.")
