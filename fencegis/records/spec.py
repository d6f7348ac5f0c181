"""The specification: every key of `site.toml`, its default, its limits. Lengths in metres unless the name says so."""

from __future__ import annotations

import datetime as dt  # noqa: TC003 (pydantic reads the annotation; a field is named date)
import math
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

UNKNOWN_DATUM_M = 2.0  # what a datum that nobody knows adds; common practice (GDA94 to GDA2020 is 1.8 m)

Metres = Annotated[float, Field(ge=0.0, le=1000.0)]
Length = Annotated[float, Field(gt=0.0, le=1000.0)]
Millimetres = Annotated[float, Field(ge=0.0, le=2000.0)]
Lengths = Annotated[tuple[Length, ...], Field(strict=False, min_length=1)]

FenceKind = Literal["wire", "post and rail"]
RunLabel = Literal["boundary", "agreed", "internal"]


class Table(BaseModel):
    """A table of `site.toml`: no unknown key, no silent conversion, no NaN, never edited after reading."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Boundary(Table):
    """How the line was drawn, and how far off it may be."""

    drawn_from: Literal["imagery", "walked", "survey"] = "imagery"
    # One standard deviation of one drawn vertex, in east and in north, each. None: 1.0, or 0 for a survey.
    position_error_m: Metres | None = None
    # Shift that all of the imagery shares: for waypoints, hazards and the boundary, never for finding runs.
    imagery_error_m: Metres | None = None
    datum: Annotated[str, Field(min_length=1)] | None = None  # None: WGS 84, with a note

    @property
    def vertex_sigma_m(self) -> float:
        """One standard deviation of a drawn vertex, in east and in north, each."""
        if self.position_error_m is not None:
            return self.position_error_m
        return 0.0 if self.drawn_from == "survey" else 1.0

    @property
    def shift_sigma_m(self) -> float:
        """One standard deviation of the shift common to the whole drawing; a datum nobody knows adds 2 m."""
        own = 3.0 if self.drawn_from == "imagery" else 0.0
        if self.imagery_error_m is not None:
            own = self.imagery_error_m
        return math.hypot(own, UNKNOWN_DATUM_M if (self.datum or "").strip().lower() == "unknown" else 0.0)

    @property
    def touch_m(self) -> float:
        """Ends closer than this to another line are meant to touch it."""
        return 0.02 if self.drawn_from == "survey" else max(0.05, 2.0 * self.vertex_sigma_m)


class Elevation(Table):
    """What the raster's numbers are worth."""

    vertical_error_m: Length = 0.15  # one standard deviation of one cell
    vertical_unit: Literal["m", "ft"] | None = None  # None: the raster's own, else metres
    bare_ground: bool = False  # somebody looked: steep humps again and again are ground, not tree tops


class Canopy(Table):
    """What the numbers of the canopy raster are."""

    unit: Literal["m", "ft", "cm"] | None = None  # None: the raster's own, else metres


class Clearing(Table):
    """How wide the line is cleared, from the line outwards, each side for itself: the law of the place may limit it."""

    left_m: Metres | None = None  # None: what the machine needs beside the line, on a side it works from
    right_m: Metres | None = None


