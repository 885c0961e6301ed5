"""The open tables: a field is one record, for its cells and its description; one function a file.

References
----------
datapackage.json: Data Package and Table Schema, version 1 (specs.frictionlessdata.io). Units in UCUM codes
(ucum.org), in the property `unit` of a field, which is an addition of ours.
"""

import json
import math
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.records import EXERCISES
from sheetgen.class_folder.scores import NONE_FITS, WHOLE, LineSlip, Score
from sheetgen.finding import SEVERITIES, Worded
from sheetgen.marking.marks import MARK_STATUSES, MarkRow
from sheetgen.marking.slips import FAMILIES
from sheetgen.protocols.recalculation import Entries, Results
from sheetgen.report.page import at, in_order, session_of, writable_text
from sheetgen.returned.attempt import STATUSES, Attempt
from sheetgen.statistics.precision import SitePrecision
from sheetgen.statistics.readings_frame import LEFT_OUT_WORDS, measured_code
from sheetgen.texts.csv_cells import harmless
from sheetgen.texts.findings import worded
from sheetgen.texts.languages import Texts

if TYPE_CHECKING:
    from pandas import DataFrame


class Field(Struct, frozen=True):
    """One column of a CSV file. kind : `string`, `number` or `integer`. unit : a UCUM code, empty where there
    is none. value : the cell of a row, by a path, see `at`, or a function; empty: what the row has under the
    name. words : the only words allowed, empty where the text is free. required : never empty. holds : key of
    what it holds, in the texts of `report.LANGUAGE`; empty: `report_column.NAME`."""

    name: str
    kind: str = "string"
    unit: str = ""
    value: str | Callable[[Any], Any] = ""
    words: tuple[str, ...] = ()
    required: bool = False
    holds: str = ""

    @property
    def text(self) -> str:
        """The key of what it holds."""
        return self.holds or f"report_column.{self.name}"

    def cell(self, row: Any) -> str | float | None:
        """Return a text that no spreadsheet program takes for a formula, or a number in full precision. Empty
        for what is no number: a text typed for one has its finding."""
        value = self.value(row) if callable(self.value) else at(row, self.value or self.name)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if number and not math.isfinite(value):
            return None
        if self.kind != "string":
            return value if number else None
        text = "" if value is None else writable_text(f"{value:.15g}" if number else str(value))
        # A lone carriage return is not quoted, and readers take it for the end of a row.
        return harmless(text).replace("\r\n", "\n").replace("\r", "\n")


class TableShape(Struct, frozen=True):
    """One CSV file; `report_table.NAME` is its title, `report_table.NAME_holds` what it holds. key : fields
    that name a row, empty where nothing does. of_attempt : fields that name its row of attempts.csv."""

    name: str
    fields: tuple[Field, ...]
    key: tuple[str, ...] = ()
    of_attempt: tuple[str, ...] = ()


class Returned(Struct, frozen=True):
    """A returned file as a row, or one finding of it. participant_code : whose readings these are."""

    session: int
    attempt: Attempt
    participant_code: str = ""
    finding: Worded | None = None

    @property
    def body(self) -> Entries:
        """What was entered about a body; nothing of a refused file or of practice."""
        return self.attempt.entries if self._of_a_body else {}

    @property
    def results(self) -> Results | None:
        """What was worked out; nothing of a refused file or of practice."""
        return self.attempt.results if self._of_a_body else None

    @property
    def _of_a_body(self) -> bool:
        return self.attempt.status != "refused" and not self.attempt.is_practice


def _entry(name: str, kind: str = "string", unit: str = "", holds: str = "") -> Field:
    return Field(name, kind, unit, lambda row: row.attempt.entries.get(name), holds=holds)


def _body(name: str, kind: str = "string", unit: str = "") -> Field:
    return Field(name, kind, unit, lambda row: row.body.get(name))


def _no_estimate(row: Returned) -> str | None:
    state: str | None = at(row, "results.estimate_state")
    return None if state == "ok" else state


_SESSION = Field("session", "integer", required=True)
_COPY_CODE = Field("copy_code", value="attempt.record.copy_code")
_STUDENT = Field("student_id", value="attempt.record.student_id")
_FILE = Field("file", value="attempt.file", required=True)
_SITE = Field("site", required=True)

