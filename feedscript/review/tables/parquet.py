"""A table as Apache Parquet, by pyarrow (extra: ``parquet``).

Moments are milliseconds of UTC; each column carries its words as ``description``.
"""

from __future__ import annotations

import io
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from feedscript.review.tables.tables import Table


def as_parquet(table: Table) -> bytes:
    """The file."""
    kinds: dict[str, Any] = {
        "string": pa.string(),
        "integer": pa.int64(),
        "number": pa.float64(),
        "boolean": pa.bool_(),
        "datetime": pa.timestamp("ms", tz="UTC"),
    }
    fields = [
        pa.field(
            one.name,
            kinds[one.kind],
            nullable=one.name not in table.key,
            metadata={"description": one.says},
        )
        for one in table.columns
    ]
    columns = [
        pa.array([row[at] for row in table.rows], field.type) for at, field in enumerate(fields)
    ]
    schema = pa.schema(fields, metadata={"description": table.says})
    out = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(columns, schema=schema), out)
    return out.getvalue()
