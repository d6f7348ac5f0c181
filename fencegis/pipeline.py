"""The order of the steps: Site → Plan. Touches no file, and no step reads a later one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from fencegis.hazards.found import Scene
from fencegis.hazards.look import what_can_hurt
from fencegis.hazards.moves import move_table
from fencegis.hazards.proofs import clearance_table
from fencegis.hazards.register import check_table, forbidden, hazard_table, openings, own_layers, stands
from fencegis.layout.bay_limit import greatest_bay_m
from fencegis.layout.clear_notes import notes_on_kept_clear
from fencegis.layout.gates import gate_table, hung
from fencegis.layout.held_back import held_back
from fencegis.layout.plumb import notes_on_stand, with_lean
from fencegis.layout.post_tables import bay_table, breaks_taken, divide_table, named, post_table, strainer_table
from fencegis.layout.posts import shared_out
from fencegis.layout.railing import railing
from fencegis.layout.site_notes import notes_on_layout, notes_on_limits, notes_on_strainers
from fencegis.layout.strainer_words import Brace, words_on_strainers
from fencegis.layout.strainers import fixed_posts
from fencegis.layout.yard import shared_from_yard
from fencegis.line.break_tables import break_table
from fencegis.line.canopy import canopy_about
from fencegis.line.geometry import with_geometry
from fencegis.line.site_notes import notes_on_pegs, walked_notes
from fencegis.line.way import ground_of, where_it_runs
from fencegis.line.zones import soils_at
from fencegis.quantities.bill import quantities
from fencegis.quantities.cut_list import cut_list, with_sticks
from fencegis.quantities.days import day_table
from fencegis.quantities.how_sure import sure_layers
from fencegis.quantities.price import price
from fencegis.records.notes import note_table
from fencegis.records.plan import Plan
from fencegis.records.tables import LAYERS, empty
from fencegis.records.unbuilt import not_computed
from fencegis.setout.marking import marking
from fencegis.setout.post_marks import notes_on_marks, with_marks
from fencegis.strength.assemblies import brace_lift_kn
from fencegis.strength.post_holes import above_ground_m, notes_on_holes, set_in_ground, soil_table, taken_as
from fencegis.strength.side_pull import held_sideways, notes_on_side_pull
from fencegis.strength.stick_holes import holes_for_sticks, notes_on_stick_holes
from fencegis.strength.strain_notes import notes_on_straining
from fencegis.strength.strainer_pull import notes_on_pull, strainer_pull, wires_height_m
from fencegis.strength.uplift import held_down, notes_on_uplift
from fencegis.strength.wind_posts import notes_on_wind, wind_load, wind_on_posts
from fencegis.strength.wire import greatest_turning_deg, lift_kn, lift_of_turn_kn, mean_post_turn_deg, resultant_kn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from fencegis.hazards.found import Found
    from fencegis.layout.post_tables import LaidOut
    from fencegis.layout.railing import Railing
    from fencegis.line.way import Way
    from fencegis.records.notes import Note
    from fencegis.records.site import Site
    from fencegis.setout.marking import Marking

SOIL_UNKNOWN = "sand"  # where no zone covers the line: the soil that asks for the deeper post


def plan_site(site: Site) -> Plan:
    """Return the plan of a site as read.

    Raises InputError for what only the planned line shows: two gates in one place, a gate wider than its run, a machine
    said to be lower than the post it drives, tree tops given for ground.
    """
    way = where_it_runs(site, soil_unknown=SOIL_UNKNOWN)
    scene = Scene(way.courses, site, ground_of(site))
    found = what_can_hurt(scene)
    row = _where_posts_go(site, way, found)
    firm = _will_it_stand(site, way, row)
    railing = _how_high(site, way, row, firm)
    cuts, cut_notes = cut_list(railing.tables["rails"], fence=site.spec.fence)
    tables = {
        **way.tables,
        **row.tables,
        **firm.tables,
        **railing.tables,
        "rails": with_sticks(railing.tables["rails"], cuts),
        "cuts": cuts,
        "breaks": breaks_taken(break_table(way.courses), row.rows, firm.tables["strainers"]),
        **own_layers(found),
        "hazards": hazard_table(found),
        **{name: empty(name) for name in ("quantities", "drops", "days", "price")},
        "checks": check_table(found, way.courses),
    }
    shared = _what_stands_where(site, way, tables)
    tables |= shared.tables
    tables["moves"], move_notes = move_table(tables["hazards"], tables["headroom"], scene=scene)
    tables["clearances"] = clearance_table(tables["posts"], lines=way.lines, site=site)
    marked = _how_it_is_marked(site, way, tables)
    tables |= marked.tables
    taken_off, quantity_notes = quantities(site, tables, lines=way.lines, kind_of_line=way.kinds)
    tables |= taken_off
    tables["days"], day_notes = day_table(site, tables, lines=way.lines, kind_of_line=way.kinds)
    tables["price"], price_notes = price(site, tables)
    tables |= sure_layers(site, tables, kind_of_line=way.kinds)
    notes = [
        *site.notes,
        *way.notes,
        *row.notes,
        *firm.notes,
        *railing.notes,
        *cut_notes,
        *shared.notes,
        *marked.notes,
        *quantity_notes,
        *day_notes,
        *price_notes,
        *notes_on_pegs(way.courses, firm.tables["posts"], pegs=site.pegs),
        *(note for one in found for note in one.notes),
        *move_notes,
        *walked_notes(way.courses, walk=site.walk, zones=way.zones),
    ]
    shaped = {
        name: with_geometry(name, table, lines=way.lines, crs=site.grid.wkt) if LAYERS[name].shape != "table" else table
        for name, table in tables.items()
    }
    return Plan(
        site=site,
        crs=site.grid.wkt,
        notes=note_table(notes, lines=[line.line_id for line in way.lines]),
        not_computed=not_computed(site, tables),
        **shaped,  # type: ignore[arg-type]  # each is shaped as its layer is
    )


@dataclass(frozen=True, eq=False)
class _Row:
    """Where each post goes."""

    rows: list[LaidOut]
    tables: dict[str, pd.DataFrame]
    notes: list[Note]


def _where_posts_go(site: Site, way: Way, found: Sequence[Found]) -> _Row:
    spec, fence = site.spec, site.spec.fence
    gates = hung(way.courses, gates=site.gates, spec=spec)
    kept_clear, ends = forbidden(found, "posts"), stands(found)
    avoided, ways = forbidden(found, "strainers", "posts"), openings(found)
    laid_out = []
    for place, course in enumerate(way.courses):
        own = [gate for gate in gates.gates if gate.line == place]
        fixed = fixed_posts(
            course,
            gates=own,
            fence=fence,
            bay_m=greatest_bay_m(course.kind, fence),
            lift=partial(lift_of_turn_kn, wires=fence.wires, tension_kn=fence.tension_kn),
            forbidden=avoided.get(course.line_id, {}),
            ends=ends.get(course.line_id, ()),
            openings=ways.get(course.line_id, ()),
            bend_rule=spec.rules.bends,
            turning_deg=greatest_turning_deg(),
            post_turn_deg=float(mean_post_turn_deg(fence.post_spacing_m)),
        )
        clear = [span for spans in kept_clear.get(course.line_id, {}).values() for span in spans]
        over = ways.get(course.line_id, ())
        row = shared_out(course, fixed=fixed, gates=own, fence=fence, kept_clear=clear, openings=over)
        laid_out.append((course, fixed, row))
    rows = named(laid_out)
    held = partial(held_back, terrain=site.terrain, bay_m=fence.post_spacing_m)
    posts = post_table(
        rows,
        lift=partial(lift_kn, wires=fence.wires, tension_kn=fence.tension_kn),
        bend=partial(resultant_kn, wires=fence.wires, tension_kn=fence.tension_kn),
    )
    tables = {
        "strainers": held("strainers", strainer_table(rows)),
        "posts": held("posts", with_lean(posts, way.courses, fence=fence)),
        "bays": held("bays", bay_table(rows)),
        "divide": divide_table(rows, way.tables["runs"]),
        "gates": gate_table(gates, way.courses, gates=site.gates),
    }
    notes = [
        *gates.notes,
        *notes_on_layout(rows, spec=spec),
        *notes_on_kept_clear(rows, kept_clear=kept_clear),
        *notes_on_strainers(tables["strainers"], avoided=avoided),
        *notes_on_limits(rows, strain_m=fence.strain_m, turning_deg=greatest_turning_deg()),
    ]
    return _Row(rows, tables, notes)


@dataclass(frozen=True, eq=False)
class _Firm:
    """What holds: pulls, depths, holes, wind."""

    tables: dict[str, pd.DataFrame]
    notes: list[Note]


def _will_it_stand(site: Site, way: Way, row: _Row) -> _Firm:
    fence, wind, kinds, zones = site.spec.fence, site.spec.wind, way.kinds, way.zones
    standing, posts = row.tables["strainers"], row.tables["posts"]
    in_soil = taken_as(soils_at(standing, zones), SOIL_UNKNOWN)
    strainers = strainer_pull(standing, kind_of_line=kinds, fence=fence, soil=in_soil)
    in_ground = soils_at(posts, zones)
    posts = set_in_ground(posts, strainers, soils=in_ground, kind_of_line=kinds, fence=fence, assumed=SOIL_UNKNOWN)
    posts = held_sideways(held_down(posts, assumed=SOIL_UNKNOWN), fence=fence, assumed=SOIL_UNKNOWN)
    soils = soil_table(zones, kind_of_line=kinds, fence=fence, assumed=SOIL_UNKNOWN)
    load = wind_load(
        posts,
        row.tables["bays"],
        strainers=strainers,
        kind_of_line=kinds,
        fence=fence,
        speed_m_s=wind.speed_m_s,
    )
    posts = wind_on_posts(posts, load)
    words = words_on_strainers(
        row.rows,
        strainers,
        posts,
        strain_m=fence.strain_m,
        turning_deg=greatest_turning_deg(),
        brace=Brace(fence.brace, partial(brace_lift_kn, name=fence.brace, height_m=wires_height_m())),
    )
    notes = [
        *words,
        *notes_on_uplift(posts, assumed=SOIL_UNKNOWN),
        *notes_on_side_pull(posts),
        *notes_on_pull(strainers, fence=fence, soil=in_soil),
        *notes_on_straining(row.tables["bays"], posts, kind_of_line=kinds, fence=fence),
        *notes_on_holes(posts, soils, kind_of_line=kinds, fence=fence),
        *notes_on_stand(posts, fence=fence, height_m=max(above_ground_m(kind, fence=fence) for kind in kinds.values())),
        *notes_on_wind(posts, load, strainers=strainers, fence=fence, wind=wind, assumed=SOIL_UNKNOWN),
    ]
    return _Firm({"strainers": strainers, "posts": posts, "soils": soils}, notes)


@dataclass(frozen=True, eq=False)
class _Timber:
    """Which stick of the yard stands where, and the mark of its hole."""

    tables: dict[str, pd.DataFrame]
    notes: list[Note]


def _what_stands_where(site: Site, way: Way, tables: Mapping[str, pd.DataFrame]) -> _Timber:
    fence, kinds = site.spec.fence, way.kinds
    shared = shared_from_yard(
        tables["posts"],
        timber=site.timber,
        strainers=tables["strainers"],
        closed={line.line_id: line.closed for line in way.lines},
        kind_of_line=kinds,
        fence=fence,
    )
    posts = holes_for_sticks(shared.posts, assumed=SOIL_UNKNOWN)
    posts = with_marks(posts, tables["corners"], kind_of_line=kinds, fence=fence)
    notes = [*shared.notes, *notes_on_stick_holes(posts), *notes_on_marks(posts, kind_of_line=kinds, fence=fence)]
    return _Timber({"posts": posts, "yard": shared.yard}, notes)


def _how_it_is_marked(site: Site, way: Way, tables: Mapping[str, pd.DataFrame]) -> Marking:
    tells_posts = site.terrain is None or site.terrain.tells_posts(site.spec.fence.post_spacing_m)
    leaves = None if site.canopy is None else partial(canopy_about, site.canopy, site.grid.wkt)
    return marking(
        tables, lines=way.lines, kind_of_line=way.kinds, spec=site.spec, tells_posts=tells_posts, canopy=leaves
    )


def _how_high(site: Site, way: Way, row: _Row, firm: _Firm) -> Railing:
    return railing(
        row.rows,
        tables={**row.tables, **firm.tables},
        kind_of_line=way.kinds,
        wire_m=above_ground_m("wire", fence=site.spec.fence),
        tells_posts=site.terrain is not None and site.terrain.tells_posts(site.spec.fence.post_spacing_m),
        spec=site.spec,
    )
