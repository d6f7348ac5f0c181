"""The properties that each layer's features may carry, their limits and words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from fencegis.catalogue import rows
from fencegis.inputs.findings import words
from fencegis.inputs.given_values import nearest_key, wording

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fencegis.inputs.findings import Findings
    from fencegis.inputs.geojson import Feature

_LONGEST_TEXT = 500


def _one_line(value: Any) -> Any:
    """Text, or a whole number as people number things, as one printable line; anything else as it is."""
    if isinstance(value, str | int) and not isinstance(value, bool):
        return words(value, most=_LONGEST_TEXT)
    return value


def _word(value: Any) -> Any:
    return " ".join(value.split()).lower() if isinstance(value, str) else value


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
    """Of a conductor: `height_m` is the lowest conductor above the ground below it."""

    kind: Annotated[Literal["power", "phone"] | None, BeforeValidator(_word)] = None
    voltage_kv: Annotated[float | None, Field(gt=0.0, le=1200.0)] = None
    height_m: Height | None = None
    sag_m: Distance | None = None
    half_width_m: Distance | None = None
    height_error_m: Distance | None = None
    height_from: Annotated[Literal["owner", "surveyed", "eye"] | None, BeforeValidator(_word)] = None
    insulated: bool | None = None
    support: Annotated[Literal["pole", "tower"] | None, BeforeValidator(_word)] = None


class TreeProperties(Properties):
    """Of a tree: `limb_m` is the height of its lowest limb, `spread_m` is across."""

    height_m: Height | None = None
    limb_m: Height | None = None
    spread_m: Size | None = None
    dead: bool = False


class SoilProperties(Properties):
    """Of a soil zone: one of the soils of the catalogue."""

    soil: Annotated[str, BeforeValidator(_word), AfterValidator(_known_soil)]


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
    known = tuple(model.model_fields)
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
