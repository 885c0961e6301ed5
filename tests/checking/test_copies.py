"""Which of several files of one copy counts."""

from dataclasses import replace

import pytest

from sheetgen.checking.copies import told_apart, with_answers
from sheetgen.checking.late import late_findings
from sheetgen.checking.newest import Arrival
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.finding import Worded
from sheetgen.store.catalogue import load_catalogue
from tests.wording import in_english


def _attempt(file: str, code: str, sha256: str, status: str = "accepted") -> Attempt:
    record = CopyRecord(code, 1, "S01", "S02", "P-2A3B", "C1", "", "", "", {})
    return Attempt(file, sha256, status, record, "seven-sites", {"mass_kg": float(ord(sha256[0]))}, None, ())


A = _attempt("a.xlsx", "7K3F-9QXM", "aa")
A_AGAIN = _attempt("a (1).xlsx", "7K3F-9QXM", "aa")
B = _attempt("b.xlsx", "7K3F-9QXM", "bb")
OTHER = _attempt("c.xlsx", "2222-3333", "cc")
REFUSED = _attempt("d.xlsx", "7K3F-9QXM", "dd", "refused")
LATE = replace(
    _attempt("e.xlsx", "7K3F-9QXM", "ee", "review"), findings=late_findings("2027-03-05", "2027-03-04", "")
)
LATER = replace(LATE, file="f.xlsx", sha256="ff", entries={"mass_kg": 61.5})
RESAVED = replace(A, file="g.xlsx", sha256="gg")
NEWER = replace(B, file="h.xlsx", sha256="hh", modified="2027-03-02T09:00:00Z")
OLDER = replace(B, file="i.xlsx", sha256="ii", modified="2027-03-01T09:00:00Z", entries={})

# attempts, the teacher's answers by file id, status of each
CASES: tuple[tuple[list[Attempt], dict[str, bool], list[str]], ...] = (
    ([A, OTHER], {}, ["accepted", "accepted"]),
    ([A, A_AGAIN], {}, ["accepted", "superseded"]),
    ([A, B], {}, ["refused", "refused"]),
    ([A, REFUSED], {}, ["accepted", "refused"]),
    ([A, B], {"bb": True}, ["superseded", "accepted"]),
    ([A, B], {"aa": False}, ["superseded", "accepted"]),
    ([A, A_AGAIN, B], {"aa": True}, ["accepted", "superseded", "superseded"]),
    ([A, B], {"aa": True, "bb": True}, ["refused", "refused"]),
    ([LATE], {}, ["review"]),
    ([A, LATE], {}, ["accepted", "superseded"]),
    ([LATER, A, LATE], {}, ["superseded", "accepted", "superseded"]),
    ([A, LATE], {"ee": True}, ["superseded", "review"]),
    ([A, LATE], {"ee": False}, ["accepted", "superseded"]),
    ([A, LATE], {"aa": False}, ["superseded", "review"]),
    ([A, LATE], {"aa": True, "ee": True}, ["refused", "refused"]),
    ([LATE, LATER], {}, ["refused", "refused"]),
    ([LATE, LATER], {"ee": True}, ["review", "superseded"]),
    ([A, B, LATE], {}, ["refused", "refused", "superseded"]),
    ([A, B, LATE], {"bb": False}, ["accepted", "superseded", "superseded"]),
    ([RESAVED, A], {}, ["superseded", "accepted"]),
    ([OLDER, NEWER], {}, ["superseded", "accepted"]),
    ([OLDER, NEWER], {"ii": True}, ["accepted", "superseded"]),
    ([OLDER, NEWER], {"hh": False}, ["accepted", "superseded"]),
    ([OLDER, NEWER], {"ii": True, "hh": True}, ["superseded", "accepted"]),
    ([OLDER, NEWER], {"ii": False, "hh": False}, ["superseded", "accepted"]),
    ([A, B], {"aa": False, "bb": False}, ["refused", "refused"]),
    ([OLDER, A, NEWER], {}, ["refused", "refused", "refused"]),
)


@pytest.mark.parametrize(("attempts", "answers", "expected"), CASES)
def test_told_apart(attempts: list[Attempt], answers: dict[str, bool], expected: list[str]) -> None:
    assert [one.status for one in told_apart(attempts, load_catalogue(), answers)] == expected


def test_told_apart_says_on_the_older_file_which_counts_and_why() -> None:
    older, newer = told_apart([OLDER, NEWER], load_catalogue(), {})
    assert newer.findings == ()
    assert [(one.code, one.severity, one.found) for one in in_english(older.findings)] == [
        (
            "identity-newer-counts",
            "note",
            "h.xlsx counts: it says that it was last saved on 2027-03-02 09:00:00,"
            " and this one on 2027-03-01 09:00:00",
        )
    ]


