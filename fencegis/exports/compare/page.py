"""`compare.html`: the same on a page for a screen, with no network and no script."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from fencegis.exports.client.page import whole
from fencegis.exports.client.svg import picture_svg, scene_svg
from fencegis.exports.compare.little_maps import little_maps
from fencegis.exports.compare.options import DESK, NO_BOUNDARY, NO_LEAVE, comparison_of
from fencegis.exports.page_text import literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.exports.compare.options import Comparison
    from fencegis.records.plan import Plan

NAME = "compare.html"
MAP_MM = 92.0


def compare_page(plans: Sequence[Plan]) -> bytes:
    """Return the options as one HTML file that asks for nothing and runs nothing."""
    told = comparison_of(plans)
    scenes, _ = little_maps(plans, wide_mm=MAP_MM, tall_mm=(40.0, 80.0))
    names = [f"under-{option.number}" for option in told.options]
    pictures = "".join(picture_svg(scene, name) for scene, name in zip(scenes, names, strict=True))
    store = f'<svg class="store" aria-hidden="true"><defs>{pictures}</defs></svg>' if pictures else ""
    figures = "".join(
        f"<figure><figcaption><b>{option.number}</b> {literal(option.name)} <small>{literal(option.folder)}, plan "
        f"{literal(option.plan_digits)}</small></figcaption>{scene_svg(scene, under=name)}</figure>"
        for option, scene, name in zip(told.options, scenes, names, strict=True)
    )
    body = (
        f'<header><h1>Options side by side</h1><p class="not">{NO_BOUNDARY}</p></header><main>{store}'
        f'<div class="options">{figures}</div><p class="small">All maps have one extent and one scale, north up; '
        f"dashes are the first option's fence. {NO_LEAVE}</p>"
        f'<div class="wide-table" tabindex="0" role="region" aria-label="Figures of each option">{_table(told)}</div>'
        f"{_changed(told)}</main><footer>{literal(DESK)}</footer>"
    )
    return whole("Fence plans side by side", body, "client.css")


def _table(told: Comparison) -> str:
    heads = '<th scope="col"></th><th scope="col">1</th>' + "".join(
        f'<th scope="col">{option.number}</th><th scope="col">{option.number} less 1</th>'
        for option in told.options[1:]
    )
    parts = []
    columns = 2 * len(told.options)
    for part, measures in groupby(told.measures, key=lambda measure: measure.part):
        rows = "".join(
            f'<tr><th scope="row">{literal(measure.title)}</th><td>{literal(measure.values[0])}</td>'
            + "".join(
                f"<td>{literal(value)}</td><td>{literal(change)}</td>"
                for value, change in zip(measure.values[1:], measure.changes, strict=True)
            )
            + "</tr>"
            for measure in measures
        )
        parts.append(
            f'<tbody><tr class="part"><th scope="rowgroup" colspan="{columns}">{literal(part)}</th></tr>{rows}</tbody>'
        )
    return f'<table class="options-table"><thead><tr>{heads}</tr></thead>{"".join(parts)}</table>'


def _changed(told: Comparison) -> str:
    return "".join(
        f'<section><h2>What changed: {option.number} against 1</h2><p class="small">Runs are matched by place.</p>'
        f"<ul>{''.join(f'<li>{literal(text)}</li>' for text in sentences)}</ul></section>"
        for option, sentences in zip(told.options[1:], told.changed, strict=True)
    )
