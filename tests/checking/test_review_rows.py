from dataclasses import replace

from sheetgen.checking.catalogue import completed
from sheetgen.checking.late import late_findings
from sheetgen.checking.review_rows import file_id, review_contents, review_findings
from sheetgen.flows.review import review_texts
from sheetgen.layout.review import ReviewContents
from sheetgen.model.decision import Decision
from sheetgen.model.finding import Finding
from sheetgen.store.catalogue import load_catalogue
from tests.report.invented import BOOK
from tests.reviews import attempt, marking, records

TEXTS = review_texts()


def contents_of(*decisions: Decision, score: float = 30.0, sha256: str = "") -> ReviewContents:
    return review_contents(
        TEXTS, "CLASS2", 1, records(1, 2), [attempt(1, sha256)], {"K1": marking(score)}, decisions,
        people=BOOK.people,
    )  # fmt: skip


def test_a_row_a_sheet_with_score_and_every_reason_in_words() -> None:
    first, second = contents_of().rows["review"]
    assert [first.values[name] for name in ("student_id", "name", "copy_code", "status")] == [
        "1001", "Odile Marsh", "K1", "to be marked",
    ]  # fmt: skip
    assert (first.values["score"], first.values["maximum"]) == (30.0, 50.0)
    assert first.values["reasons"] == (
        "Sum 30/45: sum of the sites: left empty\n"
        "Answers 0/5: question on sources of error: to be marked by the teacher"
    )
    assert (second.values["copy_code"], second.values["status"]) == ("K2", "nothing came back")


def test_points_given_are_in_the_score_and_leave_the_ground_as_it_was() -> None:
    given = Decision(1, 1, "K1", "answer-mark", "answer_error", "4")
    before, after = contents_of().rows["review"][0], contents_of(given).rows["review"][0]
    assert (after.values["score"], after.values["status"]) == (34.0, "final")
    assert after.ground == before.ground
    assert str(after.values["reasons"]).endswith("\nAnswers 4/5")
    (answer,) = contents_of(given).rows["answers"]
    assert (answer.values["typed"], answer.values["points"]) == ("hold the fold", 4.0)


def test_a_ground_that_changed_is_pointed_out_and_the_decision_holds() -> None:
    ground = contents_of().rows["review"][0].ground
    mark = Decision(1, 1, "K1", "mark", "", "41", ground=ground)
    assert review_findings(contents_of(mark), TEXTS) == ()
    for contents in (contents_of(mark, score=33.0), contents_of(mark, sha256="b7")):
        row = contents.rows["review"][0]
        assert (row.values["mark"], row.values["check"]) == (41.0, TEXTS["review.changed"])
        assert [one.code for one in review_findings(contents, TEXTS)] == ["class-review-ground-changed"]


def test_what_was_decided_about_files_that_are_gone_still_stands_there() -> None:
    given = (
        Decision(1, 1, "K9", "mark", "", "17"),
        Decision(2, 1, "K9", "answer-mark", "answer_error", "3"),
        Decision(3, 1, "K9", "correction", "mass_kg", "61", "misread"),
        Decision(4, 1, "f9", "which-file", "f9", "yes"),
    )
    rows = contents_of(*given).rows
    assert [row.values["mark"] for row in rows["review"] if row.values["copy_code"] == "K9"] == [17.0]
    assert [row.values["points"] for row in rows["answers"]] == [None, 3.0]
    assert [row.values["check"] for row in rows["corrections"]] == [TEXTS["review.unknown_copy"]]
    assert [(row.values["file"], row.values["accept"]) for row in rows["files"]] == [("no file now", "yes")]


def test_a_correction_of_no_entry_is_pointed_out() -> None:
    row = contents_of(Decision(1, 1, "K1", "correction", "reading_1_toe", "9")).rows["corrections"][0]
    assert row.values["check"] == TEXTS["review.unknown_cell"]


