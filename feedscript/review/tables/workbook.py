"""Tables as a workbook (Office Open XML, ISO/IEC 29500): a sheet each, and one that says what the
columns mean.

Written by XlsxWriter (extra: ``tables``). A spreadsheet knows no time zones: moments are UTC, and
are shown as ISO 8601. No text is ever taken for a formula.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import xlsxwriter

from feedscript.review.tables.tables import Cell, Table

_WIDEST = 40


def as_workbook(tables: Sequence[Table], made: datetime) -> bytes:
    """The file."""
    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(out, options) as book:
        book.set_properties({"title": "Lessons", "created": made.replace(tzinfo=None)})
        moment = book.add_format({"num_format": 'yyyy-mm-dd"T"hh:mm:ss.000"Z"'})
        head = book.add_format({"bold": True})
        for table in tables:
            _sheet(book.add_worksheet(table.name), table, head, moment)
        _columns(book.add_worksheet("columns"), tables, head)
    return out.getvalue()


def _sheet(sheet: Any, table: Table, head: Any, moment: Any) -> None:
    sheet.freeze_panes(1, 0)
    for at, column in enumerate(table.columns):
        sheet.write_string(0, at, column.name, head)
        sheet.write_comment(0, at, column.says)
        sheet.set_column(at, at, _width(table, at))
    if table.rows:
        sheet.autofilter(0, 0, len(table.rows), len(table.columns) - 1)
    for number, row in enumerate(table.rows, 1):
        for at, one in enumerate(row):
            _write(sheet, number, at, one, moment)


def _write(sheet: Any, row: int, at: int, one: Cell, moment: Any) -> None:
    match one:
        case None:
            return
        case bool():
            sheet.write_boolean(row, at, one)
        case datetime():
            sheet.write_datetime(row, at, one.replace(tzinfo=None), moment)
        case str():
            sheet.write_string(row, at, one)
        case _:
            sheet.write_number(row, at, one)


def _width(table: Table, at: int) -> int:
    """As wide as what stands there, within limits; a moment has 24 characters."""
    texts = (len(one[at]) for one in table.rows if isinstance(one[at], str))  # type: ignore[arg-type]
    usual = 24 if table.columns[at].kind == "datetime" else len(table.columns[at].name) + 4
    return min(max(usual, *texts, 0), _WIDEST)


def _columns(sheet: Any, tables: Sequence[Table], head: Any) -> None:
    for at, (name, width) in enumerate({"table": 12, "column": 18, "what it says": 70}.items()):
        sheet.write_string(0, at, name, head)
        sheet.set_column(at, at, width)
    told = ((table.name, one.name, one.says) for table in tables for one in table.columns)
    for number, row in enumerate(told, 1):
        for at, text in enumerate(row):
            sheet.write_string(number, at, text)
