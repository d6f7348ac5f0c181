"""The canopy raster as it comes: metres, feet, centimetres, nothing but 0 and 1, below the ground, elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.transform import Affine

from fencegis import read_site
from fencegis.errors import InputError
from fencegis.inputs.canopy import CanopyRead, read_canopy
from fencegis.inputs.crs import geographic, working_grid
from fencegis.line.ground import heights

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

GRID = working_grid(np.array([[149.0, -34.0]]), datum=geographic("WGS 84"), height_m=200.0).wkt
UTM = "EPSG:32755"
LINE = np.array([[49_950.0, 80_000.0], [50_050.0, 80_000.0]])
SIDE = 400


def stand(highest: float) -> np.ndarray:
    """Return cells with bare ground and one block of canopy about the middle."""
    cells = np.zeros((SIDE, SIDE), dtype=np.float32)
    cells[190:210, 190:210] = highest
    return cells


def write(path: Path, cells: np.ndarray, *, away_m: float = 0.0, units: str | None = None, **how: object) -> Path:
    east, north = Transformer.from_crs(GRID, UTM, always_xy=True).transform(50_000, 80_000)
    affine = Affine(1.0, 0, east - SIDE / 2 + away_m, 0, -1.0, north + SIDE / 2)
    profile = {"driver": "GTiff", "crs": UTM, "transform": affine, "dtype": cells.dtype.name, "tiled": True}
    profile |= {"blockxsize": 64, "blockysize": 64}
    with rasterio.open(path, "w", count=1, height=SIDE, width=SIDE, **profile | how) as file:
        file.write(cells[None])
        if units:
            file.units = [units]
    return path


def read(path: Path, unit: str | None = None) -> CanopyRead:
    return read_canopy(path, [(LINE, 10.0)], grid_wkt=GRID, unit=unit, folder=path.parent)


def at_the_middle(result: CanopyRead) -> float:
    assert result.canopy, result.problems
    return float(heights(result.canopy.heights, GRID, [[50_000.0, 80_000.0]])[0])


def notes(result: CanopyRead) -> str:
    return "\n".join(f"{note.severity}: {note.text}" for note in result.notes)


def fault(result: CanopyRead) -> str:
    assert result.canopy is None
    (problem,) = result.problems
    return str(problem)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "canopy.tif"


def test_heights_in_metres(path: Path) -> None:
    result = read(write(path, stand(12.0)))
    assert at_the_middle(result) == 12.0
    assert not result.canopy.cover_only
    assert notes(result) == "default: canopy.tif: it does not state the unit of its heights; metres are taken."
    assert len(result.inputs["canopy.tif"]["sha256"]) == 64
    assert result.operations[0].accuracy_m is not None


def test_only_the_tiles_that_the_line_touches_are_read(path: Path) -> None:
    (patch,) = read(write(path, stand(12.0))).canopy.heights.patches
    assert patch.tiles.size < SIDE * SIDE / 4


@pytest.mark.parametrize(
    ("highest", "unit", "metres", "said"),
    [
        (40.0, "ft", 12.192, "its heights are in feet, as site.toml says"),
        (1250.0, "cm", 12.5, "its heights are in centimetres, as site.toml says"),
        (1.0, "m", 1.0, ""),
    ],
)
def test_the_unit_that_the_site_file_names(path: Path, highest: float, unit: str, metres: float, said: str) -> None:
    result = read(write(path, stand(highest)), unit)
    assert at_the_middle(result) == pytest.approx(metres)
    assert said in notes(result)
    assert not result.canopy.cover_only


def test_the_unit_that_the_raster_names(path: Path) -> None:
    result = read(write(path, stand(40.0), units="ft"))
    assert at_the_middle(result) == pytest.approx(12.192)
    contradicted = read(write(path, stand(40.0), units="ft"), "cm")
    assert "[canopy] unit says cm, but it states a unit of height of 0.3048 m." in fault(contradicted)


@pytest.mark.parametrize("highest", [1250.0, 121.0, 255.0])
def test_heights_that_no_tree_has_are_a_fault(path: Path, highest: float) -> None:
    said = fault(read(write(path, stand(highest))))
    assert said.startswith(
        f"canopy.tif: it has canopy {highest:.0f} m high near the line: is it in feet or centimetres"
    )
    assert 'Fix: say [canopy] unit = "ft" or "cm" in site.toml, or tag the void number in the file.' in said


def test_heights_that_few_trees_have_are_doubted(path: Path) -> None:
    assert "it has canopy 98 m high near the line: see that it is metres" in notes(read(write(path, stand(98.0))))
    assert "see that it is metres" not in notes(read(write(path, stand(59.0))))


@pytest.mark.parametrize("dtype", ["uint8", "float32"])
def test_nothing_but_0_and_1_is_cover_of_unknown_height(path: Path, dtype: str) -> None:
    result = read(write(path, stand(1.0).astype(dtype)))
    assert result.canopy.cover_only
    assert "doubt: canopy.tif: it holds nothing but 0 and 1 near the line: taken as cover" in notes(result)


def test_nothing_but_0_is_no_canopy_in_any_unit(path: Path) -> None:
    result = read(write(path, stand(0.0)))
    assert not result.canopy.cover_only
    assert at_the_middle(result) == 0.0


def test_below_the_ground_is_noise_or_void(path: Path) -> None:
    result = read(write(path, stand(-0.3)))
    assert at_the_middle(result) == 0.0
    assert (
        "repair: canopy.tif: 400 cells lie up to 0.5 m below the ground, as noise does: taken as no canopy."
        in notes(result)
    )
    result = read(write(path, stand(-2.0)))
    assert np.isnan(at_the_middle(result))
    assert "repair: canopy.tif: 400 cells lie more than 0.5 m below the ground: taken as void." in notes(result)


@pytest.mark.parametrize("void", [-9999.0, -32768.0])
def test_untagged_void_numbers_are_void(path: Path, void: float) -> None:
    result = read(write(path, stand(void)))
    assert np.isnan(at_the_middle(result))
    assert f"400 cells hold {void:g}, which is no height" in notes(result)


def test_elsewhere_or_void_under_the_line_is_not_checked(path: Path) -> None:
    result = read(write(path, stand(9.0), away_m=5_000.0))
    assert np.isnan(at_the_middle(result))
    assert notes(result) == "doubt: canopy.tif: it has no cell near the line, so canopy is not checked."
    assert result.inputs == {}
    result = read(write(path, np.full((SIDE, SIDE), -1.0, dtype=np.float32), nodata=-1.0))
    assert "doubt: canopy.tif: every cell under the line is void, so canopy is not checked." in notes(result)


def test_the_fingerprint_is_of_the_cells_used(path: Path) -> None:
    one = read(write(path, stand(9.0))).inputs
    far = stand(9.0)
    far[5, 5] = 20.0
    assert read(write(path, far)).inputs["canopy.tif"]["sha256"] == one["canopy.tif"]["sha256"]
    far[200, 200] = 20.0
    assert read(write(path, far)).inputs["canopy.tif"]["sha256"] != one["canopy.tif"]["sha256"]


def test_a_canopy_that_cannot_be_read_is_a_fault_of_the_site(make_site: Callable[..., Path]) -> None:
    with pytest.raises(InputError) as caught:
        read_site(make_site(canopy_tif=b"no raster"))
    (problem,) = caught.value.problems
    assert str(problem).startswith("canopy.tif: it is not a raster of a kind that is read here.")


def test_a_site_has_its_canopy_and_its_hash(make_site: Callable[..., Path]) -> None:
    folder = make_site(site_toml='[canopy]\nunit = "cm"\n')
    cells = np.full((300, 300), 850, dtype=np.int16)
    affine = rasterio.transform.from_bounds(148.14, -35.26, 148.16, -35.24, 300, 300)
    with rasterio.open(
        folder / "canopy.tif", "w", driver="GTiff", count=1, height=300, width=300, dtype="int16", crs="EPSG:4326",
        transform=affine,
    ) as file:  # fmt: skip
        file.write(cells[None])
    site = read_site(folder)
    assert site.canopy is not None
    assert float(heights(site.canopy.heights, site.grid.wkt, site.drawn[0].vertices[:1])[0]) == pytest.approx(8.5)
    assert site.inputs["canopy.tif"]["columns"] == "300"
    assert site.terrain is None
    assert site.unread == ()
