"""The strip of soils under a row of the long section."""

from types import SimpleNamespace

import pytest

from fencegis.exports.section.paper import BRICK, Paper
from fencegis.exports.section.scales import LEFT_MM, Row
from fencegis.exports.section.soils import FILE, TALL_MM, soil_strip
from fencegis.strength.post_holes import ASSUMED

ROW = Row(100.0, 300.0, 0.0, 10.0, 1.0, 1.0)


def spans(*rows):
    return [SimpleNamespace(from_m=a, to_m=b, soil=soil, basis=basis) for a, b, soil, basis in rows]


def test_zones_are_boxes_cut_at_the_row_and_what_is_not_covered_says_so():
    paper = Paper()
    zones = (0, 150, "loam", FILE), (250, 290, "rock", FILE), (310, 400, "bog", FILE)
    soils = spans(zones[0], (150, 250, "sand", ASSUMED), *zones[1:])
    assert soil_strip(paper, soils, ROW, 50.0) > 50.0 + TALL_MM
    assert [word.text for word in paper.words] == ["soil: loam", "soil not checked", "soil: rock"]
    assert paper.words[1].colour == BRICK
    first, second = paper.shapes["run"]
    assert (first[0][0], first[1][0]) == (LEFT_MM, pytest.approx(LEFT_MM + 50.0))
    assert second[0][0] == pytest.approx(LEFT_MM + 150.0)
    assert len(paper.lines["unknown"]) == 1


def test_a_line_without_zones_has_no_strip():
    paper = Paper()
    assert soil_strip(paper, spans((0, 400, "sand", ASSUMED)), ROW, 50.0) == 50.0
    assert soil_strip(paper, [], ROW, 50.0) == 50.0
    assert paper == Paper()