class Fence(Table):
    """What is to be built."""

    kind: FenceKind = "wire"
    line_is: Literal["centre", "face"] = "centre"
    offset_m: Annotated[float, Field(ge=-50.0, le=50.0)] = 0.0  # of the fence from the drawn line, right positive
    rail_side: Literal["left", "right"] = "left"
    string_side: Literal["left", "right"] | None = None  # None: the rails' side
    post_spacing_m: Length = 5.0  # greatest bay in wire; in rail an upper limit only, the rail decides
    bays: Literal["equal", "full"] = "equal"  # full: whole bays, and a make-up bay where it is least seen
    droppers_per_bay: Annotated[int, Field(ge=0, le=10)] = 1
    rails: Annotated[int, Field(ge=1, le=8)] = 3
    rail_m: Lengths | None = None  # stock lengths as measured; a rail fence without them is a fault
    rail_bays: Literal[1, 2] = 2
    rail_depth_mm: Millimetres = 150.0
    rail_thick_mm: Millimetres = 50.0
    rails_fixed: Literal["face", "centred"] = "face"  # centred: in the line of the posts, one bay each, ends housed
    housing_mm: Annotated[float, Field(gt=0.0, le=500.0)] = 25.0  # centred: let into each post, level (common practice)
    cap_m: Lengths | None = None  # stock lengths of cap boards as measured; None: no cap lies on the posts
    cap_width_mm: Annotated[float, Field(gt=0.0, le=1000.0)] = 200.0  # common practice: a little over the post
    cap_thick_mm: Annotated[float, Field(gt=0.0, le=500.0)] = 50.0  # common practice: sawn as thick as the rails
    end_trim_mm: Millimetres = 25.0  # off each end of a rail
    kerf_mm: Millimetres = 4.0
    end_cover: Literal["edge", "centre"] = "edge"
    corner: Literal["mitre", "lap", "two posts"] = "mitre"
    pull_mm: Millimetres = 10.0
    face: Literal["as grown", "flatted"] = "as grown"  # of round posts for rails: flatted, the rails sit on flats
    post_mm: Annotated[float, Field(gt=0.0, le=1000.0)] = 175.0  # diameter at the ground
    gate_post_mm: Annotated[float, Field(gt=0.0, le=1000.0)] = 240.0
    gate_embed_m: Length = 1.2
    string_gap_mm: Millimetres = 10.0
    top_line: Literal["ground", "flowing", "straight"] = "flowing"
    height_m: Length = 1.2  # rail: top of the top rail above the ground, as wanted; the rows share it evenly
    post_lengths_m: Lengths | None = None  # stock lengths of posts on hand; None: any length can be had
    post_timber: Literal["hardwood", "pine"] = "hardwood"  # green, for the mass of a post
    gap_min_m: Metres = 0.10
    gap_max_m: Metres = 0.45
    wires: Annotated[int, Field(ge=1, le=30)] = 6
    tension_kn: Annotated[float, Field(gt=0.0, le=20.0)] = 1.1
    mesh_solidity: Annotated[float, Field(ge=0.0, le=1.0)] | None = None  # solid share of mesh or cloth; None: no mesh
    mesh_m: Length | None = None  # height of the mesh from the ground; None: as high as the fence
    barbed: Annotated[int, Field(ge=0, le=30)] = 0  # of the wires, how many are barbed; the others are plain
    brace: Annotated[str, Field(min_length=1)] = "H-brace"  # of strainers in wire: a row of catalogue/assemblies.csv
    rail_fixings: Annotated[int, Field(ge=0, le=20)] = 2  # screws or nails, one rail to one post (common practice)
    concrete: Literal["none", "ends", "all"] = "none"  # of holes: none, those of strainers and gate posts, all
    post_set: Literal["driven", "bored", "dug"] = "driven"
    posts_stand: Literal["plumb", "square"] = "plumb"  # square to the ground; published specifications disagree
    strain_m: Length = 200.0  # wire only: greatest distance between strainers, along the ground
    string_m: Length = 43.0  # rail: longest string
    bay_tolerance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = 10.0

    @property
    def bays_per_rail(self) -> Literal[1, 2]:
        """Over how many bays a rail goes: one where its ends are housed in the posts, else `rail_bays`."""
        return 1 if self.rails_fixed == "centred" else self.rail_bays


class Machine(Table):
    """The machine at work. A height that nobody taped raises flags and never lowers one."""

    kind: Annotated[str, Field(min_length=1)] | None = None  # a row of catalogue/machines.csv
    working_height_m: Length | None = None
    reach_m: Length | None = None
    travel_height_m: Length | None = None
    width_m: Length | None = None  # over the tyres or whatever stands out
    turning_m: Length | None = None  # clear circle that it turns round in, across
    # What tips it: rear track, wheelbase, height of the front axle's pivot; masses with their centres, ahead of the
    # rear axle and above the ground. None: those of its row, where it has them.
    track_m: Length | None = None
    wheelbase_m: Length | None = None
    pivot_m: Metres | None = None
    mass_kg: Annotated[float, Field(gt=0.0, le=100_000.0)] | None = None
    ahead_m: Annotated[float, Field(ge=-20.0, le=20.0)] | None = None
    height_m: Length | None = None
    driver_kg: Annotated[float, Field(ge=0.0, le=20_000.0)] | None = None
    driver_ahead_m: Annotated[float, Field(ge=-20.0, le=20.0)] | None = None
    driver_height_m: Length | None = None
    tilt_side_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = None  # the mast's own tilt, either way
    tilt_fore_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    side_shift_m: Metres | None = None
    tip_pct: Annotated[float, Field(gt=0.0, le=50.0)] = 50.0  # of the first tip angle at which a fall is flagged
    work_side: Literal["left", "right", "both"] = "both"  # of the fence: on a boundary the client's side only


class Walked(Table):
    """Who looked, and when, in the reader's own words. Without it the printed answer is *not walked*."""

    overhead: str | None = None
    trees: str | None = None
    services: str | None = None
    ground: str | None = None  # side slopes, soft ground, holes
    water: str | None = None
    keepouts: str | None = None


class Rules(Table):
    """Which published rule sets apply. None of them has a default: the place decides."""

    bends: str | None = None
    approach: str | None = None


class Wind(Table):
    """The wind that the fence has to stand; none is assumed, for the place decides."""

    speed_m_s: Annotated[float, Field(gt=0.0, le=120.0)] | None = None  # strongest gust, at the fence's height
    posts_may_move: bool = False  # half an inch at the ground harms nothing: the ground bears twice as much


