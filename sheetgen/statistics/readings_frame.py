"""The one table of readings that the statistics of a class, and its open tables, are made from."""

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import ROUNDS, reading_name
from sheetgen.protocols.recalculation import SiteResult, change_of, number_of, text_of
from sheetgen.protocols.settings import Caliper
from sheetgen.returned.attempt import COUNTED, Attempt

if TYPE_CHECKING:
    from pandas import DataFrame

LEAST_PEOPLE = 20
"""People before a class is held against a published limit: common practice, no source."""
LEAST_DEGREES = 10
"""Degrees of freedom before an error is given at all. Our choice: with 10 the 95 % interval of a TEM runs
from 0.7 to 1.8 times its value, with fewer it says next to nothing."""
LEFT_OUT_WORDS = (
    "superseded", "practice", "teacher", "site-left-out", "beyond-opening", "no-zero", "not-above-zero",
    "one-round",
)  # fmt: skip
"""Why a reading does not enter the class's technical error."""

_COLUMNS = {
    # of the sheet
    "sheet": "int64", "session": "int64", "file": object, "copy_code": object, "sha256": object,
    "student_id": object, "is_teacher": bool, "participant_code": object, "printed_participant": object,
    "other_participant": bool, "protocol": object, "side": object, "caliper": object, "division": "float64",
    "sheet_counts": bool, "findings": "int64",
    # of the site
    "site": object, "rounds": "int64", "site_mm": "float64", "third_needed": object, "kept_rounds": object,
    "measure_again": bool, "not_taken": object,
    # of the reading
    "round": "int64", "reading_mm": "float64", "caliper_id": object, "zero_mm": "float64",
    "registered": object, "zero": "float64", "raw": "float64", "corrected": "float64",
    "beyond_opening": bool, "counts": object, "left_out_because": object,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Class:
    """What is known of a class: registered calipers and codes by what is typed, teachers' student_ids."""

    calipers: Mapping[str, Caliper]
    codes: Collection[str]
    teachers: Collection[str]


@dataclass(frozen=True, slots=True)
class _Used:
    """A caliper as a sheet has it: what is typed, the caliper of the register, the zero [0.01 mm]."""

    typed: Any
    zero_mm: float | None
    registered: Caliper | None
    zero: int | None


def readings_frame(attempts: Sequence[Attempt], book: ClassBook, codes: Collection[str] = ()) -> "DataFrame":
    """Return one row a sheet, site and round, entered or not, in the order of taking.

    Parameters
    ----------
    attempts : of any sessions. codes : what `participant_today` may name besides the codes of the class book.

    Returns
    -------
    Every returned file of ours that was not refused, by session, copy code and file; the same bytes under two
    names once. Of the sheet:

    sheet : its number. participant_code : whose readings these are; empty where someone else was measured and
    no code says who. other_participant : someone else than `printed_participant` was measured.
    caliper : the one registered caliper used, else empty. division : of the scale [0.01 mm], the coarsest of
    the calipers used; NaN where one is not registered. sheet_counts : accepted or for review, not practice.
    findings : notes left out.

    Of the site: as in `SiteResult`. Of the reading:

    reading_mm, caliper_id, zero_mm : as entered; NaN where there is no number. registered : that caliper as
    registered, else empty. zero, raw, corrected : in whole hundredths of a millimetre [0.01 mm], as read off
    and with the zero deducted; NaN where there is none. beyond_opening : no caliper used can show it; then
    raw and corrected are NaN, since one slip of the decimal point would drown the error of a whole class.
    counts : `yes` where it enters the class's technical error; `third`; `no`, with `left_out_because`.
    """
    import pandas

    known = _Class(
        {caliper.identifier.casefold(): caliper for caliper in book.settings.calipers},
        {*codes, *(person.participant_code for person in book.people)},
        {person.student_id for person in book.people if person.role == "teacher"},
    )
    rows = [
        row for sheet, attempt in enumerate(_returned(attempts)) for row in _sheet_rows(sheet, attempt, known)
    ]
    return pandas.DataFrame(rows, columns=list(_COLUMNS), dtype=object).astype(_COLUMNS)


def rounds_of(readings: "DataFrame") -> "DataFrame":
    """Return one row a site of every sheet that counts: its rounds 1 and 2 side by side.

    raw_1, raw_2, first, second : raw and corrected rounds [0.01 mm]. gap : first less second [0.01 mm].
    mean_mm : of the corrected rounds [mm]. NaN where a round is missing.
    """
    counting = readings[readings["sheet_counts"]]
    first, second = (counting[counting["round"] == number].reset_index(drop=True) for number in (1, 2))
    wide = first.rename(columns={"raw": "raw_1", "corrected": "first"})
    wide["raw_2"], wide["second"] = second["raw"], second["corrected"]
    wide["gap"] = wide["first"] - wide["second"]
    wide["mean_mm"] = (wide["first"] + wide["second"]) / 200
    return wide


def sheet_count(rows: "DataFrame") -> int:
    """Return how many sheets the rows are of."""
    return int(rows["sheet"].nunique())


def measured_code(attempt: Attempt, participant_codes: Collection[str]) -> str:
    """Return the code of the person whose readings these are.

    Parameters
    ----------
    participant_codes : codes of the class; another text in `participant_today` may be a name and is never
        passed on.

    Returns
    -------
    The code printed on the sheet, the code typed where someone else was measured, empty where nobody knows.
    """
    if attempt.record is None:
        return ""
    printed = attempt.record.participant_code
    typed = text_of(attempt.entries, "participant_today")
    if typed in ("", printed.casefold()):
        return printed
    return next((code for code in sorted(participant_codes) if code.casefold() == typed), "")


def _returned(attempts: Sequence[Attempt]) -> list[Attempt]:
    """The files the rows are of; under two names the file that counts, else the first."""
    kept: dict[tuple[int, str, str], Attempt] = {}
    for attempt in sorted(attempts, key=lambda attempt: attempt.file):
        record = attempt.record
        if record is None or attempt.results is None or attempt.status == "refused":
            continue
        earlier = kept.setdefault((record.session, record.copy_code, attempt.sha256), attempt)
        if earlier.status == "superseded" != attempt.status:
            kept[record.session, record.copy_code, attempt.sha256] = attempt
    by_name = sorted((*key[:2], attempt.file, number) for number, (key, attempt) in enumerate(kept.items()))
    files = list(kept.values())
    return [files[number] for *_, number in by_name]


def _sheet_rows(sheet: int, attempt: Attempt, known: _Class) -> Iterator[dict[str, Any]]:
    entries, record, results = attempt.entries, attempt.record, attempt.results
    assert record is not None and results is not None
    words = [f"{number}_{site.site}" for number in ROUNDS for site in results.sites]
    changed = change_of(entries)
    second_from = words.index(changed) if changed in words else len(words)
    used = [
        _used(attempt, "caliper_id", "zero_mm", known),
        _used(attempt, "caliper_id_2", "zero_2_mm", known),
    ]
    on_sheet = [one.registered for one in (used if changed else used[:1])]
    registered = [caliper for caliper in on_sheet if caliper is not None]
    all_known = len(registered) == len(on_sheet)
    opening = max((hundredths(caliper.opening) for caliper in registered), default=0) if all_known else None
    divisions = [hundredths(caliper.division) for caliper in registered]
    facts = _sheet_facts(sheet, attempt, record, known) | {
        "caliper": registered[0].identifier if all_known and len(on_sheet) == 1 else "",
        "division": max(divisions) if all_known else None,
    }
    read = {
        (number, site.site): _reading(attempt, site, number, used[place >= second_from], opening)
        for place, (number, site) in enumerate((number, site) for number in ROUNDS for site in results.sites)
    }
    of_sheet = _sheet_left_out(attempt, facts["is_teacher"])
    for number in ROUNDS:
        for site in results.sites:
            reading = read[number, site.site]
            partner = read.get((3 - number, site.site), reading)
            yield facts | _site_facts(site) | reading | _counting(of_sheet, site, number, reading, partner)


def _sheet_facts(sheet: int, attempt: Attempt, record: CopyRecord, known: _Class) -> dict[str, Any]:
    today = text_of(attempt.entries, "participant_today")
    practice = text_of(attempt.entries, "data_source") == "practice"
    return {
        "sheet": sheet,
        "session": record.session,
        "file": attempt.file,
        "copy_code": record.copy_code,
        "sha256": attempt.sha256,
        "student_id": record.student_id,
        "is_teacher": record.student_id in known.teachers,
        "participant_code": measured_code(attempt, known.codes),
        "printed_participant": record.participant_code,
        "other_participant": today not in ("", record.participant_code.casefold()),
        "protocol": attempt.protocol_id,
        "side": text_of(attempt.entries, "side") or "right",
        "sheet_counts": attempt.status in COUNTED and not practice,
        "findings": sum(finding.severity != "note" for finding in attempt.findings),
    }


def _site_facts(site: SiteResult) -> dict[str, Any]:
    return {
        "site": site.site,
        "rounds": sum(value is not None for value in site.corrected),
        "site_mm": site.value_mm,
        "third_needed": site.third_needed,
        "kept_rounds": "+".join(map(str, site.kept_rounds)),
        "measure_again": site.measure_again,
        "not_taken": site.not_taken,
    }


def _used(attempt: Attempt, caliper: str, zero: str, known: _Class) -> _Used:
    number = number_of(attempt.entries, zero)
    return _Used(
        attempt.entries.get(caliper),
        _finite(attempt.entries.get(zero)),
        known.calipers.get(text_of(attempt.entries, caliper)),
        None if number is None else hundredths(number),
    )


def _reading(
    attempt: Attempt, site: SiteResult, number: int, used: _Used, opening: int | None
) -> dict[str, Any]:
    name = reading_name(number, site.site)
    value = number_of(attempt.entries, name)
    raw = None if value is None or site.not_taken else hundredths(value)
    corrected = site.corrected[number - 1]
    beyond = raw is not None and opening is not None and raw > opening
    return {
        "round": number,
        "reading_mm": _finite(attempt.entries.get(name)),
        "caliper_id": used.typed,
        "zero_mm": used.zero_mm,
        "registered": "" if used.registered is None else used.registered.identifier,
        "zero": used.zero,
        "raw": None if beyond else raw,
        "corrected": None if beyond or corrected is None else hundredths(corrected),
        "beyond_opening": beyond,
    }


def _finite(value: str | float | None) -> float | None:
    """A number as entered; None for what is none: a text typed for one has its finding."""
    return None if value is None or isinstance(value, str) or not math.isfinite(value) else value


def _sheet_left_out(attempt: Attempt, is_teacher: bool) -> str:
    if attempt.status == "superseded":
        return "superseded"
    if text_of(attempt.entries, "data_source") == "practice":
        return "practice"
    return "teacher" if is_teacher else ""


def _counting(
    of_sheet: str, site: SiteResult, number: int, reading: Mapping[str, Any], partner: Mapping[str, Any]
) -> dict[str, str]:
    """Whether a reading enters the technical error, and why not; the other round is its `partner`."""
    if reading["reading_mm"] is None:
        return {"counts": "no", "left_out_because": ""}
    why = of_sheet or ("site-left-out" if site.not_taken else "")
    if not why and number == ROUNDS[-1]:
        return {"counts": "third", "left_out_because": ""}
    if not why and reading["corrected"] is None:
        # A number too large for any entry has no raw value either.
        beyond = reading["beyond_opening"] or reading["raw"] is None
        why = "beyond-opening" if beyond else "no-zero" if reading["zero"] is None else "not-above-zero"
    if not why and partner["corrected"] is None:
        why = "one-round"
    return {"counts": "no" if why else "yes", "left_out_because": why}
