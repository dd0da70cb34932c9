"""The kit as a workbook: an order list to send, a list for each van and day to tick, the sites behind them."""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.errors import ExtraMissing
from dialtrue.files.tables_out import write_atomically

MOST_ROWS: Final = 100_000
"""Most rows of a worksheet. Our assumption: it could hold 1,048,575, yet nobody reads so many, and a list that is cut
short is worse than none."""

_SHEETS: Final = (("Order", "programme"), ("Vans and days", "van_day"), ("Sites", "site"))
_HEADINGS: Final = {
    "scope_id": ("For", 26), "kind": ("Kind", 10), "title": ("What", 58), "quantity": ("Planned", 10),
    "spare": ("Spare", 9), "order": ("Take", 9), "unit": ("Unit", 7), "rule": ("Spares by rule", 34),
    "part": ("Key", 22),
}  # fmt: skip


def write_kit_workbook(path: Path, kit: pa.Table) -> list[str]:
    """Write a kit as XLSX.

    Parameters
    ----------
    path : Path
        Ends in ``.xlsx``.
    kit : pa.Table
        Contract table ``kit``.

    Returns
    -------
    list of str
        Which worksheets were left out, for they would have more than ``MOST_ROWS`` rows.

    Raises
    ------
    ExtraMissing
        The library that writes workbooks is not installed.
    OutputNotWritten
        The system refused.

    Notes
    -----
    Every text is written as a text, so that a serial that looks like a formula or a number stays what it is. The same
    kit gives the same bytes.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise ExtraMissing(what="A workbook", package="xlsxwriter", extra="paper") from None
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": "Kit", "created": dt.datetime(2000, 1, 1)})  # noqa: DTZ001 - a fixed date, same bytes
    said: list[str] = []
    for name, scope in _SHEETS:
        rows = kit.filter(pc.equal(kit["scope"], scope))
        if rows.num_rows > MOST_ROWS:
            said.append(
                f"{path.name}: without the worksheet {name!r}, whose {rows.num_rows:,} rows are over {MOST_ROWS:,}; "
                "write the kit as CSV for all of them."
            )
            continue
        if rows.num_rows or scope == "programme":
            _write_sheet(book, name, scope, rows)
    book.close()
    write_atomically(path, lambda sink: sink.write(held.getvalue()))
    return said


def _write_sheet(book: Any, name: str, scope: str, rows: pa.Table) -> None:
    """Write one worksheet, ready to print: heading on every page, one page wide."""
    bold = book.add_format({"bold": True, "bottom": 1})
    number = book.add_format({"num_format": "#,##0.###", "align": "right"})
    sheet = book.add_worksheet(name)
    shown = [column for column in _HEADINGS if not (column == "scope_id" and scope == "programme")]
    sheet.freeze_panes(1, 0)
    sheet.repeat_rows(0)
    sheet.fit_to_pages(1, 0)
    sheet.set_landscape()
    sheet.set_footer("&L&A&RPage &P of &N")
    if rows.num_rows:
        sheet.autofilter(0, 0, rows.num_rows, len(shown) - 1)
    for place, column in enumerate(shown):
        heading, width = _HEADINGS[column]
        if column == "order" and scope == "programme":
            heading = "Order"
        sheet.set_column(place, place, width)
        sheet.write_string(0, place, heading, bold)
        for line, value in enumerate(rows[column].to_pylist(), start=1):
            if value is None:
                continue
            if column in ("quantity", "spare", "order"):
                sheet.write_number(line, place, value, number)
            else:
                sheet.write_string(line, place, value)
