"""The strip of soils under a row of the long section: what the zones say, and where none covers the line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fencegis.exports.section.paper import BRICK, SMALL, Paper, width_mm

if TYPE_CHECKING:
    from fencegis.exports.section.scales import Row

FILE = "soils.geojson"  # as the layer `soils` has it where a zone covers the line
TALL_MM, BELOW_MM, WORDS_MM = 3.6, 2.4, 2.6


def soil_strip(paper: Paper, soils: list[Any], row: Row, top: float) -> float:
    """Draw the line's rows of the layer `soils` below `top` and return how far down they reach, in millimetres.

    Nothing is drawn for a line without any zone: its notes say that soil is not checked.
    """
    if all(span.basis != FILE for span in soils):
        return top
    for span in soils:
        if span.to_m <= row.from_m or span.from_m >= row.to_m:
            continue
        begin, end = row.right_mm(max(span.from_m, row.from_m)), row.right_mm(min(span.to_m, row.to_m))
        known = span.basis == FILE
        if known:
            paper.box("run", begin, top, end, top + TALL_MM)
        else:
            paper.line("unknown", ((begin, top + TALL_MM), (end, top + TALL_MM)))
        said = (f"soil: {span.soil}", span.soil) if known else ("soil not checked", "not checked")
        words = next((text for text in said if width_mm(text, SMALL) < end - begin - 1.0), None)
        if words:
            look = {} if known else {"colour": BRICK}
            paper.write(words, ((begin + end) / 2.0, top + WORDS_MM), size=SMALL, align="center", **look)
    return top + TALL_MM + BELOW_MM
