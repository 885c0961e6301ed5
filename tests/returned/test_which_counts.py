"""Which of several files of one copy counts."""

import pytest
from msgspec.structs import replace

from sheetgen.class_folder.records import CopyRecord, Person
from sheetgen.commands.demo import sample_entries
from sheetgen.finding import Finding, Worded
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt, late_findings
from sheetgen.returned.which_counts import Arrival, newest, senders_of, told_apart
from sheetgen.texts.findings import load_catalogue
from tests.sheets import CALIPERS, sheet_of
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
    assert [one.status for one in told_apart(attempts, answers, {})] == expected


def test_told_apart_says_on_the_older_file_which_counts_and_why() -> None:
    older, newer = told_apart([OLDER, NEWER], {}, {})
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
    told = told_apart([A, B], {}, arrivals)
    assert [one.status for one in told] == ["superseded", "accepted"]
    assert [one.found for one in in_english(told[0].findings)] == [
        "b.xlsx counts: it was first read on 2027-03-04, and this one on 2027-03-01"
    ]


def test_told_apart_gives_one_copy_the_same_whatever_else_came() -> None:
    alone = told_apart([OLDER, NEWER], {}, {})
    assert told_apart([OTHER, OLDER, REFUSED, NEWER], {}, {})[1::2] == alone


def test_told_apart_names_the_other_file() -> None:
    told = told_apart([A, B], {}, {})
    assert [[(one.code, one.found) for one in in_english(attempt.findings)] for attempt in told] == [
        [("identity-copy-twice", "copy code 7K3F-9QXM also in b.xlsx")],
        [("identity-copy-twice", "copy code 7K3F-9QXM also in a.xlsx")],
    ]


