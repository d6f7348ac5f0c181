"""Depths by the building code's equations as others worked them, its table of soils, and depths that agencies print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.catalogue import rows
from fencegis.strength.assemblies import assembly_named
from fencegis.strength.footing import (
    bearing_length_m,
    brace_depth_m,
    depth_asked_m,
    depth_m,
    diagonal_m,
    soil_named,
)

if TYPE_CHECKING:
    from collections.abc import Callable

FOOT_M = 0.3048
INCH_M = 0.0254
POUND_KN = 0.0044482216
PSF_FT_KPA_M = POUND_KN / FOOT_M**3  # pounds a square foot for each foot of depth


def feet(pull_lb: float, *, height_ft: float, width_ft: float, lateral: float, **how: bool) -> float:
    depth = depth_m(
        pull_lb * POUND_KN,
        height_m=height_ft * FOOT_M,
        width_m=width_ft * FOOT_M,
        lateral_kpa_m=lateral * PSF_FT_KPA_M,
        **how,
    )
    return float(depth) / FOOT_M


@pytest.mark.published(source="ibc-pole-notes", where="P 496.1 lb at 7.489 ft, b 1 ft, 150 psf/ft")
def test_a_pole_in_sand(compare: Callable, printed: type) -> None:
    compare(feet(496.1, height_ft=7.489, width_ft=1.0, lateral=150.0), printed("7.07", 0.01))


@pytest.mark.published(source="ibc-pole-notes", where="the same as an isolated pole, 300 psf/ft")
def test_an_isolated_pole_in_sand(compare: Callable, printed: type) -> None:
    compare(feet(496.1, height_ft=7.489, width_ft=1.0, lateral=150.0, isolated=True), printed("5.40", 0.01))


@pytest.mark.published(source="ibc-pole-notes", where="P 82.74 lb at 1.932 ft, b 14 in, 150 psf/ft")
def test_a_short_wide_post(compare: Callable, printed: type) -> None:
    compare(feet(82.74, height_ft=1.932, width_ft=14.0 / 12.0, lateral=150.0), printed("2.478", 0.01))


@pytest.mark.published(source="ibc-pier-test", where="P 5400 lb at 37.25 ft, b 6 ft, 200 psf/ft, not held at ground")
def test_a_pier_that_nothing_holds(compare: Callable, printed: type) -> None:
    compare(feet(5400.0, height_ft=37.25, width_ft=6.0, lateral=200.0), printed("11.83", 0.01))


@pytest.mark.published(source="ibc-pier-test", where="the same, held at ground")
def test_a_pier_held_at_the_ground(compare: Callable, printed: type) -> None:
    """They stop within 0.005 ft."""
    compare(feet(5400.0, height_ft=37.25, width_ft=6.0, lateral=200.0, held_at_ground=True), printed("8.93", 0.01))


@pytest.mark.published(source="ibc-eng-tips", where="3000 lb, trial depth 6 ft, 12 in post, 150 psf/ft × 1.33: A")
def test_the_bearing_length_at_a_trial_depth(compare: Callable) -> None:
    length = bearing_length_m(
        3000.0 * POUND_KN, at_depth_m=6.0 * FOOT_M, width_m=FOOT_M, lateral_kpa_m=150.0 * 1.33 * PSF_FT_KPA_M
    )
    compare(float(length) / FOOT_M, "17.6")


@pytest.mark.published(source="ibc-flagpole-2018", where="30,000 lbf at 3 ft, 4.5 ft wide, 350 psf/ft, factor 2")
def test_a_flagpole_held_at_the_ground(compare: Callable) -> None:
    pull, bears = 30_000.0 * POUND_KN, 2.0 * 350.0 * PSF_FT_KPA_M
    depth = float(
        depth_m(
            pull,
            height_m=3.0 * FOOT_M,
            width_m=4.5 * FOOT_M,
            lateral_kpa_m=bears / 2.0,
            held_at_ground=True,
            isolated=True,
        )
    )
    compare(depth, "1.509")
    length = bearing_length_m(pull, at_depth_m=depth, width_m=4.5 * FOOT_M, lateral_kpa_m=bears)
    compare(float(length) / FOOT_M, "13.501")
    compare(bears * depth / 3.0, "55.32")  # S1, kPa
    compare(bears * depth, "166.0")  # S3, kPa


@pytest.mark.published(source="ibc-flagpole-2021", where="33,700 lb at 39.4 ft, 126 in square, 150 psf/ft × 1.33, held")
def test_a_square_footing_deeper_than_pressure_counts(compare: Callable) -> None:
    width_m = diagonal_m(126.0 * INCH_M)
    compare(width_m / INCH_M, "178.19")
    compare(
        feet(33_700.0, height_ft=39.4, width_ft=width_m / FOOT_M, lateral=150.0 * 1.33, held_at_ground=True), "12.60"
    )


@pytest.mark.published(source="ibc-light-pole-2009", where="moment 10.65 kN m at 8 m, 0.6 m square, trial depth 1.55 m")
def test_a_light_pole_in_si_units(compare: Callable) -> None:
    pull, width_m, bears = 10.65 / 8.0, diagonal_m(0.6), 31.4
    compare(width_m, "0.849")
    compare(float(bearing_length_m(pull, at_depth_m=1.55, width_m=width_m, lateral_kpa_m=bears)), "0.226")
    compare(float(depth_asked_m(pull, at_depth_m=1.55, height_m=8.0, width_m=width_m, lateral_kpa_m=bears)), "1.52")


@pytest.mark.parametrize(
    ("soil", "psf_ft"),
    [
        ("crystalline rock", "1200"),
        ("rock", "400"),
        ("gravel", "200"),
        ("sand", "150"),
        ("loam", "100"),
        ("clay", "100"),
    ],
)
@pytest.mark.published(source="ibc-table-1806-2", where="lateral bearing, psf for each foot below ground")
def test_the_table_of_soils(compare: Callable, soil: str, psf_ft: str) -> None:
    """The table names no loam: it stands in the row of clay and silt, the weakest."""
    compare(soil_named(soil).lateral_kpa_m / PSF_FT_KPA_M, psf_ft)


@pytest.mark.parametrize(("soil", "depth_ft"), [("loam", "3"), ("clay", "3"), ("sand", "4")])
@pytest.mark.published(source="nrcs-oh-382", where="H-brace assembly posts: 3 ft, deep and sandy soils 4 ft or deeper")
def test_the_brace_rule(compare: Callable, printed: type, soil: str, depth_ft: str) -> None:
    compare(brace_depth_m(soil) / FOOT_M, printed(depth_ft, 1e-3))


@pytest.mark.parametrize(
    ("row_id", "unit_m", "post", "in_ground"),
    [
        pytest.param(
            row_id, unit_m, post, in_ground, id=row_id, marks=pytest.mark.published(source=source, where=where)
        )
        for row_id, unit_m, post, in_ground, source, where in (
            ("wfl-short", INCH_M, "78", "24", "wfl-619", "post 6 ft 6 in, 2 ft 0 in in the ground"),
            ("wfl-long", INCH_M, "96", "32", "wfl-619", "post 8 ft 0 in, 2 ft 8 in in the ground"),
            ("wfl-middle", INCH_M, "84", "30", "wfl-619", "post 7 ft 0 in, 2 ft 6 in in the ground"),
            ("tasmania-deer", 1.0, "3.0", "1.0", "tas-deer-2012", "deer boundary fence, posts in m"),
            ("alberta-line", INCH_M, "84", "32", "alberta-ne", "items 3 and 4: 7 ft posts, 32 in deep"),
            ("bc-line", 0.01, "210", "81", "bc-barbed-2016", "line posts 2.1 m, 81 cm deep"),
            ("ohio-brace", INCH_M, "96", "36", "nrcs-oh-382", "8 ft posts set 3 ft"),
            ("mississippi-corner", INCH_M, "96", "42", "nrcs-ms-769", "8 ft posts, 3.5 ft deep"),
            ("alberta-corner", INCH_M, "96", "44", "alberta-ne", "item 6: 8 ft posts driven 44 in"),
            ("ohio-brace-sand", INCH_M, "96", "48", "nrcs-oh-382", "8 ft posts, sandy soils 4 ft"),
            ("bc-bog", 0.01, "240", "122", "bc-barbed-2016", "boggy areas, 2.4 m posts planted 1.22 m"),
            ("bc-bog-line", 0.01, "210", "102", "bc-barbed-2016", "boggy areas, 2.1 m posts planted 102 cm"),
        )
    ],
)
def test_depths_of_posts(
    compare: Callable, printed: type, row_id: str, unit_m: float, post: str, in_ground: str
) -> None:
    (row,) = (row for row in rows("embedment") if row["id"] == row_id)
    compare(float(row["post_m"]) / unit_m, printed(post, 0.005))
    compare(float(row["in_ground_m"]) / unit_m, printed(in_ground, 0.005))


@pytest.mark.published(source="alberta-ne", where="item 6: 8 ft × 5 in posts, 44 in deep, 10 ft span, rail 36 in up")
def test_the_double_brace(compare: Callable, printed: type) -> None:
    brace = assembly_named("double H-brace")
    for ours_m, inches in (
        (brace.post_m, "96"),
        (brace.post_mm / 1000.0, "5"),
        (brace.in_ground_m, "44"),
        (brace.rail_m, "120"),
        ((brace.rail_mm or 0.0) / 1000.0, "4"),
        (brace.rail_height_m, "36"),
    ):
        compare(ours_m / INCH_M, printed(inches, 0.005))


@pytest.mark.published(source="nrcs-brace-382", where="rail at least 84 in long, 6 to 12 in below the top of the post")
def test_the_single_brace(compare: Callable, printed: type) -> None:
    brace = assembly_named("H-brace")
    compare(brace.rail_m / INCH_M, printed("84", 0.005))
    below_top_m = brace.post_m - brace.in_ground_m - brace.rail_height_m
    compare(below_top_m / INCH_M, printed("12", 0.005))
