"""Text from files on pages."""

from __future__ import annotations

import json
from html.parser import HTMLParser

import pytest

from fencegis.exports.page_text import literal, plain, script_json

NASTY = (
    "</script><script>alert(1)</script>",
    "${alert(1)}",
    "`x`",
    "<img src=x onerror=alert(1)>",
    "C:\\new\\u003cb",
    "A&B \"quote\" 'single' &lt;",
    "Žitava 牧場 κτήμα",
)


class _Shown(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text, self.tags = "", []

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002
        self.tags.append(tag)


@pytest.mark.parametrize("text", NASTY)
def test_a_page_shows_the_text_itself_and_no_markup_comes_of_it(text: str) -> None:
    page = _Shown()
    page.feed(f"<p>{literal(text)}</p>")
    page.close()
    assert page.text == text
    assert page.tags == ["p"]
    assert not set(literal(text)) & set("<>`$\\\"'")


@pytest.mark.parametrize("text", NASTY)
def test_json_in_a_script_element_reads_back_and_cannot_end_it(text: str) -> None:
    written = script_json({"name": text, "apart": "\u2028\u2029"})
    assert json.loads(written) == {"name": text, "apart": "\u2028\u2029"}
    assert not set(written) & set("<>&\u2028\u2029")


def test_numbers_that_json_does_not_have_are_refused() -> None:
    with pytest.raises(ValueError, match="Out of range float"):
        script_json([float("nan")])


def test_a_direction_override_is_shown_as_a_mark_and_turns_nothing() -> None:
    assert plain("gate \u202eefas\u202c 1") == "gate \ufffdefas\ufffd 1"
    assert plain("\u200fשער\u200e") == "\u200fשער\u200e"


def test_control_characters_and_line_breaks_leave_one_line() -> None:
    assert plain(" a\r\n\tb\x00c\x1b[31m ") == "a b\ufffdc\ufffd[31m"
    assert plain("lone \ud800 half").encode() == "lone \ufffd half".encode()
    assert plain("two  blanks") == "two blanks"
