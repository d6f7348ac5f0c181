"""The page of words of each kind of hazard."""

from __future__ import annotations

from fencegis.exports.answers import KINDS
from fencegis.exports.hazard_pages import hazard_pages


def test_every_kind_that_a_plan_may_flag_has_a_page_and_every_page_the_same_parts() -> None:
    pages = hazard_pages()
    assert set(pages) == set(KINDS)
    forms = {tuple(name for name, _ in page.parts()) for page in pages.values()}
    assert forms == {("What is marked", "Why it matters", "Rule", "Example", "On site", "Source")}
    assert all(words.strip() for page in pages.values() for _, words in page.parts())


def test_a_source_says_how_it_was_read_and_no_print_is_common_practice() -> None:
    pages = hazard_pages()
    assert pages["side slope"].source.endswith("of which the opening was read (second hand)")
    assert pages["tree limb"].source == "common practice"
