"""The properties that each layer's features may carry, their limits and words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, AliasChoices, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from fencegis.catalogue import rows
from fencegis.inputs.findings import words
from fencegis.inputs.given_values import nearest_key, wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.geojson import Feature

_LONGEST_TEXT = 500
LOWEST_GROUND_M, HIGHEST_GROUND_M = -500.0, 9000.0  # the Dead Sea's shore and Everest, with room to spare
_QUALITY = re.compile(r"(?:q[ .-]*l|quality level)?[ .:-]*([a-d])", re.IGNORECASE)


def _one_line(value: Any) -> Any:
    """Text, or a whole number as people number things, as one printable line; anything else as it is."""
    if isinstance(value, str | int) and not isinstance(value, bool):
        return words(value, most=_LONGEST_TEXT)
    return value


def _word(value: Any) -> Any:
    return " ".join(value.split()).lower() if isinstance(value, str) else value


def _quality(value: Any) -> Any:
    """Return the letter of a quality level of AS 5488 or ASCE 38: A for `QL-A`, `ql a`, `Quality Level A`."""
    word = _word(value)
    level = _QUALITY.fullmatch(word) if isinstance(word, str) else None
    return level[1].upper() if level else value


def _known_soil(value: str) -> str:
    known = [row["soil"] for row in rows("soils")]
    if value not in known:
        nearest = nearest_key(value, known) or next((name for name in reversed(known) if name in value), known[0])
        raise PydanticCustomError("unknown_word", "one of {known}", {"known": ", ".join(known), "nearest": nearest})
    return value


Text = Annotated[str | None, BeforeValidator(_one_line)]
Height = Annotated[float, Field(ge=0.0, le=200.0)]
Size = Annotated[float, Field(gt=0.0, le=100.0)]
Distance = Annotated[float, Field(ge=0.0, le=100.0)]
Wide = Annotated[float, Field(gt=0.0, le=1000.0)]


class Properties(BaseModel):
    """What a feature says of itself; keys that no layer knows are left alone, they belong to the map's owner."""

    model_config = ConfigDict(extra="ignore", strict=True, frozen=True, allow_inf_nan=False)

    name: Text = None


class BoundaryProperties(Properties):
    """Of a drawn line."""

    line_id: Annotated[Annotated[str, Field(max_length=40)] | None, BeforeValidator(_one_line)] = None
    kind: Annotated[Literal["wire", "post and rail"] | None, BeforeValidator(_word)] = None
    label: Annotated[Literal["boundary", "agreed", "internal"] | None, BeforeValidator(_word)] = None


class PegProperties(Properties):
    """Of a mark that does not move."""

    kind: Annotated[Literal["survey", "found", "agreed", "line mark"] | None, BeforeValidator(_word)] = None


class GateProperties(Properties):
    """Of a gate: its opening is clear between post faces."""

    opening_m: Annotated[float, Field(gt=0.0, le=20.0)]
    leaf_m: Annotated[float | None, Field(gt=0.0, le=20.0)] = None
    leaves: Annotated[int | None, Field(ge=1, le=2)] = None
    hinge: Annotated[Literal["from", "to"] | None, BeforeValidator(_word)] = None
    swing_side: Annotated[Literal["left", "right"] | None, BeforeValidator(_word)] = None
    setback_m: Distance | None = None
    wing_m: Distance | None = None
    gate_post_mm: Annotated[float | None, Field(gt=0.0, le=1000.0)] = None


class OverheadProperties(Properties):
    """Of a conductor or a pole of one: `height_m` is the lowest conductor above the ground below it.

    `swing_m` is how far wind moves it sideways in mid span, as its owner says.
    """

    kind: Annotated[Literal["power", "phone"] | None, BeforeValidator(_word)] = None
    voltage_kv: Annotated[float | None, Field(gt=0.0, le=1200.0)] = None
    height_m: Height | None = None
    sag_m: Distance | None = None
    half_width_m: Distance | None = None
    height_error_m: Distance | None = None
    swing_m: Distance | None = None
    height_from: Annotated[Literal["owner", "surveyed", "eye"] | None, BeforeValidator(_word)] = None
    insulated: bool | None = None
    support: Annotated[Literal["pole", "tower"] | None, BeforeValidator(_word)] = None


