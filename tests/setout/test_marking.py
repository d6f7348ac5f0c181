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
