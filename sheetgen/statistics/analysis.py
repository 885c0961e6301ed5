"""Everything that one session says about how the class measured; its findings, and its words."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetgen.class_folder.records import ClassBook
from sheetgen.finding import Worded
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.agreement import acceptable_limit
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport, caliper_report
from sheetgen.statistics.digits import (
    Compression,
    CompressionReport,
    DigitPreference,
    IdenticalRecord,
    IdenticalReport,
    SignTest,
    compression,
    digit_preference,
    identical_records,
)
from sheetgen.statistics.precision import (
    CriterionAgreement,
    ObserverPrecision,
    RepeatDifference,
    SitePrecision,
    ThirdReadings,
    WorstSite,
    between_students,
    class_errors,
    repeat_differences,
    site_precision,
    third_readings,
    with_teacher,
    worst_site,
)
from sheetgen.statistics.readings_frame import LEAST_PEOPLE, readings_frame, rounds_of
from sheetgen.statistics.repeatability import Undefined
from sheetgen.statistics.retest import RetestReport, retest
from sheetgen.statistics.same_numbers import NumbersPair, SameNumbers, same_numbers, without_pairs
from sheetgen.texts.languages import shown_number, with_decimal_sign

if TYPE_CHECKING:
    from pandas import DataFrame


@dataclass(frozen=True, slots=True)
class ClassAnalysis:
    """One session.

    readings : of `readings_frame`. rounds : of the sheets that count, by `rounds_of`. apart : those without
    both files of each pair with the same numbers, the base of `between`, `criterion` and `calipers`.
    retest : None without an earlier session. earlier : its number.
    """

    session: int
    readings: "DataFrame"
    rounds: "DataFrame"
    apart: "DataFrame"
    same: SameNumbers
    sites: tuple[SitePrecision, ...]
    worst: WorstSite | Undefined
    thirds: tuple[ThirdReadings, ...]
    repeats: tuple[RepeatDifference, ...]
    between: tuple[ObserverPrecision, ...]
    criterion: tuple[CriterionAgreement, ...] | Undefined
    calipers: CaliperReport
    digits: tuple[DigitPreference, ...]
    compression: CompressionReport
    identical: IdenticalReport
    retest: RetestReport | None
    earlier: int | None


def class_analysis(
    attempts: Sequence[Attempt],
    book: ClassBook,
    session: int,
    earlier_attempts: Sequence[Attempt] = (),
    declared: Sequence[Collection[str]] = (),
    codes: Collection[str] = (),
) -> ClassAnalysis:
    """Return what one session says.

    Parameters
    ----------
    attempts : of this session; those of another are left out.
    earlier_attempts : of earlier sessions; the last one before this is compared with it.
    declared : groups of student_ids who may hold the same numbers, see `same_numbers`.
    codes : what `participant_today` may name besides the codes of the class book.
    """
    of_all = readings_frame([*earlier_attempts, *attempts], book, codes)
    readings = of_all[of_all["session"] == session]
    rounds = rounds_of(readings)
    same = same_numbers(rounds, declared)
    apart = without_pairs(rounds, same)
    left_out = readings.loc[readings["left_out_because"] != "", "site"].value_counts()
    sites = site_precision(rounds, left_out.to_dict())
    errors = class_errors(sites)
    before = [attempt.record.session for attempt in earlier_attempts if attempt.record is not None]
    earlier = max((number for number in before if number < session), default=None)
    return ClassAnalysis(
        session,
        readings,
        rounds,
        apart,
        same,
        sites,
        worst_site(sites),
        third_readings(rounds),
        repeat_differences(rounds),
        between_students(apart, errors),
        with_teacher(apart),
        caliper_report(readings, apart, book.settings.calipers),
        digit_preference(rounds),
        compression(rounds),
        identical_records(rounds, errors),
        None if earlier is None else retest(of_all, earlier, session),
        earlier,
    )


Texts = Mapping[str, str]
"""Those of `report.LANGUAGE`, by dotted key. Sentences made of them begin small and have no full stop."""


def reason_words(why: Undefined, texts: Texts) -> str:
    """Return why a statistic cannot be given."""
    return texts[f"report_reason.{why.reason}"].format(**dict(why.values))


def worst_words(worst: WorstSite, titles: Mapping[str, str], texts: Texts) -> str:
    """Return which site repeats worst; titles : of the sites, by code word."""
    key = "report_words.worst_beyond_chance" if worst.stands_out else "report_words.worst_by_chance"
    site = titles.get(worst.site, worst.site)
    return texts[key].format(site=site, percent=with_decimal_sign(f"{worst.relative:.1f}", texts))


def site_words(one: SitePrecision, texts: Texts) -> str:
    """Return how a site stands against the published limits, or why that cannot be said."""
    for part in (one.error, one.relative):
        if isinstance(part, Undefined):
            return reason_words(part, texts)
    limit = acceptable_limit("within", "skilled" if one.judgement == "skilled" else "beginner")
    return texts[f"report_judgement.{one.judgement}"].format(
        people=one.people, needed=LEAST_PEOPLE, limit=shown_number(limit.percent, texts)
    )


def digit_words(scale: DigitPreference, texts: Texts) -> str:
    """Return whether readings pile up on a final digit, or why that cannot be said."""
    if isinstance(scale.test, Undefined):
        return reason_words(scale.test, texts)
    if scale.piles_up:
        return texts["report_words.digit_piles_up"].format(digit=scale.digit)
    return texts["report_words.digit_none"]


def thinner_words(student: Compression, texts: Texts) -> str:
    """Return how often round 2 of a student is the thinner one, or why that cannot be said."""
    test = student.test
    if not isinstance(test, SignTest):
        return reason_words(test, texts)
    differing = test.lower + test.higher
    key = "report_words.thinner_everywhere" if student.everywhere else "report_words.thinner"
    return texts[key].format(thinner=test.lower, pairs=differing, one_in=2**differing)


def identical_words(record: IdenticalRecord, texts: Texts) -> str:
    """Return that both rounds of a sheet are alike, and how often that is chance."""
    if isinstance(record.chance, Undefined):
        return texts["report_words.identical"].format(sites=record.sites)
    percent = with_decimal_sign(f"{100 * record.chance:.2g}", texts)
    return texts["report_words.identical_chance"].format(sites=record.sites, percent=percent)


def caliper_words(one: CaliperOffset, texts: Texts) -> str:
    """Return whether a caliper reads off, or why that cannot be said."""
    if isinstance(one.offset, Undefined):
        return reason_words(one.offset, texts)
    if isinstance(one.interval, Undefined):
        return reason_words(one.interval, texts)
    if one.beyond_chance:
        high = ("report_words.caliper_high", "report_words.caliper_high_zero")
        low = ("report_words.caliper_low", "report_words.caliper_low_zero")
        key = (high if one.offset > 0 else low)[one.near_mm is not None]
    else:
        told = not one.interval.lower <= 0 <= one.interval.upper
        key = "report_words.caliper_one_measurer" if told else "report_words.caliper_not_told"
    return texts[key].format(
        size=with_decimal_sign(f"{abs(one.offset):.2f}", texts),
        offset=f"{one.offset:+.2f}",
        lower=f"{one.interval.lower:+.2f}",
        upper=f"{one.interval.upper:+.2f}",
        near="" if one.near_mm is None else shown_number(one.near_mm, texts),
    )


def pair_words(pair: NumbersPair, texts: Texts) -> str:
    """Return how much two files share, and how often chance does so."""
    return texts["report_words.same_numbers"].format(
        equal=pair.equal_readings,
        compared=pair.compared,
        sites=pair.equal_sites,
        threshold=pair.threshold,
        expected=with_decimal_sign(f"{pair.expected:.2g}", texts),
    )


def class_findings(
    analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str] | None = None
) -> tuple[Worded, ...]:
    """Return the findings about a class in words, the conversations first.

    Sheets and people go by their codes: the words stand beside numbers that were measured.

    texts : those of the report and of findings. titles : of the sites; one without goes by its code word.
    """
    return tuple(
        Worded(code, texts[f"{code}.severity"], found, expected, texts[f"{code}.remedy"])
        for code, found, expected in _found(analysis, texts, titles or {})
    )


def _found(
    analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str]
) -> Iterator[tuple[str, str, str]]:
    """Code, found and expected of every finding about a class."""
    for pair in analysis.same.pairs:
        codes = texts["report_class.two_codes"].format(
            first=pair.first_copy_code, second=pair.second_copy_code
        )
        expected = texts["report_class.fewer_sites"].format(sites=pair.threshold)
        yield "class-same-numbers", f"{codes}: {pair_words(pair, texts)}", expected
    for record in analysis.identical.records:
        found = f"{record.copy_code}: {identical_words(record, texts)}"
        yield "class-rounds-identical", found, texts["report_class.two_readings"]
    for student in analysis.compression.students:
        if student.everywhere:
            found = f"{', '.join(student.copy_codes)}: {thinner_words(student, texts)}"
            yield "class-second-round-thinner", found, texts["report_class.some_thicker"]
    offsets = analysis.calipers.offsets
    for offset in () if isinstance(offsets, Undefined) else offsets:
        if offset.beyond_chance:
            code = "class-caliper-off" if offset.near_mm is None else "class-zero-forgotten"
            found = f"{offset.caliper_id}: {caliper_words(offset, texts)}"
            yield code, found, texts["report_class.as_others"]
    if isinstance(analysis.worst, WorstSite) and analysis.worst.stands_out:
        found = worst_words(analysis.worst, titles, texts)
        yield "class-site-stands-out", found, texts["report_class.sites_alike"]
    for scale in analysis.digits:
        if scale.piles_up:
            found = texts["report_class.scale"].format(
                division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
            )
            yield "class-digit-preference", found, texts["report_class.digits_alike"]
