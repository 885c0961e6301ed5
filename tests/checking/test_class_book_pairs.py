import pytest

from sheetgen.model.finding import Worded
from tests.class_books import BOOK, layout, read_back, typed

EVERY_PAIR = {name: None for name in layout().places() if name.startswith("pair_")}


def pairs(changes: dict[str, str | None]) -> list[str]:
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert problems == ()
    return [f"{each.measurer}>{each.participant} {each.caliper_id}" for each in book.pairings]


def test_pairings_from_an_empty_tab() -> None:
    assert pairs({}) == [f"{each.measurer}>{each.participant} {each.caliper_id}" for each in BOOK.pairings]


def test_pairings_from_a_tab_that_leaves_some_out() -> None:
    """Who is named stays as named; those left are paired in roster order, the teacher is not."""
    changes = {
        "pair_1_measurer": "t1",
        "pair_1_participant": "007",
        "pair_3_measurer": "s08",
        "pair_3_participant": "=1+1",
        "pair_3_caliper": "C1",
        "pair_4_measurer": "s08",
        "pair_4_participant": "t1",
        "roster_1_partner": None,
    }
    assert pairs(changes) == [
        "t1>007 C1", "s08>=1+1 C1", "s08>t1 C1", "007>=1+1 C1", "=1+1>007 C1", "S11>s12 C 2", "s12>S11 C 2",
    ]  # fmt: skip


def test_pairings_from_a_tab_that_leaves_one_out() -> None:
    changes = {"pair_5_measurer": "t1", "pair_5_participant": "s12"}
    book, problems = read_back(typed(changes))
    assert [(each.code, each.severity, each.tab, each.cell) for each in problems] == [
        ("class-book-unpaired", "warning", "Roster", "A11")
    ]
    assert len(book.pairings) == 5


