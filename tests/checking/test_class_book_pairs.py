import pytest

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
