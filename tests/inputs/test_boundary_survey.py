"""The line as a survey's points or as a GeoPackage: the same line as in GeoJSON, and the ways to hand it over wrong."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import Transformer

from fencegis.inputs.boundary import BoundaryRead, read_boundary
from fencegis.inputs.crs import geographic
from fencegis.records.spec import Boundary, Spec

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SURVEYED = Spec(boundary=Boundary(drawn_from="survey"))
POINTS = [(604_000.123, 6_098_000.456), (604_200.0, 6_098_010.0), (604_210.5, 6_098_150.25)]
ROWS = "".join(f"{number},{e},{n}\n" for number, (e, n) in enumerate(POINTS, 1))
MGA = "EPSG:28355"  # GDA94 / MGA zone 55
LONLAT = np.column_stack(Transformer.from_crs(MGA, "EPSG:4283", always_xy=True).transform(*np.transpose(POINTS)))


@pytest.fixture
def points(tmp_path: Path) -> Callable[..., BoundaryRead]:
    def read(text: str, *, spec: Spec = SURVEYED, datum: str | None = None) -> BoundaryRead:
        path = tmp_path / "boundary.csv"
        path.write_text(text, encoding="utf-8")
        return read_boundary(path, spec=spec, datum=datum and geographic(datum))

    return read


@pytest.fixture
def package(tmp_path: Path) -> Callable[..., BoundaryRead]:
    def read(*shapes: Any, layer: str = "boundary", crs: str | None = MGA, **columns: Any) -> BoundaryRead:
        path = tmp_path / "boundary.gpkg"
        gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs).to_file(path, layer=layer, driver="GPKG")
        return read_boundary(path, spec=SURVEYED, datum=None)

    return read


def told(done: BoundaryRead) -> str:
    assert done.lines == ()
    return "\n".join(map(str, done.problems))


def notes(done: BoundaryRead) -> str:
    assert [str(problem) for problem in done.problems] == []
    return "\n".join(f"{note.severity}: {note.text}" for note in done.notes)


class TestPoints:
    @pytest.mark.parametrize(
        "text",
        [
            f"# EPSG:28355\nP,E,N\n{ROWS}",
            f"# surveyed in May\n# epsg 28355\np,e,n\n{ROWS}",
            "P,E,N,EPSG\n" + ROWS.replace("\n", ",28355\n"),
            "P,E,N,EPSG\n" + ROWS.replace("\n", ",EPSG:28355\n"),
            "# EPSG:28355\nP;E;N\n" + ROWS.replace(",", ";").replace(".", ","),
            "# EPSG:28355\nN,E,P\n" + "".join(f"{n},{e},{p}\n" for p, (e, n) in enumerate(POINTS)),
        ],
    )
    def test_are_the_line_in_the_file_s_order_on_the_grid_s_own_datum(self, points: Any, text: str) -> None:
        done = points(text)
        assert notes(done) == ""
        (line,) = done.lines
        assert (line.line_id, line.closed, line.feature) == ("A", False, "feature 1")
        assert done.datum == geographic("GDA94")
        assert done.stated
        np.testing.assert_allclose(line.lonlat_deg, LONLAT, rtol=0, atol=1e-11)  # no rounding to seven decimals

    def test_are_parted_into_lines_by_line_id(self, points: Any) -> None:
        more = "P,E,N,line_id,name,label\n1,604000,6098000,N,North,boundary\n2,604100,6098000,N,,\n"
        done = points(f"# EPSG:28355\n{more}3,604000,6097900,S,South,\n4,604100,6097900,S,,\n5,604100,6097800,S,,\n")
        assert [(line.line_id, line.name, line.label, len(line.lonlat_deg)) for line in done.lines] == [
            ("N", "North", "boundary", 2),
            ("S", "South", None, 3),
        ]

    def test_that_come_back_to_the_first_are_a_loop(self, points: Any) -> None:
        (line,) = points(f"# EPSG:28355\nP,E,N\n{ROWS}{ROWS.splitlines()[0]}\n").lines
        assert line.closed
        assert len(line.lonlat_deg) == 3

    def test_come_on_the_datum_that_the_site_names(self, points: Any) -> None:
        done = points(f"# EPSG:28355\nP,E,N\n{ROWS}", datum="GDA2020")
        assert done.datum == geographic("GDA2020")
        assert done.operations[0].between == "GDA94 / MGA zone 55 → GDA2020"
        assert 0.5 < np.hypot(*(done.lines[0].lonlat_deg - LONLAT)[0]) * 111_000 < 2.5  # 1.8 m to the north-east

    def test_heights_are_left_out_and_said(self, points: Any) -> None:
        done = points("# EPSG:28355\nP,E,N,Z\n1,604000,6098000,210\n2,604100,6098000,\n")
        assert "repair: boundary.csv, feature 1: heights of the vertices are left out" in notes(done)

    def test_not_said_to_be_surveyed_are_doubted(self, points: Any) -> None:
        said = notes(points(f"# EPSG:28355\nP,E,N\n{ROWS}", spec=Spec()))
        assert "doubt: boundary.csv: each point is taken as good to 1 m, for [boundary] drawn_from says imagery" in said
        known = Spec(boundary=Boundary(position_error_m=0.05))
        assert notes(points(f"# EPSG:28355\nP,E,N\n{ROWS}", spec=known)) == ""

    def test_far_from_where_their_grid_is_used_are_doubted(self, points: Any) -> None:
        said = notes(points(f"# EPSG:32632\nP,E,N\n{ROWS.replace('6098', '9698')}"))
        assert "see that the EPSG code is that of the survey" in said

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            (f"P,E,N\n{ROWS}", "boundary.csv: it does not name the system of its points. Fix: let the first line be"),
            (f"1,2,3\n{ROWS}", "boundary.csv, row 1: it is no heading. Fix: let the first row be p,e,n."),
            (
                f"# EPSG:28355\nP,Easting,N\n{ROWS}",
                "row 1: there is no column “easting”. Fix: the nearest known one is",
            ),
            (f"# EPSG:28355\nP,E\n{ROWS}", "row 1: column n is missing."),
            ("# EPSG:28355\nP,E,N\n", "it has no point below its heading."),
            ("# EPSG:28355\nP,E,N\n1,604000,6098000\n", "feature 1: it has fewer than two distinct vertices."),
            ("# EPSG:28355\nP,E,N\n1,x,6098000\n", "row 2: e “x” is not a number."),
            ("# EPSG:28355\nP,E,N\n1,nan,6098000\n", "row 2: e “nan” is not a number."),
            ("# EPSG:28355\nP,E,N\n1,604000,\n", "row 2: n is empty."),
            ("# EPSG:28355\nP,E,N\n1,=A1,6098000\n", "row 2: e holds a formula (“=A1”)."),
            ("# EPSG:28355\nP,E,N\n1,604000,6098000\n,,\n2,604000,6098100\n", "row 3: the row is blank"),
            (f"# EPSG:999999\nP,E,N\n{ROWS}", 'boundary.csv: PROJ knows no coordinate system "EPSG:999999".'),
            (f"# EPSG:5711\nP,E,N\n{ROWS}", "boundary.csv: AHD height does not rest on longitude and latitude"),
            ("P,E,N,EPSG\n1,604000,6098000,28355\n2,604100,6098000,28356\n", "it names 2 systems: EPSG:28355 in row 2"),
            ("P,E,N,EPSG\n1,604000,6098000,zone 55\n", "row 2: epsg “zone 55” is no EPSG code."),
            ("# EPSG:28355\nP,E,N\n1,6098000,604000\n2,6098010,604200\n", "the columns e and n look swapped."),
            ("", "boundary.csv: the file is empty."),
        ],
    )
    def test_at_fault(self, points: Any, text: str, said: str) -> None:
        assert said in told(points(text))


class TestGeoPackage:
    LINE = shapely.LineString(POINTS)

    def test_is_the_line_with_its_properties(self, package: Any) -> None:
        loop = shapely.Polygon([(e + 900, n) for e, n in POINTS])
        done = package(self.LINE, loop, line_id=["N", None], name=["North", "Yard"], label=["boundary", None])
        assert notes(done) == ""
        assert [(line.line_id, line.name, line.label, line.closed) for line in done.lines] == [
            ("N", "North", "boundary", False),
            ("A", "Yard", None, True),
        ]
        np.testing.assert_allclose(done.lines[0].lonlat_deg, LONLAT, rtol=0, atol=1e-11)
        assert done.datum == geographic("GDA94")
        assert done.source is not None
        assert len(done.source.sha256) == 64

    def test_without_any_column_is_a_line_too(self, package: Any) -> None:
        assert len(package(self.LINE).lines) == 1

    def test_of_one_layer_by_any_name_is_read_and_of_two_the_boundary(self, package: Any) -> None:
        assert len(package(self.LINE, layer="fence").lines) == 1
        assert "it has 2 layers: fence, other, and none is called boundary." in told(package(self.LINE, layer="other"))
        assert len(package(self.LINE, layer="boundary").lines) == 1

    def test_other_columns_are_the_owners_business_and_near_misses_are_said(self, package: Any) -> None:
        done = package(self.LINE, lineid=["N"], surveyed=[np.datetime64("2026-03-01")], metres=[1.5], good=[True])
        assert notes(done) == "doubt: boundary.gpkg, feature 1: “lineid” is not read; if line_id is meant, rename it."

    @pytest.mark.parametrize(
        ("shape", "columns", "said"),
        [
            (shapely.Point(POINTS[0]), {}, "feature 1: its geometry is Point."),
            (None, {}, "feature 1: it has no geometry."),
            (shapely.LineString(), {}, "feature 1: its coordinates are empty or no list."),
            (LINE, {"label": ["mine"]}, 'label is "mine", which is not one of'),
            (LINE, {"kind": [4]}, "kind is 4, which is not one of"),
            (shapely.LineString([POINTS[0], POINTS[0]]), {}, "it has fewer than two distinct vertices."),
        ],
    )
    def test_at_fault(self, package: Any, shape: Any, columns: dict[str, Any], said: str) -> None:
        assert said in told(package(shape, **columns))

    def test_without_a_row_or_a_system(self, package: Any) -> None:
        assert "boundary.gpkg: it holds no feature." in told(package())

    @pytest.mark.filterwarnings("ignore:'crs' was not provided")
    def test_without_a_system(self, package: Any) -> None:
        assert "it does not say, by a code, which system it is in." in told(package(self.LINE, crs=None))

    def test_that_is_none(self, tmp_path: Path) -> None:
        path = tmp_path / "boundary.gpkg"
        path.write_bytes(json.dumps({}).encode())
        assert "boundary.gpkg: it is not a GeoPackage." in told(read_boundary(path, spec=SURVEYED, datum=None))
        path.unlink()
        with sqlite3.connect(path) as base:
            base.execute("create table x (y)")
        assert "boundary.gpkg: it " in told(read_boundary(path, spec=SURVEYED, datum=None))

    def test_is_left_as_it_was(self, package: Any, tmp_path: Path) -> None:
        package(self.LINE)
        path = tmp_path / "boundary.gpkg"
        before = path.read_bytes()
        read_boundary(path, spec=SURVEYED, datum=None)
        assert path.read_bytes() == before
        assert [each.name for each in tmp_path.iterdir()] == ["boundary.gpkg"]