ATTEMPTS = TableShape("attempts", (
    _SESSION, _COPY_CODE, _STUDENT, Field("participant_code"), Field("protocol", value="attempt.protocol_id"),
    _entry("caliper_id", holds="report_column.caliper_entered"), _entry("data_source"),
    _body("age_years", "number", "a"), _body("sex_equation"), _body("mass_kg", "number", "kg"),
    _entry("zero_mm", "number", "mm", holds="report_column.zero_entered"),
    Field("sum_mm", "number", "mm", "results.sum_mm"),
    Field("density_g_ml", "number", "g/mL", "results.density_g_ml"),
    Field("fat_percent", "number", "%", "results.fat_percent"),
    Field("fat_mass_kg", "number", "kg", "results.fat_mass_kg"),
    Field("fat_free_mass_kg", "number", "kg", "results.fat_free_mass_kg"),
    Field("status", "string", "", "attempt.status", STATUSES, True, "report_column.file_status"),
    _FILE, Field("sha256", value="attempt.sha256", required=True),
    Field("exercise", value="attempt.record.exercise", words=EXERCISES),
    Field("no_estimate_because", value=_no_estimate),
), key=("session", "file"))  # fmt: skip

_OF_SHEET = (
    _SESSION, Field("copy_code", required=True), Field("sha256", required=True), Field("student_id"),
    Field("participant_code"), _SITE,
)  # fmt: skip
_SHEET_KEY = ("session", "copy_code", "sha256")

SITES = TableShape("sites", (
    *_OF_SHEET, Field("rounds", "integer", required=True), Field("site_mm", "number", "mm"),
    Field("third_needed", words=("yes", "no")), Field("kept_rounds"), Field("not_taken"),
), (*_SHEET_KEY, "site"), _SHEET_KEY)  # fmt: skip

READINGS = TableShape("readings", (
    *_OF_SHEET, Field("round", "integer", required=True), Field("reading_mm", "number", "mm", required=True),
    Field("caliper_id", holds="report_column.caliper_taken"),
    Field("zero_mm", "number", "mm", holds="report_column.zero_taken"),
    Field("counts", words=("yes", "third", "no"), required=True),
    Field("left_out_because", words=LEFT_OUT_WORDS),
), (*_SHEET_KEY, "site", "round"), _SHEET_KEY)  # fmt: skip

FINDINGS = TableShape("findings", (
    _SESSION, _COPY_CODE, _STUDENT, _FILE, Field("code", value="finding.code", required=True),
    Field("severity", value="finding.severity", words=SEVERITIES, required=True),
    *(Field(name, value=f"finding.{name}") for name in ("tab", "cell")),
    Field("count", "integer", value="finding.count", required=True),
    *(Field(name, value=f"finding.{name}") for name in ("found", "expected", "remedy")),
), of_attempt=("session", "file"))  # fmt: skip

FILES = TableShape("files", (
    _SESSION, _COPY_CODE, _STUDENT, _FILE, Field("incoming_name", value="attempt.came_as", required=True),
    Field("status", "string", "", "attempt.status", STATUSES, True, "report_column.file_status"),
    Field("sha256", value="attempt.sha256"),
), ("session", "file"), ("session", "file"))  # fmt: skip

PRECISION = TableShape("precision", (
    _SESSION, _SITE, *(Field(name, "integer", required=True) for name in ("sheets", "people")),
    Field("tem_mm", "number", "mm", "error.value"), Field("tem_low_mm", "number", "mm", "interval.lower"),
    Field("tem_high_mm", "number", "mm", "interval.upper"), Field("tem_percent", "number", "%", "relative"),
    Field("left_out", "integer", required=True), Field("kept_from"),
), key=("session", "site"))  # fmt: skip


def _name(name: str, holds: str = "", *, required: bool = False) -> Field:
    """A text on one line."""

    def on_one_line(row: MarkRow) -> str:
        # Harmless comes first: a line break at the beginning, become a blank, would hide what follows it.
        return re.sub(r"\r\n|\r|\n", " ", harmless(getattr(row, name)))

    return Field(name, value=on_one_line, required=required, holds=holds)


MARKS = TableShape("marks", (
    _name("student_id", "report_column.mark_student", required=True),
    _name("given_name"), _name("family_name"), Field("score", "number"), Field("max_score", "number"),
    Field("status", words=MARK_STATUSES, required=True, holds="report_column.mark_status"),
    Field("scored_on"), Field("unusable_because"),
), key=("student_id",))  # fmt: skip

_MARKED = Field("student_id", required=True, holds="report_column.mark_student")

MARKS_BY_ITEM = TableShape("marks-by-item", (
    _SESSION, _MARKED, Field("item", required=True),
    Field("points", "number", holds="report_column.item_points"), Field("out_of", "number", required=True),
    Field("status", words=MARK_STATUSES, required=True, holds="report_column.mark_status"),
    Field("copy_code", value="sheet", required=True),
), key=("session", "copy_code", "item"))  # fmt: skip

SLIPS = TableShape("slips", (
    _SESSION, _MARKED, Field("line", required=True),
    Field("slip", words=(*FAMILIES, NONE_FITS), required=True),
    Field("points_lost", "number", required=True), Field("copy_code", required=True),
), key=("session", "copy_code", "line", "slip"))  # fmt: skip


