"""The open tables described: datapackage.json (Frictionless, with Table Schemas), and the tab Data.

References
----------
Data Package and Table Schema, version 1 (specs.frictionlessdata.io). Units in UCUM codes (ucum.org),
in the property `unit` of a field, which is an addition of ours.
"""

import json
from typing import Any

from sheetgen.report.marks_pages import MARKS
from sheetgen.report.page import Column, Page, Section, Texts, named, table
from sheetgen.report.tables import (
    ATTEMPTS,
    FINDINGS,
    PRECISION,
    READINGS,
    SITES,
    TableShape,
)
from sheetgen.report.tables import (
    Column as TableColumn,
)

_TABLES = (ATTEMPTS, SITES, READINGS, FINDINGS, PRECISION)
_DIALECT = {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\n", "header": True}
_STATISTICS = (
    "report_data.tem",
    "report_data.limits",
    "report_data.icc",
    "report_data.agreement",
    "report_data.change",
    "report_data.tests",
    "report_data.counts",
)
"""Each with its source under the same key, `_source` after it."""


def datapackage_text(texts: Texts, *, marks: bool = False) -> str:
    """Return the description of the CSV files as JSON, the same in every class of a language.

    Parameters
    ----------
    marks : marks.csv lies beside the others.
    """
    shapes = (*_TABLES, *((MARKS,) if marks else ()))
    package = {
        "profile": "tabular-data-package",
        "name": "skinfold-session",
        "title": texts["report_package.title"],
        "description": texts["report_package.description"],
        "resources": [_resource(shape, texts) for shape in shapes],
    }
    return json.dumps(package, indent=2, ensure_ascii=False) + "\n"


def _resource(shape: TableShape, texts: Texts) -> dict[str, Any]:
    fields = [_field(column, texts) for column in shape.columns]
    schema: dict[str, Any] = {"fields": fields, "missingValues": [""]}
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
        "title": texts[shape.title],
        "description": texts[shape.holds],
        "path": f"{shape.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": _DIALECT,
        "schema": schema,
    }


def _field(column: TableColumn, texts: Texts) -> dict[str, Any]:
    description = texts[column.text]
    field: dict[str, Any] = {"name": column.name, "type": column.kind, "description": description}
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


def data_page(session: int, texts: Texts) -> Page:
    """Return the tab Data."""
    files = (
        Column("report_heading.file", 36, lambda shape: f"{shape.name}.csv", "label"),
        Column("report_data.holds", 60, lambda shape: texts[shape.holds]),
        Column("report_data.named_by", 44, lambda shape: ", ".join(shape.key)),
    )
    sources = (
        Column("report_data.statistic", 36, lambda key: texts[key]),
        Column("report_data.published", 60, lambda key: texts[f"{key}_source"]),
    )
    return Page(
        *named("report_data", texts, session=session),
        (texts["report_data.plain_tables"], texts["report_data.health_data"]),
        *table(files, (*_TABLES, MARKS), texts),
        more=(Section(texts["report_data.sources"], (), *table(sources, _STATISTICS, texts)),),
    )
