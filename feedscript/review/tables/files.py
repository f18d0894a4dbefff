"""The files that hold a journal's tables, by what was asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from importlib.util import find_spec
from typing import Final, Literal, TypeAlias

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.review.tables.package import DESCRIPTOR, as_csv, descriptor
from feedscript.review.tables.tables import Table

Form: TypeAlias = Literal["csv", "xlsx", "parquet"]

NEEDS_TABLES = Page(
    slug="needs-tables",
    title="Nothing is installed that writes such tables",
    why=(
        "Tables as CSV need nothing. Workbooks (.xlsx) are written by the package XlsxWriter, "
        "which the extra `tables` brings, Parquet by pyarrow, which the extra `parquet` brings."
    ),
)
#: By whom a form is written, and which extra brings it.
_BY: Final[Mapping[str, tuple[str, str]]] = {
    "xlsx": ("xlsxwriter", "tables"),
    "parquet": ("pyarrow", "parquet"),
}
WORKBOOK: Final = "lessons.xlsx"


def files_of(tables: Sequence[Table], form: Form, made: datetime) -> dict[str, bytes]:
    """Each file's content by its name. Raises FeedscriptError (``needs-tables``)."""
    see_that_it_is_there(form)
    match form:
        case "csv":
            written = {f"{table.name}.csv": as_csv(table) for table in tables}
        case "xlsx":
            from feedscript.review.tables.workbook import as_workbook

            return {WORKBOOK: as_workbook(tables, made)}
        case "parquet":
            from feedscript.review.tables.parquet import as_parquet

            written = {f"{table.name}.parquet": as_parquet(table) for table in tables}
    return {DESCRIPTOR: descriptor(tables, made, form), **written}


def see_that_it_is_there(form: Form) -> None:
    """Raises FeedscriptError (``needs-tables``) where the package is missing."""
    package, extra = _BY.get(form, ("", ""))
    if package and find_spec(package) is None:
        message = f"{form} is written with a package that is not installed: {package}"
        help_words = f"pip install 'feedscript[{extra}]'"
        raise FeedscriptError(NEEDS_TABLES.report(message, help=help_words, device="tables"))
