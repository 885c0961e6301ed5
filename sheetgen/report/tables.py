"""The open tables: a column is one record, for its cells and its description; one function a file."""

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from sheetgen.finding import SEVERITIES, Worded
from sheetgen.protocols.recalculation import Entries
from sheetgen.report.page import in_order, session_of, writable_text
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.precision import SitePrecision
from sheetgen.statistics.readings_frame import LEFT_OUT_WORDS, measured_code
from sheetgen.statistics.repeatability import Interval, TechnicalError
from sheetgen.texts.csv_cells import harmless
from sheetgen.texts.findings import worded

STATUSES = ("accepted", "review", "refused", "superseded")


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    kind : `string`, `number` or `integer`. text : key of what it holds, in the texts of `report.LANGUAGE`.
    unit : a UCUM code, empty where there is none.
    words : the only words allowed, empty where the text is free. required : never empty.
    getter : the cell of a row; None: what the row has under the column's name.
    """

    name: str
    kind: str
    text: str
    unit: str = ""
    words: tuple[str, ...] = ()
    required: bool = False
    getter: Callable[[Any], Any] | None = None

    def cell(self, row: Any) -> Any:
        """Return what stands in a row, as found."""
        return (self.getter or attrgetter(self.name))(row)


@dataclass(frozen=True, slots=True)
class ForeignKey:
    """Columns of the same names in another table that a row belongs to."""

    table: str
    columns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TableShape:
    """One CSV file.

    title, holds : keys of its title and of what it holds. key : columns that name a row, empty where nothing
        does.
    """

    name: str
    title: str
    holds: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    foreign: tuple[ForeignKey, ...] = ()


@dataclass(frozen=True, slots=True)
class Returned:
    """A returned file as a row, or one finding of it. participant_code : whose readings these are."""

    session: int
    attempt: Attempt
    participant_code: str = ""
    finding: Worded | None = None

    @property
    def body(self) -> Entries:
        """What was entered about a body; nothing of a refused file."""
        return {} if self.attempt.status == "refused" else self.attempt.entries

    def record(self, name: str) -> str:
        """What is on record of the sheet, empty where it matches none."""
        return "" if self.attempt.record is None else str(getattr(self.attempt.record, name))

    def result(self, name: str) -> Any:
        """A result, None where there is none or the file was refused."""
        refused = self.attempt.status == "refused"
        return None if refused or self.attempt.results is None else getattr(self.attempt.results, name)


def _entry(name: str, kind: str, text: str, unit: str = "") -> Column:
    return Column(name, kind, text, unit, getter=lambda row: row.attempt.entries.get(name))


def _body(name: str, kind: str, unit: str = "") -> Column:
    return Column(name, kind, f"report_column.{name}", unit, getter=lambda row: row.body.get(name))


def _result(name: str, unit: str) -> Column:
    return Column(name, "number", f"report_column.{name}", unit, getter=lambda row: row.result(name))


def _finding(name: str, words: tuple[str, ...] = (), required: bool = False) -> Column:
    text = f"report_column.{name}"
    return Column(name, "string", text, "", words, required, lambda row: getattr(row.finding, name))


def _no_estimate(row: Returned) -> str:
    state = row.result("estimate_state")
    return "" if state in (None, "ok") else str(state)


def _exercise(row: Returned) -> str:
    return "" if row.attempt.record is None else "circuit"


_SESSION = Column("session", "integer", "report_column.session", required=True)
_COPY_CODE = Column(
    "copy_code", "string", "report_column.copy_code", getter=lambda row: row.record("copy_code")
)
_COPY_CODE_KNOWN = Column("copy_code", "string", _COPY_CODE.text, required=True)
_STUDENT = Column(
    "student_id", "string", "report_column.student_id", getter=lambda row: row.record("student_id")
)
_STUDENT_KNOWN = Column("student_id", "string", _STUDENT.text)
_PARTICIPANT = Column("participant_code", "string", "report_column.participant_code")
_SHA256 = Column("sha256", "string", "report_column.sha256", required=True)
_FILE = Column("file", "string", "report_column.file", required=True, getter=lambda row: row.attempt.file)
_SITE = Column("site", "string", "report_column.site", required=True)

ATTEMPTS = TableShape(
    "attempts",
    "report_table.attempts",
    "report_table.attempts_holds",
    (
        _SESSION,
        _COPY_CODE,
        _STUDENT,
        _PARTICIPANT,
        Column("protocol", "string", "report_column.protocol", getter=lambda row: row.attempt.protocol_id),
        _entry("caliper_id", "string", "report_column.caliper_entered"),
        _entry("data_source", "string", "report_column.data_source"),
        _body("age_years", "number", "a"),
        _body("sex_equation", "string"),
        _body("mass_kg", "number", "kg"),
        _entry("zero_mm", "number", "report_column.zero_entered", "mm"),
        _result("sum_mm", "mm"),
        _result("density_g_ml", "g/mL"),
        _result("fat_percent", "%"),
        _result("fat_mass_kg", "kg"),
        _result("fat_free_mass_kg", "kg"),
        Column(
            "status", "string", "report_column.file_status", "", STATUSES, True,
            lambda row: row.attempt.status,
        ),
        _FILE,
        Column(
            "sha256", "string", _SHA256.text, required=True, getter=lambda row: row.attempt.sha256
        ),
        Column("exercise", "string", "report_column.exercise", words=("circuit",), getter=_exercise),
        Column("no_estimate_because", "string", "report_column.no_estimate_because", getter=_no_estimate),
    ),
    key=("session", "file"),
)  # fmt: skip

_OF_ATTEMPT = (ForeignKey("attempts", ("session", "copy_code", "sha256")),)
_OF_SHEET = (_SESSION, _COPY_CODE_KNOWN, _SHA256, _STUDENT_KNOWN, _PARTICIPANT, _SITE)

SITES = TableShape(
    "sites",
    "report_table.sites",
    "report_table.sites_holds",
    (
        *_OF_SHEET,
        Column("rounds", "integer", "report_column.rounds", required=True),
        Column("site_mm", "number", "report_column.site_mm", "mm"),
        Column("third_needed", "string", "report_column.third_needed", words=("yes", "no")),
        Column("kept_rounds", "string", "report_column.kept_rounds"),
        Column("not_taken", "string", "report_column.not_taken"),
    ),
    key=("session", "copy_code", "sha256", "site"),
    foreign=_OF_ATTEMPT,
)

READINGS = TableShape(
    "readings",
    "report_table.readings",
    "report_table.readings_holds",
    (
        *_OF_SHEET,
        Column("round", "integer", "report_column.round", required=True),
        Column("reading_mm", "number", "report_column.reading_mm", "mm", required=True),
        Column("caliper_id", "string", "report_column.caliper_taken"),
        Column("zero_mm", "number", "report_column.zero_taken", "mm"),
        Column("counts", "string", "report_column.counts", words=("yes", "third", "no"), required=True),
        Column("left_out_because", "string", "report_column.left_out_because", words=LEFT_OUT_WORDS),
    ),
    key=("session", "copy_code", "sha256", "site", "round"),
    foreign=_OF_ATTEMPT,
)

FINDINGS = TableShape(
    "findings",
    "report_table.findings",
    "report_table.findings_holds",
    (
        _SESSION,
        _COPY_CODE,
        _STUDENT,
        _FILE,
        _finding("code", required=True),
        _finding("severity", SEVERITIES, required=True),
        _finding("tab"),
        _finding("cell"),
        _finding("found"),
        _finding("expected"),
        _finding("remedy"),
    ),
    foreign=(ForeignKey("attempts", ("session", "file")),),
)


def _of_error(name: str, text: str, getter: Callable[[Any], Any], unit: str = "mm") -> Column:
    return Column(name, "number", text, unit, getter=getter)


def _end(name: str) -> Callable[[Any], float | None]:
    return lambda site: getattr(site.interval, name) if isinstance(site.interval, Interval) else None


PRECISION = TableShape(
    "precision",
    "report_table.precision",
    "report_table.precision_holds",
    (
        _SESSION,
        _SITE,
        Column("sheets", "integer", "report_column.sheets", required=True),
        Column("people", "integer", "report_column.people", required=True),
        _of_error(
            "tem_mm",
            "report_column.tem_mm",
            lambda site: site.error.value if isinstance(site.error, TechnicalError) else None,
        ),
        _of_error("tem_low_mm", "report_column.tem_low_mm", _end("lower")),
        _of_error("tem_high_mm", "report_column.tem_high_mm", _end("upper")),
        _of_error("tem_percent", "report_column.tem_percent", attrgetter("relative"), "%"),
        Column("left_out", "integer", "report_column.left_out", required=True),
    ),
    key=("session", "site"),
)


if TYPE_CHECKING:
    from pandas import DataFrame


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
