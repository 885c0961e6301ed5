"""The open tables as CSV: one function a file, from records to text (UTF-8, comma, point, line feed)."""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sheetgen.checking.catalogue import worded
from sheetgen.checking.precision import SitePrecision
from sheetgen.checking.readings_frame import measured_code
from sheetgen.checking.table_text import harmless
from sheetgen.model.attempt import Attempt
from sheetgen.report.attempt_facts import in_order, session_of, writable_text
from sheetgen.report.columns import ATTEMPTS, FINDINGS, PRECISION, READINGS, SITES, Returned, TableShape

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "attempts_table",
    "findings_table",
    "precision_table",
    "readings_table",
    "sites_table",
    "table_text",
]


def attempts_table(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str] = ()) -> str:
    """Return attempts.csv: one row a returned file; a refused one without body values.

    Parameters
    ----------
    session : the session being read, for files that match no sheet on record.
    participant_codes : codes that `participant_today` may name.
    """
    rows = (
        Returned(session_of(attempt, session), attempt, measured_code(attempt, participant_codes))
        for attempt in in_order(attempts, session)
    )
    return table_text(ATTEMPTS, rows)


def sites_table(readings: "DataFrame") -> str:
    """Return sites.csv: one row a site of every file that was not refused.

    Parameters
    ----------
    readings : of `readings_frame`.
    """
    return table_text(SITES, readings[readings["round"] == 1].itertuples())


def readings_table(readings: "DataFrame") -> str:
    """Return readings.csv: one row a reading entered, raw, in the order of taking."""
    return table_text(READINGS, readings[readings["reading_mm"].notna()].itertuples())


def precision_table(sites: Iterable[SitePrecision], session: int) -> str:
    """Return precision.csv: one row a site, the figures of the report."""
    return table_text(PRECISION, sites, session=session)


def findings_table(attempts: Sequence[Attempt], session: int, texts: Mapping[str, str]) -> str:
    """Return findings.csv: one row a finding, those of refused files included.

    texts : of findings and numbers, in the language of the class.
    """
    rows = (
        Returned(session_of(attempt, session), attempt, finding=worded(finding, texts))
        for attempt in in_order(attempts, session)
        for finding in attempt.findings
    )
    return table_text(FINDINGS, rows)


def table_text(shape: TableShape, rows: Iterable[Any], **same: Any) -> str:
    """Return a table as CSV.

    Parameters
    ----------
    rows : what the columns take their cells from. same : by column, what stands in it in every row.
    """
    import pandas

    cells = [
        [
            _cell(column.kind, same[column.name] if column.name in same else column.cell(row))
            for column in shape.columns
        ]
        for row in rows
    ]
    frame = pandas.DataFrame(cells, columns=[column.name for column in shape.columns], dtype=object)
    return str(frame.to_csv(index=False, lineterminator="\n"))


def _cell(kind: str, value: Any) -> str | float | None:
    """A text that no spreadsheet program takes for a formula, or a number in full precision.

    Empty for what is no number: a text typed for one has its finding.
    """
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if number and not math.isfinite(value):
        return None
    if kind != "string":
        return value if number else None
    text = "" if value is None else writable_text(f"{value:.15g}" if number else str(value))
    # A lone carriage return is not quoted, and readers take it for the end of a row.
    return harmless(text).replace("\r\n", "\n").replace("\r", "\n")
