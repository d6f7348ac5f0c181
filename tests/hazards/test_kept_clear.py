"""Buried services, keep-outs and survey marks: flags, bans and the proof, worked by hand."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from fencegis.hazards.found import Scene
from fencegis.hazards.kept_clear import distances_m, kept_clear
from fencegis.hazards.kept_things import kept_m, things
from fencegis.hazards.proofs import clearance_table, post_places
from fencegis.line.chainage import Line
from fencegis.records.spec import Spec

LINE = Line("A", closed=False, corners=np.array([[0.0, 0.0], [100.0, 0.0]]))
LOOP = Line("L", closed=True, corners=np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]]))
HALF_M = 0.1  # of a post


def layer(*features):
    rows = [{"feature": f"feature {place}", "name": None, **own} for place, (_, own) in enumerate(features, start=1)]
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry=[shape for shape, _ in features])


def scene(line=LINE, walked=None, position_m=0.0, **layers):
    spec = Spec.model_validate(
        {
            "fence": {"post_mm": 200.0},
            "boundary": {"drawn_from": "survey", "position_error_m": position_m},
            "walked": walked or {},
        }
    )
    site = SimpleNamespace(spec=spec, services=None, keepout=None, pegs=None)
    vars(site).update(layers)
    return Scene([SimpleNamespace(line=line, line_id=line.line_id)], site, None)


def checks_of(found, kind):
    return found.checks[found.checks["kind"] == kind]


def service(at_m, **own):
    return shapely.LineString([(at_m, -20.0), (at_m, 20.0)]), own


def test_a_service_that_crosses_is_flagged_as_far_as_it_may_lie_and_its_rule_reaches():
    found = kept_clear(scene(services=layer(service(50.0, owner="the water office", kind="water", quality="B"))))
    (row,) = found.hazards.to_dict("records")
    reach = kept_m("hand dig") + 0.3 + HALF_M
    assert (row["from_m"], row["to_m"]) == pytest.approx((50.0 - reach, 50.0 + reach))
    assert row["clearance_given_m"] == 0.0
    assert row["required_m"] == pytest.approx(0.6096)
    assert "crosses the line at 50.0 m" in row["basis"]
    assert "owner the water office" in row["basis"]
    assert "not a permit" in row["advice"]
    (ban,) = found.bans
    assert ban.stretch == pytest.approx((50.0 - reach, 50.0 + reach))


def test_the_owners_own_rule_counts_where_it_asks_for_more():
    found = kept_clear(scene(services=layer(service(50.0, quality="A", buffer_m=3.0))))
    assert found.hazards["required_m"].tolist() == [3.0]
    assert "its owner's own rule" in found.hazards["rule"].iloc[0]
    less = kept_clear(scene(services=layer(service(50.0, quality="A", buffer_m=0.1))))
    assert less.hazards["required_m"].tolist() == [pytest.approx(0.6096)]


def test_only_what_was_exposed_by_hand_is_known_better_than_its_plan():
    unsaid = kept_clear(scene(services=layer(service(50.0, quality=None)))).hazards
    exposed = kept_clear(scene(services=layer(service(50.0, quality=None, exposed=True)))).hazards
    assert np.ptp(unsaid[["from_m", "to_m"]].to_numpy()) == pytest.approx(2 * (0.6096 + 5.0 + HALF_M))
    assert np.ptp(exposed[["from_m", "to_m"]].to_numpy()) == pytest.approx(2 * (0.6096 + 0.05 + HALF_M))


def test_the_drawings_errors_widen_the_flag_and_not_the_stretch_without_posts():
    found = kept_clear(scene(position_m=1.0, services=layer(service(50.0, quality="B"))))
    assert found.hazards["from_m"].iloc[0] == pytest.approx(50.0 - (0.6096 + 0.3 + HALF_M + 2.0))
    assert found.bans[0].stretch[0] == pytest.approx(50.0 - (0.6096 + 0.3 + HALF_M))


def test_a_service_along_the_line_says_so():
    along = shapely.LineString([(10.0, 0.5), (60.0, 0.5)])
    (row,) = kept_clear(scene(services=layer((along, {"quality": "B"})))).hazards.to_dict("records")
    assert "runs along the line" in row["basis"]
    assert row["clearance_given_m"] == pytest.approx(0.5 - HALF_M)
    assert row["clearance_m"] == pytest.approx(0.5 - HALF_M - 0.3)


def test_private_lines_are_named_whatever_the_layer_says():
    for found in (kept_clear(scene()), kept_clear(scene(services=layer(service(500.0, quality="A"))))):
        (row,) = checks_of(found, "buried service").to_dict("records")
        assert row["status"] == "not checked"
        assert "private lines are not on public plans" in row["basis"]
    located = kept_clear(scene(walked={"services": "located 5 March"}, services=layer(service(500.0, quality="A"))))
    (row,) = checks_of(located, "buried service").to_dict("records")
    assert row["status"] == "clear"
    assert row["basis"].startswith("none found in services.geojson (1 feature) — walked located 5 March")
    assert "private lines are not on public plans" in row["basis"]


def test_a_layer_taken_away_is_not_checked_on_every_metre():
    found = kept_clear(scene(walked={"services": "today", "keepouts": "today"}))
    for kind in ("buried service", "keep-out", "survey mark"):
        (row,) = checks_of(found, kind).to_dict("records")
        assert (row["from_m"], row["to_m"], row["status"]) == (0.0, 100.0, "not checked")


def test_a_keep_out_keeps_faces_out_of_its_area_and_its_margin():
    area = shapely.box(30.0, -5.0, 40.0, 5.0)
    found = kept_clear(scene(keepout=layer((area, {"reason": "nesting", "radius_m": 1.0}))))
    (row,) = found.hazards.to_dict("records")
    assert (row["from_m"], row["to_m"]) == pytest.approx((30.0 - 1.1, 40.0 + 1.1))
    assert "the line runs through it" in row["basis"]
    bare = kept_clear(scene(keepout=layer((area, {"reason": None, "radius_m": np.nan}))))
    assert bare.bans[0].stretch == pytest.approx((29.9, 40.1))


def test_a_survey_mark_has_a_circle_and_an_agreed_corner_none():
    pegs = layer((shapely.Point(20.0, 0.0), {"kind": "survey"}), (shapely.Point(80.0, 0.0), {"kind": "agreed"}))
    found = kept_clear(scene(pegs=pegs))
    (ban,) = found.bans
    assert ban.why == "survey mark"
    assert ban.stretch == pytest.approx((19.4, 20.6))
    assert "offence" in found.hazards["advice"].iloc[0]
    assert len(things(SimpleNamespace(pegs=pegs, services=None, keepout=None), "survey mark")) == 1


def test_a_stretch_over_a_loops_start_is_one_hazard_in_two_rows():
    found = kept_clear(scene(line=LOOP, services=layer((shapely.Point(0.0, 0.0), {"quality": "B"}))))
    assert len(found.hazards) == 2
    assert found.hazards.index[0] == found.hazards.index[1]


def posts(chainages, face_mm=200.0):
    names = [f"A-{number:03d}" for number in range(1, len(chainages) + 1)]
    return pd.DataFrame({"line_id": "A", "chainage_m": chainages, "post_id": names, "face_mm": face_mm})


def test_the_proof_names_the_nearest_face_and_says_whether_the_distance_is_kept():
    site = scene(
        services=layer(service(50.0, quality="B")),
        keepout=layer((shapely.box(30.0, 1.0, 40.0, 5.0), {"reason": "x", "radius_m": 0.0})),
    ).site
    table = clearance_table(posts([32.0, 48.5, 51.0]), lines=[LINE], site=site)
    by_kind = table.set_index("kind")
    assert by_kind.loc["buried service", "post_id"] == "A-003"
    assert by_kind.loc["buried service", "least_m"] == pytest.approx(0.9)
    assert not by_kind.loc["buried service", "kept"]  # 0.9 m is less than 0.61 and 0.3
    assert by_kind.loc["keep-out", "least_m"] == pytest.approx(0.9)
    assert by_kind.loc["keep-out", "kept"]


def test_the_thickest_post_may_be_nearer_than_the_nearest_centre():
    table = posts([48.0, 51.9]).assign(face_mm=[600.0, 100.0])
    site = scene(services=layer(service(50.0, quality="A"))).site
    row = clearance_table(table, lines=[LINE], site=site).iloc[0]
    assert (row["post_id"], row["least_m"]) == ("A-001", pytest.approx(1.7))


@pytest.mark.parametrize("seed", range(20))
def test_the_proof_agrees_with_trying_every_post(seed):
    draw = np.random.default_rng(seed)
    table = posts(np.sort(draw.uniform(0.0, 100.0, 30))).assign(face_mm=draw.uniform(80.0, 400.0, 30))
    lines = [
        (shapely.LineString(np.column_stack([draw.uniform(0, 100, 3), draw.uniform(-8, 8, 3)])), {"quality": "B"})
        for _ in range(4)
    ]
    site = scene(services=layer(*lines)).site
    found = clearance_table(table, lines=[LINE], site=site)
    places = post_places(table, lines=[LINE])
    for row, (shape, _) in zip(found.itertuples(), lines, strict=True):
        faces = distances_m(places, shape) - table["face_mm"].to_numpy() / 2000.0
        assert row.least_m == pytest.approx(max(0.0, faces.min()))
