"""DEVELOPERS.md shows the layers as they are."""

from pathlib import Path

from fencegis.records.tables import as_markdown

ROOT = Path(__file__).parents[2]


def test_the_layer_tables_are_those_of_the_code() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert text.endswith(as_markdown()), "rewrite the end of DEVELOPERS.md with records.tables.as_markdown()"
