"""Tables in one file that says what they hold: a zipped Data Package.

Source:
    Frictionless Data, Data Package, Data Resource and Table Schema, version 1
    (specs.frictionlessdata.io); `unit` in a field is a common addition to it.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from reefguard.records.tables import Column, Table, csv


def packed(tables: Sequence[Table], *, tank: str, created: datetime) -> bytes:
    """Return a zip file with a CSV file for each table, and `datapackage.json`."""
    stamp = created.timetuple()[:6]
    contents = {f"{table.name}.csv": csv(table) for table in tables}
    described = {
        "profile": "tabular-data-package",
        "name": "reefguard-history",
        "title": f"{tank}: what the tank was like",
        "created": created.isoformat(timespec="seconds"),
        "resources": [_resource(table, contents[f"{table.name}.csv"]) for table in tables],
    }
    text = json.dumps(described, indent=1, ensure_ascii=False) + "\n"
    files = {"datapackage.json": text.encode("utf-8", "backslashreplace"), **contents}
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, (max(stamp[0], 1980), *stamp[1:]))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            package.writestr(entry, content)
    return whole.getvalue()


def _resource(table: Table, content: bytes) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": f"{table.name}.csv",
        "description": table.says,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": {
            "fields": [_field(column) for column in table.columns],
            "primaryKey": list(table.key),
            "missingValues": [""],
        },
    }


def _field(column: Column) -> dict[str, str]:
    field = {"name": column.name, "type": column.kind, "description": column.says}
    if column.kind == "datetime":
        # The plain form of Table Schema allows no offset but Z.
        field["format"] = "any"
    if column.unit is not None:
        field["unit"] = column.unit
    return field