def test_every_field_of_what_is_said_of_several_files() -> None:
    """Severity and remedy come from the catalogue."""
    catalogue = load_catalogue()
    twice = told_apart([A, B, replace(A, file="k.xlsx", sha256="kk", entries={})], {}, {})
    entry = catalogue["identity-copy-twice"]
    assert [in_english(attempt.findings) for attempt in twice] == [
        (Worded("identity-copy-twice", entry.severity, f"copy code 7K3F-9QXM also in {others}",
                 "one file a copy", entry.remedy),)
        for others in ("b.xlsx, k.xlsx", "a.xlsx, k.xlsx", "a.xlsx, b.xlsx")
    ]  # fmt: skip
    older, _ = told_apart([OLDER, NEWER], {}, {})
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
    told = told_apart(IN_FOLDERS, {}, {})
    assert [one.status for one in told] == ["refused", "refused", "accepted", "accepted"]
    assert [[(one.code, one.found) for one in in_english(attempt.findings)] for attempt in told] == [
        [
            (
                "identity-copy-twice",
                "copy code 7K3F-9QXM also in Bo/changed.xlsx, by their names from different people",
            )
        ],
        [
            (
                "identity-copy-twice",
                "copy code 7K3F-9QXM also in Ada/s.xlsx, by their names from different people",
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
    told = told_apart([*IN_FOLDERS, *more], answers, {})
    assert [one.status for one in (*told[:2], *told[4:])] == expected


def test_told_apart_of_different_people_who_hold_the_same_entries() -> None:
    """Two who hand in the same work are no question; the newest counts, as ever."""
    same = [replace(IN_FOLDERS[0], entries=NEWER.entries), *IN_FOLDERS[1:]]
    assert [one.status for one in told_apart(same, {}, {})][:2] == ["superseded", "accepted"]


def attempt(file: str, modified: str = "", mass: float = 61.5) -> Attempt:
    """A file of which nothing is known but its name, its mass entry, and when it says it was saved."""
    return Attempt(file, file, "accepted", None, "", {"mass_kg": mass}, None, (), modified=modified)


def pair(first: str, second: str) -> list[Attempt]:
    return [attempt(first), attempt(second, mass=71.5)]


def chosen(files: list[Attempt], *arrivals: Arrival) -> tuple[str, ...]:
    """The files that count, of some that arrived in this way; where nothing is said, nobody knows how."""
    return newest(files, {one.file: arrival for one, arrival in zip(files, arrivals, strict=False)}).counts


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
    choice = newest([new, old], {})
    assert (choice.counts, choice.reasons) == (("a",), {"b": ("complete", {"best": 1.0, "own": 0.0})})
    assert chosen([new, replace(new, file="c", modified="2027-03-03T10:00:00Z")]) == ("c",)


ADA = CopyRecord("7K3F-9QXM", 1, "S01", "S02", "P-2A3B", "C1", "", "", "", {})
PEOPLE = (Person("S01", "Ada", "Fen"), Person("S02", "Bo", "Heath"))
WHOLE = replace(filled("Ada Fen/s.xlsx", "2027-03-01T10:00:00Z"), record=ADA)
HALF = replace(
    filled("Bo Heath/s.xlsx", "2027-03-02T10:00:00Z", "reading_1_chest", "reading_2_thigh"), record=ADA
)
BLANK = replace(HALF, status="review", entries={}, findings=(Finding("entry-nothing-typed"),))
# The names of folders tell people only where several stand beside one another.
OTHERS = [_attempt("Cy Moor/s.xlsx", "4444-5555", "cy"), _attempt("Di Wold/s.xlsx", "5555-6666", "di")]

# two files of Ada's copy from two people, their statuses
OF_A_CLASSMATE: tuple[tuple[Attempt, Attempt, list[str]], ...] = (
    (WHOLE, HALF, ["accepted", "superseded"]),
    (WHOLE, BLANK, ["accepted", "superseded"]),
    (replace(HALF, file="Ada Fen/s.xlsx"), BLANK, ["accepted", "superseded"]),
    # what a classmate completed is not theirs
    (replace(HALF, file="Ada Fen/s.xlsx"), replace(WHOLE, file="Bo Heath/s.xlsx"), ["refused", "refused"]),
    (replace(BLANK, file="Ada Fen/s.xlsx"), replace(WHOLE, file="Bo Heath/s.xlsx"), ["refused", "refused"]),
    (WHOLE, replace(WHOLE, file="Bo Heath/s.xlsx", entries={**WHOLE.entries, "mass_kg": 71.5}),
     ["refused", "refused"]),
)  # fmt: skip


@pytest.mark.parametrize(("first", "second", "expected"), OF_A_CLASSMATE)
def test_a_classmates_blank_or_half_filled_copy_takes_nothing_from_a_complete_one(
    first: Attempt, second: Attempt, expected: list[str]
) -> None:
    first, second = replace(first, sha256="first"), replace(second, sha256="second")
    told = told_apart([first, second, *OTHERS], {}, {}, PEOPLE)
    assert [one.status for one in told] == [*expected, "accepted", "accepted"]


def test_an_untouched_file_gives_way_however_new_it_is() -> None:
    older = replace(HALF, file="s.xlsx", sha256="older", modified="2027-03-01T10:00:00Z")
    newer = replace(BLANK, file="s (1).xlsx", sha256="newer", modified="2027-03-05T10:00:00Z")
    told = told_apart([older, newer], {}, {})
    assert [one.status for one in told] == ["accepted", "superseded"]
    assert in_english(told[1].findings)[-1].found == "s.xlsx counts: in this one nothing is typed yet"


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
    assert chosen(files, Arrival(day), Arrival(day)) == tuple(files[place].file for place in counts)


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
    assert chosen(pair(first, second)) == tuple((first, second)[place] for place in counts)


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
    files = pair("a.xlsx", "b.xlsx")
    assert chosen(files, first, second) == tuple(files[place].file for place in counts)


def test_the_same_entries_are_no_question() -> None:
    same = [
        attempt("b.xlsx"),
        attempt("a.xlsx"),
        replace(attempt("c.xlsx"), entries={"mass_kg": 61.5, "side": ""}),
    ]
    choice = newest(same, {})
    assert choice.counts == ("a.xlsx",)
    assert choice.reasons == dict.fromkeys(("b.xlsx", "c.xlsx"), ("same", {}))


def test_of_three_the_oldest_is_told_apart_though_the_newest_two_are_not() -> None:
    files = [attempt("a.xlsx"), attempt("b.xlsx", mass=71.5), attempt("c.xlsx", mass=81.5)]
    days = {"a.xlsx": "2027-03-02", "b.xlsx": "2027-03-01", "c.xlsx": "2027-03-02"}
    choice = newest(files, {file: Arrival(day) for file, day in days.items()})
    assert choice.counts == ("a.xlsx", "c.xlsx")
    assert choice.reasons == {"b.xlsx": ("read", {"best": "2027-03-02", "own": "2027-03-01"})}


def test_one_file_alone_counts() -> None:
    assert chosen([attempt("a.xlsx")]) == ("a.xlsx",)


def sent(file: str, code: str) -> Attempt:
    record = CopyRecord(code, 1, "S01", "S02", "P-2A3B", "C1", "", f"{code}_sheet.xlsx", "", {})
    return Attempt(file, file, "accepted", record, "seven-sites", {}, None, ())


# files and the copy each is of, who handed each in
FILES: tuple[tuple[dict[str, str], dict[str, str]], ...] = (
    # a folder a person, one with another one's sheet beside their own
    (
        {"in.zip/Ada/s.xlsx": "A", "in.zip/Bo/s.xlsx": "B", "in.zip/Cy/s.xlsx": "C",
         "in.zip/Bo/t.xlsx": "A"},
        {"in.zip/Ada/s.xlsx": "ada", "in.zip/Bo/s.xlsx": "bo", "in.zip/Cy/s.xlsx": "cy",
         "in.zip/Bo/t.xlsx": "bo"},
    ),
    # folders inside a person's own are theirs; so is their folder of another download
    (
        {"1.zip/Ada/old/s.xlsx": "A", "1.zip/Ada/new/s.xlsx": "A", "1.zip/Bo/s.xlsx": "B",
         "1.zip/Cy/s.xlsx": "C",
         "2.zip/Ada/s.xlsx": "A", "2.zip/Bo/s.xlsx": "B", "2.zip/Cy/s.xlsx": "C"},
        {"1.zip/Ada/old/s.xlsx": "ada", "1.zip/Ada/new/s.xlsx": "ada", "1.zip/Bo/s.xlsx": "bo",
         "1.zip/Cy/s.xlsx": "cy",
         "2.zip/Ada/s.xlsx": "ada", "2.zip/Bo/s.xlsx": "bo", "2.zip/Cy/s.xlsx": "cy"},
    ),
    # folders of weeks, of one copy only, zips, and loose files tell nothing
    (
        {"1/a.xlsx": "A", "1/b.xlsx": "B", "2/a.xlsx": "A", "2/b.xlsx": "B", "3/a.xlsx": "A",
         "3/b.xlsx": "B"},
        {},
    ),
    ({"old/a.xlsx": "A", "new/a.xlsx": "A"}, {}),
    ({"a.zip/s.xlsx": "A", "b.zip/s.xlsx": "B", "c.zip/s.xlsx": "C", "a2.zip/s.xlsx": "A"}, {}),
    ({"a.xlsx": "A", "a (1).xlsx": "A", "A_sheet.xlsx": "A", "Copy of A_sheet.xlsx": "A"}, {}),
    # prefixes before the sheet's own name
    (
        {"in.zip/Ada_4711_file_A_sheet.xlsx": "A", "in.zip/Bo_4712_file_A_sheet (1).xlsx": "A"},
        {"in.zip/Ada_4711_file_A_sheet.xlsx": "ada", "in.zip/Bo_4712_file_A_sheet (1).xlsx": "bo"},
    ),
    # times and numbers of attempts are nobody's
    ({"attempt 2_A_sheet.xlsx": "A", "2027-03-01 10.30_A_sheet.xlsx": "A"}, {}),
)  # fmt: skip


@pytest.mark.parametrize(("files", "expected"), FILES)
def test_senders_of(files: dict[str, str], expected: dict[str, str]) -> None:
    assert senders_of([sent(file, code) for file, code in files.items()]) == expected


def test_the_names_under_which_files_came_tell_and_those_of_the_tables_do_not() -> None:
    names = {"Ada": "2222-3333", "Bo": "4444-5555", "Cy": "6666-7777"}
    came = [replace(sent(f"{code}.xlsx", code), incoming_name=f"{who}/s.xlsx") for who, code in names.items()]
    assert senders_of(came) == {"2222-3333.xlsx": "ada", "4444-5555.xlsx": "bo", "6666-7777.xlsx": "cy"}
    pair = [
        replace(A, file="7K3F-9QXM.xlsx", incoming_name="s_2027-03-01-09-00-00.xlsx"),
        replace(B, file="7K3F-9QXM-2.xlsx", incoming_name="s_2027-03-02-09-00-00.xlsx"),
    ]
    assert [one.status for one in told_apart(pair, {}, {})] == ["superseded", "accepted"]


def test_a_file_of_no_copy_has_no_sender() -> None:
    assert senders_of([Attempt("Ada/s.xlsx", "aa", "refused", None, "", {}, None, ())]) == {}