class StringLine(Table):
    """What posts are lined in by, and the breeze it is worked in."""

    cord: str = "cord 1.5 mm"  # one of catalogue/strings.csv; in wire the bottom wire is the string
    tension_n: Annotated[float, Field(gt=0.0, le=2000.0)] = 100.0  # common practice
    breeze_m_s: Annotated[float, Field(ge=0.0, le=20.0)] = 2.0  # common practice
    drift_mm: Annotated[float, Field(gt=0.0, le=200.0)] = 10.0  # common practice: workable if watched
    clear_m: Annotated[float, Field(ge=0.02, le=1.0)] = 0.1  # of the foot string over humps and grass (common practice)


class Sight(Table):
    """Who sights, at what, over what."""

    eye_m: Annotated[float, Field(gt=0.0, le=3.0)] = 1.6
    pole_m: Annotated[float, Field(gt=0.0, le=6.0)] = 2.0  # what of a pole has to be seen: less to sight lower
    clear_m: Annotated[float, Field(ge=0.0, le=2.0)] = 0.3  # of a line of sight over the ground, for grass


class Points(Table):
    """The rover's file."""

    grid: str | None = None  # an official projected CRS, as "EPSG:7855"


class Handheld(Table):
    """What the unit that the waypoints go into can take. Without it: names as they are, one file, no route."""

    kind: Annotated[str, Field(min_length=1)] | None = None  # a row of catalogue/handhelds.csv; keys below go before it
    names: Annotated[int, Field(ge=6, le=30)] | None = None  # letters and digits in a name
    points: Annotated[int, Field(ge=50, le=100_000)] | None = None  # waypoints in one file
    points_in_all: Annotated[int, Field(ge=50, le=1_000_000)] | None = None  # waypoints in the unit
    route_points: Annotated[int, Field(ge=2, le=100_000)] | None = None  # in one route; None: no route is written
    track_points: Annotated[int, Field(ge=2, le=1_000_000)] | None = None  # in one track
    symbols: Literal["plain", "none"] | None = None  # plain: a word for each kind of point; None: plain


class Crew(Table):
    """Who works, how long, and how the machine comes. What has a default here is common practice: correct it."""

    people: Annotated[int, Field(ge=1, le=50)] = 2  # two lift a rail
    work_h: Annotated[float, Field(gt=0.0, le=16.0)] = 8.0  # a day, setting up and travel in it
    setup_h: Annotated[float, Field(ge=0.0, le=8.0)] = 0.75  # a day: looking over the machine, loading, packing up
    travel_h: Annotated[float, Field(ge=0.0, le=12.0)] | None = None  # a day, there and back; None: none is counted
    carry_m: Metres = 50.0  # longest carry by hand from where things are dropped
    machine_comes: Literal["trailer", "low loader"] = "trailer"  # own trailer: one trip; hired: there and back
    machine_h: Annotated[float, Field(gt=0.0, le=48.0)] | None = None  # one trip of it; None: loading only is counted


class Days(Table):
    """What a day of work may be."""

    a_week: Annotated[int, Field(ge=1, le=7)] = 5  # working days, Monday first (common practice)
    light_h: Annotated[float, Field(gt=0.0, le=24.0)] | None = None  # None: from date and latitude, where there is one
    weather_pct: Annotated[float, Field(ge=0.0, le=200.0)] = 15.0  # of the working days, added (common practice)


class Money(Table):
    """How sums of money are printed; the sums themselves come from `rates.csv` alone."""

    currency: Annotated[str, Field(min_length=1, max_length=12)] | None = None  # "AUD", "$"; None: sums stand without
    tax_name: Annotated[str, Field(min_length=1, max_length=40)] = "tax"
    show_tax: bool = True  # False: the total has it in, and the client's pages do not split it off
    # Of 100 draws how many the total is to stay within: a provisional line brings it there. None: no such line.
    risk_pct: Annotated[float, Field(ge=50.0, le=99.0)] | None = None
    travel_km: Annotated[float, Field(gt=0.0, le=5000.0)] | None = None  # from the yard to the site, one way


class Display(Table):
    """What printed quantities are shown in beside the units they are priced in; lengths of the plan stay in metres."""

    units: Literal["metric", "imperial"] = "metric"


class Map(Table):
    """The client's map."""

    online: bool = False


class Spec(Table):
    """The whole of `site.toml`."""

    name: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    date: dt.date | None = None  # day of the work; without it no magnetic bearings and no dates on sheets
    boundary: Boundary = Boundary()
    elevation: Elevation = Elevation()
    canopy: Canopy = Canopy()
    clearing: Clearing = Clearing()
    fence: Fence = Fence()
    machine: Machine | None = None
    walked: Walked = Walked()
    rules: Rules = Rules()
    wind: Wind = Wind()
    string: StringLine = StringLine()
    sight: Sight = Sight()
    points: Points = Points()
    handheld: Handheld = Handheld()
    crew: Crew = Crew()
    days: Days = Days()
    money: Money = Money()
    display: Display = Display()
    map: Map = Map()
    seed: Annotated[int, Field(ge=0, le=4_294_967_295)] = 1  # of the draws for how sure the figures are