class TreeProperties(Properties):
    """Of a tree: `limb_m` is the height of its lowest limb, `spread_m` and `trunk_m` are across, `root_m` a radius."""

    height_m: Height | None = None
    limb_m: Height | None = None
    spread_m: Size | None = None
    dead: bool = False
    keep: bool | None = None  # the client wants it kept; None: nobody said
    root_m: Size | None = None  # of the zone in which roots are not to be cut
    trunk_m: Annotated[float | None, Field(gt=0.0, le=10.0)] = None


class SoilProperties(Properties):
    """Of a soil zone: one of the soils of the catalogue."""

    soil: Annotated[str, BeforeValidator(_word), AfterValidator(_known_soil)]


class WatercourseProperties(Properties):
    """Of a creek or drain: `width_m` from bank to bank; `flood_level_m` is a height above the raster's datum."""

    kind: Annotated[Literal["creek", "drain", "river", "dam", "swamp"] | None, BeforeValidator(_word)] = None
    width_m: Wide | None = None
    flood_level_m: Annotated[float | None, Field(ge=LOWEST_GROUND_M, le=HIGHEST_GROUND_M)] = None
    perennial: bool | None = None


class ServiceProperties(Properties):
    """Of a buried service: `quality` is how surely its place is known, `buffer_m` what its owner asks to be kept."""

    owner: Text = None
    kind: Annotated[Literal["power", "gas", "water", "telecom", "sewer", "unknown"] | None, BeforeValidator(_word)] = (
        None
    )
    quality: Annotated[Literal["A", "B", "C", "D"] | None, BeforeValidator(_quality)] = None
    buffer_m: Distance | None = None
    depth_m: Annotated[float | None, Field(ge=0.0, le=50.0)] = None
    exposed: bool = False  # dug out by hand and seen


class KeepoutProperties(Properties):
    """Of a no-go area: `radius_m` is what is kept from a point or a line, or about an outline."""

    reason: Text = None
    radius_m: Wide | None = None


class TrackProperties(Properties):
    """Of a way that a machine can take."""

    kind: Annotated[Literal["gate access", "farm track", "road"] | None, BeforeValidator(_word)] = None
    width_m: Size | None = None


class ExistingProperties(Properties):
    """Of an old fence, and what becomes of it; `what` is taken for `kind`."""

    kind: Annotated[
        Literal["keep", "pull", "tie in"] | None,
        BeforeValidator(_word),
        Field(validation_alias=AliasChoices("kind", "what")),
    ] = None
    wires: Annotated[int | None, Field(ge=0, le=30)] = None


class WalkProperties(Properties):
    """Of something seen on site."""

    kind: Annotated[str | None, BeforeValidator(_one_line), BeforeValidator(_word)] = None
    text: Text = None


Kind = TypeVar("Kind", bound=Properties)


def properties_of(feature: Feature, model: type[Kind], found: Findings) -> Kind | None:
    """Return the feature's properties, null ones as absent; None when one is at fault."""
    given = {key: value for key, value in feature.properties.items() if value is not None}
    try:
        return model.model_validate(given)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            fault, fix = wording(str(detail["loc"][0]), detail)
            found.fault(feature.label, fault, fix=fix)
        return None


def note_near_misses(features: Iterable[Feature], model: type[Properties], found: Findings) -> None:
    """Note each key that is not read and looks like one that is: a dropped voltage is a matter of safety."""
    known = (*model.model_fields, *_other_names(model))
    where: dict[tuple[str, str], list[str]] = {}
    for feature in features:
        for key, value in feature.properties.items():
            if key in known or value is None:
                continue
            meant = nearest_key(key, known, bare=True)
            if meant and feature.properties.get(meant) is None:
                where.setdefault((words(key), meant), []).append(feature.label)
    for (key, meant), labels in where.items():
        found.note_each("doubt", labels, f"“{key}” is not read; if {meant} is meant, rename it.")


def _other_names(model: type[Properties]) -> Iterator[str]:
    """Yield the names that a field is read by besides its own."""
    for field in model.model_fields.values():
        if isinstance(field.validation_alias, AliasChoices):
            yield from (str(name) for name in field.validation_alias.choices)
