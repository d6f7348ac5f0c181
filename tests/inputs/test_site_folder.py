from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj import CRS

from fencegis.errors import InputError
from fencegis.inputs.crs import geographic
from fencegis.inputs.site_folder import read_site

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]


def refused(site: Path) -> InputError:
    with pytest.raises(InputError) as caught:
        read_site(site)
    assert caught.value.problems
    assert all(str(problem).isprintable() for problem in caught.value.problems)
    return caught.value


def told(site: Path) -> str:
    return "\n".join(str(problem) for problem in refused(site).problems)


def test_a_boundary_alone_is_a_site(make_site):
    site = read_site(make_site("home paddock"))
    assert (site.folder_name, site.name) == ("home paddock", "home paddock")
    assert [line.line_id for line in site.drawn] == ["A"]
    assert site.terrain is None
    assert site.backdrop is None
    assert (site.pegs, site.gates, site.overhead, site.trees, site.soils, site.walk) == (None,) * 6
    assert (site.watercourses, site.services, site.keepout, site.tracks, site.existing) == (None,) * 5
    assert site.canopy is None
    assert site.grid.height_m == 0.0
    assert [(note.severity, note.text) for note in site.notes] == [
        ("default", "Nobody named the datum ([boundary] datum): longitude and latitude are taken as WGS 84."),
        ("default", "site.toml: there is none, so every setting is at its default (a wire fence)."),
        ("default", "There is no elevation: the ground is taken as flat, and grades are not checked."),
    ]


def test_a_layer_without_features_is_not_one_without_a_file(make_site, layer):
    site = read_site(make_site(overhead_geojson=layer()))
    assert site.overhead is not None
    assert len(site.overhead) == 0
    assert site.trees is None


def test_name_sigma_and_hashes(make_site):
    folder = make_site(site_toml='name = "Top road"\n[boundary]\nposition_error_m = 2.5\n')
    site = read_site(str(folder))
    assert site.name == "Top road"
    assert site.drawn[0].sigma_m == 2.5
    data = (folder / "boundary.geojson").read_bytes()
    assert site.inputs["boundary.geojson"] == {"sha256": hashlib.sha256(data).hexdigest(), "bytes": str(len(data))}
    assert set(site.inputs) == {"boundary.geojson", "site.toml"}


def test_all_text_files_are_looked_at_before_any_raster(make_site, layer, feature, place):
    folder = make_site(
        boundary_geojson=layer(feature("LineString", [place(0, 0)])),
        site_toml="[fence]\nrail = 3",
        gates_geojson=layer(feature("Point", place(0, 0))),
        overhead_geojson="{",
        pegs_geojson=layer(feature("Point", place(900, 900))),
        walk_gpx="<gpx",
        elevation_tif=b"no raster",
    )
    error = refused(folder)
    assert {problem.file for problem in error.problems} == {
        *("boundary.geojson", "site.toml", "gates.geojson", "overhead.geojson", "walk.gpx"),
    }
    assert error.more_unchecked == (
        "Not looked at until these are mended: elevation, whether pegs and gates lie on the line."
    )