def test_told_apart_goes_by_the_day_of_first_reading_where_the_files_say_nothing() -> None:
    arrivals = {"a.xlsx": Arrival("2027-03-01"), "b.xlsx": Arrival("2027-03-04")}
    told = told_apart([A, B], load_catalogue(), {}, arrivals)
    assert [one.status for one in told] == ["superseded", "accepted"]
    assert [one.found for one in in_english(told[0].findings)] == [
        "b.xlsx counts: it was first read on 2027-03-04, and this one on 2027-03-01"
    ]


def test_told_apart_gives_one_copy_the_same_whatever_else_came() -> None:
    alone = told_apart([OLDER, NEWER], load_catalogue(), {})
    assert told_apart([OTHER, OLDER, REFUSED, NEWER], load_catalogue(), {})[1::2] == alone


def test_told_apart_names_the_other_file() -> None:
    told = told_apart([A, B], load_catalogue(), {})
    assert [[(one.code, one.found) for one in in_english(attempt.findings)] for attempt in told] == [
        [("identity-copy-twice", "copy code 7K3F-9QXM also in b.xlsx")],
        [("identity-copy-twice", "copy code 7K3F-9QXM also in a.xlsx")],
    ]


# status, the teacher's answer, status after it
ANSWERS = (
    ("review", True, "accepted"),
    ("review", False, "refused"),
    ("review", None, "review"),
    ("accepted", False, "accepted"),
    ("refused", True, "refused"),
)


@pytest.mark.parametrize(("status", "answer", "expected"), ANSWERS)
def test_answered(status: str, answer: bool | None, expected: str) -> None:
    answers = {} if answer is None else {"aa": answer}
    assert [one.status for one in with_answers([_attempt("a.xlsx", "7K3F-9QXM", "aa", status)], answers)] == [
        expected
    ]


def test_every_field_of_what_is_said_of_several_files() -> None:
    """Severity and remedy come from the catalogue."""
    catalogue = load_catalogue()
    twice = told_apart([A, B, replace(A, file="k.xlsx", sha256="kk", entries={})], catalogue, {})
    entry = catalogue["identity-copy-twice"]
    assert [in_english(attempt.findings) for attempt in twice] == [
        (Worded("identity-copy-twice", entry.severity, f"copy code 7K3F-9QXM also in {others}",
                 "one file a copy", entry.remedy),)
        for others in ("b.xlsx, k.xlsx", "a.xlsx, k.xlsx", "a.xlsx, b.xlsx")
    ]  # fmt: skip
    older, _ = told_apart([OLDER, NEWER], catalogue, {})
    (note,) = in_english(older.findings)
    assert (note.expected, note.tab, note.cell) == ("one file a copy", "", "")


IN_FOLDERS = [
    replace(OLDER, file="Ada/s.xlsx"),
    replace(NEWER, file="Bo/changed.xlsx"),
    replace(OTHER, file="Bo/s.xlsx"),
    _attempt("Cy/s.xlsx", "4444-5555", "cy"),
]


def test_told_apart_does_not_go_by_time_between_different_people() -> None:
    """A changed copy of another one's sheet may say that it is newer."""
    told = told_apart(IN_FOLDERS, load_catalogue(), {})
    assert [one.status for one in told] == ["refused", "refused", "accepted", "accepted"]
    assert [[(one.code, one.found) for one in in_english(attempt.findings)] for attempt in told] == [
        [
            (
                "identity-copy-twice",
                "copy code 7K3F-9QXM also in Bo/changed.xlsx (from 'bo'); this one came from 'ada'",
            )
        ],
        [
            (
                "identity-copy-twice",
                "copy code 7K3F-9QXM also in Ada/s.xlsx (from 'ada'); this one came from 'bo'",
            )
        ],
        [],
        [],
    ]


# what else came of the same copy, the teacher's answers, the statuses of the first two and of it
BETWEEN_PEOPLE: tuple[tuple[list[Attempt], dict[str, bool], list[str]], ...] = (
    ([], {"ii": True}, ["accepted", "superseded"]),
    ([], {"hh": False}, ["accepted", "superseded"]),
    # the newest of each person's own waits
    (
        [replace(NEWER, file="Ada/t.xlsx", sha256="tt", entries={"mass_kg": 1.0})],
        {},
        ["superseded", "refused", "refused"],
    ),
    # of a loose file nobody knows whose it is
    ([replace(A, file="loose.xlsx", sha256="ll")], {}, ["refused", "refused", "refused"]),
)


@pytest.mark.parametrize(("more", "answers", "expected"), BETWEEN_PEOPLE)
def test_told_apart_between_different_people(
    more: list[Attempt], answers: dict[str, bool], expected: list[str]
) -> None:
    told = told_apart([*IN_FOLDERS, *more], load_catalogue(), answers)
    assert [one.status for one in (*told[:2], *told[4:])] == expected


def test_told_apart_of_different_people_who_hold_the_same_entries() -> None:
    """Two who hand in the same work are no question; the newest counts, as ever."""
    same = [replace(IN_FOLDERS[0], entries=NEWER.entries), *IN_FOLDERS[1:]]
    assert [one.status for one in told_apart(same, load_catalogue(), {})][:2] == ["superseded", "accepted"]
