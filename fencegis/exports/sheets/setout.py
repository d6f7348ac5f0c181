"""`setout.pdf`: one side of A4 for each run first, then cover, key map, register and long tables; black on white."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from reportlab import rl_config
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from fencegis.exports.answers import not_checked
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.sheets.around import Around
from fencegis.exports.sheets.cover import cover_lines
from fencegis.exports.sheets.days import day_lines
from fencegis.exports.sheets.drops import drop_lines
from fencegis.exports.sheets.flow import pages, parts
from fencegis.exports.sheets.map import map_count, map_sheets, page_sheet
from fencegis.exports.sheets.order import order_lines
from fencegis.exports.sheets.paper import HEIGHT_MM, MARGIN_MM, RIGHT_MM, ROOM_MM, Pad, Sheet, drawn, fitted
from fencegis.exports.sheets.posts import walks
from fencegis.exports.sheets.register import register_lines
from fencegis.exports.sheets.run import run_sheet
from fencegis.exports.sheets.tables import table_lines
from fencegis.exports.sheets.words import DESK, run_words, site_name

if TYPE_CHECKING:
    from fencegis.exports.sheets.flow import Line
    from fencegis.records.plan import Plan

NAME = "setout.pdf"


def setout_pdf(plan: Plan) -> bytes:
    """Return the crew's sheets as a PDF: no clock and no chance in it, so the same plan gives the same bytes."""
    memory = io.BytesIO()
    canvas = Canvas(memory, pagesize=A4, invariant=1, pageCompression=1)
    canvas.setTitle(drawn(f"Set-out sheets: {site_name(plan)}"))
    canvas.setAuthor("fencegis")
    canvas.setSubject(drawn(DESK))
    found, foot = sheets(plan), f"plan {plan_sha256(plan)[:LONG]}"
    for number, sheet in enumerate(found, start=1):
        pad = Pad(canvas)
        canvas.setLineCap(0)
        sheet.draw(pad, number)
        _foot(pad, site_name(plan), f"{sheet.about}, sheet {number} of {len(found)}, {foot}")
        canvas.showPage()
    _save(canvas)
    return memory.getvalue()


def _save(canvas: Canvas) -> None:
    """Write the file with its pages deflated and no more: as letters and figures they take long and are larger."""
    kept, rl_config.useA85 = rl_config.useA85, 0
    try:
        canvas.save()
    finally:
        rl_config.useA85 = kept


def sheets(plan: Plan) -> list[Sheet]:
    """Return the sheets in the order in which they are printed."""
    found, unlooked = walks(plan), not_checked(plan)
    words = run_words(plan, found, unlooked)
    around = Around(plan)
    cover = pages(cover_lines(plan, found, unlooked))
    behind = (register_lines(plan), table_lines(plan, found, words, around), order_lines(plan), drop_lines(plan))
    tables = pages([line for lines in behind for line in lines])
    before = len(found) + len(cover) + map_count(found)
    first = first_pages(tables, [f"run {walk.run.run_id}" for walk in found])
    first_table = [before + page for page in first]
    runs = zip(found, words, first_table, strict=True)
    return [
        *(run_sheet(plan, walk, said, around, table_sheet=number) for walk, said, number in runs),
        *(page_sheet(page, "cover") for page in cover),
        *map_sheets(plan, found, first_table=first_table),
        *(page_sheet(page, parts(page)) for page in tables),
        *(page_sheet(page, parts(page)) for page in pages(day_lines(plan))),
    ]


def first_pages(tables: list[list[Line]], names: list[str]) -> list[int]:
    """Return for each part the page, 1 first, on which it begins."""
    begins: dict[str, int] = {}
    for number, page in enumerate(tables, start=1):
        for line in page:
            begins.setdefault(line.part, number)
    return [begins[name] for name in names]


def _foot(pad: Pad, site: str, words: str) -> None:
    down = HEIGHT_MM - 9.0
    pad.rule((MARGIN_MM, down - 3.6), (RIGHT_MM, down - 3.6), width=0.4)
    pad.write(fitted(words, 8.0, ROOM_MM * 0.62), (RIGHT_MM, down), size=8.0, align="right")
    pad.write(fitted(site, 8.0, ROOM_MM * 0.36), (MARGIN_MM, down), size=8.0)
    pad.write(DESK, (MARGIN_MM, down + 3.6), size=7.5)
