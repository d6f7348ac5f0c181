"""The table of speed and memory, as ratios within one run on one machine. Prints Markdown; asserts nothing.

    python tests/benchmarks/ratios.py [FOLDER]

The cases are made in FOLDER when they are not there (about 350 MB); without it in a folder that is removed.
Yardsticks: D, decoding with GDAL alone, by one thread, the blocks that the line touches; I, importing the libraries in
a fresh process. Each time is the least of several, files warm, each in a process of its own.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import make_case

ROOT = Path(__file__).parents[2]
IMPORTS = "import geopandas, rasterio, folium, matplotlib.figure, scipy.optimize"
ALONG_M = 1.0
CORRIDOR_M = 33.0  # 30 m and three standard deviations of the drawing: what a plan reads each side of a line
GROWTH = ((1, 10, 100), (3, 30, 300))


def main() -> None:
    if sys.argv[1:2] == ["--child"]:
        sys.stdout.write(json.dumps(CHILDREN[sys.argv[2]](Path(sys.argv[3]))))
    elif sys.argv[1:]:
        sys.stdout.write(table(Path(sys.argv[1]).absolute()))
    else:
        with tempfile.TemporaryDirectory() as folder:
            sys.stdout.write(table(Path(folder)))


def table(folder: Path) -> str:
    """Return the whole table for the fixed case and its sisters."""
    site = make_case.case(folder, "loop-30km")
    imports = timed([sys.executable, "-c", IMPORTS], times=5)[0]
    decoding = child("decode", site)
    rows = [
        ("D: decoding by one thread the blocks that the line touches", f"{decoding:.2f} s", "", ""),
        ("I: importing the libraries", f"{imports:.2f} s", "", ""),
        against("heights at 1 m steps, reading included", child("heights", site), decoding, "D", 1.5),
        against("the same with all that a plan reads, 33 m each side", child("corridor", site), decoding, "D", None),
        against("rasterio.sample at the same points", child("sample", site), decoding, "D", None),
        against("read_site", child("read", site), imports, "I", None),
        against("plan_site", child("plan", site), imports, "I", 2.0),
    ]
    seconds, peak_mb = command(site)
    rows += [
        against("the whole command, every output written", seconds, imports, "I", 5.0),
        ("peak memory of the command", f"{peak_mb:.0f} MB", "", "< 450 MB"),
    ]
    wide = command(make_case.case(folder, "loop-30km-wide"))[1]
    rows.append(
        ("the same on a raster of ten times the cells", f"{wide:.0f} MB", f"{wide / peak_mb:.2f} ×", "the same")
    )
    for lengths in GROWTH:
        rows += growth(folder, lengths)
    return f"{machine()}\n\n{markdown(rows)}"


def growth(folder: Path, lengths: tuple[int, ...]) -> list[tuple[str, str, str, str]]:
    """Return how the time of plan_site, and the memory of the command, grow with the line."""
    rows = []
    last, last_mb, last_km = None, 0.0, 0
    for kilometres in lengths:
        site = make_case.case(folder, f"folded-{kilometres}km")
        seconds, (_, peak_mb) = child("plan", site), command(site, times=1)
        grown = f"{seconds / last:.1f} × the time of {last_km} km" if last else ""
        rows.append((f"plan_site, {kilometres} km folded", f"{seconds:.2f} s", grown, "≤ 12 ×" if last else ""))
        each = f"{(peak_mb - last_mb) / (kilometres - last_km) * 10:.0f} MB more each 10 km" if last else ""
        rows.append((f"peak memory, {kilometres} km folded", f"{peak_mb:.0f} MB", each, "< 40 MB" if last else ""))
        last, last_mb, last_km = seconds, peak_mb, kilometres
    return rows


def against(what: str, seconds: float, yardstick: float, name: str, most: float | None) -> tuple[str, str, str, str]:
    return what, f"{seconds:.2f} s", f"{seconds / yardstick:.2f} {name}", f"≤ {most:g} {name}" if most else "none"


def markdown(rows: list[tuple[str, str, str, str]]) -> str:
    return (
        "\n".join(f"| {' | '.join(row)} |" for row in [("what", "measured", "ratio", "aim"), ("---",) * 4, *rows])
        + "\n"
    )


def machine() -> str:
    """Return what it ran on."""
    from importlib.metadata import version

    import rasterio

    names = Path("/proc/cpuinfo")
    models = [
        line.partition(":")[2].strip() for line in names.read_text().splitlines() if line.startswith("model name")
    ]
    libraries = ", ".join(f"{name} {version(name)}" for name in ("geopandas", "shapely", "pyproj", "rasterio", "numpy"))
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores ({models[0] if models else 'unnamed'}), "
        f"Python {platform.python_version()}, {libraries}, GDAL {rasterio.__gdal_version__}."
    )


def command(site: Path, *, times: int = 3) -> tuple[float, float]:
    """Return the least time of `fencegis plan` with every output written, and its peak memory in MB."""
    with tempfile.TemporaryDirectory() as out:
        plan = [sys.executable, "-m", "fencegis", "plan", str(site), "--out", f"{out}/plan"]
        return timed(plan, times=times)


def timed(command_: list[str], *, times: int) -> tuple[float, float]:
    """Return the least time in seconds, and the greatest peak memory in MB, of a command run one time more."""
    seconds, peak_kb = [], 0
    for _ in range(times + 1):  # the first warms the files
        start = time.perf_counter()
        running = subprocess.Popen(command_, cwd=ROOT, stdout=subprocess.DEVNULL)
        _, status, used = os.wait4(running.pid, 0)
        seconds.append(time.perf_counter() - start)
        running.returncode = os.waitstatus_to_exitcode(status)
        if running.returncode:
            raise subprocess.CalledProcessError(running.returncode, command_)
        peak_kb = max(peak_kb, used.ru_maxrss)
    return min(seconds[1:]), peak_kb / 1024


def child(what: str, site: Path) -> float:
    """Return the seconds of one of CHILDREN in a process of its own."""
    command_ = [sys.executable, __file__, "--child", what, str(site)]
    where = {**os.environ, "PYTHONPATH": str(ROOT)}
    return float(json.loads(subprocess.run(command_, env=where, capture_output=True, text=True, check=True).stdout))


def least(step: object, *, times: int = 5) -> float:
    """Return the least time of a step that is run one time more."""
    seconds = []
    for _ in range(times + 1):
        start = time.perf_counter()
        step()  # type: ignore[operator]
        seconds.append(time.perf_counter() - start)
    return min(seconds[1:])


def true_line(site: Path) -> make_case.Floats:
    """Return the (n, 2) corners of the loop as meant, in the raster's own grid, the first repeated at the end."""
    import numpy as np

    corners = make_case.loop(30_000.0)
    return np.vstack([corners, corners[:1]])


