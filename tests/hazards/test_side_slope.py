"""Side slopes: the level, the tip, both sides, what is missing, and a twin that tries every place."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.hazards.found import Found, Scene
from fencegis.hazards.side_slope import side_slope
from fencegis.hazards.slope_limits import limits_of
from fencegis.hazards.slope_spans import without_gaps
from fencegis.hazards.slopes import slopes_beside
from fencegis.hazards.tipping import tip_deg
from fencegis.line.chainage import Line, points_at
from fencegis.records.spec import Spec
from fencegis.records.tables import checked

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

    Ground = Callable[[np.ndarray], np.ndarray]

OWN = {  # a machine weighed and taped: the driver of the catalogue's row in front
    "track_m": 1.30,
    "wheelbase_m": 1.80,
    "pivot_m": 0.45,
    "mass_kg": 1300.0,
    "ahead_m": 0.80,
    "height_m": 0.65,
    "driver_kg": 450.0,
    "driver_ahead_m": 2.50,
    "driver_height_m": 1.80,
}
WALKED = {"ground": "2026-03-04, on foot"}
EAST = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))


def spec_of(machine: dict[str, object] | None = None, *, error_m: float = 1e-9, walked: bool = False) -> Spec:
    tables: dict[str, object] = {"elevation": {"vertical_error_m": error_m}}
    if machine is not None:
        tables["machine"] = machine
    return Spec.model_validate(tables | ({"walked": WALKED} if walked else {}))


def found(ground: Ground | None, spec: Spec, *lines: Line, cell_m: float = 1.0) -> Found:
    site = SimpleNamespace(spec=spec, terrain=SimpleNamespace(cell_m=cell_m))
    return side_slope(Scene([SimpleNamespace(line=line) for line in lines or (EAST,)], site, ground))


def falling(across_deg: float, along_deg: float = 0.0) -> Ground:
    """Ground that falls to the right of somebody who walks east, and rises along."""
    across, along = np.tan(np.radians([across_deg, along_deg]))
    return lambda points: 500.0 + across * points[:, 1] + along * points[:, 0]


def texts(one: Found) -> list[str]:
    return [note.text for note in one.notes]


def test_a_fall_is_flagged_from_the_level_on_and_not_below() -> None:
    for fall_deg, flagged in ((7.99, 0), (8.01, 1), (-8.01, 1)):
        one = found(falling(fall_deg), spec_of())
        assert len(one.hazards) == flagged
        (row,) = one.layers["side_slopes"].itertuples()
        assert row.fall_deg == pytest.approx(fall_deg, abs=1e-9)
        assert row.flag_deg == 8.0
        assert bool(row.flagged) is bool(flagged)


def test_two_standard_errors_are_added() -> None:
    """0.15 m of one height: 0.98° of a fall with errors alike over some metres, so flagged from 6.1°."""
    sigma_deg = found(falling(6.0), spec_of(error_m=0.15)).layers["side_slopes"]["sigma_deg"].iloc[0]
    assert sigma_deg == pytest.approx(0.97, abs=0.01)
    edge_deg = 8.0 - 2.0 * sigma_deg
    assert len(found(falling(edge_deg - 0.01), spec_of(error_m=0.15)).hazards) == 0
    assert len(found(falling(edge_deg + 0.01), spec_of(error_m=0.15)).hazards) == 1


def test_where_the_ground_stands_off_its_plane_the_fall_is_less_sure() -> None:
    def rough(points: np.ndarray) -> np.ndarray:
        return 0.4 * np.sin(points[:, 0] * 1.7) * np.sin(points[:, 1] * 1.9)

    even = found(falling(0.0), spec_of(error_m=0.1)).layers["side_slopes"]["sigma_deg"].max()
    assert found(rough, spec_of(error_m=0.1)).layers["side_slopes"]["sigma_deg"].max() > 1.5 * even


def test_the_level_is_half_the_first_tip_angle_where_that_is_less() -> None:
    """The machine tips at 17.7°, half is over 8°; with its driver 1 m higher it tips at 12.4°."""
    (row,) = found(falling(1.0), spec_of(OWN)).layers["side_slopes"].itertuples()
    assert (row.flag_deg, round(row.tip_deg, 1), round(row.front_pct)) == (8.0, 17.7, 69)
    (row,) = found(falling(1.0), spec_of(OWN | {"driver_height_m": 2.80})).layers["side_slopes"].itertuples()
    # 1300 × 0.65 + 450 × 2.80 = 2105: 1.203 m up; 0.2033 ÷ (1.203 − 0.3093) = 0.2275.
    assert row.tip_deg == pytest.approx(math.degrees(math.atan(0.2275)), abs=0.02)
    assert row.flag_deg == pytest.approx(row.tip_deg / 2.0)


def test_a_share_of_its_own_lowers_the_level_and_more_than_half_is_a_fault() -> None:
    (row,) = found(falling(1.0), spec_of(OWN | {"tip_pct": 30.0})).layers["side_slopes"].itertuples()
    assert row.flag_deg == pytest.approx(0.3 * row.tip_deg)
    with pytest.raises(ValueError, match="tip_pct"):
        spec_of(OWN | {"tip_pct": 60.0})


def test_up_the_line_a_driver_behind_rears_long_before_it_tips_sideways() -> None:
    behind = OWN | {"driver_ahead_m": -0.90}
    one = found(falling(0.0, along_deg=12.0), spec_of(behind))  # it rears at 21.0°, half is 10.5°
    assert one.hazards["to_m"].tolist() == [100.0]
    assert "pitch: 12.0° nose up" in one.hazards["basis"].iloc[0]
    assert "or a steepest of 10.5° lying this way" in one.hazards["basis"].iloc[0]
    assert len(found(falling(0.0, along_deg=-12.0), spec_of(behind)).hazards) == 1  # it may as well head back uphill
    assert len(found(falling(0.0, along_deg=10.0), spec_of(behind)).hazards) == 0
    assert len(found(falling(0.0, along_deg=12.0), spec_of()).hazards) == 0


@pytest.mark.parametrize(("across_deg", "along_deg"), [(6.0, 3.0), (-6.0, 3.0), (6.0, -3.0), (-6.0, -3.0)])
def test_a_driver_at_the_end_of_its_shift_tips_it_sooner_whichever_side_that_is(
    across_deg: float, along_deg: float
) -> None:
    """Worked by hand: 450 kg shifted 0.4 m move the centre 0.103 m aside; the side it falls to is the worse one."""
    limits = limits_of(spec_of(OWN | {"side_shift_m": 0.4}))
    assert limits.weight is not None
    assert limits.weight.aside_m == pytest.approx(450.0 * 0.4 / 1750.0)
    # (0.2033 − 0.1029) ÷ 0.6364
    assert limits.first_tip_deg == pytest.approx(math.degrees(math.atan(0.1578)), abs=0.02)
    ahead, right = np.tan(np.radians([[along_deg], [-across_deg]]))
    least = limits.tips_deg(ahead=ahead, right=right)[0]
    downhill_deg = np.array([math.degrees(math.atan2(abs(right[0]), abs(ahead[0])))])
    assert limits.support is not None
    assert least == pytest.approx(tip_deg(limits.weight, limits.support, downhill_deg=downhill_deg)[0])


def test_past_the_tip_angle_is_a_band_of_its_own() -> None:
    one = found(falling(18.0), spec_of(OWN))
    assert one.layers["side_slopes"]["band"].tolist() == ["tip"]
    assert one.hazards["basis"].iloc[0].startswith("up to its tip angle from 0 to 100 m; roll: falls 18.0° ± 0.0°")
    assert one.hazards["advice"].iloc[0].startswith("By its numbers the machine may tip here standing still.")
    assert found(falling(17.0), spec_of(OWN)).layers["side_slopes"]["band"].tolist() == ["level"]


def test_a_steep_stretch_is_one_hazard_with_its_bands_as_rows() -> None:
    def steep(points: np.ndarray) -> np.ndarray:
        return (
            np.tan(np.radians(np.interp(points[:, 0], [20.0, 45.0, 55.0, 80.0], [0.0, 20.0, 20.0, 0.0]))) * points[:, 1]
        )

    one = found(steep, spec_of(OWN))
    assert one.layers["side_slopes"]["band"].tolist() == [
        "not flagged by the raster",
        "level",
        "tip",
        "level",
        "not flagged by the raster",
    ]
    (row,) = one.hazards.itertuples()
    level = one.layers["side_slopes"]
    assert (row.from_m, row.to_m) == (level["from_m"].iloc[1], level["to_m"].iloc[3])
    assert math.isnan(row.clearance_m)
    assert checked("hazards", one.hazards.assign(hazard_id="H01"))["kind"].tolist() == ["side slope"]


def test_a_tip_angle_is_never_printed_alone() -> None:
    """The level and what a hole under the low wheel adds stand with it: 0.15 ÷ 1.30 is 6.6°."""
    one = found(falling(10.0), spec_of(OWN))
    said = [
        text for text in [*texts(one), *one.hazards["basis"], *one.layers["side_slopes"]["basis"]] if "17.7°" in text
    ]
    assert len(said) == 3
    for text in said:
        assert "a 0.15 m hole under the low wheel adds 6.6° on a 1.3 m track" in text
        assert "flagged from" in text


def test_a_row_of_the_catalogue_raises_flags_and_says_that_it_was_assumed() -> None:
    machine = {"kind": "mast driver on a small tractor, in front", "track_m": 1.0}
    one = found(falling(7.5), spec_of(machine, walked=True))
    (row,) = one.layers["side_slopes"].itertuples()
    assert row.flag_deg < 7.5  # on a track of a metre half the first tip angle is under 8°
    assert "machine's numbers assumed for a mast driver on a small tractor, in front" in row.basis
    (note,) = [text for text in texts(one) if "to raise flags only" in text]
    assert "rear track" not in note
    assert "wheelbase 1.8 m" in note
    assert set(found(falling(2.0), spec_of(machine, walked=True)).checks["status"]) == {"not checked"}


def test_without_a_machine_there_is_the_common_level_and_no_tip_angle() -> None:
    one = found(falling(9.0), spec_of())
    (row,) = one.layers["side_slopes"].itertuples()
    assert math.isnan(row.tip_deg)
    assert "tips" not in row.basis
    assert "flagged from 8° (common practice) only" in texts(one)[0]


def test_what_lacks_of_a_machine_is_named() -> None:
    one = found(falling(9.0), spec_of({key: value for key, value in OWN.items() if key != "pivot_m"}))
    assert texts(one)[0].endswith("no tip angle: not given: the machine's front axle's pivot over the ground")
    assert "none is worked out for this kind (by hand)" in texts(found(falling(9.0), spec_of({"kind": "by hand"})))[0]


@pytest.mark.parametrize(("driver_ahead_m", "words"), [(2.5, "69 % .* over 60 %"), (-1.0, "19 % .* under 20 %")])
def test_a_front_axle_with_too_much_or_too_little_is_told(driver_ahead_m: float, words: str) -> None:
    said = texts(found(falling(0.0), spec_of(OWN | {"driver_ahead_m": driver_ahead_m})))
    assert any(re.search(words, text) for text in said)
    assert not any(
        "front axle carries" in text for text in texts(found(falling(0.0), spec_of(OWN | {"driver_ahead_m": 1.0})))
    )


def test_beyond_the_masts_tilt_no_post_is_plumbed_from_there() -> None:
    tilts = OWN | {"tilt_side_deg": 5.0, "tilt_fore_deg": 6.0}
    for across_deg, along_deg, beyond in ((5.1, 0.0, True), (-5.1, 0.0, True), (4.9, 5.9, False), (0.0, -6.1, True)):
        one = found(falling(across_deg, along_deg), spec_of(tilts))
        assert one.layers["side_slopes"]["cannot_plumb"].tolist() == [beyond]
        assert any("from 0 to 100 m a post cannot be plumbed" in text for text in texts(one)) is beyond
    untold = found(falling(7.0), spec_of(OWN))
    assert not untold.layers["side_slopes"]["cannot_plumb"].any()
    assert any("where a post cannot be plumbed is not checked" in text for text in texts(untold))


def test_posts_square_to_the_ground_need_no_tilt_along_the_line() -> None:
    tilts = OWN | {"tilt_side_deg": 5.0, "tilt_fore_deg": 6.0}
    square = spec_of(tilts).model_copy(update={"fence": Spec().fence.model_copy(update={"posts_stand": "square"})})
    assert not found(falling(0.0, 7.0), square).layers["side_slopes"]["cannot_plumb"].any()


def bank(points: np.ndarray) -> np.ndarray:
    """Level left of the line to 1 m right of it, and from there a bank of 30 %."""
    return -0.3 * np.maximum(-1.0 - points[:, 1], 0.0)


def test_only_the_side_worked_from_is_looked_at_and_the_other_is_said_to_be_flagged_less() -> None:
    assert len(found(bank, spec_of({"work_side": "left"})).hazards) == 0
    right = found(bank, spec_of({"work_side": "right"}))
    assert len(right.hazards) == 1
    assert right.layers["side_slopes"]["less_side"].isna().all()
    both = found(bank, spec_of({"work_side": "both"}))
    assert both.hazards["from_m"].tolist() == [0.0]
    assert "machine on the right of the line" in both.hazards["basis"].iloc[0]
    assert both.layers["side_slopes"]["less_side"].tolist() == ["left"]
    assert any("the left of the line is flagged less: 0 m of it, 100 m on the right" in text for text in texts(both))


def test_where_heights_are_missing_it_is_not_checked_and_no_row() -> None:
    def hole(points: np.ndarray) -> np.ndarray:
        return np.where((points[:, 0] > 40.0) & (points[:, 0] < 61.0), np.nan, 0.0)

    one = found(hole, spec_of(OWN, walked=True))
    assert one.checks["status"].tolist() == ["clear", "not checked", "clear"]
    assert one.checks["basis"].iloc[1] == "no ground heights here"
    start_m, end_m = one.checks[["from_m", "to_m"]].iloc[1]
    assert start_m <= 36.0  # within half a window of the hole there is no plane
    assert end_m >= 65.0
    assert len(one.layers["side_slopes"]) == 2


def test_without_elevation_nothing_is_checked() -> None:
    one = found(None, spec_of(OWN, walked=True))
    assert one.checks[["from_m", "to_m", "status", "basis"]].to_numpy().tolist() == [
        [0.0, 100.0, "not checked", "no ground heights"]
    ]
    assert len(one.layers["side_slopes"]) == len(one.hazards) == 0


@pytest.mark.parametrize(
    ("machine", "walked", "cell_m", "basis"),
    [
        (OWN, True, 1.0, "not flagged by the raster — walked 2026-03-04, on foot"),
        (OWN, False, 1.0, "not flagged by the raster — not walked"),
        (None, True, 1.0, "no tip angle: neither kind nor track"),
        (OWN, True, 5.0, "cells of 5.0 m tell little of 8 m"),
        ({"kind": "mast driver on a small tractor, behind"}, True, 1.0, "the machine's own numbers not all given"),
    ],
)
def test_nothing_below_the_level_is_called_more_than_not_flagged(
    machine: dict[str, object] | None, walked: bool, cell_m: float, basis: str
) -> None:
    (tile,) = found(falling(2.0), spec_of(machine, walked=walked), cell_m=cell_m).checks.itertuples()
    assert tile.status == ("clear" if (machine, walked, cell_m) == (OWN, True, 1.0) else "not checked")
    assert basis in tile.basis
    assert tile.basis.startswith("not flagged by the raster")


def test_the_answers_tile_every_line_and_a_hazard_over_a_loops_start_is_one() -> None:
    """The loop begins amid its west side, which is walked north along ground that falls to the left."""
    loop = Line("L", closed=True, corners=np.array([[0.0, 30.0], [0.0, 60.0], [60.0, 60.0], [60.0, 0.0], [0.0, 0.0]]))
    one = found(lambda points: 0.2 * np.minimum(points[:, 0], 30.0), spec_of(), EAST, loop)
    for line in (EAST, loop):
        rows = one.checks[one.checks["line_id"] == line.line_id]
        assert (rows["from_m"].iloc[0], rows["to_m"].iloc[-1]) == (0.0, line.length_m)
        assert rows["from_m"].iloc[1:].tolist() == rows["to_m"].iloc[:-1].tolist()
    rows = one.hazards[one.hazards["line_id"] == "L"]
    assert rows[["from_m", "to_m"]].to_numpy().tolist() == [[0.0, 30.0], [210.0, 240.0]]
    assert rows.index.nunique() == 1


def test_short_gaps_go_with_what_lies_about_them_and_ends_stay() -> None:
    edges = np.arange(11.0) * 5.0
    band = np.array([0, 2, 0, 2, 0, 0, 0, 0, 3, 2])
    raised = without_gaps(band, start_m=edges[:-1], end_m=edges[1:], gap_m=20.0)
    assert raised.tolist() == [0, 2, 2, 2, 0, 0, 0, 0, 3, 2]
    raised = without_gaps(band, start_m=edges[:-1], end_m=edges[1:], gap_m=21.0)
    assert raised.tolist() == [0, 2, 2, 2, 2, 2, 2, 2, 3, 2]


@pytest.mark.parametrize("seed", range(12))
def test_flags_against_a_twin_that_tries_every_half_metre(seed: int, slope_scenes: ModuleType) -> None:
    """Flagged wherever the twin is over by a quarter of a degree; no flagged stretch without a place of the twin's."""
    one = slope_scenes.scene(seed)
    compared = slope_scenes.compared(one, slope_scenes.hazards_of(one))
    assert (compared.missed, compared.wrong) == (0, 0)


def test_a_place_is_where_the_line_is() -> None:
    slopes = slopes_beside(EAST, ground=falling(3.0), error_m=0.1, limits=limits_of(spec_of()))
    assert points_at(EAST, slopes.chainage_m)[-1].tolist() == [100.0, 0.0]
    assert slopes.sides == ("left", "right")
    assert slopes.flagged_m == {"left": 0.0, "right": 0.0}