class TestFilesOfTheFolder:
    def test_no_folder(self, tmp_path):
        assert "it is no folder to read (No such file or directory)." in told(tmp_path / "nowhere")
        (tmp_path / "file").write_text("x")
        assert "it is no folder to read (Not a directory)." in told(tmp_path / "file")

    def test_no_boundary(self, make_site):
        assert told(make_site(boundary_geojson=None)).startswith("boundary.geojson: there is no such file.")

    def test_a_boundary_of_another_kind_is_read_when_it_is_the_only_one(self, make_site):
        points = "# EPSG:32755\nP,E,N\n1,604000,6098000\n2,604200,6098010\n"
        site = read_site(make_site(boundary_geojson=None, boundary_csv=points))
        assert [line.vertices.shape for line in site.drawn] == [(2, 2)]
        assert set(site.inputs) == {"boundary.csv"}
        other = make_site("other", boundary_geojson=None, boundary_gpkg="x")
        assert "boundary.gpkg: it is not a GeoPackage." in told(other)

    def test_what_is_not_read_is_said(self, make_site):
        site = read_site(make_site(boundary_gpkg="x"))
        assert site.unread == ("boundary.gpkg",)
        said = [note.text for note in site.notes if note.severity == "doubt"]
        assert said == ["boundary.gpkg is not read: the line is taken from boundary.geojson alone."]

    @pytest.mark.parametrize("name", ["watercourses", "services", "keepout", "tracks", "existing"])
    def test_each_layer_lands_in_its_field_and_is_hashed(self, make_site, layer, name):
        site = read_site(make_site(**{f"{name}_geojson": layer()}))
        assert len(getattr(site, name)) == 0
        assert site.unread == ()
        assert f"{name}.geojson" in site.inputs

    def test_what_is_read_and_not_planned_for_is_said(self, make_site, layer):
        site = read_site(make_site(existing_geojson=layer()))
        (said,) = (note.text for note in site.notes if note.severity == "doubt")
        assert said == "existing.geojson is read, but by this version the old fence is not planned for."

    @pytest.mark.parametrize(
        ("name", "meant"),
        [
            ("overheads.geojson", "overhead.geojson"),
            ("Trees.geojson", "trees.geojson"),
            ("overhead.json", "overhead.geojson"),
        ],
    )
    def test_a_file_name_misspelt_is_said(self, make_site, name, meant):
        folder = make_site()
        (folder / name).write_text("{}")
        assert f"{name} is not read: no file of that name belongs to a site; if {meant} is meant, rename it." in [
            note.text for note in read_site(folder).notes
        ]

    def test_a_map_of_any_other_name_is_said(self, make_site):
        folder = make_site()
        for name in ("wires.geojson", "notes.txt", ".hidden.geojson"):
            (folder / name).write_text("{}")
        said = [note.text for note in read_site(folder).notes if "is not read" in note.text]
        assert said == ["wires.geojson is not read: no file of that name belongs to a site."]

    @pytest.mark.parametrize("name", ["boundary.geojson", "trees.geojson", "imagery.tif", "elevation.tif", "site.toml"])
    def test_a_link_out_of_the_folder(self, make_site, tmp_path, name):
        folder = make_site()
        (tmp_path / "outside").write_text("{}")
        (folder / name).unlink(missing_ok=True)
        (folder / name).symlink_to(tmp_path / "outside")
        assert told(folder).startswith(f"{name}: it is a link that leaves the site folder.")

    def test_a_link_within_the_folder_is_followed(self, make_site):
        folder = make_site()
        (folder / "boundary.geojson").rename(folder / "drawn.txt")
        (folder / "boundary.geojson").symlink_to(folder / "drawn.txt")
        assert read_site(folder).drawn

    def test_a_link_in_a_circle_a_folder_and_a_broken_link(self, make_site):
        folder = make_site()
        (folder / "trees.geojson").symlink_to(folder / "trees.geojson")
        (folder / "pegs.geojson").mkdir()
        (folder / "gates.geojson").symlink_to(folder / "nothing")
        assert {problem.file for problem in refused(folder).problems} == {
            *("trees.geojson", "pegs.geojson", "gates.geojson"),
        }

    def test_two_elevations(self, make_site):
        folder = make_site(elevation_tif="x", elevation_vrt="x")
        assert "elevation.tif: there is elevation.vrt as well, and only one can count." in told(folder)

    def test_a_folder_of_tiles_without_tiles(self, make_site):
        folder = make_site()
        (folder / "elevation").mkdir()
        assert "elevation: the folder holds no raster." in told(folder)


