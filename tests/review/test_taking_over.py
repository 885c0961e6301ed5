from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_folder.decisions import read_decisions
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.marking.marks import adjusted_mark, comment_given
from sheetgen.returned.attempt import Attempt
from sheetgen.review.rows import Reviewed
from sheetgen.review.taking_over import Harvested, harvest_review, redraw_review, review_texts
from sheetgen.workbook.packages import with_part_changed
from tests.reviews import attempt, marking, records, typed

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
        {("new", "Cell name"): "mass_kg", ("mass_kg", "Copy code"): "K2", ("mass_kg", "Value"): 61},
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
    assert read_again(folder, attempt(1))[0].added == 0


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
    typed(folder, "Corrections", {("61,5", "Copy code"): "K1", ("61,5", "Cell name"): "mass_kg"})
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
        return with_part_changed(
            data, "xl/sharedStrings.xml", lambda part: part.replace(b"<t>well held</t>", b"<t></t>")
        )

    monkeypatch.setattr(review, "rendered", lossy)
    harvested, codes = read_again(folder, attempt(1))
    assert codes == ["file-review-not-redrawn"]
    assert comment_given(harvested.decisions, "K1") == "well held"
    assert folder.review(1).read_bytes() == before
