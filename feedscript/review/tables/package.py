"""Tables as a data package: a CSV (RFC 4180) each, and a descriptor.

The descriptor is that of the Data Package standard, version 2, with Table Schema (Open Knowledge
Foundation and others, datapackage.org, 2024). Moments are ISO 8601 in UTC.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from feedscript.review.report.export import cell
from feedscript.review.tables.tables import Cell, Column, Table
from feedscript.visible import json_visible

DESCRIPTOR: Final = "datapackage.json"
_PROFILE: Final = "https://datapackage.org/profiles/2.0/datapackage.json"
MEDIA: Final = {
    "csv": "text/csv",
    "parquet": "application/vnd.apache.parquet",
}


def as_csv(table: Table) -> bytes:
    """A table's file. An empty cell is one of which nothing is known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(column.name for column in table.columns)
    writer.writerows(map(_plain, row) for row in table.rows)
    return out.getvalue().encode()


def _plain(one: Cell) -> str:
    match one:
        case None:
            return ""
        case bool():
            return "true" if one else "false"
        case datetime():
            return iso_utc(one)
        case str():
            return cell(one)
    return repr(one)


def iso_utc(moment: datetime) -> str:
    """ISO 8601, to the millisecond."""
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def descriptor(tables: Sequence[Table], made: datetime, ending: str) -> bytes:
    """What is in a package whose tables are files of this ending."""
    plain = {
        "$schema": _PROFILE,
        "name": "feedscript-lessons",
        "title": "Lessons",
        "description": "Lessons, balls and players, from a journal of feedscript.",
        "created": iso_utc(made),
        "resources": [_resource(table, ending) for table in tables],
    }
    return (json_visible(json.dumps(plain, indent=2, ensure_ascii=False)) + "\n").encode()


def _resource(table: Table, ending: str) -> dict[str, Any]:
    encoded = {"encoding": "utf-8"} if ending == "csv" else {}
    return {
        "name": table.name,
        "path": f"{table.name}.{ending}",
        "type": "table",
        "title": table.name.capitalize(),
        "description": table.says,
        "format": ending,
        "mediatype": MEDIA[ending],
        **encoded,
        "schema": {
            "fields": [_field(column, table) for column in table.columns],
            "primaryKey": list(table.key),
            "foreignKeys": [
                {"fields": list(own), "reference": {"resource": other, "fields": list(own)}}
                for other, own in table.within
            ],
            "missingValues": [""],
        },
    }


def _field(column: Column, table: Table) -> dict[str, Any]:
    needed = {"constraints": {"required": True}} if column.name in table.key else {}
    anyhow = {"format": "any"} if column.kind == "datetime" else {}
    about = {"type": column.kind, **anyhow, "description": column.says}
    return {"name": column.name, **about, **needed}
