from collections.abc import Mapping, Sequence
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_folder.decisions import Decision, current, read_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.finding import Worded
from sheetgen.marking.marks import adjusted_mark, comment_given
from sheetgen.returned.attempt import Attempt
from sheetgen.review.drawing import FIRST_ROW, TABS, ReviewContents, ReviewRow, review_layout
from sheetgen.review.rows import Reviewed
from sheetgen.review.taking_over import (
    UNKNOWN,
    Harvest,
    Harvested,
    Typed,
    decisions_from,
    harvest,
    harvest_review,
    plain_text,
    redraw_review,
    review_texts,
)
from sheetgen.workbook.packages import with_parts_changed
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.report.invented import BOOK
from tests.reviews import attempt, marking, records, typed
from tests.wording import said

SECRET = "0a" * 32


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return class_at(tmp_path / "class")


def class_at(root: Path, secret: str = SECRET) -> ClassFolder:
    folder = ClassFolder(root)
    folder.keep.mkdir(parents=True)
    folder.secret.write_text(secret + "\n", encoding="ascii")
    return folder


def read_again(folder: ClassFolder, *attempts: Attempt) -> tuple[Harvested, list[str]]:
    """Take over and draw anew, as reading a class does; also the codes of what was said."""
    harvested = harvest_review(folder, 1)
    markings = {
        one.record.copy_code: marking(30.0 + int(one.sha256[-1], 16))
        for one in attempts
        if one.record is not None and one.status != "refused"
    }
    findings = redraw_review(folder, Reviewed(1, records(1, 2, 3), attempts, markings), harvested)
    return harvested, [finding.code for finding in findings]


def shown(folder: ClassFolder, tab: str, about: str, heading: str) -> object:
    """What stands in the workbook."""
    sheet = openpyxl.load_workbook(folder.review(1))[tab]
    column = {cell.value: cell.column for cell in sheet[4]}[heading]
    (row,) = (row[0].row for row in sheet.iter_rows(min_row=5) if any(cell.value == about for cell in row))
    return sheet.cell(row, column).value


def beside(folder: ClassFolder) -> list[str]:
    return sorted(path.name for path in folder.review(1).parent.iterdir() if path.suffix == ".xlsx")


# Ten times something else comes back: files added, replaced, removed, refused, returned again.
COMINGS: tuple[Sequence[Attempt], ...] = (
    [attempt(1)],
    [attempt(1), attempt(2)],
    [attempt(1, "b1"), attempt(2)],
    [attempt(2)],
    [],
    [attempt(1, "b1"), attempt(2), attempt(3)],
    [attempt(1, "c1", "review"), attempt(1, "d2", "review"), attempt(3)],
    [attempt(1, "c1", "refused"), attempt(2, "b2")],
    [attempt(3)],
    [attempt(1), attempt(2), attempt(3)],
)


