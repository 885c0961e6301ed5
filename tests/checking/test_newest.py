"""Which of several files of one copy is the newest complete one, and what tells so."""

from dataclasses import replace

import pytest

from sheetgen.checking.newest import Arrival, newest
from sheetgen.checking.recalculate import recalculate
from sheetgen.flows.sample_entries import sample_entries
from sheetgen.model.attempt import Attempt
from sheetgen.model.settings import BuiltWith
from tests.sheets import CALIPERS, sheet_of


def attempt(file: str, modified: str = "", mass: float = 61.5) -> Attempt:
    """A file of which nothing is known but its name, its mass entry, and when it says it was saved."""
    return Attempt(file, file, "accepted", None, "", {"mass_kg": mass}, None, (), modified=modified)


def pair(first: str, second: str) -> list[Attempt]:
    return [attempt(first), attempt(second, mass=71.5)]


NONE = (Arrival(), Arrival())


def filled(file: str, modified: str, *emptied: str) -> Attempt:
    """A file with a full set of entries, some of them emptied again."""
    sheet = sheet_of()
    protocol, settings = sheet.source.protocol, sheet.source.settings
    entries = {
        **sample_entries(protocol, settings, CALIPERS[0], "newest"),
        "caliper_id": CALIPERS[0].identifier,
        "data_source": "measured",
        "side": "right",
    }
    kept = {
        name: value for name, value in entries.items() if name not in emptied and not isinstance(value, bool)
    }
    results = recalculate(protocol, settings, kept)
    built_with = BuiltWith(settings, protocol, 1)
    return Attempt(
        file, file, "accepted", None, "", kept, results, (), built_with=built_with, modified=modified
    )


def test_a_complete_file_counts_before_a_newer_one_that_is_not() -> None:
    old, new = filled("a", "2027-03-01T10:00:00Z"), filled("b", "2027-03-02T10:00:00Z", "reading_1_chest")
    choice = newest([new, old], NONE)
    assert (choice.counts, choice.reasons) == ((1,), {0: ("complete", {"best": 1.0, "own": 0.0})})
    assert newest([new, replace(new, file="c", modified="2027-03-03T10:00:00Z")], NONE).counts == (1,)


# when two files say that they were saved, the day they were first read, which counts
SAVED = (
    ("2027-03-01T10:00:00Z", "2027-03-01T10:00:01Z", "2027-03-01", (1,)),
    ("2027-03-01T10:00:00+02:00", "2027-03-01T09:00:00Z", "2027-03-01", (1,)),
    ("2027-03-01T10:00:00.1234567Z", "2027-03-01T09:00:00", "2027-03-01", (0,)),
    # as handed out, not said, and not a time: nothing is told
    ("2000-01-01T00:00:00Z", "2027-03-01T10:00:00Z", "2027-03-01", (0, 1)),
    ("", "2027-03-01T10:00:00Z", "2027-03-01", (0, 1)),
    ("yesterday", "2027-03-01T10:00:00Z", "2027-03-01", (0, 1)),
    # a clock a year ahead is not believed; one of another zone is
    ("2028-03-01T10:00:00Z", "2027-03-01T10:00:00Z", "2027-03-01", (0, 1)),
    ("2027-03-02T10:00:00Z", "2027-03-01T10:00:00Z", "2027-03-01", (0,)),
)


@pytest.mark.parametrize(("first", "second", "day", "counts"), SAVED)
def test_what_the_files_say_of_themselves(first: str, second: str, day: str, counts: tuple[int, ...]) -> None:
    files = [attempt("a.xlsx", first), attempt("b.xlsx", second, mass=71.5)]
    assert newest(files, [Arrival(day), Arrival(day)]).counts == counts


# names, which counts
NAMES = (
    ("s.xlsx", "s (1).xlsx", (1,)),
    ("s (2).xlsx", "s (10).xlsx", (1,)),
    ("s-1.xlsx", "s.xlsx", (0,)),
    ("one/s-1.xlsx", "two/S-2.xlsx", (1,)),
    ("s [2].xlsx", "s.xlsx", (0,)),
    ("Ada_attempt_2_s.xlsx", "Ada_attempt_1_other.xlsx", (0,)),
    ("Ada/Attempt 1/s.xlsx", "Ada/Attempt 2/s.xlsx", (1,)),
    ("s 2027-03-01.xlsx", "s 2027-03-02.xlsx", (1,)),
    ("a_2027-03-01-10-20-30_s.xlsx", "b_2027-03-01-10-20-29_t.xlsx", (0,)),
    ("a 20270301 1020.xlsx", "a 20270301 1019.xlsx", (0,)),
    # names that say nothing of one another
    ("mine.xlsx", "friend (1).xlsx", (0, 1)),
    ("mine.xlsx", "friend.xlsx", (0, 1)),
    ("s 2027-03-01.xlsx", "s.xlsx", (0, 1)),
    ("attempt 1.xlsx", "s.xlsx", (0, 1)),
    ("L01_7K3F-2345.xlsx", "L01_7K3F-2346.xlsx", (0, 1)),
)


@pytest.mark.parametrize(("first", "second", "counts"), NAMES)
def test_marks_of_an_attempt_in_the_names(first: str, second: str, counts: tuple[int, ...]) -> None:
    assert newest(pair(first, second), NONE).counts == counts


# arrivals of two files, which counts
ARRIVALS = (
    (Arrival("2027-03-01"), Arrival("2027-03-02"), (1,)),
    (Arrival("2027-03-02", 0.0), Arrival("2027-03-01", 900.0), (0,)),
    (Arrival("2027-03-01", 100.0), Arrival("2027-03-01", 160.0), (1,)),
    (Arrival("2027-03-01", 100.0, True), Arrival("2027-03-01", 900.0, True), (1,)),
    # written one after the other; by clocks that cannot be compared; not known of one
    (Arrival("2027-03-01", 100.0), Arrival("2027-03-01", 159.0), (0, 1)),
    (Arrival("2027-03-01", 100.0, True), Arrival("2027-03-01", 900.0), (0, 1)),
    (Arrival("2027-03-01", None), Arrival("2027-03-01", 900.0), (0, 1)),
    (Arrival("", None), Arrival("2027-03-01", None), (0, 1)),
)


@pytest.mark.parametrize(("first", "second", "counts"), ARRIVALS)
def test_the_order_of_arrival(first: Arrival, second: Arrival, counts: tuple[int, ...]) -> None:
    assert newest(pair("a.xlsx", "b.xlsx"), [first, second]).counts == counts


def test_the_same_entries_are_no_question() -> None:
    same = [
        attempt("b.xlsx"),
        attempt("a.xlsx"),
        replace(attempt("c.xlsx"), entries={"mass_kg": 61.5, "side": ""}),
    ]
    choice = newest(same, [Arrival()] * 3)
    assert choice.counts == (1,)
    assert choice.reasons == dict.fromkeys((0, 2), ("same", {}))


def test_of_three_the_oldest_is_told_apart_though_the_newest_two_are_not() -> None:
    files = [attempt("a.xlsx"), attempt("b.xlsx", mass=71.5), attempt("c.xlsx", mass=81.5)]
    choice = newest(files, [Arrival("2027-03-02"), Arrival("2027-03-01"), Arrival("2027-03-02")])
    assert choice.counts == (0, 2)
    assert choice.reasons == {1: ("read", {"best": "2027-03-02", "own": "2027-03-01"})}


def test_one_file_alone_counts() -> None:
    assert newest([attempt("a.xlsx")], [Arrival()]).counts == (0,)