class TestDatum:
    def test_named(self, make_site):
        site = read_site(make_site(site_toml='[boundary]\ndatum = "GDA2020"\n'))
        assert site.grid.datum == geographic("GDA2020").to_wkt()
        assert not [note for note in site.notes if "Nobody" in note.text]
        (doubt,) = [note.text for note in site.notes if "Change of datum" in note.text]
        assert doubt.startswith("Change of datum Site grid on GDA2020 → WGS 84: it is good to 3 m only; better")
        assert site.operations[-1].accuracy_m == 3.0

    def test_unknown(self, make_site):
        site = read_site(make_site(site_toml='[boundary]\ndatum = "unknown"\n'))
        assert site.grid.datum == geographic("WGS 84").to_wkt()
        assert "with 2 m more doubt" in site.notes[0].text

    @pytest.mark.parametrize("name", ["GDA1066", "EPSG:7855", "+proj=longlat"])
    def test_not_one(self, make_site, name):
        fault = told(make_site(site_toml=f'[boundary]\ndatum = "{name}"\n'))
        assert fault.startswith("site.toml, [boundary] datum: ")

    def test_of_the_boundary_and_another_of_a_layer(self, make_site, layer, feature, place):
        """A layer without a system of its own is WGS 84; the grid stands on the datum that the boundary names."""
        crs = {"type": "name", "properties": {"name": "EPSG:7855"}}
        boundary = layer(feature("LineString", [[604_621, 6_098_626], [604_821, 6_098_626]]), crs=crs)
        pegs = layer(feature("Point", place(0, 0), kind="found"))
        site = read_site(make_site(boundary_geojson=boundary, pegs_geojson=pegs))
        assert CRS(site.grid.datum) == geographic("GDA2020")
        assert [operation.between for operation in site.operations] == [
            "GDA2020 / MGA zone 55 → GDA2020",
            "WGS 84 → GDA2020",
            "Site grid on GDA2020 → WGS 84",
        ]

    @pytest.mark.parametrize("name", ["EPSG:4326", "nowhere"])
    def test_the_rover_grid(self, make_site, name):
        assert told(make_site(site_toml=f'[points]\ngrid = "{name}"\n')).startswith("site.toml, [points] grid: ")


class TestMarksAndLine:
    def test_marks_off_the_line(self, make_site, layer, feature, place):
        folder = make_site(
            gates_geojson=layer(feature("Point", place(50, 3.2), opening_m=4, name="main")),
            pegs_geojson=layer(feature("Point", place(0, 2.8)), feature("Point", place(-10, 0), kind="found")),
        )
        fix = "Fix: move it onto the line, correct the line, or take it out."
        assert told(folder).splitlines() == [
            f"gates.geojson, feature 1 (main): it is 3.2 m from the nearest line; more than 3 m is too far. {fix}",
            f"pegs.geojson, feature 2: it is 10.0 m from the nearest line; more than 3 m is too far. {fix}",
        ]
        rough = make_site(site_toml="[boundary]\nposition_error_m = 4.0\n")
        assert read_site(rough).gates is not None

    def test_gates_that_overlap(self, make_site, layer, feature, place):
        def gates(apart_m):
            ends = [(50.0, "one"), (50.0 + apart_m, "other")]
            return layer(*(feature("Point", place(east, 0.5), opening_m=4, name=name) for east, name in ends))

        said = "feature 2 (other): its opening runs into that of feature 1 (one): their middles are 3.90 m apart"
        assert said in told(make_site(gates_geojson=gates(3.9)))
        assert len(read_site(make_site(gates_geojson=gates(4.1))).gates) == 2

    def test_gates_that_overlap_over_the_start_of_a_loop(self, make_site, layer, feature, place):
        ring = [place(0, 0), place(100, 0), place(100, 100), place(0, 100), place(0, 0)]
        two = [feature("Point", place(*spot), opening_m=4) for spot in ((1, 0), (0, 1))]
        folder = make_site(boundary_geojson=layer(feature("Polygon", [ring])), gates_geojson=layer(*two))
        assert "their middles are 2.00 m apart on the line" in told(folder)

    def test_gates_on_two_lines_do_not_overlap(self, make_site, layer, feature, place):
        lines = [feature("LineString", [place(0, north), place(100, north)]) for north in (0, 6)]
        two = [feature("Point", place(50, north), opening_m=8) for north in (0, 6)]
        assert read_site(make_site(boundary_geojson=layer(*lines), gates_geojson=layer(*two))).gates is not None


