"""Honest re-saves of every kind: none is accused, and the entries are those that were typed."""

import os
import random
from pathlib import Path

import pytest

from tests.evidence.changer import changed, with_change
from tests.evidence.changer_book import book_of
from tests.evidence.honest import Saved, accused
from tests.evidence.honest_by_hand import BY_HAND, saved_by_hand
from tests.evidence.honest_programs import BY_LIBRARY, BY_PROGRAM, saved_by_library, saved_by_program
from tests.evidence.twins import PROTOCOLS, Twin, parts_of, twins_of
from tests.office.client import Office

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))


@pytest.mark.parametrize("way", BY_HAND)
def test_a_file_that_says_the_same_in_another_way_is_honest(twins: tuple[Twin, ...], way: str) -> None:
    dice = random.Random(f"honest {way}")
    assert [accused(twin, saved_by_hand(twin, way, dice)) for twin in twins[::2]] == [""] * 3


@pytest.mark.parametrize("way", BY_LIBRARY)
def test_a_file_that_a_library_or_a_locale_made_is_honest(twins: tuple[Twin, ...], way: str) -> None:
    dice = random.Random(f"honest {way}")
    assert [accused(twin, saved_by_library(twin, way, dice)) for twin in twins[::2]] == [""] * 3


@pytest.mark.office
def test_files_of_a_spreadsheet_program_are_honest(
    office: Office, twins: tuple[Twin, ...], tmp_path: Path
) -> None:
    """The nightly form saves 48 sheets of six protocols, and rewrites each in every way: over 3,000."""
    some = twins_of(tmp_path, PROTOCOLS, 8) if NIGHTLY else twins[:1]
    dice = random.Random(8)
    wrong = []
    for twin in some:
        made = saved_by_program(office, twin, tmp_path)
        assert [one.way for one in made] == list(BY_PROGRAM)
        ways = list(BY_HAND) if NIGHTLY else dice.sample(list(BY_HAND), 4)
        made += [saved_by_hand(twin, way, dice, made[0].data) for way in ways]
        wrong += [(one.way, twin.protocol_id, said) for one in made if (said := accused(twin, one))]
    assert wrong == []


def test_a_way_of_saving_changes_the_file(twins: tuple[Twin, ...]) -> None:
    """Else it would prove nothing."""
    unchanged = [
        way
        for way in BY_HAND
        if parts_of(saved_by_hand(twins[0], way, random.Random(1)).data) == parts_of(twins[0].data)
    ]
    assert unchanged == ["as it was", "stored and in another order"]


def test_a_change_is_accused(twins: tuple[Twin, ...]) -> None:
    """The judge of honest files does tell a changed one."""
    book = book_of(twins[0].data)
    for kind in ("formula-operator", "label-text", "identity", "coefficient"):
        change = changed(book, kind, random.Random(2))
        assert change is not None
        assert accused(twins[0], Saved(kind, with_change(book, change)))
