"""What the statistics of a class come to, in words: for the report and for the findings about the class."""

from collections.abc import Mapping

from sheetgen.checking.calipers import CaliperOffset, ZeroDifference
from sheetgen.checking.pile_ups import Compression, DigitPreference, IdenticalRecord
from sheetgen.checking.precision import SitePrecision, WorstSite
from sheetgen.checking.readings_frame import LEAST_PEOPLE
from sheetgen.checking.same_numbers import NumbersPair
from sheetgen.core.detectable_change import acceptable_limit
from sheetgen.core.digits import SignTest
from sheetgen.core.outcome import Undefined
from sheetgen.layout.number_text import shown_number, with_decimal_sign

__all__ = [
    "caliper_words",
    "digit_words",
    "identical_words",
    "pair_words",
    "reason_words",
    "site_words",
    "thinner_words",
    "worst_words",
    "zero_words",
]

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


def zero_words(one: ZeroDifference, texts: Texts) -> str:
    """Return that a typed zero is not the registered one."""
    return texts["report_words.zero_differs"].format(
        caliper=one.caliper_id,
        typed=shown_number(one.typed_mm, texts),
        registered=shown_number(one.registered_mm, texts),
    )


def caliper_words(one: CaliperOffset, texts: Texts) -> str:
    """Return whether a caliper reads off, or why that cannot be said."""
    if isinstance(one.offset, Undefined):
        return reason_words(one.offset, texts)
    if isinstance(one.interval, Undefined):
        return reason_words(one.interval, texts)
    return texts[_caliper_key(one.offset, one)].format(
        size=with_decimal_sign(f"{abs(one.offset):.2f}", texts),
        offset=f"{one.offset:+.2f}",
        lower=f"{one.interval.lower:+.2f}",
        upper=f"{one.interval.upper:+.2f}",
        near="" if one.near_mm is None else shown_number(one.near_mm, texts),
    )


def _caliper_key(offset: float, one: CaliperOffset) -> str:
    if one.beyond_chance and one.near_mm is not None:
        return "report_words.caliper_high_zero" if offset > 0 else "report_words.caliper_low_zero"
    if one.beyond_chance:
        return "report_words.caliper_high" if offset > 0 else "report_words.caliper_low"
    if isinstance(one.interval, Undefined) or one.interval.lower <= 0 <= one.interval.upper:
        return "report_words.caliper_not_told"
    return "report_words.caliper_one_measurer"


def pair_words(pair: NumbersPair, texts: Texts) -> str:
    """Return how much two files share, and how often chance does so."""
    return texts["report_words.same_numbers"].format(
        equal=pair.equal_readings,
        compared=pair.compared,
        sites=pair.equal_sites,
        threshold=pair.threshold,
        expected=with_decimal_sign(f"{pair.expected:.2g}", texts),
    )