CASES = [
    # what is typed into line 6, code, cell, found
    ({"measurer": "s99", "participant": "007"}, "class-book-pair-unknown", "A11", "'s99'"),
    ({"measurer": "007", "participant": "s99"}, "class-book-pair-unknown", "C11", "'s99'"),
    ({"measurer": "007"}, "class-book-pair-incomplete", "C11", "nothing"),
    ({"participant": "007"}, "class-book-pair-incomplete", "A11", "nothing"),
    ({"measurer": "s08", "participant": "S08"}, "class-book-pair-self", "C11", "the same person twice"),
    (
        {"measurer": "007", "participant": "s08"},
        "class-book-pair-twice", "A11", "007 measures s08, as in line 6",
    ),
    (
        {"measurer": "007", "participant": "t1", "caliper": "C9"},
        "class-book-pair-caliper", "E11", "'C9', not on the tab Calipers",
    ),
    (
        {"measurer": "007", "participant": "t1", "caliper": "C3"},
        "class-book-pair-caliper", "E11", "'C3', out of service",
    ),
    (
        {"measurer": "007", "participant": "t1", "protocol": "two-fold"},
        "class-book-word", "F11", "'two-fold'",
    ),
    ({"measurer": "s08", "participant": "t1", "spare": "2345-678"}, "class-book-spare", "G11", "'2345-678'"),
    (
        {"measurer": "s08", "participant": "t1", "spare": "2345-6789"},
        "class-book-spare", "G11", "2345-6789, as in line 10",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("line", "code", "cell", "found"), CASES)
def test_pairings_from_a_line_with_a_fault(line: dict[str, str], code: str, cell: str, found: str) -> None:
    _, problems = read_back(typed({f"pair_6_{name}": value for name, value in line.items()}))
    assert [(each.code, each.severity, each.tab, each.cell, each.found) for each in problems] == [
        (code, "error", "Pairs", cell, found)
    ]


def test_pairings_from_a_class_without_a_caliper_in_service() -> None:
    out = {"caliper_1_in_service": "no", "caliper_2_in_service": "no"}
    _, problems = read_back(typed({**EVERY_PAIR, **out}))
    assert [(each.code, each.severity) for each in problems] == [("class-book-no-caliper", "error")]
    line = {"pair_1_measurer": "007", "pair_1_participant": "s08"}
    _, problems = read_back(typed({**EVERY_PAIR, **out, **line}))
    assert [(each.code, each.tab, each.cell) for each in problems] == [
        ("class-book-no-caliper", "Pairs", "E6")
    ]


def test_pairings_from_a_line_with_a_protocol() -> None:
    """In any case; empty stays empty, and what is made has none."""
    changes = {
        "pair_1_measurer": "007",
        "pair_1_participant": "s08",
        "pair_1_protocol": " Two-Folds ",
        "pair_2_measurer": "s08",
        "pair_2_participant": "007",
    }
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert problems == ()
    assert [each.protocol_id for each in book.pairings] == ["two-folds", "", "", "", ""]


def test_pairings_from_a_line_with_a_protocol_alone() -> None:
    _, problems = read_back(typed({"pair_6_protocol": "two-folds"}))
    assert [(each.code, each.cell) for each in problems] == [
        ("class-book-pair-incomplete", "A11"), ("class-book-pair-incomplete", "C11"),
    ]  # fmt: skip


def test_pairings_from_a_line_with_a_spare_sheet() -> None:
    """The copy code is taken however it was typed."""
    changes = {"pair_1_spare": " abcd efgh ", "pair_2_spare": "23456788"}
    book, problems = read_back(typed(changes))
    assert problems == ()
    assert [each.spare for each in book.pairings] == ["ABCD-EFGH", "2345-6788", "", "", "2345-6789"]


def test_pairings_from_lines_that_name_someone_who_left() -> None:
    """The lines are left out, each named; whoever measures nobody then is paired anew."""
    book, problems = read_back(typed({"roster_2_status": "left", "pair_1_caliper": "C3"}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-pair-left", "warning", "C6", "line 6 names s08, who left the class"),
        ("class-book-pair-left", "warning", "A7", "line 7 names s08, who left the class"),
        ("class-book-unpaired", "warning", "A6", "007 measures nobody, and nobody is left to pair with"),
    ]
    assert book.pairings == BOOK.pairings[2:]
    assert book.people[1].status == "left"


def test_pairings_from_a_line_that_lets_someone_be_measured_who_only_measures() -> None:
    _, problems = read_back(typed({"roster_2_takes_part": "measures-only"}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-pair-measures-only", "error", "C6", "'s08', who only measures")
    ]


def test_pairings_from_a_line_with_two_to_be_kept_apart() -> None:
    """Typed by the teacher, it stays: a warning names the line."""
    book, problems = read_back(typed({"pair_6_measurer": "S11", "pair_6_participant": "007"}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-pair-apart", "warning", "C11", "S11 and 007, who are to be kept apart")
    ]
    assert len(book.pairings) == 6


def test_pairings_made_with_wishes() -> None:
    """007 wishes for s08 and is to be kept apart from S11; s08 wishes for s12 and only measures."""
    changes = {"roster_2_takes_part": "measures-only", "roster_2_partner": "s12"}
    book, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert [f"{each.measurer}>{each.participant}" for each in book.pairings] == [
        "007>=1+1", "=1+1>007", "S11>s12", "s12>S11", "s08>s12",
    ]  # fmt: skip
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-wish-unmet", "warning", "I6", "007 is not paired with s08")
    ]


def test_pairings_made_of_people_to_be_kept_apart() -> None:
    everyone = "007 s08 =1+1 S11"
    book, problems = read_back(typed({**EVERY_PAIR, "roster_6_apart": everyone, "roster_1_partner": None}))
    assert [f"{each.measurer}>{each.participant}" for each in book.pairings] == [
        "007>s08", "s08>007", "=1+1>S11", "S11>=1+1",
    ]  # fmt: skip
    assert [(each.code, each.cell, each.found) for each in problems] == [
        (
            "class-book-unpaired", "A11",
            "s12 measures nobody, and everybody left is to be kept apart from them",
        )
    ]  # fmt: skip


def test_pairings_made_in_larger_groups() -> None:
    book, problems = read_back(typed({**EVERY_PAIR, "group_size": 5.0, "roster_1_apart": None}))
    assert [each.participant for each in book.pairings] == ["s08", "=1+1", "S11", "s12", "007"]
    assert problems == ()


def test_pairings_made_with_a_demonstration_participant() -> None:
    book, problems = read_back(typed({**EVERY_PAIR, "demonstration": "S08"}))
    assert [each.participant for each in book.pairings] == ["s08"] * 4
    assert (book.demonstration, problems) == ("s08", ())


DEMONSTRATION = [
    ({"demonstration": "s99"}, "'s99', not on the tab Roster"),
    ({"demonstration": "s12", "roster_6_status": "left"}, "'s12', who left the class"),
    ({"demonstration": "s12", "roster_6_takes_part": "measures-only"}, "'s12', who only measures"),
]


@pytest.mark.parametrize(("changes", "found"), DEMONSTRATION)
def test_pairings_with_a_demonstration_participant_who_cannot_be(changes: dict[str, str], found: str) -> None:
    _, problems = read_back(typed({**EVERY_PAIR, **changes}))
    assert [(each.code, each.severity, each.cell, each.found) for each in problems] == [
        ("class-book-demonstration", "error", "B20", found)
    ]


NO_CALIPER = "Put at least one caliper in service on the tab Calipers."
SPARE = "Type the copy code as it stands on the spare sheet, once."
UNPAIRED = "Name a participant for this person on the tab Pairs."
OUT = {"caliper_1_in_service": "no", "caliper_2_in_service": "no"}
# what is typed, code, severity, found, expected, what to do, tab and cell
SAID: list[tuple[dict[str, str | None], Worded]] = [
    (
        {"pair_6_measurer": "s99", "pair_6_participant": "007"},
        Worded("class-book-pair-unknown", "error", "'s99'", "an id of the tab Roster",
                "Correct the id, or add the person to the tab Roster.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "007"},
        Worded("class-book-pair-incomplete", "error", "nothing", "the id of the participant",
                "Type the id that is missing, or empty the line.", "Pairs", "C11"),
    ),
    (
        {"pair_6_participant": "007"},
        Worded("class-book-pair-incomplete", "error", "nothing", "the id of the measurer",
                "Type the id that is missing, or empty the line.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "S08"},
        Worded("class-book-pair-self", "error", "the same person twice", "two people",
                "Name another participant, or empty the line.", "Pairs", "C11"),
    ),
    (
        {"pair_6_measurer": "007", "pair_6_participant": "s08"},
        Worded("class-book-pair-twice", "error", "007 measures s08, as in line 6", "each pair once",
                "Empty one of the two lines.", "Pairs", "A11"),
    ),
    (
        {"pair_6_measurer": "007", "pair_6_participant": "t1", "pair_6_caliper": "C3"},
        Worded("class-book-pair-caliper", "error", "'C3', out of service", "a caliper in service",
                "Name a caliper in service, or leave the cell empty.", "Pairs", "E11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "t1", "pair_6_spare": "2345-678"},
        Worded("class-book-spare", "error", "'2345-678'", "a copy code such as 2345-6789", SPARE, "Pairs",
                "G11"),
    ),
    (
        {"pair_6_measurer": "s08", "pair_6_participant": "t1", "pair_6_spare": "2345-6789"},
        Worded("class-book-spare", "error", "2345-6789, as in line 10", "each spare sheet once", SPARE,
                "Pairs", "G11"),
    ),
    (
        {**EVERY_PAIR, **OUT},
        Worded("class-book-no-caliper", "error", "5 to pair, and no caliper in service",
                "a caliper in service", NO_CALIPER, "Roster", "A6"),
    ),
    (
        {**EVERY_PAIR, **OUT, "pair_1_measurer": "007", "pair_1_participant": "s08"},
        Worded("class-book-no-caliper", "error", "none in service", "a caliper in service", NO_CALIPER,
                "Pairs", "E6"),
    ),
    (
        {"roster_2_takes_part": "measures-only"},
        Worded("class-book-pair-measures-only", "error", "'s08', who only measures",
                "someone who takes part",
                "Name a participant who takes part, or change that on the tab Roster.", "Pairs", "C6"),
    ),
    (
        {"pair_6_measurer": "S11", "pair_6_participant": "007"},
        Worded("class-book-pair-apart", "warning", "S11 and 007, who are to be kept apart", "another pair",
                "Name another participant, or take the wish out of the tab Roster.", "Pairs", "C11"),
    ),
    (
        {**EVERY_PAIR, "roster_2_takes_part": "measures-only", "roster_2_partner": "s12"},
        Worded("class-book-wish-unmet", "warning", "007 is not paired with s08",
                "s08, whom they wished for", "Name the pair on the tab Pairs if you want it all the same.",
                "Roster", "I6"),
    ),
    (
        {**EVERY_PAIR, "roster_6_apart": "007 s08 =1+1 S11", "roster_1_partner": None},
        Worded("class-book-unpaired", "warning",
                "s12 measures nobody, and everybody left is to be kept apart from them",
                "a line on the tab Pairs", UNPAIRED, "Roster", "A11"),
    ),
    (
        {"pair_5_measurer": "t1", "pair_5_participant": "s12"},
        Worded("class-book-unpaired", "warning", "s12 measures nobody, and nobody is left to pair with",
                "a line on the tab Pairs", UNPAIRED, "Roster", "A11"),
    ),
    (
        {**EVERY_PAIR, "demonstration": "s99"},
        Worded("class-book-demonstration", "error", "'s99', not on the tab Roster",
                "someone who takes part",
                "Name someone who takes part on the tab Class, or empty the cell.", "Class", "B20"),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "finding"), SAID)
def test_pairings_from_a_line_of_which_something_is_said(
    changes: dict[str, str | None], finding: Worded
) -> None:
    """Found, expected, what to do, and where."""
    assert read_back(typed(changes))[1] == (finding,)
