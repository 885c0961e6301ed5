"""The sheets whose readings count for precision, reduced to what the statistics need. Codes, never names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.checking.recalculate import number_of, text_of
from sheetgen.core.number_policy import hundredths
from sheetgen.layout.vocabulary import reading_name
from sheetgen.model.attempt import Attempt, CopyRecord, Results
from sheetgen.model.settings import Caliper, ClassBook

__all__ = ["LEAST_DEGREES", "LEAST_PEOPLE", "MeasuredSheet", "measured_sheets", "round_mean", "sites_of"]

LEAST_PEOPLE = 20
"""People before a class is held against a published limit: common practice, no source."""
LEAST_DEGREES = 10
"""Degrees of freedom before an error is given at all. Our choice: with 10 the 95 % interval of a TEM runs
from 0.7 to 1.8 times its value, with fewer it says next to nothing."""

Pair = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class MeasuredSheet:
    """One sheet that counts.

    participant_code : whose readings these are; empty where someone else was measured and no code says who.
    printed_participant : the code printed on the sheet. other_participant : someone else was measured.
    calipers : (identifier, typed zero [0.01 mm]) in the order of use; identifier empty where not registered.
    division : of the scale [0.01 mm], the coarsest of the calipers used; None where not registered.
    raw : rounds 1 and 2 by site as read off the scale [0.01 mm]. corrected : the same, zero deducted.
    values : site values [mm], only those there are.
    beyond_opening : how many of rounds 1 and 2 no caliper used can show; they are None in raw and corrected.
    """

    file: str
    copy_code: str
    session: int
    student_id: str
    is_teacher: bool
    participant_code: str
    printed_participant: str
    other_participant: bool
    protocol_id: str
    side: str
    calipers: tuple[tuple[str, int | None], ...]
    division: int | None
    raw: Mapping[str, Pair]
    corrected: Mapping[str, Pair]
    values: Mapping[str, float]
    beyond_opening: int = 0

    @property
    def caliper_id(self) -> str:
        """The one caliper used, empty where it was changed in the middle or is not registered."""
        return self.calipers[0][0] if len(self.calipers) == 1 else ""

    @property
    def zero(self) -> int | None:
        """The typed zero of the first caliper [0.01 mm]."""
        return self.calipers[0][1]


def measured_sheets(attempts: Sequence[Attempt], book: ClassBook, session: int) -> tuple[MeasuredSheet, ...]:
    """Return the sheets of one session that count, by copy code and file.

    Notes
    -----
    Accepted or for review, matched with a sheet that was handed out, measured and not practice; the same
    bytes under two names count once.
    """
    calipers = {caliper.identifier.casefold(): caliper for caliper in book.settings.calipers}
    teachers = {person.student_id for person in book.people if person.role == "teacher"}
    codes = {person.participant_code.casefold(): person.participant_code for person in book.people}
    sheets: dict[tuple[str, str], MeasuredSheet] = {}
    for attempt in attempts:
        record, results = attempt.record, attempt.results
        if record is None or results is None or record.session != session:
            continue
        if attempt.status not in ("accepted", "review"):
            continue
        if text_of(attempt.entries, "data_source") == "practice":
            continue
        key = (record.copy_code, attempt.sha256)
        if key not in sheets or attempt.file < sheets[key].file:
            sheets[key] = _sheet(attempt, record, results, calipers, teachers, codes)
    return tuple(sorted(sheets.values(), key=lambda sheet: (sheet.copy_code, sheet.file)))


def round_mean(sheet: MeasuredSheet, site: str) -> float | None:
    """Return the mean of the corrected rounds 1 and 2 of a site [mm], None where either is missing."""
    first, second = sheet.corrected.get(site, (None, None))
    return None if first is None or second is None else (first + second) / 200


def sites_of(sheets: Sequence[MeasuredSheet]) -> tuple[str, ...]:
    """Return the code words of all sites of these sheets, in circuit order."""
    return tuple(dict.fromkeys(site for sheet in sheets for site in sheet.raw))


def _sheet(
    attempt: Attempt,
    record: CopyRecord,
    results: Results,
    calipers: Mapping[str, Caliper],
    teachers: set[str],
    codes: Mapping[str, str],
) -> MeasuredSheet:
    entries = attempt.entries
    today = text_of(entries, "participant_today")
    other = today not in ("", record.participant_code.casefold())
    used = [("caliper_id", "zero_mm")]
    if text_of(entries, "changed_from"):
        used.append(("caliper_id_2", "zero_2_mm"))
    known = [calipers.get(text_of(entries, name)) for name, _ in used]
    zeros = [number_of(entries, name) for _, name in used]
    divisions = [hundredths(caliper.division) for caliper in known if caliper is not None]
    widest = max((hundredths(one.opening) for one in known if one is not None), default=0)
    raw: dict[str, Pair] = {}
    corrected: dict[str, Pair] = {}
    beyond_opening = 0
    for site in results.sites:
        read = _raw(attempt, site.site, bool(site.not_taken))
        # One slip of the decimal point would drown the error of a whole class.
        beyond = [None not in known and value is not None and value > widest for value in read]
        first, second = (
            None if out or value is None else hundredths(value)
            for value, out in zip(site.corrected[:2], beyond, strict=True)
        )
        raw[site.site] = (None if beyond[0] else read[0], None if beyond[1] else read[1])
        corrected[site.site] = (first, second)
        beyond_opening += sum(beyond)
    return MeasuredSheet(
        file=attempt.file,
        copy_code=record.copy_code,
        session=record.session,
        student_id=record.student_id,
        is_teacher=record.student_id in teachers,
        participant_code=codes.get(today, "") if other else record.participant_code,
        printed_participant=record.participant_code,
        other_participant=other,
        protocol_id=attempt.protocol_id,
        side=text_of(entries, "side") or "right",
        calipers=tuple(
            ("" if caliper is None else caliper.identifier, None if zero is None else hundredths(zero))
            for caliper, zero in zip(known, zeros, strict=True)
        ),
        division=max(divisions) if len(divisions) == len(known) else None,
        raw=raw,
        corrected=corrected,
        values={site.site: site.value_mm for site in results.sites if site.value_mm is not None},
        beyond_opening=beyond_opening,
    )


def _raw(attempt: Attempt, site: str, not_taken: bool) -> Pair:
    first, second = (
        None if not_taken or value is None else hundredths(value)
        for value in (number_of(attempt.entries, reading_name(number, site)) for number in (1, 2))
    )
    return first, second
