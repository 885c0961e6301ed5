"""The columns of the CSV files: one table that the rows and their description are both made from."""

from dataclasses import dataclass

from sheetgen.model.finding import SEVERITIES

__all__ = ["ATTEMPTS", "FINDINGS", "READINGS", "SITES", "STATUSES", "Column", "ForeignKey", "TableShape"]

STATUSES = ("accepted", "review", "refused", "superseded")


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    kind : `string`, `number` or `integer`. text : key of what it holds, in the texts of `report.LANGUAGE`.
    unit : a UCUM code, empty where there is none.
    words : the only words allowed, empty where the text is free. required : never empty.
    """

    name: str
    kind: str
    text: str
    unit: str = ""
    words: tuple[str, ...] = ()
    required: bool = False


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


_SESSION = Column("session", "integer", "report_column.session", required=True)
_COPY_CODE = Column("copy_code", "string", "report_column.copy_code")
_COPY_CODE_KNOWN = Column("copy_code", "string", _COPY_CODE.text, required=True)
_STUDENT = Column("student_id", "string", "report_column.student_id")
_PARTICIPANT = Column(
    "participant_code",
    "string",
    "report_column.participant_code",
)
_SHA256 = Column("sha256", "string", "report_column.sha256", required=True)
_FILE = Column("file", "string", "report_column.file", required=True)
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
        Column("protocol", "string", "report_column.protocol"),
        Column("caliper_id", "string", "report_column.caliper_entered"),
        Column("data_source", "string", "report_column.data_source"),
        Column("age_years", "number", "report_column.age_years", "a"),
        Column("sex_equation", "string", "report_column.sex_equation"),
        Column("mass_kg", "number", "report_column.mass_kg", "kg"),
        Column("zero_mm", "number", "report_column.zero_entered", "mm"),
        Column("sum_mm", "number", "report_column.sum_mm", "mm"),
        Column("density_g_ml", "number", "report_column.density_g_ml", "g/mL"),
        Column("fat_percent", "number", "report_column.fat_percent", "%"),
        Column("fat_mass_kg", "number", "report_column.fat_mass_kg", "kg"),
        Column("fat_free_mass_kg", "number", "report_column.fat_free_mass_kg", "kg"),
        Column("status", "string", "report_column.file_status", words=STATUSES, required=True),
        _FILE,
        _SHA256,
    ),
    key=("session", "file"),
)

_OF_ATTEMPT = (ForeignKey("attempts", ("session", "copy_code", "sha256")),)

SITES = TableShape(
    "sites",
    "report_table.sites",
    "report_table.sites_holds",
    (
        _SESSION,
        _COPY_CODE_KNOWN,
        _SHA256,
        _STUDENT,
        _PARTICIPANT,
        _SITE,
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
        _SESSION,
        _COPY_CODE_KNOWN,
        _SHA256,
        _STUDENT,
        _PARTICIPANT,
        _SITE,
        Column("round", "integer", "report_column.round", required=True),
        Column("reading_mm", "number", "report_column.reading_mm", "mm", required=True),
        Column("caliper_id", "string", "report_column.caliper_taken"),
        Column("zero_mm", "number", "report_column.zero_taken", "mm"),
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
        Column("code", "string", "report_column.code", required=True),
        Column("severity", "string", "report_column.severity", words=SEVERITIES, required=True),
        Column("tab", "string", "report_column.tab"),
        Column("cell", "string", "report_column.cell"),
        Column("found", "string", "report_column.found"),
        Column("expected", "string", "report_column.expected"),
        Column("remedy", "string", "report_column.remedy"),
    ),
    foreign=(ForeignKey("attempts", ("session", "file")),),
)
