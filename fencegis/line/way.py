"""Where the fence runs: the drawn lines as runs and corners over their ground and soil, and the layers of that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from fencegis.errors import InputError
from fencegis.line.break_tables import faint_break_table
from fencegis.line.course import courses_of
from fencegis.line.drawing_error import told_by_drawing
from fencegis.line.ground import heights
from fencegis.line.network import network
from fencegis.line.run_table import corner_table, node_table, profile_table, run_table
from fencegis.line.site_notes import notes_on_ground
from fencegis.line.surface_model import surface_faults
from fencegis.line.title import title_table
from fencegis.line.zones import notes_on_soils, soil_spans

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd
    import numpy.typing as npt
    import pandas as pd

    from fencegis.line.chainage import Line
    from fencegis.line.course import Course
    from fencegis.line.zones import SoilSpan
    from fencegis.records.notes import Note
    from fencegis.records.site import Site
    from fencegis.records.spec import FenceKind

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Way:
    """Where the fence runs, over what ground and soil."""

    courses: list[Course]
    zones: dict[str, tuple[SoilSpan, ...]]  # by line
    tables: dict[str, pd.DataFrame]
    notes: list[Note]

    @property
    def lines(self) -> list[Line]:
        """The lines with their chainage."""
        return [course.line for course in self.courses]

    @property
    def kinds(self) -> dict[str, FenceKind]:
        """What is built on each line."""
        return {course.line_id: course.kind for course in self.courses}


def where_it_runs(site: Site, *, soil_unknown: str) -> Way:
    """Return the planned lines with their ground and soil, and their layers.

    `soil_unknown` is the soil taken where no zone covers a line. Raises InputError for tree tops given for ground.
    """
    spec, pegs = site.spec, _points(site.pegs)
    drawn, drawing_notes = told_by_drawing(site.drawn, spec, pegs=pegs)
    net = network(drawn, pegs=pegs, spec=spec)
    courses = courses_of(
        net,
        ground=ground_of(site),
        cell_m=1.0 if site.terrain is None else site.terrain.cell_m,
        vertical_error_m=spec.elevation.vertical_error_m,
    )
    tree_tops, surface_notes = surface_faults(courses, spec=spec)
    if tree_tops:
        raise InputError(tree_tops)
    runs, run_notes = run_table(courses, site=site)
    title, title_notes = title_table(site.title, runs, lines=[course.line for course in courses], spec=spec)
    tables = {
        "runs": runs,
        "corners": corner_table(courses, bend_rule=spec.rules.bends),
        "faint_breaks": faint_break_table(courses),
        "nodes": node_table(net.meetings),
        "profile": profile_table(courses),
        "title": title,
    }
    zones = {course.line_id: soil_spans(course.line, soils=site.soils) for course in courses}
    notes = [*drawing_notes, *net.notes, *run_notes, *title_notes, *notes_on_ground(courses, site=site), *surface_notes]
    notes += notes_on_soils(zones, given=site.soils is not None, assumed=soil_unknown)
    return Way(courses, zones, tables, notes)


def ground_of(site: Site) -> Callable[[Floats], Floats] | None:
    """Return points → heights of a site, None when it has no elevation."""
    return None if site.terrain is None else partial(heights, site.terrain, site.grid.wkt)


def _points(layer: gpd.GeoDataFrame | None) -> Floats:
    if layer is None:
        return np.zeros((0, 2))
    return np.column_stack([layer.geometry.x, layer.geometry.y])