class TestElevation:
    @pytest.fixture
    def raster(self) -> Callable[..., Path]:
        """Return a function that writes a raster of one height about the middle of the site, or `east_m` beside it."""

        def write(path: Path, height_m: float, *, east_m: float = 0.0) -> Path:
            shape = (60, 100)
            affine = rasterio.Affine(5.0, 0.0, 604_621.6 - 100 + east_m, 0.0, -5.0, 6_098_626.3 + 200)
            profile = {"driver": "GTiff", "width": shape[1], "height": shape[0], "count": 1, "dtype": "float32"}
            with rasterio.open(path, "w", crs="EPSG:32755", transform=affine, **profile) as file:
                file.write(np.full(shape, height_m, dtype="float32"), 1)
            return path

        return write

    def test_the_grid_is_true_at_the_height_of_the_ground(self, make_site, raster):
        folder = make_site()
        raster(folder / "elevation.tif", 1234.0)
        site = read_site(folder)
        assert site.grid.height_m == 1230.0
        assert site.grid.scale == pytest.approx(1 + 1230 / 6_371_000, abs=1e-6)
        flat = read_site(make_site("flat")).drawn[0].vertices
        longer = np.hypot(*np.diff(site.drawn[0].vertices, axis=0).T) / np.hypot(*np.diff(flat, axis=0).T)
        assert longer == pytest.approx(site.grid.scale, rel=1e-9)
        assert site.terrain
        assert site.terrain.cell_m == pytest.approx(5.0, abs=0.01)
        assert set(site.inputs["elevation.tif"]) >= {"sha256", "bytes"}

    def test_one_named_by_the_user_counts_instead(self, make_site, raster, tmp_path):
        folder = make_site()
        raster(folder / "elevation.tif", 1234.0)
        site = read_site(folder, elevation=raster(tmp_path / "shared.tif", 500.0))
        assert site.grid.height_m == 500.0
        assert "shared.tif" in site.inputs
        assert "elevation.tif" not in site.inputs

    def test_a_folder_of_tiles(self, make_site, raster):
        folder = make_site()
        (folder / "elevation").mkdir()
        raster(folder / "elevation" / "a.tif", 300.0)
        raster(folder / "elevation" / "b.TIF", 300.0, east_m=500.0)
        (folder / "elevation" / "a.tif.aux.xml").write_text("<x/>")
        assert read_site(folder).grid.height_m == 300.0

    def test_none_under_the_line(self, make_site, raster):
        folder = make_site()
        raster(folder / "elevation.tif", 1234.0, east_m=10_000.0)
        assert refused(folder).problems[0].file.startswith("elevation")

    def test_none_under_the_line_but_some_under_a_conductor(self, make_site, raster, layer, feature, place):
        wire = feature("LineString", [place(3_000, 0), place(3_050, 0)], kind="power")
        folder = make_site(overhead_geojson=layer(wire))
        raster(folder / "elevation.tif", 1234.0, east_m=3_000.0)
        assert told(folder).startswith("elevation: it has no height anywhere under the line.")

    def test_what_is_wrong_with_rasters_and_marks_comes_together(self, make_site, layer, feature, place):
        folder = make_site(
            pegs_geojson=layer(feature("Point", place(900, 900))), elevation_tif="no raster", imagery_tif="neither"
        )
        assert {problem.file for problem in refused(folder).problems} == {
            *("pegs.geojson", "elevation.tif", "imagery.tif"),
        }

    def test_pictures_are_made_only_when_asked_for(self, make_site, raster):
        folder = make_site()
        raster(folder / "elevation.tif", 1234.0)
        site = read_site(folder)
        assert site.backdrop
        assert site.backdrop().hillshade is not None
        assert site.backdrop().imagery is None


def test_reading_twice_gives_the_same_site(make_site, layer, feature, place):
    folder = make_site(trees_geojson=layer(feature("Point", place(3, 3), height_m=4)))
    one, other = read_site(folder), read_site(folder)
    assert one.grid == other.grid
    assert one.notes == other.notes
    assert np.array_equal(one.drawn[0].vertices, other.drawn[0].vertices)
    assert one.trees.equals(other.trees)


def test_a_fault_in_a_text_file_loads_no_heavy_library(make_site):
    folder = make_site(site_toml="[fence]\nrail = 3\n", elevation_tif="x")
    heavy = {"geopandas", "rasterio", "folium", "matplotlib", "scipy"}
    code = (
        "import sys, fencegis.errors as e; from fencegis.inputs.site_folder import read_site\n"
        f"try: read_site({str(folder)!r})\n"
        f"except e.InputError: print(sorted({heavy!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_a_site_can_be_sent_to_another_process(make_site):
    """Many sites are planned in worker processes: what a site holds must survive the trip."""
    import pickle

    site = pickle.loads(pickle.dumps(read_site(make_site())))  # noqa: S301 (our own bytes)
    assert json.loads(json.dumps(site.inputs)) == site.inputs
