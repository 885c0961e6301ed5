"""The columns of the CSV files: one table that the rows and their description are both made from."""

from dataclasses import dataclass

from sheetgen.model.finding import SEVERITIES

__all__ = ["ATTEMPTS", "FINDINGS", "READINGS", "SITES", "STATUSES", "Column", "ForeignKey", "TableShape"]

STATUSES = ("accepted", "review", "refused", "superseded")


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    kind : `string`, `number` or `integer`. unit : a UCUM code, empty where there is none.
    words : the only words allowed, empty where the text is free. required : never empty.
    """

    name: str
    kind: str
    description: str
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
    """One CSV file. key : columns that name a row, empty where nothing does."""

    name: str
    title: str
    description: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    foreign: tuple[ForeignKey, ...] = ()


_SESSION = Column("session", "integer", "Session the sheet was made for, counted from 1.", required=True)
_COPY_CODE = Column("copy_code", "string", "Code of the sheet, the same in every file that came back of it.")
_COPY_CODE_KNOWN = Column("copy_code", "string", _COPY_CODE.description, required=True)
_STUDENT = Column("student_id", "string", "Who measured.")
_PARTICIPANT = Column(
    "participant_code",
    "string",
    "Code of the person who was measured; empty where the sheet names a person that the class does not know.",
)
_SHA256 = Column(
    "sha256", "string", "Digest of the returned file; tells two files of one sheet apart.", required=True
)
_FILE = Column("file", "string", "The returned file.", required=True)
_SITE = Column("site", "string", "Code word of the skinfold site.", required=True)

ATTEMPTS = TableShape(
    "attempts",
    "Returned files",
    "One row a returned file. The results are recomputed from the readings; a refused file has none.",
    (
        _SESSION,
        _COPY_CODE,
        _STUDENT,
        _PARTICIPANT,
        Column("protocol", "string", "Identifier of the measuring protocol."),
        Column("caliper_id", "string", "Caliper as entered on the sheet."),
        Column("data_source", "string", "Where the readings come from: measured or practice."),
        Column("age_years", "number", "Age of the participant as entered.", "a"),
        Column("sex_equation", "string", "Equation chosen: female, male or sum-only."),
        Column("mass_kg", "number", "Body mass as entered.", "kg"),
        Column("zero_mm", "number", "What the closed caliper shows, with its sign, as entered.", "mm"),
        Column("sum_mm", "number", "Sum of all site values; empty where a site has none.", "mm"),
        Column("density_g_ml", "number", "Body density, estimated.", "g/mL"),
        Column("fat_percent", "number", "Fat as per cent of body mass, estimated.", "%"),
        Column("fat_mass_kg", "number", "Mass of fat, estimated.", "kg"),
        Column("fat_free_mass_kg", "number", "Mass that is not fat, estimated.", "kg"),
        Column("status", "string", "What became of the file.", words=STATUSES, required=True),
        _FILE,
        _SHA256,
    ),
    key=("session", "file"),
)

_OF_ATTEMPT = (ForeignKey("attempts", ("session", "copy_code", "sha256")),)

SITES = TableShape(
    "sites",
    "Site values",
    "One row a site of every returned file that was not refused.",
    (
        _SESSION,
        _COPY_CODE_KNOWN,
        _SHA256,
        _STUDENT,
        _PARTICIPANT,
        _SITE,
        Column(
            "rounds", "integer", "Readings that count: above 0 after the zero is deducted.", required=True
        ),
        Column("site_mm", "number", "Site value; empty with fewer than two readings.", "mm"),
        Column(
            "third_needed", "string", "Whether the first two readings ask for a third.", words=("yes", "no")
        ),
        Column("kept_rounds", "string", "Rounds that the site value comes from, such as 1+3."),
        Column("not_taken", "string", "Reason why the site was left out."),
    ),
    key=("session", "copy_code", "sha256", "site"),
    foreign=_OF_ATTEMPT,
)

READINGS = TableShape(
    "readings",
    "Readings",
    "One row a reading as entered, of every returned file that was not refused, in the order of taking.",
    (
        _SESSION,
        _COPY_CODE_KNOWN,
        _SHA256,
        _STUDENT,
        _PARTICIPANT,
        _SITE,
        Column("round", "integer", "Round of the circuit, 1 to 3.", required=True),
        Column("reading_mm", "number", "What the scale showed, zero not deducted.", "mm", required=True),
        Column("caliper_id", "string", "Caliper that the reading was taken with."),
        Column("zero_mm", "number", "Zero of that caliper as entered, with its sign.", "mm"),
    ),
    key=("session", "copy_code", "sha256", "site", "round"),
    foreign=_OF_ATTEMPT,
)

FINDINGS = TableShape(
    "findings",
    "Findings",
    "One row a finding: what was found in a returned file, and what to do.",
    (
        _SESSION,
        _COPY_CODE,
        _STUDENT,
        _FILE,
        Column("code", "string", "Stable code; its first word is the family.", required=True),
        Column("severity", "string", "How grave it is.", words=SEVERITIES, required=True),
        Column("tab", "string", "Tab of the workbook; empty where it is the whole file."),
        Column("cell", "string", "Cell of the tab."),
        Column("found", "string", "What stands there."),
        Column("expected", "string", "What should stand there."),
        Column("remedy", "string", "What to do."),
    ),
    foreign=(ForeignKey("attempts", ("session", "file")),),
)
