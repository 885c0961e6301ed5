"""datapackage.json: the CSV files described as a Frictionless Data Package with Table Schemas.

References
----------
Data Package and Table Schema, version 1 (specs.frictionlessdata.io). Units in UCUM codes (ucum.org),
in the property `unit` of a field, which is an addition of ours.
"""

import json
from typing import Any

from sheetgen.report.columns import ATTEMPTS, FINDINGS, READINGS, SITES, Column, TableShape
from sheetgen.report.marks_table import MARKS

__all__ = ["datapackage_text"]

_DIALECT = {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\n", "header": True}


def datapackage_text(*, marks: bool = False) -> str:
    """Return the description of the CSV files as JSON, the same in every class.

    Parameters
    ----------
    marks : marks.csv lies beside the other four.
    """
    shapes = (ATTEMPTS, SITES, READINGS, FINDINGS, *((MARKS,) if marks else ()))
    package = {
        "profile": "tabular-data-package",
        "name": "skinfold-session",
        "title": "One session of skinfold measurement in a class",
        "description": (
            "What came back, the readings, the site values and the findings. Results are recomputed from the "
            "readings. A text that begins with = + - @ carries a leading apostrophe, so that no spreadsheet "
            "program runs it. Results are health data: keep no more than the exercise needs."
        ),
        "resources": [_resource(shape) for shape in shapes],
    }
    return json.dumps(package, indent=2, ensure_ascii=False) + "\n"


def _resource(shape: TableShape) -> dict[str, Any]:
    schema: dict[str, Any] = {"fields": [_field(column) for column in shape.columns], "missingValues": [""]}
    if shape.key:
        schema["primaryKey"] = list(shape.key)
    if shape.foreign:
        schema["foreignKeys"] = [
            {"fields": list(key.columns), "reference": {"resource": key.table, "fields": list(key.columns)}}
            for key in shape.foreign
        ]
    return {
        "profile": "tabular-data-resource",
        "name": shape.name,
        "title": shape.title,
        "description": shape.description,
        "path": f"{shape.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": _DIALECT,
        "schema": schema,
    }


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": column.kind, "description": column.description}
    if column.unit:
        field["unit"] = column.unit
    constraints: dict[str, Any] = {}
    if column.required:
        constraints["required"] = True
    if column.words:
        constraints["enum"] = list(column.words)
    if constraints:
        field["constraints"] = constraints
    return field
