"""Posts that keep clear of something on their line, and what is said of it."""

import numpy as np
import pytest

from fencegis.layout.clear_notes import notes_on_kept_clear
from fencegis.layout.post_tables import divide_table, named
from fencegis.layout.posts import shared_out
from fencegis.layout.strainers import fixed_posts
from fencegis.records.spec import Fence


def clear_of(course, spans, **settings):
    fence = Fence(**settings)
    fixed = fixed_posts(course, gates=(), fence=fence, bay_m=fence.post_spacing_m, lift=np.zeros_like)
    (one,) = named([(course, fixed, shared_out(course, fixed=fixed, gates=(), fence=fence, kept_clear=spans))])
    return one


def test_posts_move_off_a_service_and_bays_stay_within_the_limit(course):
    line = course((0, 0), (40, 0))
    one = clear_of(line, [(24.0, 26.5)], strain_m=100.0)
    at = one.row.chainage_m
    assert not ((at > 24.0 + 1e-6) & (at < 26.5 - 1e-6)).any()
    assert np.diff(at).max() <= 5.0 + 0.01
    (note,) = notes_on_kept_clear([one], kept_clear={"A": {"buried service": [(24.0, 26.5)]}})
    assert note.severity == "default"
    assert "mark them by the running tape, not by dividing" in note.text
    assert "buried service" in note.text


def test_posts_that_stand_clear_anyway_stay_where_they_are(course):
    line = course((0, 0), (40, 0))
    one = clear_of(line, [(21.0, 24.0)], strain_m=100.0)
    assert one.row.chainage_m == pytest.approx(np.arange(0.0, 41.0, 5.0))
    assert notes_on_kept_clear([one], kept_clear={"A": {"keep-out": [(21.0, 24.0)]}}) == []


def test_a_corner_or_end_in_the_way_is_told(course):
    line = course((0, 0), (40, 0))
    one = clear_of(line, [(39.0, 40.0)], strain_m=100.0)
    (note,) = notes_on_kept_clear([one], kept_clear={"A": {"keep-out": [(39.0, 40.5)]}})
    assert note.severity == "doubt"
    assert note.text.startswith("post A-009 stands on what it should keep off (keep-out)")
    assert note.chainage_m == pytest.approx(40.0)


def test_what_is_wider_than_a_bay_keeps_its_post_and_the_note_says_so(course):
    line = course((0, 0), (40, 0))
    one = clear_of(line, [(10.5, 19.0)], strain_m=100.0)
    notes = notes_on_kept_clear([one], kept_clear={"A": {"keep-out": [(10.5, 19.0)]}})
    assert [note.severity for note in notes].count("doubt") == 1


def test_a_string_over_moved_posts_is_not_divided(course):
    import pandas as pd

    line = course((0, 0), (24, 0), kind="post and rail")
    runs = pd.DataFrame({"line_id": ["A"], "from_m": [0.0], "to_m": [24.0], "run_id": ["A-R1"]})
    settings = {"kind": "post and rail", "rail_m": (4.8,)}
    assert len(divide_table([clear_of(line, [], **settings)], runs)) == 3
    middle = float(clear_of(line, [], **settings).row.chainage_m[5])
    moved = clear_of(line, [(middle - 0.2, middle + 0.2)], **settings)
    assert len(divide_table([moved], runs)) == 0


def test_posts_that_nothing_can_move_off_stay_at_equal_bays_and_can_be_divided(course):
    import pandas as pd

    line = course((0, 0), (24, 0), kind="post and rail")
    runs = pd.DataFrame({"line_id": ["A"], "from_m": [0.0], "to_m": [24.0], "run_id": ["A-R1"]})
    wide = clear_of(line, [(4.0, 20.0)], kind="post and rail", rail_m=(4.8,))
    assert not any(stretch.moved for stretch in wide.row.stretches)
    assert len(divide_table([wide], runs)) == 3
