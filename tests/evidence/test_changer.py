"""Random single changes to locked parts: every one is found, with its place. The nightly form makes 5,200."""

import os
import random
from collections import Counter

import pytest

from tests.evidence.changer import KINDS, changed, with_change
from tests.evidence.changer_book import book_of
from tests.evidence.changer_formulas import same_meaning
from tests.evidence.detection import detections
from tests.evidence.twins import Twin

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))


def test_an_untouched_twin_has_no_finding(twins: tuple[Twin, ...]) -> None:
    """Else a change might hide behind what is said anyway."""
    said = [(twin.attempt().status, [one.code for one in twin.attempt().findings]) for twin in twins]
    assert said == [("accepted", [])] * 6
    assert {twin.protocol_id for twin in twins} == {"seven-sites", "three-sites-women", "four-sites"}


def test_every_change_is_found_with_its_place(twins: tuple[Twin, ...]) -> None:
    found = detections(twins, 5_200 if NIGHTLY else 4 * len(KINDS), seed=20)
    assert found.missed == ()
    assert set(found.counts) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_alters_the_file_and_nothing_but_its_parts(twins: tuple[Twin, ...], kind: str) -> None:
    book = book_of(twins[0].data)
    change = changed(book, kind, random.Random(5))
    assert change is not None
    different = {name for name, part in change.parts.items() if book.parts[name] != part}
    assert different
    assert len(different) <= 8
    assert with_change(book, change) != twins[0].data


# a formula, another way of writing it, whether the meaning stays
SPELLINGS = (
    ('IF($B$9="","",SUM(B9,2.50))', 'if( b9 = "" , "" , sum(B$9,2.5))', True),
    ("Start!$B$9+1.0", "'Start'!B9 + 1", True),
    ("_xlfn.CONCAT(B1)", "concat(B1)", True),
    ("B9+1", "B10+1", False),
    ("B9+1", "B9+10", False),
    ('IF(B1="yes",1,2)', 'IF(B1="YES",1,2)', False),
    ("SUM(B1:B2)", "MAX(B1:B2)", False),
    ("B1-B2", "B1+B2", False),
)


@pytest.mark.parametrize(("one", "other", "same"), SPELLINGS)
def test_what_keeps_the_meaning_is_no_change(one: str, other: str, same: bool) -> None:
    assert same_meaning(one, other) is same


def test_the_same_seed_makes_the_same_changes(twins: tuple[Twin, ...]) -> None:
    book = book_of(twins[0].data)
    made = [changed(book, kind, random.Random(3)) for kind in KINDS]
    assert made == [changed(book, kind, random.Random(3)) for kind in KINDS]
    assert Counter(one is None for one in made) == {False: len(KINDS)}