def each_metre(site: Path) -> make_case.Floats:
    import numpy as np

    path = true_line(site)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.arange(0.0, along[-1], ALONG_M)
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])


def decode(site: Path) -> float:
    import rasterio
    from rasterio.windows import Window

    points = each_metre(site)
    block = make_case.BLOCK
    row = ((make_case.NORTH - points[:, 1]) // block).astype(int)
    column = ((points[:, 0] - make_case.WEST) // block).astype(int)
    touched = sorted(set(zip(row.tolist(), column.tolist(), strict=True)))

    def step() -> None:
        with rasterio.Env(GDAL_CACHEMAX=64_000_000), rasterio.open(site / "elevation.tif") as raster:
            for down, across in touched:
                raster.read(1, window=Window(across * block, down * block, block, block))

    return least(step)


def heights_within(site: Path, reach_m: float) -> float:
    import numpy as np
    from pyproj import CRS

    from fencegis.inputs.terrain import read_terrain
    from fencegis.line.ground import heights

    path, points, grid = true_line(site), each_metre(site), CRS(make_case.CRS).to_wkt()

    def step() -> None:
        source = [site / "elevation.tif"]
        read = read_terrain(source, [(path, reach_m)], grid_wkt=grid, vertical_unit=None, folder=site)
        assert read.terrain is not None
        level = heights(read.terrain, grid, points)
        assert np.isfinite(level).all()

    return least(step)


def sample(site: Path) -> float:
    import rasterio

    points = each_metre(site).tolist()

    def step() -> None:
        with rasterio.Env(GDAL_CACHEMAX=64_000_000), rasterio.open(site / "elevation.tif") as raster:
            list(raster.sample(points))

    return least(step, times=2)


def read(site: Path) -> float:
    from fencegis import read_site

    return least(lambda: read_site(site), times=2)


def plan(site: Path) -> float:
    from fencegis import plan_site, read_site

    known = read_site(site)
    return least(lambda: plan_site(known), times=1 if "300" in site.name else 3)


CHILDREN = {
    "decode": decode,
    "heights": lambda site: heights_within(site, 0.0),
    "corridor": lambda site: heights_within(site, CORRIDOR_M),
    "sample": sample,
    "read": read,
    "plan": plan,
}

if __name__ == "__main__":
    main()
