"""The rails' pattern on a run's sheet, with a cap and with rails between the posts, and what is said of both."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fencegis.exports.sheets.lists import setting
from fencegis.exports.sheets.posts import walks
from fencegis.exports.sheets.rails import draw_rails, table_title
from fencegis.inputs.site_folder import read_site
from fencegis.pipeline import plan_site
from fencegis.records.spec import Fence

if TYPE_CHECKING:
    from pathlib import Path

LEFT, ACROSS = 10.0, 40.0  # four bays of 10 mm


class Pencil:
    """A pad that keeps what is drawn on it."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.rules: list[tuple[tuple[float, float], tuple[float, float], bool]] = []
        self.boxes: list[tuple[float, float]] = []

    def write(self, text: str, at: tuple[float, float], **look: object) -> None:
        assert at
        assert look
        self.words.append(text)

    def rule(self, begin, end, *, width, dashes=()) -> None:
        assert width > 0.0
        self.rules.append((begin, end, bool(dashes)))

    def box(self, corner, wide_mm, tall_mm) -> None:
        assert tall_mm > 0.0
        self.boxes.append((corner[0], corner[0] + wide_mm))

    def rails(self) -> list[tuple[float, float]]:
        """From where to where lines run along the paper."""
        return [(begin[0], end[0]) for begin, end, dotted in self.rules if begin[1] == end[1] and not dotted]

    def joints(self) -> set[float]:
        return {begin[0] for begin, _, dotted in self.rules if dotted}

    def posts(self) -> list[tuple[float, float]]:
        """How far down the paper the posts' lines begin and end."""
        return [(begin[1], end[1]) for begin, end, dotted in self.rules if begin[0] == end[0] and not dotted]


def drawn(*rails: tuple[int, float, float], between: bool = False) -> Pencil:
    stretch = SimpleNamespace(station_m=np.arange(5) * 2.0, names=[f"A-{place}" for place in range(1, 6)])
    laid = [SimpleNamespace(row=row, from_m=begin, to_m=end) for row, begin, end in rails]
    pad = Pencil()
    draw_rails(pad, SimpleNamespace(stretches=[stretch], rails=laid), (LEFT, 0.0), ACROSS, 16.0, between=between)
    return pad


def test_rails_run_between_their_joints_which_are_dotted() -> None:
    pad = drawn((1, 0.0, 4.0), (1, 4.0, 8.0), (2, 0.0, 2.0), (2, 2.0, 6.0), (2, 6.0, 8.0))
    assert pad.rails() == [(10.0, 30.0), (30.0, 50.0), (10.0, 20.0), (20.0, 40.0), (40.0, 50.0)]
    assert pad.joints() == {10.0, 20.0, 30.0, 40.0, 50.0}
    assert pad.words == ["RAILS from A-1 to A-5, top row first; joints dotted"]
    assert pad.boxes == []


def test_a_cap_is_a_board_over_the_rails() -> None:
    pad = drawn((1, 0.0, 4.0), (0, 0.0, 2.0), (0, 2.0, 6.0))
    assert pad.boxes == [(10.0, 20.0), (20.0, 40.0)]
    assert pad.rails() == [(10.0, 30.0)]
    assert pad.words == ["RAILS from A-1 to A-5, cap, then top row; joints dotted"]


def test_rails_between_posts_stop_at_the_posts_which_stand_up_among_them() -> None:
    pad = drawn((1, 0.0, 2.0), (1, 2.0, 4.0), between=True)
    assert np.array(pad.rails()) == pytest.approx(np.array([(10.7, 19.3), (20.7, 29.3)]))
    assert pad.joints() == set()
    face = drawn((1, 0.0, 4.0))
    assert pad.posts()[0][0] < face.posts()[0][0]
    assert pad.words == ["RAILS from A-1 to A-5, top row first; centred, bay by bay"]
    capped = drawn((0, 0.0, 4.0), (1, 0.0, 2.0), between=True)
    assert capped.joints() == {10.0, 30.0}
    assert capped.words[0].endswith("cap, then top row; centred, bay by bay; joints of the cap dotted")


def test_titles_name_the_cap_and_rails_that_are_centred() -> None:
    plain, capped = Fence(), Fence(cap_m=(4.8,))
    both = Fence(cap_m=(4.8,), rails_fixed="centred")
    assert [table_title("RAILS", one) for one in (plain, capped)] == ["RAILS", "RAILS AND CAP"]
    assert table_title("RAIL CUT LIST", both) == "RAIL AND CAP CUT LIST, RAILS CENTRED"
    assert table_title("POSTS ON HAND", both) == "POSTS ON HAND"


def test_the_run_sheet_says_how_rails_are_fixed_and_that_a_cap_lies_on_them(tmp_path: Path) -> None:
    (tmp_path / "boundary.geojson").write_text(
        '{"type": "Feature", "properties": {}, "geometry": {"type": "LineString", '
        '"coordinates": [[149.0, -34.0], [149.0003, -34.0], [149.0003, -34.0003]]}}'
    )

    def told(more: str) -> str:
        (tmp_path / "site.toml").write_text(f'[fence]\nkind = "post and rail"\nrail_m = [4.8]\n{more}')
        plan = plan_site(read_site(tmp_path))
        return "\n".join(setting(plan, walks(plan)[0]))

    plain, both = told(""), told('rails_fixed = "centred"\nhousing_mm = 30.0\ncap_m = [4.8]\n')
    assert "Rails on the left." in plain
    assert "mitre 45.0°" in plain
    assert "Cap" not in plain
    assert "Rails centred." in both
    assert "ends cut square, let in 30 mm, level, in every post." in both
    assert "Cap 200 × 50 mm flat on the posts: tops cut level across at the top rail's top." in both
    assert "rails square, cap mitre 45.0°" in both
