"""The CSV files: one pure function a file, from attempts to text (UTF-8, comma, point, line feed)."""

import csv
import io
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from sheetgen.checking.catalogue import worded
from sheetgen.checking.recalculate import text_of
from sheetgen.checking.table_text import harmless
from sheetgen.layout.vocabulary import ROUNDS, reading_name
from sheetgen.model.attempt import Attempt, CopyRecord, Results
from sheetgen.report.attempt_facts import in_order, measured_code, session_of, writable_text
from sheetgen.report.columns import ATTEMPTS, FINDINGS, READINGS, SITES, TableShape

__all__ = ["attempts_table", "findings_table", "readings_table", "sites_table"]


_Row = Mapping[str, str | float | None]


def attempts_table(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str] = ()) -> str:
    """Return attempts.csv: one row a returned file; a refused one without body values.

    Parameters
    ----------
    session : the session being read, for files that match no sheet on record.
    participant_codes : codes that `participant_today` may name.
    """
    return _csv(
        ATTEMPTS, (_attempt_row(one, session, participant_codes) for one in in_order(attempts, session))
    )


def sites_table(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str] = ()) -> str:
    """Return sites.csv: one row a site of every file that was not refused; parameters as attempts_table."""
    return _csv(SITES, _site_rows(attempts, session, participant_codes))


def readings_table(attempts: Sequence[Attempt], session: int, participant_codes: Collection[str] = ()) -> str:
    """Return readings.csv: one row a reading entered, raw, in the order of taking; parameters as
    attempts_table."""
    return _csv(READINGS, _reading_rows(attempts, session, participant_codes))


def findings_table(attempts: Sequence[Attempt], session: int, texts: Mapping[str, str]) -> str:
    """Return findings.csv: one row a finding, those of refused files included.

    texts : of findings and numbers, in the language of the class.
    """
    return _csv(FINDINGS, _finding_rows(attempts, session, texts))


def _csv(shape: TableShape, rows: Iterable[_Row]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(column.name for column in shape.columns)
    for row in rows:
        writer.writerow(
            _text(row[column.name]) if column.kind == "string" else _number(row[column.name])
            for column in shape.columns
        )
    return stream.getvalue()


def _text(value: str | float | None) -> str:
    """A text that no spreadsheet program takes for a formula."""
    text = "" if value is None else writable_text(value if isinstance(value, str) else f"{value:.15g}")
    # csv.writer quotes a line feed but not a lone carriage return, which readers take for the end of a row.
    return harmless(text).replace("\r\n", "\n").replace("\r", "\n")


def _number(value: str | float | None) -> str:
    """Full precision; empty for what is no number: a text typed for one has its finding."""
    return repr(value) if _is_number(value) else ""


def _is_number(value: str | float | None) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _attempt_row(attempt: Attempt, session: int, participant_codes: Collection[str]) -> _Row:
    entries, record = attempt.entries, attempt.record
    results = None if attempt.status == "refused" else attempt.results
    body = {} if attempt.status == "refused" else entries
    return {
        "session": session_of(attempt, session),
        "copy_code": "" if record is None else record.copy_code,
        "student_id": "" if record is None else record.student_id,
        "participant_code": measured_code(attempt, participant_codes),
        "protocol": attempt.protocol_id,
        "caliper_id": entries.get("caliper_id"),
        "data_source": entries.get("data_source"),
        "age_years": body.get("age_years"),
        "sex_equation": body.get("sex_equation"),
        "mass_kg": body.get("mass_kg"),
        "zero_mm": entries.get("zero_mm"),
        "sum_mm": None if results is None else results.sum_mm,
        "density_g_ml": None if results is None else results.density_g_ml,
        "fat_percent": None if results is None else results.fat_percent,
        "fat_mass_kg": None if results is None else results.fat_mass_kg,
        "fat_free_mass_kg": None if results is None else results.fat_free_mass_kg,
        "status": attempt.status,
        "file": attempt.file,
        "sha256": attempt.sha256,
    }


def _with_readings(
    attempts: Sequence[Attempt], session: int
) -> Iterator[tuple[Attempt, CopyRecord, Results]]:
    """Every attempt that was not refused, and a file that came back twice under two names once."""
    seen = set()
    for attempt in in_order(attempts, session):
        record, results = attempt.record, attempt.results
        if record is None or results is None or attempt.status == "refused":
            continue
        identity = (record.session, record.copy_code, attempt.sha256)
        if identity not in seen:
            seen.add(identity)
            yield attempt, record, results


def _identity(
    attempt: Attempt, record: CopyRecord, participant_codes: Collection[str]
) -> dict[str, str | float | None]:
    return {
        "session": record.session,
        "copy_code": record.copy_code,
        "sha256": attempt.sha256,
        "student_id": record.student_id,
        "participant_code": measured_code(attempt, participant_codes),
    }


def _site_rows(
    attempts: Sequence[Attempt], session: int, participant_codes: Collection[str]
) -> Iterator[_Row]:
    for attempt, record, results in _with_readings(attempts, session):
        identity = _identity(attempt, record, participant_codes)
        for site in results.sites:
            yield {
                **identity,
                "site": site.site,
                "rounds": sum(value is not None for value in site.corrected),
                "site_mm": site.value_mm,
                "third_needed": site.third_needed,
                "kept_rounds": "+".join(str(number) for number in site.kept_rounds),
                "not_taken": site.not_taken,
            }


def _reading_rows(
    attempts: Sequence[Attempt], session: int, participant_codes: Collection[str]
) -> Iterator[_Row]:
    for attempt, record, results in _with_readings(attempts, session):
        identity = _identity(attempt, record, participant_codes)
        entries = attempt.entries
        # By the sites of this very sheet: a protocol of the teacher's may have been changed since.
        order = [(number, site.site) for number in ROUNDS for site in results.sites]
        words = [f"{number}_{site}" for number, site in order]
        changed = text_of(entries, "changed_from")
        second_from = words.index(changed) if changed in words else len(words)
        for place, (number, site) in enumerate(order):
            reading = entries.get(reading_name(number, site))
            if not _is_number(reading):
                continue
            second = place >= second_from
            yield {
                **identity,
                "site": site,
                "round": number,
                "reading_mm": reading,
                "caliper_id": entries.get("caliper_id_2" if second else "caliper_id"),
                "zero_mm": entries.get("zero_2_mm" if second else "zero_mm"),
            }


def _finding_rows(attempts: Sequence[Attempt], session: int, texts: Mapping[str, str]) -> Iterator[_Row]:
    for attempt in in_order(attempts, session):
        record = attempt.record
        for finding in (worded(one, texts) for one in attempt.findings):
            yield {
                "session": session_of(attempt, session),
                "copy_code": "" if record is None else record.copy_code,
                "student_id": "" if record is None else record.student_id,
                "file": attempt.file,
                "code": finding.code,
                "severity": finding.severity,
                "tab": finding.tab,
                "cell": finding.cell,
                "found": finding.found,
                "expected": finding.expected,
                "remedy": finding.remedy,
            }