def test_an_adjusted_mark_and_a_comment_survive_ten_readings(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    comment = 'Well held.\nNext time: "mark" first; 12,5 is fine.'
    typed(folder, "Review", {("K1", "Adjusted mark"): 41.5, ("K1", "Comment"): comment})
    for coming in COMINGS:
        harvested, _ = read_again(folder, *coming)
        assert (adjusted_mark(harvested.decisions, "K1"), comment_given(harvested.decisions, "K1")) == (
            41.5, comment,
        )  # fmt: skip
        assert shown(folder, "Review", "K1", "Adjusted mark") == 41.5
        assert shown(folder, "Review", "K1", "Comment") == comment
    assert len(read_decisions(folder).decisions) == 2


def test_everything_typed_survives_ten_readings_with_more_typed_each_time(folder: ClassFolder) -> None:
    read_again(folder, attempt(1), attempt(2))
    typed(folder, "Answers", {("K2", "Points given"): 4})
    typed(
        folder, "Corrections",
        {("new", "Entry"): "mass_kg", ("mass_kg", "Copy code"): "K2", ("mass_kg", "Value"): 61},
    )  # fmt: skip
    for number, coming in enumerate(COMINGS):
        typed(folder, "Review", {("K3", "Comment"): f"comment {number}"})
        harvested, _ = read_again(folder, *coming)
        assert comment_given(harvested.decisions, "K3") == f"comment {number}"
        assert shown(folder, "Answers", "K2", "Points given") == 4
        assert shown(folder, "Corrections", "mass_kg", "Value") == "61"
    values = [one.value for one in read_decisions(folder).decisions]
    assert values == ["comment 0", "4", "61", *(f"comment {number}" for number in range(1, 10))]
    assert beside(folder) == ["session-1.kept-1.xlsx", "session-1.kept-2.xlsx", "session-1.kept-3.xlsx",
                              "session-1.xlsx"]  # fmt: skip


def test_a_mark_taken_back_stays_taken_back(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Adjusted mark"): 41.5})
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Adjusted mark"): None})
    harvested, _ = read_again(folder, attempt(1))
    assert adjusted_mark(harvested.decisions, "K1") is None
    assert [one.value for one in harvested.journal] == ["41.5", ""]
    assert read_again(folder, attempt(1))[0].journal == harvested.journal


def test_steps_ticked_and_a_day_signed_off_survive_readings(folder: ClassFolder) -> None:
    reviewed = Reviewed(1, records(1), [attempt(1)], {"K1": marking()}, BOOK.people)
    redraw_review(folder, reviewed, harvest_review(folder, 1))
    typed(folder, "Observed", {("1001", "Asks first"): "x", ("1001", "Cares for the person"): "✓"})
    typed(folder, "Observed", {("1001", "Finds and marks"): "Yes", ("1002", "Signed off on"): "2027-03-31"})
    harvested = harvest_review(folder, 1)
    told = [
        ("1001", "observed", "asks", "yes"), ("1001", "observed", "marks", "yes"),
        ("1001", "observed", "cares", "yes"),
        ("1002", "signed-off", "", "2027-03-31"),
    ]  # fmt: skip
    assert [(one.subject, one.kind, one.name, one.value) for one in harvested.journal] == told
    redraw_review(folder, reviewed, harvested)
    assert harvest_review(folder, 1).journal == harvested.journal
    assert shown(folder, "Observed", "1001", "Cares for the person") == "yes"
    typed(folder, "Observed", {("1001", "Asks first"): None})
    assert harvest_review(folder, 1).journal[-1].value == ""


def test_reading_again_without_a_change_leaves_every_file_as_it_is(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    before = folder.review(1).read_bytes()
    assert read_again(folder, attempt(1))[1] == []
    assert folder.review(1).read_bytes() == before
    assert beside(folder) == ["session-1.xlsx"]


def test_a_workbook_that_is_gone_is_drawn_from_the_journal(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Comment"): "well held"})
    read_again(folder, attempt(1))
    folder.review(1).unlink()
    read_again(folder, attempt(1))
    assert shown(folder, "Review", "K1", "Comment") == "well held"


@pytest.mark.parametrize("lock", ["~$session-1.xlsx", ".~lock.session-1.xlsx#"])
def test_open_in_another_program_it_is_taken_over_and_not_swapped(folder: ClassFolder, lock: str) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Adjusted mark"): 41.5})
    before = folder.review(1).read_bytes()
    folder.review(1).with_name(lock).write_bytes(b"")
    harvested, codes = read_again(folder, attempt(1, "b1"))
    assert adjusted_mark(harvested.decisions, "K1") == 41.5
    assert "file-review-not-redrawn" in codes
    assert folder.review(1).read_bytes() == before
    typed(folder, "Review", {("K1", "Adjusted mark"): None})
    assert adjusted_mark(read_again(folder, attempt(1))[0].decisions, "K1") is None


def test_typed_between_taking_over_and_drawing_it_is_taken_over_as_well(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    harvested = harvest_review(folder, 1)
    typed(folder, "Review", {("K1", "Comment"): "in between"})
    redraw_review(folder, Reviewed(1, records(1, 2, 3), [attempt(1)], {"K1": marking()}), harvested)
    assert shown(folder, "Review", "K1", "Comment") == "in between"
    assert [one.value for one in read_decisions(folder).decisions] == ["in between"]


def test_a_damaged_workbook_is_set_aside_and_drawn_from_the_journal(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Comment"): "well held"})
    read_again(folder, attempt(1))
    damaged = folder.review(1).read_bytes()[:-3000]
    folder.review(1).write_bytes(damaged)
    _, codes = read_again(folder, attempt(1))
    assert codes == ["file-review-damaged"]
    assert shown(folder, "Review", "K1", "Comment") == "well held"
    (aside,) = folder.review(1).parent.glob("*.aside-*.xlsx")
    assert aside.read_bytes() == damaged


def test_of_a_workbook_with_a_tab_gone_the_rest_is_taken_over(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Comment"): "well held"})
    book = openpyxl.load_workbook(folder.review(1))
    del book["Answers"]
    book.save(folder.review(1))
    harvested, codes = read_again(folder, attempt(1))
    assert codes == ["file-review-damaged"]
    assert comment_given(harvested.decisions, "K1") == "well held"
    assert len(list(folder.review(1).parent.glob("*.aside-*.xlsx"))) == 1
    assert read_again(folder, attempt(1))[1] == []


def test_a_workbook_of_another_class_is_set_aside_and_nothing_of_it_taken_over(
    folder: ClassFolder, tmp_path: Path
) -> None:
    other = class_at(tmp_path / "other", "0b" * 32)
    read_again(other, attempt(1))
    typed(other, "Review", {("K1", "Adjusted mark"): 3})
    read_again(folder, attempt(1))
    folder.review(1).write_bytes(other.review(1).read_bytes())
    harvested, codes = read_again(folder, attempt(1))
    assert (harvested.journal, codes) == ((), ["file-review-other-class"])
    assert shown(folder, "Review", "K1", "Adjusted mark") is None
    (aside,) = folder.review(1).parent.glob("*.aside-*.xlsx")
    assert aside.read_bytes() == other.review(1).read_bytes()


def test_a_workbook_of_another_session_is_set_aside(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    folder.review(2).write_bytes(folder.review(1).read_bytes())
    assert [one.code for one in harvest_review(folder, 2).findings] == ["file-review-other-class"]
    assert len(list(folder.review(2).parent.glob("session-2.aside-*.xlsx"))) == 1


def test_lines_that_are_not_complete_stand_there_again(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(
        folder, "Corrections", {("new", "Reason"): "which one was it", ("which one was it", "Value"): "61,5"}
    )
    assert read_again(folder, attempt(1))[1] == ["class-review-unplaced"]
    for _ in range(3):
        assert read_again(folder, attempt(1, "b1"))[1] == ["class-review-unplaced"]
        assert shown(folder, "Corrections", "which one was it", "Value") == "61,5"
    typed(folder, "Corrections", {("61,5", "Copy code"): "K1", ("61,5", "Entry"): "mass_kg"})
    harvested, codes = read_again(folder, attempt(1, "b1"))
    assert codes == []
    assert [(one.subject, one.name, one.value) for one in harvested.decisions] == [("K1", "mass_kg", "61,5")]


def test_a_journal_with_a_damaged_line_is_named_and_the_rest_holds(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Comment"): "well held"})
    read_again(folder, attempt(1))
    with folder.decisions.open("a", encoding="utf-8") as stream:
        stream.write("2,1,K1,com")
    harvested, codes = read_again(folder, attempt(1))
    assert codes == ["file-journal-damaged"]
    assert comment_given(harvested.decisions, "K1") == "well held"


def test_a_changed_ground_is_pointed_out_until_it_is_said_to_hold(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Adjusted mark"): 41.5})
    assert read_again(folder, attempt(1))[1] == []
    assert read_again(folder, attempt(1, "b2"))[1] == ["class-review-ground-changed"]
    assert shown(folder, "Review", "K1", "Look at") == review_texts()["review.changed"]
    typed(folder, "Review", {("K1", "Still right"): "yes"})
    harvested, codes = read_again(folder, attempt(1, "b2"))
    assert (adjusted_mark(harvested.decisions, "K1"), codes) == (41.5, [])
    assert shown(folder, "Review", "K1", "Still right") is None


def test_a_workbook_that_cannot_be_replaced_is_left_and_said(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    read_again(folder, attempt(1))
    before = folder.review(1).read_bytes()

    def refuse(*_: object) -> None:
        raise PermissionError(13, "denied")

    monkeypatch.setattr("os.replace", refuse)
    assert read_again(folder, attempt(1, "b1"))[1] == ["file-review-not-redrawn"]
    assert folder.review(1).read_bytes() == before


def test_a_new_workbook_that_does_not_hold_every_decision_is_not_swapped_in(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sheetgen.review import taking_over as review
    from sheetgen.workbook.render import rendered

    read_again(folder, attempt(1))
    typed(folder, "Review", {("K1", "Comment"): "well held"})
    before = folder.review(1).read_bytes()

    def lossy(*given: object) -> bytes:
        data = rendered(*given)  # type: ignore[arg-type]
        change = {"xl/sharedStrings.xml": lambda part: part.replace(b"<t>well held</t>", b"<t></t>")}
        return with_parts_changed(data, change)

    monkeypatch.setattr(review, "rendered", lossy)
    harvested, codes = read_again(folder, attempt(1))
    assert codes == ["file-review-not-redrawn"]
    assert comment_given(harvested.decisions, "K1") == "well held"
    assert folder.review(1).read_bytes() == before


TEXTS = review_texts()
ROWS = {
    "review": [
        ReviewRow({"copy_code": "K1", "mark": 12.0, "comment": "well held"}, "g1", "f1"),
        ReviewRow({"copy_code": "K2"}, "g2", "f2"),
    ],
    "answers": [ReviewRow({"copy_code": "K1", "cell_name": "answer_error", "possible": 5.0}, "a1")],
    "corrections": [
        ReviewRow({"copy_code": "K1", "cell_name": "mass_kg", "value": "61", "reason": "misread"}, "c1")
    ],
    "files": [ReviewRow({"file": "a.xlsx", "copy_code": "K1", "file_id": "id1"}, "l1")],
}
COLUMNS = {key: [column.key for column in columns] for key, columns in TABS.items()}
KNOWN = (
    Decision(1, 1, "K1", "mark", "", "12", ground="g1"),
    Decision(2, 1, "K1", "comment", "", "well held", ground="g1"),
    Decision(3, 1, "K1", "correction", "mass_kg", "61", "misread", "c1"),
)


def drawn(rows: Mapping[str, Sequence[ReviewRow]] = ROWS, sequence: int = 3) -> Snapshot:
    """The Snapshot of a workbook as it was drawn."""
    layout = review_layout(TEXTS, ReviewContents("CLASS2", 1, sequence, rows))
    tabs = tuple(
        TabState(
            tab.title,
            {(cell.row, cell.column): CellState(cell.value) for cell in tab.cells if cell.value is not None},
            True,
            "veryHidden" if tab.hidden else "visible",
        )
        for tab in layout.tabs
    )
    return Snapshot(tabs, {}, {}, True)


def with_value(
    state: Snapshot, key: str, row: int, column: str, value: str | float | bool | None
) -> Snapshot:
    """The Snapshot with one cell typed into; rows count from the first one."""
    tabs = []
    for tab in state.tabs:
        if tab.title == TEXTS[f"review_tab.{key}"]:
            place = (FIRST_ROW + row, COLUMNS[key].index(column))
            tab = replace(tab, cells={**tab.cells, place: CellState(value)})
        tabs.append(tab)
    return replace(state, tabs=tuple(tabs))


def found_in(state: Snapshot) -> Harvest:
    return harvest(state, TEXTS)


def new_in(state: Snapshot, known: Sequence[Decision] = KNOWN) -> list[tuple[str, str, str, str, str]]:
    new = decisions_from(found_in(state), known, 1)
    return [(one.subject, one.kind, one.name, one.value, one.reason) for one in new]


def test_a_workbook_nobody_typed_into_holds_no_new_decision() -> None:
    found = found_in(drawn())
    assert (found.class_code, found.session, found.drawn) == ("CLASS2", 1, 3)
    assert (found.findings, found.unplaced, found.damaged) == ((), (), False)
    assert decisions_from(found, KNOWN, 1) == ()


TYPED = [
    ("review", 1, "mark", 14.5, ("K2", "mark", "", "14.5", "")),
    ("review", 1, "mark", "14,5", ("K2", "mark", "", "14,5", "")),
    ("review", 0, "mark", 13.0, ("K1", "mark", "", "13", "")),
    ("review", 0, "mark", None, ("K1", "mark", "", "", "")),
    ("review", 1, "comment", "mind\nthe zero", ("K2", "comment", "", "mind\nthe zero", "")),
    ("answers", 0, "points", 4.0, ("K1", "answer-mark", "answer_error", "4", "")),
    ("corrections", 0, "value", 62.0, ("K1", "correction", "mass_kg", "62", "misread")),
    ("corrections", 0, "reason", "asked", ("K1", "correction", "mass_kg", "61", "asked")),
    ("files", 0, "accept", "Yes", ("id1", "which-file", "id1", "yes", "")),
    ("files", 0, "accept", True, ("id1", "which-file", "id1", "yes", "")),
]  # fmt: skip


@pytest.mark.parametrize(("key", "row", "column", "value", "expected"), TYPED)
def test_a_cell_typed_into_is_a_decision(
    key: str, row: int, column: str, value: str | float | None, expected: tuple[str, ...]
) -> None:
    state = with_value(drawn(), key, row, column, value)
    assert new_in(state) == [expected]
    once = decisions_from(found_in(state), KNOWN, 1)
    assert decisions_from(found_in(state), (*KNOWN, *once), 1) == ()


def test_a_formula_that_nobody_worked_out_is_taken_over_as_it_stands() -> None:
    state = with_value(drawn(), "review", 1, "comment", None)
    place = (FIRST_ROW + 1, COLUMNS["review"].index("comment"))
    cells = {**state.tabs[0].cells, place: CellState(None, formula="=1+1")}
    state = replace(state, tabs=(replace(state.tabs[0], cells=cells), *state.tabs[1:]))
    assert new_in(state) == [("K2", "comment", "", "=1+1", "")]


def test_a_decision_knows_its_ground_and_its_drawing() -> None:
    (one,) = decisions_from(found_in(with_value(drawn(), "review", 1, "mark", 9.0)), KNOWN, 1)
    assert (one.sequence, one.session, one.ground, one.drawn) == (4, 1, "g2", 3)


def test_a_new_correction_has_the_file_as_its_ground() -> None:
    state = drawn()
    for column, value in (("copy_code", " k2 "), ("cell_name", "Mass_kg"), ("value", 60.0)):
        state = with_value(state, "corrections", 1, column, value)
    (one,) = decisions_from(found_in(state), KNOWN, 1)
    assert (one.subject, one.name, one.value, one.ground) == ("K2", "mass_kg", "60", "f2")


def test_a_correction_emptied_is_taken_back() -> None:
    state = drawn()
    for column in ("copy_code", "cell_name", "value", "reason"):
        state = with_value(state, "corrections", 0, column, None)
    assert new_in(state) == [("K1", "correction", "mass_kg", "", "")]


def test_a_correction_of_another_entry_takes_the_place_of_the_first() -> None:
    state = with_value(drawn(), "corrections", 0, "cell_name", "age_years")
    assert new_in(state) == [
        ("K1", "correction", "age_years", "61", "misread"), ("K1", "correction", "mass_kg", "", ""),
    ]  # fmt: skip


def test_a_line_that_is_not_complete_is_kept_and_named() -> None:
    found = found_in(with_value(drawn(), "corrections", 1, "value", "61.5"))
    assert found.unplaced == ({"copy_code": "", "cell_name": "", "value": "61.5", "reason": ""},)
    assert [(one.code, one.tab, one.cell) for one in found.findings] == [
        ("class-review-unplaced", "Corrections", "A6")
    ]


def test_something_emptied_before_it_was_drawn_again_is_taken_back_too() -> None:
    first = with_value(drawn(), "review", 1, "mark", 9.0)
    known = (*KNOWN, *decisions_from(found_in(first), KNOWN, 1))
    assert new_in(drawn(), known) == [("K2", "mark", "", "", "")]


def test_an_older_copy_of_the_workbook_takes_nothing_back() -> None:
    later = Decision(4, 1, "K2", "mark", "", "14", drawn=3)
    latest = Decision(5, 1, "K2", "mark", "", "15", drawn=4)
    typed_then = with_value(drawn(), "review", 1, "mark", 14.0)
    assert new_in(typed_then, (*KNOWN, later, latest)) == []
    assert new_in(drawn(sequence=2), (*KNOWN, later, latest)) == []


def test_a_journal_that_is_gone_is_filled_again_from_the_workbook() -> None:
    assert {one[:4] for one in new_in(drawn(), ())} == {
        ("K1", "mark", "", "12"), ("K1", "comment", "", "well held"), ("K1", "correction", "mass_kg", "61"),
    }  # fmt: skip


def test_without_its_hidden_tab_everything_typed_is_taken_over_and_nothing_taken_back() -> None:
    state = with_value(with_value(drawn(), "review", 1, "mark", 9.0), "review", 0, "comment", None)
    found = found_in(replace(state, tabs=state.tabs[:-1]))
    assert (found.session, found.drawn) == (UNKNOWN, UNKNOWN)
    assert [(one.subject, one.value, one.drawn) for one in decisions_from(found, KNOWN, 1)] == [
        ("K2", "9", UNKNOWN)
    ]


def test_a_tab_that_is_gone_takes_nothing_back_and_the_others_are_read() -> None:
    state = with_value(drawn(), "review", 1, "mark", 9.0)
    without = replace(state, tabs=tuple(tab for tab in state.tabs if tab.title != "Corrections"))
    assert new_in(without) == [("K2", "mark", "", "9", "")]
    assert found_in(without).damaged


@pytest.mark.parametrize("column", ["copy_code", "cell_name", "value"])
def test_a_heading_that_is_gone_takes_nothing_back(column: str) -> None:
    state = with_value(drawn(), "corrections", -1, column, None)
    assert [one for one in new_in(state) if not one[3]] == []
    assert found_in(state).damaged


def test_rows_that_were_sorted_are_read_by_what_they_are_about() -> None:
    swapped = drawn({**ROWS, "review": ROWS["review"][::-1]})
    assert new_in(with_value(swapped, "review", 0, "mark", 9.0)) == [("K2", "mark", "", "9", "")]


def test_two_lines_about_the_same_count_once_and_the_other_is_named() -> None:
    state = drawn()
    for column, value in (("copy_code", "K1"), ("cell_name", "mass_kg"), ("value", "63")):
        state = with_value(state, "corrections", 1, column, value)
    assert new_in(state) == [("K1", "correction", "mass_kg", "63", "")]
    assert [one.code for one in found_in(state).findings] == ["class-review-unplaced"]


def test_a_decision_that_still_holds_gets_the_ground_of_today() -> None:
    known = tuple(replace(one, ground="old") for one in KNOWN)
    state = with_value(drawn(), "review", 0, "confirm", "yes")
    new = decisions_from(found_in(state), known, 1)
    assert [(one.kind, one.value, one.ground) for one in new] == [
        ("mark", "12", "g1"), ("comment", "well held", "g1"),
    ]  # fmt: skip
    assert decisions_from(found_in(state), (*known, *new), 1) == ()


def test_the_latest_decision_is_the_current_one() -> None:
    later = Decision(9, 1, "K1", "mark", "", "")
    assert current((*KNOWN, later))["K1", "mark", ""] == later
    late = Decision(4, 1, "K1", "accept-late", "id1", "yes")
    assert list(current([late])) == [("id1", "which-file", "id1")]


def test_every_typed_cell_is_harvested_with_its_place() -> None:
    """What was drawn and never typed into is there too, without a value."""
    state = with_value(with_value(drawn(), "review", 1, "mark", 9.0), "answers", 0, "confirm", "yes")
    found = found_in(state)
    assert found.typed == (
        Typed(("K1", "mark", ""), "12", "", _place("review", 0, "mark")),
        Typed(("K1", "comment", ""), "well held", "", _place("review", 0, "comment")),
        Typed(("K2", "mark", ""), "9", "", _place("review", 1, "mark")),
        Typed(("K2", "comment", ""), "", "", _place("review", 1, "comment")),
        Typed(("K1", "answer-mark", "answer_error"), "", "", _place("answers", 0, "points"), True),
        Typed(("K1", "comment", "answer_error"), "", "", _place("answers", 0, "comment"), True),
        Typed(("K1", "correction", "mass_kg"), "61", "misread", _place("corrections", 0, "copy_code")),
        Typed(("id1", "which-file", "id1"), "", "", _place("files", 0, "accept")),
    )
    assert found.shown == {
        ("K1", "mark", ""): ("12", "", "g1"),
        ("K1", "comment", ""): ("well held", "", "g1"),
        ("K2", "mark", ""): ("", "", "g2"),
        ("K2", "comment", ""): ("", "", "g2"),
        ("K1", "answer-mark", "answer_error"): ("", "", "a1"),
        ("K1", "comment", "answer_error"): ("", "", "a1"),
        ("K1", "correction", "mass_kg"): ("61", "misread", "c1"),
        ("id1", "which-file", "id1"): ("", "", "l1"),
    }
    assert found.file_grounds == {"K1": "f1", "K2": "f2"}


def _place(key: str, row: int, column: str) -> tuple[str, str]:
    letter = "ABCDEFGHIJKLMNOP"[COLUMNS[key].index(column)]
    return TEXTS[f"review_tab.{key}"], f"{letter}{FIRST_ROW + row + 1}"


def test_every_field_of_new_decisions_in_a_row() -> None:
    """They are counted on from those known, and go by the session they are read for."""
    state = with_value(with_value(drawn(), "review", 1, "mark", 9.0), "files", 0, "accept", "no")
    assert decisions_from(found_in(state), KNOWN, 1) == (
        Decision(4, 1, "K2", "mark", "", "9", "", "g2", 3),
        Decision(5, 1, "id1", "which-file", "id1", "no", "", "l1", 3),
    )


def test_every_word_about_a_tab_or_a_heading_that_is_gone() -> None:
    state = drawn()
    without_tab = replace(state, tabs=tuple(tab for tab in state.tabs if tab.title != "Answers"))
    heading = TEXTS["review_column.points"]
    for damaged, fault in (
        (without_tab, "not there"),
        (with_value(state, "answers", -1, "points", None), f"without the headings {heading}"),
    ):
        assert said(found_in(damaged).findings) == (
            Worded("file-review-damaged", "", fault, "the tab as it was drawn", "", "Answers"),
        )


@pytest.mark.parametrize("column", ["check", "confirm"])
def test_a_heading_that_nothing_depends_on_may_be_gone(column: str) -> None:
    found = found_in(with_value(drawn(), "review", -1, column, None))
    assert (found.damaged, found.findings) == (False, ())


def test_every_word_about_lines_that_are_not_complete() -> None:
    """Each named by its copy code's cell, with everything that stands in it; empty ones are not named."""
    state = with_value(drawn(), "corrections", 1, "value", "61.5")
    state = with_value(state, "corrections", 2, "copy_code", "k1")
    state = with_value(state, "corrections", 2, "reason", "r" * 60)
    expected = "one line that says what it is about"
    assert said(found_in(state).findings) == (
        Worded("class-review-unplaced", "", "'61.5'", expected, "", "Corrections", "A6"),
        Worded("class-review-unplaced", "", repr(f"k1, {'r' * 56}"), expected, "", "Corrections", "A7"),
    )


def test_a_value_in_a_row_that_is_about_nothing_is_named() -> None:
    state = with_value(drawn(), "answers", 3, "points", 4.0)
    (finding,) = said(found_in(state).findings)
    assert finding == Worded(
        "class-review-unplaced", "", "'4'", "one line that says what it is about", "",
        *_place("answers", 3, "points"),
    )  # fmt: skip


def test_words_of_the_lists_in_another_language() -> None:
    """Yes, no and empty; also what says that a decision still holds."""
    words = {"es": {"yes": "sí", "no": "no", "empty": "vacío"}}
    state = with_value(with_value(drawn(), "files", 0, "accept", "Sí"), "corrections", 0, "value", "VACÍO")
    state = with_value(with_value(state, "review", 0, "confirm", "sí"), "corrections", 0, "confirm", "si")
    typed = {
        one.key[1]: one
        for one in harvest(state, TEXTS, words).typed
        if (one.key[0], one.key[2]) != ("K1", "answer_error") and one.key[0] != "K2"
    }
    assert (typed["which-file"].value, typed["correction"].value) == ("yes", "empty")
    assert [typed[kind].confirmed for kind in ("mark", "comment", "correction")] == [True, True, True]
    plain = {one.key[1]: one for one in harvest(state, TEXTS).typed if one.key[0] != "K2"}
    assert plain["which-file"].value == "sí"


def test_a_cross_is_a_yes_only_where_no_is_no_answer() -> None:
    """A file crossed out may be meant as one that does not count."""
    state = with_value(with_value(drawn(), "files", 0, "accept", "x"), "review", 0, "confirm", "X")
    typed = {one.key[1]: one for one in harvest(state, TEXTS).typed if one.key[0] != "K2"}
    assert (typed["which-file"].value, typed["mark"].confirmed) == ("x", True)


def test_a_cell_that_no_drawing_shows_and_that_was_taken_back_before() -> None:
    """Nothing was drawn there and nothing stands there: no decision. A correction emptied stays so."""
    state = drawn({**ROWS, "corrections": []})
    known = (*KNOWN, Decision(4, 1, "K1", "correction", "mass_kg", ""))
    assert new_in(state, known) == []


def test_another_session_has_its_own_decisions() -> None:
    other = replace(KNOWN[0], sequence=4, session=2, value="20")
    assert new_in(drawn(), (*KNOWN, other)) == []
    found = found_in(with_value(drawn(), "review", 0, "mark", 13.0))
    (one,) = decisions_from(found, (*KNOWN, other), 1)
    assert (one.sequence, one.value) == (5, "13")


def test_texts_of_cells() -> None:
    assert [plain_text(value) for value in (None, True, False, 12.5, 7, 0.1 + 0.2, " a ", "")] == [
        "", "yes", "no", "12.5", "7", "0.3", "a", "",
    ]  # fmt: skip


def test_an_empty_cell_that_was_never_drawn_takes_nothing_back() -> None:
    """A row typed in by hand about a sheet of which something was decided elsewhere."""
    state = with_value(drawn(), "review", 2, "copy_code", "K5")
    assert new_in(state, (*KNOWN, Decision(4, 1, "K5", "mark", "", "7"))) == []


def test_a_workbook_drawn_before_answers_had_comments_lacks_nothing(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    typed(folder, "Answers", {("K1", "Points given"): 4})
    book = openpyxl.load_workbook(folder.review(1))
    for sheet, rest in ((book["Answers"], ("Comment", "Fact and model answer")), (book["Record"], ())):
        for row in sheet.iter_rows(max_row=5):
            for cell in row:
                gone = cell.value in rest or str(cell.value) == "answers.comment"
                cell.value = None if gone else cell.value
    book.save(folder.review(1))
    found = harvest_review(folder, 1)
    assert found.findings == ()
    assert [(one.kind, one.value) for one in found.decisions] == [("answer-mark", "4")]


def test_an_entry_chosen_from_the_list_is_a_correction_of_its_name() -> None:
    state = with_value(drawn(), "corrections", 0, "cell_name", "Start B6: Age (age_years)")
    assert new_in(state) == [
        ("K1", "correction", "age_years", "61", "misread"), ("K1", "correction", "mass_kg", "", ""),
    ]  # fmt: skip


def test_a_comment_on_an_answer_is_taken_over_with_its_question() -> None:
    state = with_value(drawn(), "answers", 0, "comment", "Say how far.")
    assert new_in(state) == [("K1", "comment", "answer_error", "Say how far.", "")]


def test_a_workbook_drawn_before_there_was_a_tab_marks_lacks_nothing(folder: ClassFolder) -> None:
    read_again(folder, attempt(1))
    book = openpyxl.load_workbook(folder.review(1))
    del book["Marks"]
    record = book["Record"]
    for cell in record[5]:
        cell.value = None if str(cell.value).startswith("marks.") else cell.value
    book.save(folder.review(1))
    assert harvest_review(folder, 1).findings == ()