def test_files_that_need_a_look() -> None:
    twice = Finding("identity-copy-twice", "error", "copy code K1 also in b.xlsx", "one file a copy", "")
    waits = replace(attempt(1, status="review"), findings=(twice,))
    contents = review_contents(TEXTS, "", 1, (), [waits, attempt(2)], {}, [])
    (row,) = contents.rows["files"]
    assert row.values["findings"] == "identity-copy-twice: copy code K1 also in b.xlsx"
    assert (row.values["file_id"], row.values["accept"]) == (file_id(waits), None)


def test_a_late_file_that_gave_way_can_still_be_said_yes_to() -> None:
    late = late_findings("2027-03-05", "", "2027-03-04")
    gave_way = replace(attempt(1, "b7", "superseded"), findings=completed(late, load_catalogue()))
    contents = review_contents(TEXTS, "", 1, (), [attempt(1), gave_way], {}, [])
    (row,) = contents.rows["files"]
    assert [row.values[name] for name in ("file_id", "status", "findings")] == [
        file_id(gave_way), "superseded", "procedure-after-feedback: first read on 2027-03-05",
    ]  # fmt: skip


def test_a_file_that_gave_way_to_a_newer_one_can_be_said_yes_to_and_stays_decided() -> None:
    note = Finding("identity-newer-counts", "note", "b.xlsx counts: it is complete", "one file a copy", "")
    older = replace(attempt(1, "b7", "superseded"), findings=(note,))
    contents = review_contents(TEXTS, "", 1, (), [attempt(1), older], {}, [])
    (row,) = contents.rows["files"]
    assert (row.values["findings"], row.values["accept"]) == (
        "identity-newer-counts: b.xlsx counts: it is complete",
        None,
    )
    yes = Decision(1, 1, file_id(older), "which-file", file_id(older), "yes", "", row.ground)
    chosen = replace(older, status="accepted", findings=())
    (row,) = review_contents(TEXTS, "", 1, (), [chosen], {}, [yes]).rows["files"]
    assert (row.values["accept"], row.values["check"]) == ("yes", "")


def test_a_value_that_cannot_be_used_stays_as_typed_and_is_pointed_out() -> None:
    contents = contents_of(
        Decision(1, 1, "K1", "mark", "", "good"), Decision(2, 1, "K1", "answer-mark", "answer_error", "6")
    )
    assert contents.rows["review"][0].values["mark"] == "good"
    findings = review_findings(contents, TEXTS)
    assert [(one.code, one.tab, one.expected) for one in findings] == [
        ("class-review-value", "Review", "a number from 0 to 50"),
        ("class-review-value", "Answers", "a number from 0 to 5"),
    ]


def test_a_mark_above_the_maximum_of_the_sheet_is_pointed_out() -> None:
    assert review_findings(contents_of(Decision(1, 1, "K1", "mark", "", "50")), TEXTS) == ()
    (finding,) = review_findings(contents_of(Decision(1, 1, "K1", "mark", "", "420")), TEXTS)
    assert (finding.code, finding.found, finding.expected) == (
        "class-review-value", "K1: mark '420.0'", "a number from 0 to 50",
    )  # fmt: skip


def test_a_mark_for_a_sheet_of_which_no_file_counts_is_pointed_out() -> None:
    (finding,) = review_findings(contents_of(Decision(1, 1, "K2", "mark", "", "42")), TEXTS)
    assert (finding.code, finding.found, finding.expected) == (
        "class-review-value", "K2: a mark or comment, and no file of this sheet counts", "a file that counts",
    )  # fmt: skip
    assert review_findings(contents_of(Decision(1, 1, "K2", "mark", "", "")), TEXTS) == ()


def test_decisions_of_another_session_are_not_drawn() -> None:
    contents = contents_of(Decision(8, 2, "K1", "mark", "", "9"))
    assert contents.rows["review"][0].values["mark"] is None
    assert contents.drawn == 8
