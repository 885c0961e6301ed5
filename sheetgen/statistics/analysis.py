"""Everything that one session says about how the class measured; its findings, and its words."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from sheetgen.class_folder.records import EXERCISES, ClassBook
from sheetgen.finding import Worded
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics import precision
from sheetgen.statistics.calipers import CaliperOffset, CaliperReport, SideBySide, caliper_report, in_one_hand
from sheetgen.statistics.digits import (
    Compression,
    CompressionReport,
    DigitPreference,
    IdenticalRecord,
    IdenticalReport,
    compression,
    digit_preference,
    identical_records,
)
from sheetgen.statistics.readings_frame import FAR_APART, LEAST_PEOPLE, readings_frame, rounds_of
from sheetgen.statistics.repeatability import Agreement, Undefined, acceptable_limit
from sheetgen.statistics.retest import RetestReport, retest
from sheetgen.statistics.same_numbers import NumbersPair, SameNumbers, copies, same_numbers, without_pairs
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign

if TYPE_CHECKING:
    from pandas import DataFrame


class ClassAnalysis(Struct, frozen=True):
    """One session. readings : of `readings_frame`. rounds : of the circuit sheets that count, by `rounds_of`.
    apart : those without both files of each pair with the same numbers, the base of `between`, `criterion`
    and `calipers`. left_out : of the class's error, by reason. slips : among those, what nothing else tells.
    retest : None without an earlier session. earlier : its number."""

    session: int
    readings: "DataFrame"
    rounds: "DataFrame"
    apart: "DataFrame"
    same: SameNumbers
    sites: tuple[precision.SitePrecision, ...]
    worst: precision.WorstSite | Undefined
    left_out: tuple[precision.LeftOut, ...]
    slips: tuple[precision.FarApart, ...]
    repeats: tuple[precision.RepeatDifference, ...]
    between: tuple[precision.ObserverPrecision, ...]
    criterion: tuple[precision.CriterionAgreement, ...] | Undefined
    calipers: CaliperReport
    digits: tuple[DigitPreference, ...]
    compression: CompressionReport
    identical: IdenticalReport
    retest: RetestReport | None
    earlier: int | None
    side_by_side: tuple[SideBySide, ...] = ()


def class_analysis(
    attempts: Sequence[Attempt],
    book: ClassBook,
    session: int,
    earlier_attempts: Sequence[Attempt] = (),
    declared: Sequence[Collection[str]] = (),
    codes: Collection[str] = (),
) -> ClassAnalysis:
    """Return what one session says. attempts : of this session; those of another are left out.
    earlier_attempts : of earlier sessions; the last one before this is compared with it. declared : groups of
    student_ids who may hold the same numbers, see `same_numbers`. codes : what `participant_today` may name
    besides the codes of the class book."""
    whole = readings_frame([*earlier_attempts, *attempts], book, codes)
    of_all = whole[whole["exercise"] == EXERCISES[0]]
    own, readings = (frame[frame["session"] == session] for frame in (whole, of_all))
    rounds = rounds_of(readings)
    # Who made a session up stands in it when a later one is compared with it.
    made_up, number = book.stands_for, of_all["session"]
    of_terms = of_all.assign(session=number.where(number == session, number.replace(made_up)))
    before = of_terms.loc[of_terms["session"] < made_up.get(session, session), "session"]
    earlier = None if before.empty else int(before.max())
    same = same_numbers(
        rounds, declared, rounds_of(readings, practice=True), rounds_of(of_all[of_all["session"] < session])
    )
    apart, copied = without_pairs(rounds, same), copies(same)
    if earlier is not None:
        copied |= copies(same_numbers(rounds_of(of_terms[of_terms["session"] == earlier]), declared))
    counts = readings.loc[readings["left_out_because"] != "", "site"].value_counts()
    sites = precision.site_precision(rounds, counts.to_dict())
    errors = precision.class_errors(sites)
    return ClassAnalysis(
        session, own, rounds, apart, same, sites, precision.worst_site(sites),
        precision.left_out(readings), precision.far_apart(rounds), precision.repeat_differences(rounds),
        precision.between_students(apart, errors), precision.with_teacher(apart),
        caliper_report(readings, apart, book.settings.calipers),
        digit_preference(rounds[~rounds["in_question"]]), compression(rounds),
        identical_records(rounds, errors),
        None if earlier is None else retest(of_terms, earlier, session, copied), earlier,
        in_one_hand(rounds_of(own)),
    )  # fmt: skip


_MOST_CODES = 12
"""Sheets named in one sentence."""


def reason_words(why: Undefined, texts: Texts) -> str:
    """Return why a statistic cannot be given."""
    return texts[f"report_reason.{why.reason}"].format(**dict(why.values))


def worst_words(worst: precision.WorstSite, titles: Mapping[str, str], texts: Texts) -> str:
    """Return which site repeats worst; titles : of the sites, by code word."""
    key = "report_words.worst_beyond_chance" if worst.stands_out else "report_words.worst_by_chance"
    site = titles.get(worst.site, worst.site)
    return texts[key].format(site=site, percent=with_decimal_sign(f"{worst.relative:.1f}", texts))


def site_words(one: precision.Precision, texts: Texts) -> str:
    """Return how a site stands against the published limits, or why that cannot be said."""
    relative, interval = one.relative, one.relative_interval
    if isinstance(relative, Undefined):
        return reason_words(relative, texts)
    if isinstance(interval, Undefined):
        return reason_words(interval, texts)
    limit = acceptable_limit(one.comparison, "skilled" if one.judgement.endswith("skilled") else "beginner")
    percent, lower, upper = (
        with_decimal_sign(f"{number:.1f}", texts) for number in (relative, interval.lower, interval.upper)
    )
    figure = texts["report_words.percent_with_interval"].format(percent=percent, lower=lower, upper=upper)
    words = texts[f"report_judgement.{one.judgement}"].format(
        people=one.people, needed=LEAST_PEOPLE, limit=shown_number(limit, texts)
    )
    return f"{figure}: {words}"


def between_words(one: precision.ObserverPrecision, texts: Texts) -> str:
    """Return how measurers of the same person stand against the published limits, and what is not given."""
    unknown = (part for part in (one.total, one.correlation) if isinstance(part, Undefined))
    missing = (reason_words(part, texts) for part in unknown)
    return "; ".join(dict.fromkeys((site_words(one, texts), *missing)))


def criterion_words(one: precision.CriterionAgreement, texts: Texts) -> str:
    """Return whether students read otherwise than the teacher, or why that cannot be said."""
    keys = "report_words.below_the_teacher", "report_words.as_the_teacher", "report_words.above_the_teacher"
    return _apart_words(one.agreement, keys, texts)


def side_by_side_words(one: SideBySide, texts: Texts) -> str:
    """Return by how much the second of two calipers reads higher or lower, or why that cannot be said."""
    keys = "report_side_by_side.lower", "report_side_by_side.alike", "report_side_by_side.higher"
    return _apart_words(one.agreement, keys, texts, first=one.first, second=one.second)


def _apart_words(found: Agreement | Undefined, keys: tuple[str, str, str], texts: Texts, **names: str) -> str:
    """keys : of the text for a mean difference below 0, one that cannot be told from 0, one above."""
    if isinstance(found, Undefined):
        return reason_words(found, texts)
    interval = found.mean_interval
    if isinstance(interval, Undefined):
        return reason_words(interval, texts)
    numbers = abs(found.mean_difference), interval.lower, interval.upper
    size, lower, upper = (with_decimal_sign(f"{number:.2f}", texts) for number in numbers)
    key = keys[1 + (interval.lower > 0) - (interval.upper < 0)]
    return texts[key].format(size=size, lower=lower, upper=upper, **names)


def left_out_words(one: precision.LeftOut, texts: Texts) -> str:
    """Return how much is left out for one reason, and of which sheets; practice sheets are counted alone."""
    codes = ", ".join(one.copy_codes[:_MOST_CODES])
    more = len(one.copy_codes) - _MOST_CODES
    codes += texts["report_left_out.more"].format(count=more) if more > 0 else ""
    return texts[f"report_left_out.{one.reason}"].format(count=one.count, codes=codes)


def digit_words(scale: DigitPreference, texts: Texts) -> str:
    """Return on which final digit readings pile up."""
    return texts["report_words.digit_piles_up"].format(digit=scale.digit)


def thinner_words(student: Compression, texts: Texts) -> str:
    """Return in how many pairs round 2 of a student is the thinner one, and how often that is chance."""
    said = texts["report_words.thinner_everywhere"]
    return said.format(thinner=student.pairs, pairs=student.pairs, one_in=2**student.pairs)


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
        word = ("high" if one.offset > 0 else "low") + ("_zero" if one.near_mm is not None else "")
    else:
        word = "not_told" if one.interval.lower <= 0 <= one.interval.upper else "one_measurer"
    return texts[f"report_words.caliper_{word}"].format(
        size=with_decimal_sign(f"{abs(one.offset):.2f}", texts),
        offset=f"{one.offset:+.2f}",
        lower=f"{one.interval.lower:+.2f}",
        upper=f"{one.interval.upper:+.2f}",
        near="" if one.near_mm is None else shown_number(one.near_mm, texts),
    )


def alike_words(pair: NumbersPair, texts: Texts) -> str:
    """Return how the numbers of two files are the same."""
    turned = (("swapped", pair.swapped), ("shifted", pair.shift_mm != 0))
    word = "-".join(word for word, holds in turned if holds) or "equal"
    if pair.kind in ("practice", "again"):
        word = pair.kind
    shift = with_decimal_sign(f"{abs(pair.shift_mm):g}", texts)
    return texts[f"report_same.{word}"].format(shift=shift)


def pair_words(pair: NumbersPair, texts: Texts) -> str:
    """Return how much two files share, and how often chance does so."""
    counts = {"equal": pair.equal_readings, "compared": pair.compared, "sites": pair.equal_sites}
    expected = with_decimal_sign(f"{pair.expected:.2g}", texts)
    limit = {"threshold": pair.threshold, "expected": expected}
    return texts["report_words.same_numbers"].format(**counts, **limit, how=alike_words(pair, texts))


def class_findings(
    analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str] | None = None
) -> tuple[Worded, ...]:
    """Return the findings about a class in words, the conversations first. Sheets and people go by their
    codes: the words stand beside numbers that were measured. texts : those of the report and of findings.
    titles : of the sites; one without goes by its code word."""
    return tuple(
        Worded(code, texts[f"{code}.severity"], found, expected, texts[f"{code}.remedy"])
        for code, found, expected in _found(analysis, texts, titles or {})
    )


def _found(
    analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str]
) -> Iterator[tuple[str, str, str]]:
    """Code, found and expected of every finding about a class."""
    for pair in analysis.same.pairs:
        both = {"first": pair.first_copy_code, "second": pair.second_copy_code}
        codes = texts["report_class.two_codes"].format(**both)
        expected = texts["report_class.fewer_sites"].format(sites=pair.threshold)
        yield "class-same-numbers", f"{codes}: {pair_words(pair, texts)}", expected
    for slip in analysis.slips:
        apart, limit = (with_decimal_sign(f"{number:.1f}", texts) for number in (slip.apart, slip.limit))
        told = {"site": titles.get(slip.site, slip.site), "apart": apart, "limit": limit}
        found = texts["report_words.far_apart"].format(**told, multiple=FAR_APART)
        yield "class-far-apart", f"{slip.copy_code}, {found}", texts["report_class.rounds_near"]
    for record in analysis.identical.records:
        found = f"{record.copy_code}: {identical_words(record, texts)}"
        yield "class-rounds-identical", found, texts["report_class.two_readings"]
    for student in analysis.compression.students:
        found = f"{', '.join(student.copy_codes)}: {thinner_words(student, texts)}"
        yield "class-second-round-thinner", found, texts["report_class.some_thicker"]
    offsets = analysis.calipers.offsets
    for offset in () if isinstance(offsets, Undefined) else offsets:
        if offset.beyond_chance:
            code = "class-caliper-off" if offset.near_mm is None else "class-zero-forgotten"
            found = f"{offset.caliper_id}: {caliper_words(offset, texts)}"
            yield code, found, texts["report_class.as_others"]
    if isinstance(analysis.worst, precision.WorstSite) and analysis.worst.stands_out:
        found = worst_words(analysis.worst, titles, texts)
        yield "class-site-stands-out", found, texts["report_class.sites_alike"]
    for scale in (one for one in analysis.digits if one.piles_up):
        told = {"division": shown_number(scale.division_mm, texts), "words": digit_words(scale, texts)}
        found = texts["report_class.scale"].format(**told)
        yield "class-digit-preference", found, texts["report_class.digits_alike"]
