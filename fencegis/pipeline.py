"""The order of the steps: Site → Plan. Touches no file, and no step reads a later one."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fencegis.hazards.limbs import limbs
from fencegis.hazards.overhead import overhead
from fencegis.hazards.register import check_table, hazard_table, no_strainer
from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.layout.gates import gate_table, hung
from fencegis.layout.post_tables import bay_table, breaks_taken, divide_table, named, post_table, strainer_table
from fencegis.layout.posts import shared_out
from fencegis.layout.site_notes import notes_on_layout, notes_on_strainers
from fencegis.layout.strainers import fixed_posts
from fencegis.line.course import courses_of
from fencegis.line.geometry import with_geometry
from fencegis.line.ground import heights
from fencegis.line.network import network
from fencegis.line.run_table import break_table, corner_table, node_table, profile_table, run_table
from fencegis.line.site_notes import notes_on_ground, notes_on_pegs, walked_notes
from fencegis.records.plan import Plan
from fencegis.records.tables import checked, empty
from fencegis.records.unbuilt import not_computed
from fencegis.strength.strainer_pull import notes_on_pull, strainer_pull
from fencegis.strength.wire import lift_kn, lift_of_turn_kn

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    import numpy.typing as npt

    from fencegis.line.chainage import Line
    from fencegis.records.notes import Note
    from fencegis.records.site import Site

    Floats = npt.NDArray[np.float64]

SOIL_UNKNOWN = "sand"  # until soil zones are read: the soil that asks for the deeper post


def plan_site(site: Site) -> Plan:
    """Return the plan of a site as read.

    Raises InputError for what only the planned line shows: two gates in one place, a gate wider than its run.
    """
    spec, fence = site.spec, site.spec.fence
    ground = None if site.terrain is None else partial(heights, site.terrain, site.grid.wkt)

    # where it runs
    net = network(site.drawn, pegs=_points(site.pegs), spec=spec)
    courses = courses_of(
        net,
        ground=ground,
        cell_m=1.0 if site.terrain is None else site.terrain.cell_m,
        vertical_error_m=spec.elevation.vertical_error_m,
    )
    runs, bearing_notes = run_table(courses, site=site)

    # what can hurt somebody or stop the machine
    lines = [course.line for course in courses]
    found = [
        overhead(lines, ground=ground, layer=site.overhead, spec=spec),
        limbs(lines, ground=ground, layer=site.trees, spec=spec),
    ]

    # where each post goes
    gates = hung(courses, gates=site.gates, spec=spec)
    avoided = no_strainer(found)
    laid_out = []
    for place, course in enumerate(courses):
        own = [gate for gate in gates.gates if gate.line == place]
        fixed = fixed_posts(
            course,
            gates=own,
            fence=fence,
            bay_m=greatest_bay_m(course.kind, fence),
            lift=partial(lift_of_turn_kn, wires=fence.wires, tension_kn=fence.tension_kn),
            forbidden=avoided.get(course.line_id, ()),
            bend_rule=spec.rules.bends,
        )
        laid_out.append((course, fixed, shared_out(course, fixed=fixed, gates=own, fence=fence)))
    rows = named(laid_out)
    strainers = strainer_pull(
        strainer_table(rows),
        kind_of_line={course.line_id: course.kind for course in courses},
        fence=fence,
        soil=SOIL_UNKNOWN,
    )
    posts = post_table(rows, lift=partial(lift_kn, wires=fence.wires, tension_kn=fence.tension_kn), fence=fence)

    tables = {
        "runs": runs,
        "corners": corner_table(courses, bend_rule=spec.rules.bends),
        "breaks": breaks_taken(break_table(courses), rows, strainers),
        "nodes": node_table(net.meetings),
        "strainers": strainers,
        "posts": posts,
        "bays": bay_table(rows),
        "profile": profile_table(courses),
        "rails": empty("rails"),
        "gates": gate_table(gates, courses, gates=site.gates),
        "hazards": hazard_table(found),
        "checks": check_table(found, courses),
    }
    notes = [
        *site.notes,
        *net.notes,
        *bearing_notes,
        *notes_on_ground(courses, site=site),
        *gates.notes,
        *notes_on_layout(rows, spec=spec),
        *notes_on_strainers(strainers, avoided=avoided),
        *notes_on_pull(strainers, fence=fence, soil=SOIL_UNKNOWN),
        *notes_on_pegs(courses, posts, pegs=site.pegs),
        *(note for one in found for note in one.notes),
        *walked_notes(courses, walk=site.walk),
    ]
    shaped = {name: with_geometry(name, table, lines=lines, crs=site.grid.wkt) for name, table in tables.items()}
    return Plan(
        site=site,
        crs=site.grid.wkt,
        divide=divide_table(rows, runs),
        notes=_note_table(notes, lines),
        not_computed=not_computed(site, tables),
        **shaped,
    )


def _points(layer: gpd.GeoDataFrame | None) -> Floats:
    if layer is None:
        return np.zeros((0, 2))
    return np.column_stack([layer.geometry.x, layer.geometry.y])


def _note_table(notes: Sequence[Note], lines: Sequence[Line]) -> pd.DataFrame:
    """Return the layer `notes`: what is about files first, then along each line, each said once."""
    order = {line.line_id: place for place, line in enumerate(lines, start=1)}
    said = sorted(
        dict.fromkeys(notes),
        key=lambda note: (order.get(note.line_id or "", 0), note.chainage_m is not None, note.chainage_m or 0.0),
    )
    return checked(
        "notes",
        pd.DataFrame(
            {
                "line_id": [note.line_id for note in said],
                "chainage_m": [note.chainage_m for note in said],
                "severity": [note.severity for note in said],
                "text": [note.text for note in said],
            }
        ),
    )
