"""Cells of the order workbook: their looks, the head of a sheet, and the formula that rounds as the quote does."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fencegis.exports.cautions import DESK_STUDY
from fencegis.exports.page_text import plain
from fencegis.exports.plan_hash import LONG, plan_sha256
from fencegis.exports.quote import NOT_PRICED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fencegis.records.plan import Plan

HEAD_ROW = 4  # of a sheet, 0 the first: four lines above it say what the sheet is of
# A product of three and four decimals, in cents, is a half or at least this far from one.
NO_HALF = "0.0000001"
LINE_PT = 15.0  # height of a line of the workbook's letters
LETTERS = 1.1  # of running text in the width of one digit


class Looks:
    """The formats of the cells: black on white, greys only."""

    def __init__(self, book: Any) -> None:
        """Add them to a workbook."""
        top = {"valign": "top"}
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.small = book.add_format({"font_size": 9, "font_color": "#444444"})
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, **top})
        self.text = book.add_format({"text_wrap": True, **top})
        self.unit = book.add_format({"align": "left", "indent": 1, **top})
        self.words = book.add_format({"align": "left", "indent": 1, "text_wrap": True, **top})
        self.number = book.add_format({"num_format": "#,##0.###", **top})
        self.whole = book.add_format({"num_format": "#,##0", **top})
        self.rate = book.add_format({"num_format": "#,##0.00##", **top})
        self.money = book.add_format({"num_format": "#,##0.00", **top})
        self.sum = book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1})
        self.sum_text = book.add_format({"bold": True, "top": 1})


@dataclass(frozen=True)
class Sheet:
    """One sheet while it is written, with the looks of the book."""

    page: Any
    name: str
    looks: Looks

    def text(self, row: int, column: int, text: str, look: Any = None) -> None:
        """Write text as text, whatever it begins with."""
        self.page.write_string(row, column, plain(text), look or self.looks.text)

    def number(self, row: int, column: int, number: float | None, look: Any = None) -> None:
        """Write a number; nothing where there is none."""
        if number is not None and number == number:
            self.page.write_number(row, column, number, look or self.looks.number)

    def money(self, row: int, column: int, formula: str, cents: int | None, look: Any = None) -> None:
        """Write a formula of money with what it comes to; `not priced` where that is nothing."""
        if cents is None:
            self.text(row, column, NOT_PRICED)
        else:
            self.page.write_formula(row, column, formula, look or self.looks.money, cents / 100)

    def tall_enough(self, row: int, *texts: tuple[str, float]) -> None:
        """Make a row as high as its longest text asks, each given with the width of its column in letters."""
        lines = max(len(textwrap.wrap(plain(text), max(1, int(width * LETTERS)))) for text, width in texts)
        self.page.set_row(row, LINE_PT * max(1, lines))

    def cell(self, row: int, column: int) -> str:
        """Return the address of a cell for a formula on another sheet."""
        return f"'{self.name}'!{address(row, column)}"


def address(row: int, column: int) -> str:
    """Return `C7` for row 6, column 2, both counted from 0; at most 26 columns."""
    return f"{chr(ord('A') + column)}{row + 1}"


def cents(product: str) -> str:
    """Return a formula for a product in whole cents, a half going to the even cent: `C2*D2` as it stands.

    A half cent is told by its distance from one, since the sheet's numbers are binary.
    """
    return f"=IF(ABS(MOD({product}*100,1)-0.5)<{NO_HALF},2*ROUND({product}*50,0),ROUND({product}*100,0))/100"


def headed(plan: Plan, sheet: Sheet, title: str, columns: Sequence[tuple[str, float]]) -> None:
    """Write what the sheet is, of which plan, and that it is a desk study; then its columns with their widths."""
    sheet.text(0, 0, f"{title}: {plan.site.name}", sheet.looks.title)
    sheet.text(1, 0, f"Plan {plan_sha256(plan)[:LONG]}", sheet.looks.small)
    sheet.text(2, 0, DESK_STUDY, sheet.looks.small)
    for column, (name, width) in enumerate(columns):
        sheet.page.set_column(column, column, width)
        sheet.text(HEAD_ROW, column, name, sheet.looks.head)
    sheet.page.set_row(HEAD_ROW, 2 * LINE_PT)
    sheet.page.freeze_panes(HEAD_ROW + 1, 1)
    sheet.page.set_landscape()
    sheet.page.set_paper(9)
    sheet.page.fit_to_pages(1, 0)
    sheet.page.repeat_rows(HEAD_ROW)
    sheet.page.set_footer(f"&LPlan {plan_sha256(plan)[:LONG]}, desk study&R&P / &N")
