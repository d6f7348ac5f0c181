"""Text from files can become neither markup nor formula."""

from __future__ import annotations

import pytest

from fencegis.exports.file_text import code, inert, unmarked


@pytest.mark.parametrize(
    "hostile", ["</script><b>x</b>", "<![CDATA[<img src=x onerror=y>]]>", "a\x00b\nc\x1b[31m", "$[name]"]
)
def test_unmarked_text_holds_no_markup_and_no_second_line(hostile: str) -> None:
    text = unmarked(hostile)
    assert not set(text) & set("<>\n\x00\x1b")
    assert "$[" not in text


def test_unmarked_keeps_what_does_no_harm() -> None:
    assert unmarked('Žitava 牧場 A&B "q"') == 'Žitava 牧場 A&B "q"'


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1+1", "\n=1", "\u200f=1"])
def test_a_formula_is_shown_not_reckoned(cell: str) -> None:
    assert inert(cell).startswith("'")


def test_other_cells_are_left_alone() -> None:
    assert inert("line A, 3 m") == "line A, 3 m"


def test_a_feature_code_is_plain_capitals() -> None:
    assert code("H1 overhead power, =cmd 牧 Žito") == "H1 OVERHEAD POWER CMD ZITO"
