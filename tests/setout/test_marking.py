"""All that is marked, together."""

import numpy as np

from fencegis.line.chainage import Line
from fencegis.records.spec import Spec
from fencegis.records.tables import empty
from fencegis.setout.marking import marking


def test_a_plain_rail_run_gets_strings_sights_and_says_so(tables):

    made = tables() | {"strainers": empty("strainers"), "gates": empty("gates"), "corners": empty("corners")}
    spec = Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}})
    line = Line("A", False, np.array([(0.0, 0.0), (0.0, 100.0)]))
    found = marking(made, lines=[line], kind_of_line={"A": "post and rail"}, spec=spec, tells_posts=True)
    assert [(name, len(table)) for name, table in found.tables.items()] == [
        ("strings", 1),
        ("sights", 2),
        ("reference_pegs", 0),
    ]
    said = [note.text.split(":")[0] for note in found.notes]
    assert said == ["strings", "a morning job", "sighting"]


def test_canopy_is_asked_for_along_each_line_and_said(tables):
    made = tables() | {"strainers": empty("strainers"), "gates": empty("gates"), "corners": empty("corners")}
    spec = Spec.model_validate({"fence": {"kind": "post and rail", "rail_m": [4.8]}})
    line = Line("A", False, np.array([(0.0, 0.0), (0.0, 100.0)]))

    def leaves(about, station_m):
        assert about is line
        return np.where(np.abs(station_m - 50.0) < 10.0, 9.0, np.where(station_m > 90.0, np.nan, 0.0))

    found = marking(made, lines=[line], kind_of_line={"A": "post and rail"}, spec=spec, tells_posts=True, canopy=leaves)
    assert found.tables["sights"]["chainage_m"].tolist() == [0, 40, 60, 100]
    said = "\n".join(note.text for note in found.notes)
    assert "Canopy is taken for leaves from the ground up" in said
    assert "canopy unknown at 91–100 m" in said
