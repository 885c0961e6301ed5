"""Spare sheets: whose they are once a line of the tab Pairs claims them, and what is said until then."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.sheets_wanted import (
    Wanted,
    claimed,
    claims_of,
    copies_of_pairs,
    expected_back,
    handed_out_in,
    is_spare,
    off_the_roster,
    own_sheet_wanted,
    pairings_missed,
    pairings_wanted,
    partners_without,
    spare_copies,
    spare_findings,
    stray_claims,
)
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord, Pairing, Person
from sheetgen.class_folder.scores import WHOLE, Score, save_scores
from sheetgen.errors import FolderError, UsageError
from sheetgen.finding import Worded
from sheetgen.protocols.settings import Caliper
from tests.sheets import SETTINGS
from tests.wording import said

PEOPLE = (
    Person("S01", "Ada", "Fen", participant_code="P-2222"),
    Person("S02", "Bo", "Heath", participant_code="P-3333"),
    Person("S05", "Ed", "Reef", participant_code="P-5555"),
)
BOOK = ClassBook(
    "7H33NK",
    "evening",
    SETTINGS,
    PEOPLE,
    (
        Pairing("S01", "S02", "C1"),
        Pairing("S02", "S01", "C1"),
        Pairing("S05", "S01", "C1", spare="9999-AAAA"),
    ),
)


def record(code: str, student: str, participant: str = "", session: int = 1) -> CopyRecord:
    return CopyRecord(
        code, session, student, participant, f"P-{code[:4]}", "C1", "", f"{student}_{code}.xlsx", "", {}
    )


OWN = record("AAAA-2222", "S01", "S02")
SPARE = record("9999-AAAA", "spare-1")
FREE = record("9999-BBBB", "spare-2")
BUILDS = {one.copy_code: (one,) for one in (OWN, SPARE, FREE)}


def test_a_claimed_sheet_is_the_claimers_with_the_participants_usual_code() -> None:
    whose = claimed(SPARE, claims_of(BOOK))
    assert (whose.student_id, whose.participant_id, whose.participant_code) == ("S05", "S01", "P-2222")
    assert (whose.copy_code, whose.identity) == (SPARE.copy_code, SPARE.identity)


def test_a_participant_without_a_code_yet_keeps_the_one_printed_on_the_spare() -> None:
    people = tuple(replace(one, participant_code="") for one in PEOPLE)
    assert claimed(SPARE, claims_of(replace(BOOK, people=people))).participant_code == "P-9999"


def test_a_sheet_of_someone_elses_is_never_claimed() -> None:
    book = replace(BOOK, pairings=(Pairing("S05", "S02", "C1", spare="AAAA-2222"),))
    assert claimed(OWN, claims_of(book)) == OWN
    assert stray_claims(BUILDS, book) == [("S05", "AAAA-2222")]


def test_a_spare_that_comes_back_unclaimed_is_a_finding() -> None:
    (finding,) = said(spare_findings(FREE, claims_of(BOOK)))
    assert (finding.code, finding.found) == ("identity-spare-unclaimed", "spare-2, copy code 9999-BBBB")
    assert spare_findings(SPARE, claims_of(BOOK)) == spare_findings(OWN, claims_of(BOOK)) == ()


def test_only_sheets_that_somebody_has_are_expected_back() -> None:
    own_of_claimer = record("BBBB-2222", "S05", "S01")
    builds = {**BUILDS, "BBBB-2222": (own_of_claimer,), "CCCC-2222": (record("CCCC-2222", "S02", "S01"),)}
    left = (PEOPLE[0], replace(PEOPLE[1], status="left"), PEOPLE[2])
    handed_out = handed_out_in(builds, BOOK, 1)
    assert [one.copy_code for one in handed_out] == ["AAAA-2222", "CCCC-2222", "9999-AAAA", "9999-BBBB"]
    assert handed_out_in(builds, BOOK, 2) == ()
    found = expected_back(handed_out, replace(BOOK, people=left))
    assert [(one.copy_code, one.student_id) for one in found] == [("AAAA-2222", "S01"), ("9999-AAAA", "S05")]


def test_a_sheet_of_a_pair_that_was_changed_is_waited_for_only_where_there_is_no_other() -> None:
    """S01 measures S02 now; S02, whose partner was S05, has a sheet of that pair only."""
    before = record("DDDD-2222", "S01", "S05")
    only = record("EEEE-2222", "S02", "S05")
    assert expected_back((OWN, before, only), BOOK) == (OWN, only)


def test_a_pair_that_used_a_spare_gets_its_own_sheet_in_every_other_session() -> None:
    assert not own_sheet_wanted(BUILDS, "9999-AAAA", 1)
    assert own_sheet_wanted(BUILDS, "9999-AAAA", 2)
    assert own_sheet_wanted(BUILDS, "2345-6789", 1)


def test_a_person_whose_id_looks_like_a_spare_is_a_person() -> None:
    assert not is_spare(record("AAAA-3333", "spare-1", "S01"))


def test_a_claim_of_a_copy_that_is_not_on_record_and_a_line_without_one() -> None:
    book = replace(
        BOOK, pairings=(Pairing("S01", "S02", "C1"), Pairing("S05", "S01", "C1", spare="ZZZZ-ZZZZ"))
    )
    assert stray_claims(BUILDS, book) == [("S05", "ZZZZ-ZZZZ")]
    assert stray_claims(BUILDS, BOOK) == []


def test_every_field_of_the_finding_for_an_unclaimed_spare() -> None:
    assert said(spare_findings(FREE, {})) == (
        Worded(
            "identity-spare-unclaimed", "", "spare-2, copy code 9999-BBBB", "its copy code on the tab Pairs",
            "",
        ),
    )  # fmt: skip


SECRET = "ab" * 32
PEOPLE_WANTED = (
    Person("S01", "Ada", "Fen", participant_code="P-2222"),
    Person("S02", "Bo", "Heath", participant_code="P-3333"),
    Person("S03", "Cy", "Moor", participant_code="P-4444", status="left"),
    Person("S04", "Di", "Wold", participant_code="P-5555"),
)
BOOK_WANTED = ClassBook(
    "7H33NK",
    "evening",
    SETTINGS,
    PEOPLE_WANTED,
    (Pairing("S01", "S02", "C1"), Pairing("S02", "S01", "C1")),
)
FOLDER = ClassFolder(Path("class"))


def record_WANTED(code: str, student: str, participant: str, shown: str) -> CopyRecord:
    return CopyRecord(code, 1, student, participant, shown, "C1", "", "", "", {})


def test_all_pairs_or_those_of_one_measurer_are_wanted() -> None:
    assert pairings_wanted(FOLDER, BOOK_WANTED, "") == BOOK_WANTED.pairings
    assert pairings_wanted(FOLDER, BOOK_WANTED, "S02") == BOOK_WANTED.pairings[1:]


# student asked for, words of the message
REFUSED: tuple[tuple[str, type[Exception], str], ...] = (
    ("S09", UsageError, "no such student_id in the roster"),
    ("S03", UsageError, "someone who has left the class"),
    ("S04", FolderError, "S04 measures nobody; expected a line with them as measurer on the tab Pairs"),
)


@pytest.mark.parametrize(("student", "kind", "words"), REFUSED)
def test_who_gets_no_sheet_is_told_why(student: str, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        pairings_wanted(FOLDER, BOOK_WANTED, student)


def test_a_pair_that_used_a_spare_sheet_needs_none_in_that_session() -> None:
    book = replace(
        BOOK_WANTED,
        pairings=(
            BOOK_WANTED.pairings[0],
            replace(BOOK_WANTED.pairings[1], spare="9999-AAAA"),
        ),
    )
    records = {"9999-AAAA": (record_WANTED("9999-AAAA", "spare-1", "", "P-9999"),)}
    for session, wanted in ((1, ["S01"]), (2, ["S01", "S02"])):
        copies = copies_of_pairs(Wanted(FOLDER, book, SECRET, records, session), book.pairings)
        assert [copy.pairing.measurer for copy in copies] == wanted


def test_a_spare_sheet_has_the_first_caliper_in_service_and_a_code_of_nobody_else() -> None:
    calipers = (Caliper("C0", "", 0.5, 60.0, 0.0, False), Caliper("C7", "", 0.5, 60.0, 0.0))
    settings = replace(SETTINGS, calipers=calipers)
    book = replace(BOOK_WANTED, settings=settings, spare_sheets=2, minors="none")
    copies = spare_copies(Wanted(FOLDER, book, SECRET, {}, 1))
    assert [(copy.pairing.measurer, copy.pairing.caliper_id) for copy in copies] == [
        ("spare-1", "C7"), ("spare-2", "C7"),
    ]  # fmt: skip
    first, second = (copy.participant.participant_code for copy in copies)
    assert first != second
    on_record = {copies[0].copy_code: (record_WANTED(copies[0].copy_code, "spare-1", "", first),)}
    assert spare_copies(Wanted(FOLDER, book, SECRET, on_record, 1)) == copies
    people = (*PEOPLE_WANTED, Person("S05", "Ed", "Reef", participant_code=second))
    taken = spare_copies(Wanted(FOLDER, replace(book, people=people), SECRET, {}, 1))
    assert taken[1].participant.participant_code not in (first, second)


KINDS = [
    # minors, what the roster says of each, spare sheets
    ("none", ("", ""), ["spare-1"]),
    ("none", ("yes", ""), ["spare-1", "spare-limbs-1"]),
    ("none", (), ["spare-1"]),
    ("some", ("no", "no"), ["spare-1"]),
    ("some", ("no", ""), ["spare-1", "spare-limbs-1"]),
    ("some", (), ["spare-1", "spare-limbs-1"]),
    ("all", ("no", "no"), ["spare-limbs-1"]),
]


@pytest.mark.parametrize(("minors", "said", "expected"), KINDS)
def test_spare_sheets_are_of_the_kinds_that_the_class_may_need(
    minors: str, said: tuple[str, ...], expected: list[str]
) -> None:
    people = tuple(Person(f"S{number}", "", "", under_18=word) for number, word in enumerate(said))
    book = replace(BOOK_WANTED, people=people, pairings=(), minors=minors, spare_sheets=1)
    copies = spare_copies(Wanted(FOLDER, book, SECRET, {}, 1))
    assert [copy.pairing.measurer for copy in copies] == expected
    assert [copy.under_18 for copy in copies] == ["limbs" in name for name in expected]


def test_without_a_caliper_in_service_there_is_no_spare_sheet() -> None:
    book = replace(BOOK_WANTED, settings=replace(SETTINGS, calipers=()))
    assert spare_copies(Wanted(FOLDER, book, SECRET, {}, 1)) == []


def test_whoever_measures_the_one_built_alone_and_has_no_sheet_is_named() -> None:
    assert list(partners_without(Wanted(FOLDER, BOOK_WANTED, SECRET, {}, 1), "")) == []
    assert list(partners_without(Wanted(FOLDER, BOOK_WANTED, SECRET, {}, 2), "S02")) == [
        "S01 measures S02 and has no sheet for it in session 2: build it with --student S01."
    ]
    code = keep.copy_code(SECRET, "S01", "S02", 2)
    assert list(partners_without(Wanted(FOLDER, BOOK_WANTED, SECRET, {code: ()}, 2), "S02")) == []


def test_an_id_on_sheets_that_is_not_on_the_roster_any_more_is_named() -> None:
    records = {"K1": [record("K1", "S01", "S02")], "K2": [record("K2", "spare-1")]}
    assert off_the_roster(records, BOOK_WANTED) == ()
    people = tuple(person for person in BOOK_WANTED.people if person.student_id != "S02")
    (line,) = off_the_roster(records, replace(BOOK_WANTED, people=people))
    assert line.startswith("S02: on sheets and marks, and not on the tab Roster")


def test_a_session_has_its_name_beside_its_number() -> None:
    book = replace(BOOK, session_names=("week 3", "", "week 9"))
    assert [book.session_words(number) for number in (1, 2, 3, 4)] == ["1 (week 3)", "2", "3 (week 9)", "4"]


def test_a_make_up_session_stands_for_the_one_that_was_missed() -> None:
    assert replace(BOOK, make_ups=("3=1", "12=10")).stands_for == {3: 1, 12: 10}
    assert BOOK.stands_for == {}
    # Who missed the make-up too: it stands for the first, in whatever order they were typed.
    assert replace(BOOK, make_ups=("4=3", "3=1", "10=9")).stands_for == {3: 1, 4: 1, 10: 9}


def test_who_missed_a_session_and_its_make_ups_gets_a_sheet(tmp_path: Path) -> None:
    """S01 came in session 1, S02 in its make-up, session 2; S05 used a spare sheet in session 1."""
    folder = ClassFolder(tmp_path)
    codes = [keep.copy_code(SECRET, *pair) for pair in (("S01", "S02", 1), ("S02", "S01", 2))]
    scores = [
        Score(session, student, WHOLE, 1.0, 1.0, "final", "2027-03-01", code)
        for session, student, code in ((1, "S01", codes[0]), (2, "S02", codes[1]), (1, "S05", "9999-AAAA"))
    ]
    late = (*BOOK.pairings, Pairing("S05", "S02", "C1"))
    book = replace(BOOK, pairings=late, make_ups=("2=1", "3=1"))

    def missed(session: int) -> list[tuple[str, str]]:
        pairs = pairings_missed(Wanted(folder, book, SECRET, {}, session), book.pairings)
        return [(pair.measurer, pair.participant) for pair in pairs]

    with pytest.raises(FolderError, match="session 1, not read yet"):
        missed(2)
    for session in (1, 2):
        save_scores(folder, session, [score for score in scores if score.session == session])
    # Building session 2 again makes the sheets that it had.
    assert missed(2) == [("S02", "S01"), ("S05", "S02")]
    assert missed(3) == [("S05", "S02")]
    with pytest.raises(FolderError, match="session 1, which nobody missed"):
        book = replace(book, pairings=BOOK.pairings)
        missed(3)


def test_a_sheet_for_a_second_caliper_is_handed_out_beside_and_not_waited_for() -> None:
    second = replace(record("CCCC-2222", "S01", "S02"), exercise="second-caliper")
    builds = {**BUILDS, second.copy_code: (second,)}
    handed_out = handed_out_in(builds, BOOK, 1)
    assert [one for one in handed_out if one not in handed_out_in(BUILDS, BOOK, 1)] == [second]
    assert expected_back(handed_out, BOOK) == expected_back(handed_out_in(BUILDS, BOOK, 1), BOOK)
