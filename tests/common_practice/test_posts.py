"""Common practice, with no print: posts of a display fence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fencegis.catalogue import rows
from fencegis.inputs.posts_file import read_posts
from fencegis.records.spec import Fence
from fencegis.setout.post_marks import hole_offset_mm, notes_on_marks

if TYPE_CHECKING:
    from pathlib import Path

    from fencegis.records.plan import Plan


def test_hardwood_posts_of_240_mm_are_ordinary_on_a_display_fence(tmp_path: Path) -> None:
    """As gate posts without a word in site.toml, and in the yard without a fault or a doubt."""
    assert Fence().gate_post_mm == 240.0
    path = tmp_path / "posts.csv"
    path.write_text("count,length_m,butt_mm,top_mm,sweep_mm\n40,2.4,240,220,10\n")
    read = read_posts(path)
    assert read.problems == read.notes == ()
    assert float(hole_offset_mm(120.0, gap_mm=Fence().string_gap_mm)) == 130.0


@pytest.mark.parametrize("kind", ["post and rail", "wire"])
def test_posts_are_laid_out_at_their_marks_before_any_hole_is_made(small_plan: Plan, kind: str) -> None:
    posts = small_plan.posts.assign(face_mm=175.0, shift_limit_mm=30.0)
    said = [note.text for note in notes_on_marks(posts, kind_of_line={"A": kind, "B": kind}, fence=Fence())]
    assert any(text.startswith("lay every post out at its mark before any hole is made") for text in said)


def test_three_heaps_and_no_more_tags() -> None:
    assert {row["item"]: row["value"] for row in rows("yard")}["heaps"] == "3"