def attempts_table(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str] = ()) -> str:
    """Return attempts.csv: one row a returned file; a refused one and practice without body values.
    session : that of files that match no sheet on record. participant_codes : that may have been typed."""
    return _text(ATTEMPTS, _came(attempts, session, participant_codes))


def _came(attempts: Sequence[Attempt], session: int, codes: Collection[str] = ()) -> Iterator[Returned]:
    for attempt in in_order(attempts, session):
        yield Returned(session_of(attempt, session), attempt, measured_code(attempt, codes))


def sites_table(readings: "DataFrame") -> str:
    """Return sites.csv: one row a site of every file that was not refused; practice has no value."""
    rows = readings[readings["round"] == 1]
    return _text(SITES, rows.assign(site_mm=rows["site_mm"].mask(rows["practice"])).itertuples())


def readings_table(readings: "DataFrame") -> str:
    """Return readings.csv: one row a reading entered, raw, in the order of taking."""
    return _text(READINGS, readings[readings["reading_mm"].notna()].itertuples())


def precision_table(sites: Iterable[SitePrecision], session: int) -> str:
    """Return precision.csv: one row a site, the figures of the report."""
    return _text(PRECISION, sites, session=session)


def findings_table(attempts: Sequence[Attempt], session: int, texts: Mapping[str, str]) -> str:
    """Return findings.csv: one row a finding, those of refused files included, in words of these texts."""
    files = _came(attempts, session)
    said = (replace(file, finding=worded(one, texts)) for file in files for one in file.attempt.findings)
    return _text(FINDINGS, said)


def files_table(attempts: Sequence[Attempt], session: int) -> str:
    """Return files.csv: one row a returned file, what it is called in the tables beside its incoming name."""
    return _text(FILES, _came(attempts, session))


def marks_table(rows: Iterable[MarkRow]) -> str:
    """Return marks.csv in the order given."""
    return _text(MARKS, rows)


def items_table(scores: Iterable[Score]) -> str:
    """Return marks-by-item.csv: one row an item of a sheet, by student and sheet."""
    items = [score for score in scores if score.sheet and score.item != WHOLE]
    return _text(MARKS_BY_ITEM, sorted(items, key=attrgetter("student_id", "sheet")))


def slips_table(slips: Iterable[LineSlip]) -> str:
    """Return slips.csv: one row a slip that fits a wrong line of own working, by student and sheet."""
    return _text(SLIPS, sorted(slips, key=attrgetter("student_id", "copy_code")))


def _text(shape: TableShape, rows: Iterable[Any], **same: int) -> str:
    """A table as CSV (UTF-8, comma, point, line feed); same : by field, what stands in it in every row."""
    import pandas

    cells = [[same.get(field.name) or field.cell(row) for field in shape.fields] for row in rows]
    frame = pandas.DataFrame(cells, columns=[field.name for field in shape.fields], dtype=object)
    return str(frame.to_csv(index=False, lineterminator="\n"))


TABLES = (ATTEMPTS, SITES, READINGS, FINDINGS, PRECISION, FILES, MARKS, MARKS_BY_ITEM, SLIPS)
_DIALECT = {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\n", "header": True}
_FORMAT = {"format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "dialect": _DIALECT}


def datapackage_text(texts: Texts) -> str:
    """Return the description of the CSV files as JSON, the same in every class of a language."""
    package = {
        "profile": "tabular-data-package", "name": "skinfold-session", "title": texts["report_package.title"],
        "description": texts["report_package.description"],
        "resources": [_resource(shape, texts) for shape in TABLES],
    }  # fmt: skip
    return json.dumps(package, indent=2, ensure_ascii=False) + "\n"


def _resource(shape: TableShape, texts: Texts) -> dict[str, Any]:
    reference = {"resource": ATTEMPTS.name, "fields": shape.of_attempt}
    foreign = [{"fields": shape.of_attempt, "reference": reference}] if shape.of_attempt else []
    fields = [
        _said({
            "name": field.name, "type": field.kind, "description": texts[field.text], "unit": field.unit,
            "constraints": _said({"required": field.required, "enum": field.words}),
        })
        for field in shape.fields
    ]  # fmt: skip
    schema = {"fields": fields, "missingValues": [""], "primaryKey": shape.key, "foreignKeys": foreign}
    return {
        "profile": "tabular-data-resource", "name": shape.name, "title": texts[f"report_table.{shape.name}"],
        "description": texts[f"report_table.{shape.name}_holds"], "path": f"{shape.name}.csv", **_FORMAT,
        "schema": _said(schema),
    }  # fmt: skip


def _said(properties: Mapping[str, Any]) -> dict[str, Any]:
    """Properties without the empty ones."""
    return {name: value for name, value in properties.items() if value}
