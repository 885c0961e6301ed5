from dataclasses import replace

import pytest

from sheetgen.checking.calipers import CaliperOffset, ZeroDifference
from sheetgen.checking.class_words import (
    caliper_words,
    digit_words,
    identical_words,
    pair_words,
    reason_words,
    site_words,
    thinner_words,
    worst_words,
    zero_words,
)
from sheetgen.checking.pile_ups import Compression, DigitPreference, IdenticalRecord
from sheetgen.checking.precision import SitePrecision, WorstSite
from sheetgen.checking.same_numbers import NumbersPair
from sheetgen.core.digits import DigitCounts, SignTest
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.core.repeatability import technical_error_two
from sheetgen.store.texts import load_texts
from tests.class_samples import CLASSES

TEXTS = load_texts("report.en")
WHY = Undefined("few-pairs", (("pairs", 9), ("needed", 10)))
WHY_WORDS = "9 pairs of readings: an error needs 10 at least"
OFFSET = CaliperOffset("B", 18, 18, 6, 1.04, Interval(0.8, 1.28, 0.99), True, True, 1.0)


def test_reason_holds_its_numbers() -> None:
    assert reason_words(WHY, TEXTS) == WHY_WORDS


def test_worst_site_goes_by_its_title() -> None:
    worst = WorstSite("chest", 14.14, True)
    assert worst_words(worst, {"chest": "Chest"}, TEXTS) == (
        "Chest repeats worst, 14.1 % of the fold, by more than chance: show it again"
    )
    assert worst_words(replace(worst, stands_out=False), {}, TEXTS) == (
        "chest repeats worst, 14.1 % of the fold, but by no more than chance"
    )


# the class against the limits, in words
JUDGEMENTS = (
    ("skilled", "within 5 %, held acceptable of a skilled measurer"),
    ("beginner", "within 7.5 %, held acceptable of a beginner measurer"),
    ("above", "above 7.5 %, held acceptable of a beginner"),
    ("few-people", "19 people measured: about 20 are needed before a limit says anything"),
)


@pytest.mark.parametrize(("judgement", "words"), JUDGEMENTS)
def test_site_against_the_published_limits(judgement: str, words: str) -> None:
    error = technical_error_two([(10.0, 11.0)] * 20)
    site = SitePrecision("chest", 20, 19, error, Interval(0.4, 0.7, 0.95), 4.0, (), judgement)
    assert site_words(site, TEXTS) == words
    assert site_words(replace(site, error=WHY), TEXTS) == WHY_WORDS
    assert site_words(replace(site, relative=WHY), TEXTS) == WHY_WORDS


def test_final_digits() -> None:
    (scale,) = CLASSES["class-digit-preference"]().digits
    assert digit_words(scale, TEXTS) == (
        "readings pile up on the digit 0: read what the scale shows, not rounder"
    )
    assert digit_words(replace(scale, piles_up=False), TEXTS) == "no final digit stands out"
    few = DigitPreference(0.5, 1, DigitCounts((0, 5), (7, 0), 0), WHY, False)
    assert digit_words(few, TEXTS) == WHY_WORDS


def test_second_round_thinner() -> None:
    student = Compression("S1", ("K1",), SignTest(7, 0, 0, 1 / 128), True)
    assert thinner_words(student, TEXTS) == (
        "round 2 thinner in 7 of 7 pairs that differ: by chance 1 in 128; was the caliper held too long, or "
        "no rest between rounds?"
    )
    some = replace(student, test=SignTest(4, 3, 0, 0.5), everywhere=False)
    assert thinner_words(some, TEXTS) == "round 2 thinner in 4 of 7 pairs that differ"
    assert thinner_words(replace(student, test=WHY), TEXTS) == WHY_WORDS


def test_rounds_alike() -> None:
    record = IdenticalRecord("a.xlsx", "K1", "S1", 7, 0.019)
    question = "round 2 equals round 1 at all 7 sites; a question only: was round 2 measured?"
    assert identical_words(record, TEXTS) == f"{question} By chance 1.9 % of honest sheets in this class."
    assert identical_words(replace(record, chance=WHY), TEXTS) == question


def test_typed_and_registered_zero() -> None:
    assert zero_words(ZeroDifference("a.xlsx", "K1", "S1", "B", 0.0, 1.0), TEXTS) == (
        "B: zero typed 0 mm, registered 1 mm: look at it closed"
    )


# offset [mm], what is known of it, in words
OFFSETS = (
    (OFFSET, "reads 1.04 mm high against the others: the zero looks forgotten, near 1 mm"),
    (
        replace(OFFSET, offset=-1.04, interval=Interval(-1.28, -0.8, 0.99), near_mm=-1.0),
        "reads 1.04 mm low against the others: the zero looks forgotten, near -1 mm",
    ),
    (
        replace(OFFSET, near_mm=None, zero_looks_forgotten=False),
        "reads 1.04 mm high against the others, by no whole division",
    ),
    (
        replace(OFFSET, offset=-1.04, near_mm=None, zero_looks_forgotten=False),
        "reads 1.04 mm low against the others, by no whole division",
    ),
    (
        replace(OFFSET, beyond_chance=False, near_mm=None),
        "+1.04 mm against the others, but one measurer alone used it: it may be the measurer",
    ),
    (
        replace(OFFSET, offset=0.1, interval=Interval(-0.14, 0.34, 0.99), beyond_chance=False, near_mm=None),
        "not told from the others (+0.10 mm, -0.14 to +0.34)",
    ),
    (replace(OFFSET, offset=WHY, interval=WHY, beyond_chance=False), WHY_WORDS),
    (replace(OFFSET, interval=WHY), WHY_WORDS),
)


@pytest.mark.parametrize(("offset", "words"), OFFSETS)
def test_caliper_against_the_others(offset: CaliperOffset, words: str) -> None:
    assert caliper_words(offset, TEXTS) == words


def test_same_numbers() -> None:
    pair = NumbersPair("a", "K1", "S1", "b", "K2", "S2", False, 5, 12, 14, 4, 0.000231, ())
    assert pair_words(pair, TEXTS) == (
        "needs a conversation: 12 of 14 readings equal, 5 sites in both rounds; 4 sites or more are expected "
        "in 0.00023 honest pairs of this class"
    )
