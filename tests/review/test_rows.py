from msgspec.structs import replace

from sheetgen.class_folder.decisions import OBSERVED_STEPS, Decision
from sheetgen.class_folder.scores import WHOLE, Score
from sheetgen.finding import Finding, Worded, measured, written
from sheetgen.marking.scheme import ToBeMarked
from sheetgen.returned.attempt import file_id, late_findings
from sheetgen.review.drawing import ReviewContents, ReviewRow
from sheetgen.review.rows import Reviewed, entries_listed, review_contents, review_findings
from sheetgen.review.taking_over import review_texts
from sheetgen.texts.findings import completed, load_catalogue
from sheetgen.workbook.layout import Value
from tests.report.invented import BOOK
from tests.reviews import attempt, marking, records
from tests.sheets import sheet_of
from tests.wording import in_english, said

TEXTS = review_texts()


def contents_of(*decisions: Decision, score: float = 30.0, sha256: str = "") -> ReviewContents:
    return review_contents(
        TEXTS,
        Reviewed(1, records(1, 2), [attempt(1, sha256)], {"K1": marking(score)}, BOOK.people),
        "CLASS2",
        decisions,
    )


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
        assert [one.code for one in said(review_findings(contents, TEXTS))] == ["class-review-ground-changed"]


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
    twice = Finding("identity-copy-twice", {"code": "K1", "others": ("b.xlsx",)}, severity="error")
    waits = replace(attempt(1, status="review"), findings=(twice,))
    contents = review_contents(TEXTS, Reviewed(1, (), [waits, attempt(2)], {}), "", [])
    (row,) = contents.rows["files"]
    assert row.values["findings"] == "identity-copy-twice: copy code K1 also in b.xlsx"
    assert (row.values["file_id"], row.values["accept"]) == (file_id(waits), None)


def test_a_late_file_that_gave_way_can_still_be_said_yes_to() -> None:
    late = late_findings("2027-03-05", "", "2027-03-04")
    gave_way = replace(attempt(1, "b7", "superseded"), findings=completed(late, load_catalogue()))
    contents = review_contents(TEXTS, Reviewed(1, (), [attempt(1), gave_way], {}), "", [])
    (row,) = contents.rows["files"]
    assert [row.values[name] for name in ("file_id", "status", "findings")] == [
        file_id(gave_way), "superseded", "procedure-after-feedback: first read on 2027-03-05",
    ]  # fmt: skip


def test_a_file_that_gave_way_to_a_newer_one_can_be_said_yes_to_and_stays_decided() -> None:
    note = Finding("identity-newer-counts", {"file": "b.xlsx"}, case="complete", severity="note")
    older = replace(attempt(1, "b7", "superseded"), findings=(note,))
    contents = review_contents(TEXTS, Reviewed(1, (), [attempt(1), older], {}), "", [])
    (row,) = contents.rows["files"]
    assert (row.values["findings"], row.values["accept"]) == (
        "identity-newer-counts: b.xlsx counts: it is complete, and this one is not",
        None,
    )
    yes = Decision(1, 1, file_id(older), "which-file", file_id(older), "yes", "", row.ground)
    chosen = replace(older, status="accepted", findings=())
    (row,) = review_contents(TEXTS, Reviewed(1, (), [chosen], {}), "", [yes]).rows["files"]
    assert (row.values["accept"], row.values["check"]) == ("yes", "")


def test_a_value_that_cannot_be_used_stays_as_typed_and_is_pointed_out() -> None:
    contents = contents_of(
        Decision(1, 1, "K1", "mark", "", "good"), Decision(2, 1, "K1", "answer-mark", "answer_error", "6")
    )
    assert contents.rows["review"][0].values["mark"] == "good"
    findings = said(review_findings(contents, TEXTS))
    assert [(one.code, one.tab, one.expected) for one in findings] == [
        ("class-review-value", "Review", "a number from 0 to 50"),
        ("class-review-value", "Answers", "a number from 0 to 5"),
    ]


def test_a_mark_above_the_maximum_of_the_sheet_is_pointed_out() -> None:
    assert review_findings(contents_of(Decision(1, 1, "K1", "mark", "", "50")), TEXTS) == ()
    (finding,) = said(review_findings(contents_of(Decision(1, 1, "K1", "mark", "", "420")), TEXTS))
    assert (finding.code, finding.found, finding.expected) == (
        "class-review-value", "K1: mark '420.0'", "a number from 0 to 50",
    )  # fmt: skip


def test_a_mark_for_a_sheet_of_which_no_file_counts_is_pointed_out() -> None:
    (finding,) = said(review_findings(contents_of(Decision(1, 1, "K2", "mark", "", "42")), TEXTS))
    assert (finding.code, finding.found, finding.expected) == (
        "class-review-value", "K2: a mark or comment, and no file of this sheet counts", "a file that counts",
    )  # fmt: skip
    assert review_findings(contents_of(Decision(1, 1, "K2", "mark", "", "")), TEXTS) == ()


def test_decisions_of_another_session_are_not_drawn() -> None:
    contents = contents_of(Decision(8, 2, "K1", "mark", "", "9"))
    assert contents.rows["review"][0].values["mark"] is None
    assert contents.drawn == 8


OTHER = "Points given for another answer. Please confirm: if they still hold, type yes under Still right."
CHANGED = "Changed since you decided. Look again; if it still holds, type yes under Still right."


def test_every_cell_and_ground_of_a_class_nobody_decided_about() -> None:
    """A ground stands in decisions for years: one worked out in another way would call them all changed."""
    contents = contents_of()
    assert (contents.class_code, contents.session, contents.drawn) == ("CLASS2", 1, 0)
    came: dict[str, Value] = {
        "student_id": "1001",
        "name": "Odile Marsh",
        "copy_code": "K1",
        "status": "to be marked",
        "score": 30.0,
        "maximum": 50.0,
        "reasons": "Sum 30/45: sum of the sites: left empty\n"
        "Answers 0/5: question on sources of error: to be marked by the teacher",
        "mark": None,
        "comment": "",
        "check": "",
    }
    missing: dict[str, Value] = {
        "student_id": "1002",
        "name": "=Tam Reeve",
        "copy_code": "K2",
        "status": "nothing came back",
        "score": None,
        "maximum": None,
        "reasons": "",
        "mark": None,
        "comment": "",
        "check": "",
    }
    asked: dict[str, Value] = {
        "student_id": "1001",
        "copy_code": "K1",
        "question": "Name two sources of error in what you did, and how you would make each smaller.",
        "cell_name": "answer_error",
        "typed": "hold the fold",
        "compare": "Two of: the mark misplaced, the fold lifted elsewhere, reading too early or late, "
        "the zero, reading the scale; each with a remedy.",
        "possible": 5.0,
        "points": None,
        "comment": "",
        "check": "",
    }
    assert contents.rows == {
        "review": [
            ReviewRow(came, "61a4d4e3db93", "d57ee80b4f9c"),
            ReviewRow(missing, "43380a4902dd", "e3b0c44298fc"),
        ],
        "answers": [ReviewRow(asked, "c6637592b8ef")],
        "corrections": [],
        "files": [],
        "observed": [
            ReviewRow(_observed(who.student_id, f"{who.given_name} {who.family_name}")) for who in BOOK.people
        ],
        "marks": [],
    }


def _observed(student: str, name: str, **told: Value) -> dict[str, Value]:
    empty = {"seen": "", "signed_off": "", "check": "", **dict.fromkeys(OBSERVED_STEPS)}
    return {"student_id": student, "name": name, **empty, **told}


def test_what_was_observed_stands_beside_what_was_seen_in_earlier_sessions() -> None:
    """Of somebody who is not on the roster too, as long as something is decided."""
    contents = review_contents(
        TEXTS, Reviewed(2, [], [], {}, BOOK.people[:1]), "CLASS2",
        [
            Decision(1, 1, "1001", "observed", "reads", "yes"),
            Decision(2, 1, "1001", "observed", "asks", "yes"),
            Decision(3, 1, "1001", "observed", "cares", ""),
            Decision(4, 2, "1001", "observed", "holds", "yes"),
            Decision(5, 2, "2002", "signed-off", "", "2027-03-31"),
        ],
    )  # fmt: skip
    seen = "Asks first, Reads on the count, eye level"
    assert contents.rows["observed"] == [
        ReviewRow(_observed("1001", "Odile Marsh", seen=seen, holds="yes")),
        ReviewRow(_observed("2002", "", signed_off="2027-03-31")),
    ]


def test_a_step_or_a_day_that_cannot_be_used_is_named() -> None:
    contents = contents_of(
        Decision(1, 1, "1001", "observed", "holds", "half"),
        Decision(2, 1, "1001", "signed-off", "", "31 March"),
    )
    found = said(review_findings(contents, TEXTS))
    assert [(one.found, one.expected) for one in found] == [
        ("1001: signed off on '31 March'", "a day as 2027-03-31"),
        ("1001: observed 'half'", "yes"),
    ]


def test_every_cell_of_decisions_whose_grounds_have_changed() -> None:
    contents = contents_of(
        Decision(1, 1, "K1", "mark", "", "41", ground="x"),
        Decision(2, 1, "K1", "comment", "", "well held"),
        Decision(3, 1, "K1", "answer-mark", "answer_error", "4", ground="y"),
        Decision(4, 1, "K1", "correction", "mass_kg", "61", "misread", "z"),
        Decision(5, 1, "K1", "correction", "age_years", ""),
    )
    row = contents.rows["review"][0].values
    assert [row[name] for name in ("status", "score", "mark", "comment", "check")] == [
        "to be marked", 34.0, 41.0, "well held", CHANGED,
    ]  # fmt: skip
    (answer,) = contents.rows["answers"]
    assert [answer.values[name] for name in ("points", "possible", "check")] == [4.0, 5.0, OTHER]
    correction = {
        "copy_code": "K1", "cell_name": "mass_kg", "typed": "", "value": "61",
        "reason": "misread", "check": CHANGED,
    }  # fmt: skip
    assert contents.rows["corrections"] == [ReviewRow(correction, "d57ee80b4f9c")]
    assert said(review_findings(contents, TEXTS)) == tuple(
        Worded("class-review-ground-changed", "", found, "what was seen then", "", tab)
        for found, tab in (
            ("K1: changed since it was decided", "Review"),
            ("K1 answer_error: points given for another answer, please confirm", "Answers"),
            ("K1 mass_kg: changed since it was decided", "Corrections"),
        )
    )  # fmt: skip


def test_a_comment_alone_whose_ground_has_changed_is_pointed_out() -> None:
    row = contents_of(Decision(1, 1, "K1", "comment", "", "well held", ground="x")).rows["review"][0]
    assert (row.values["comment"], row.values["check"]) == ("well held", CHANGED)


def test_decisions_taken_back_are_not_drawn() -> None:
    gone = [
        Decision(1, 1, "K9", "mark", "", ""),
        Decision(2, 1, "K9", "answer-mark", "answer_error", ""),
        Decision(3, 1, "K9", "correction", "mass_kg", ""),
        Decision(4, 1, "f9", "which-file", "f9", ""),
    ]
    assert replace(contents_of(*gone), drawn=0) == contents_of()


def test_every_cell_of_an_answer_and_a_comment_whose_files_are_gone() -> None:
    """Somebody whose sheet is not on record any more stands before the others, without a name."""
    contents = contents_of(
        Decision(1, 1, "K7", "comment", "", "c"), Decision(2, 1, "K9", "answer-mark", "own_sum_mm", "3")
    )
    assert [
        (row.values["copy_code"], row.values["student_id"], row.values["name"])
        for row in contents.rows["review"]
    ] == [
        ("K7", "", ""), ("K9", "", ""), ("K1", "1001", "Odile Marsh"), ("K2", "1002", "=Tam Reeve"),
    ]  # fmt: skip
    assert contents.rows["review"][0].values["comment"] == "c"
    answer: dict[str, Value] = {
        "student_id": "",
        "copy_code": "K9",
        "question": "sum_mm",
        "cell_name": "own_sum_mm",
        "typed": "no file now",
        "compare": "",
        "possible": None,
        "points": 3.0,
        "comment": "",
        "check": "",
    }
    assert contents.rows["answers"][1:] == [ReviewRow(answer, "a32427d6a654")]
    assert [(one.found, one.expected, one.tab) for one in said(review_findings(contents, TEXTS))] == [
        ("K7: a mark or comment, and no file of this sheet counts", "a file that counts", "Review")
    ]


def test_every_cell_of_files_that_need_a_look() -> None:
    """Notes are left out of what is said of a file; one without a sheet on record has no copy code."""
    told = (
        Finding("identity-copy-twice", {"code": "K1", "others": ("b.xlsx",)}, severity="error"),
        Finding("entry-corrected", severity="note"),
        Finding("entry-off-scale", {"reading": measured(12.3), "division": 0.5}, severity="warning"),
    )
    waits = replace(attempt(1, "b7", "review"), findings=told, incoming_name="Ada Fen_sheet.xlsx")
    refused = replace(attempt(2, "c8", "refused"), record=None, file="z.xlsx")
    decisions = [
        Decision(1, 1, "f9", "which-file", "f9", "maybe", "", "g9"),
        Decision(2, 1, file_id(waits), "which-file", file_id(waits), "no", "", "old"),
    ]
    contents = review_contents(TEXTS, Reviewed(1, (), [refused, attempt(3), waits], {}), "", decisions)
    first: dict[str, Value] = {
        "file": "1001.xlsx\nAda Fen_sheet.xlsx",
        "copy_code": "K1",
        "file_id": "b7b7b7b7b7b7b7b7",
        "status": "review",
        "findings": "identity-copy-twice: copy code K1 also in b.xlsx\nentry-off-scale: ... mm",
        "accept": "no",
        "check": CHANGED,
    }
    second: dict[str, Value] = {
        "file": "z.xlsx",
        "copy_code": "",
        "file_id": "c8c8c8c8c8c8c8c8",
        "status": "refused",
        "findings": "",
        "accept": None,
        "check": "",
    }
    assert contents.rows["files"] == [
        ReviewRow(first, "f3ee6c7ba9de"),
        ReviewRow(second, "36c52b2008d9"),
        ReviewRow({"file": "no file now", "file_id": "f9", "accept": "maybe"}, "g9"),
    ]
    assert said(review_findings(contents, TEXTS)) == (
        Worded("class-review-ground-changed", "", "K1 b7b7b7b7b7b7b7b7: changed since it was decided",
                "what was seen then", "", "Files"),
        Worded("class-review-value", "", "f9: accept 'maybe'", "yes or no", "", "Files"),
    )  # fmt: skip


def test_the_same_file_twice_is_shown_once_and_one_without_a_digest_by_that_of_its_name() -> None:
    waits = attempt(1, "b7", "review")
    unread = replace(attempt(2, status="refused"), sha256="", file="torn.xlsx")
    contents = review_contents(
        TEXTS, Reviewed(1, (), [waits, replace(waits, file="x.xlsx"), unread], {}), "", []
    )
    assert [(row.values["file"], row.values["file_id"]) for row in contents.rows["files"]] == [
        ("1001.xlsx", "b7b7b7b7b7b7b7b7"), ("torn.xlsx", "62c65026ce59dc98"),
    ]  # fmt: skip


def test_a_sheet_with_several_files_shows_the_one_that_counts() -> None:
    files = [
        attempt(1, f"d{number}", word) for number, word in enumerate(("superseded", "refused", "review"))
    ]
    for last, (status, digest) in enumerate((("superseded", "d0"), ("refused", "d1"), ("review", "d2")), 1):
        row = review_contents(TEXTS, Reviewed(1, records(1), files[:last], {}), "", []).rows["review"][0]
        alone = review_contents(TEXTS, Reviewed(1, records(1), [attempt(1, digest, status)], {}), "", [])
        assert (row.values["status"], row) == (status, alone.rows["review"][0])


def test_without_sheets_on_record_files_make_the_rows_and_with_them_only_marked_files_do() -> None:
    files = [attempt(1), attempt(4)]
    for known, marks, codes in (
        ((), {}, ["K1", "K4"]), (records(1), {}, ["K1"]), (records(1), {"K4": marking()}, ["K1", "K4"]),
    ):  # fmt: skip
        contents = review_contents(TEXTS, Reviewed(1, known, files, marks), "", [])
        assert [row.values["copy_code"] for row in contents.rows["review"]] == codes


def test_points_below_nought_or_where_nothing_is_possible() -> None:
    """A negative mark is pointed out; of a sheet out of 0 any number from 0 on holds."""
    (finding,) = said(review_findings(contents_of(Decision(1, 1, "K1", "mark", "", "-1")), TEXTS))
    assert (finding.found, finding.expected) == ("K1: mark '-1.0'", "a number from 0 to 50")
    nought = replace(marking(), maximum=0.0)
    for mark, told in (("0", []), ("900", []), ("x", [("K1: mark 'x'", "a number from 0 on")])):
        decisions = [Decision(1, 1, "K1", "mark", "", mark)]
        contents = review_contents(
            TEXTS, Reviewed(1, records(1), [attempt(1)], {"K1": nought}), "", decisions
        )
        assert [(one.found, one.expected) for one in in_english(review_findings(contents, TEXTS))] == told


def test_items_with_all_points_stand_together_on_the_last_line() -> None:
    whole = marking(45.0)
    row = review_contents(TEXTS, Reviewed(1, records(1), [attempt(1)], {"K1": whole}), "", []).rows["review"][
        0
    ]
    assert row.values["reasons"] == (
        "Answers 0/5: question on sources of error: to be marked by the teacher\nAll points: Sum 45/45"
    )


def test_lines_left_incomplete_stand_below_the_corrections() -> None:
    loose = {"copy_code": "", "cell_name": "", "value": "61.5", "reason": ""}
    rows = review_contents(TEXTS, Reviewed(1, (), [], {}), "", [], [loose]).rows["corrections"]
    assert rows == [ReviewRow({**loose, "check": TEXTS["review.incomplete"]})]


KEPT = (
    Score(1, "1002", "sums", 30.0, 45.0, "final", "2027-03-31", "K2"),
    Score(1, "1002", WHOLE, 34.0, 50.0, "final", "2027-03-31", "K2"),
    Score(1, "1002", WHOLE, 68.0, 100.0, "final", "2027-03-31"),
)


def kept(*decisions: Decision) -> ReviewContents:
    reviewed = Reviewed(1, records(1, 2), [attempt(1)], {"K1": marking()}, BOOK.people, KEPT)
    return review_contents(TEXTS, reviewed, "CLASS2", decisions)


def test_marks_tab_has_a_row_a_sheet_that_was_scored() -> None:
    (row,) = kept(Decision(1, 1, "K2", "withdrawn", "", "yes")).rows["marks"]
    assert row.values == {
        "student_id": "1002", "name": "=Tam Reeve", "copy_code": "K2", "score": 34.0, "maximum": 50.0,
        "scored_on": "2027-03-31", "withdrawn": "yes", "check": "",
    }  # fmt: skip


def test_marks_tab_keeps_what_was_taken_away_where_the_scores_are_lost() -> None:
    (row,) = contents_of(Decision(1, 1, "K9", "withdrawn", "", "yes")).rows["marks"]
    assert (row.values["copy_code"], row.values["score"], row.values["withdrawn"]) == ("K9", None, "yes")


def test_a_word_under_withdrawn_that_is_no_yes_is_pointed_out() -> None:
    (finding,) = said(review_findings(kept(Decision(1, 1, "K2", "withdrawn", "", "perhaps")), TEXTS))
    assert (finding.found, finding.expected) == ("K2: withdrawn 'perhaps'", "yes")


def test_a_score_that_changed_since_it_was_taken_away_is_pointed_out() -> None:
    """Somebody whose score was taken away may hand in anew."""
    (finding,) = said(review_findings(kept(Decision(1, 1, "K2", "withdrawn", "", "yes", ground="x")), TEXTS))
    assert finding.code == "class-review-ground-changed"


def test_a_sheet_whose_file_is_gone_shows_its_score_and_asks_nothing() -> None:
    contents = kept(Decision(1, 1, "K2", "mark", "", "34", ground="as it was"))
    values = contents.rows["review"][1].values
    assert (values["status"], values["score"], values["maximum"]) == ("score kept; no file now", 34.0, 50.0)
    assert review_findings(contents, TEXTS) == ()


def test_a_mark_typed_after_the_file_is_gone_is_said_not_to_be_used() -> None:
    ground = kept().rows["review"][1].ground
    (finding,) = said(review_findings(kept(Decision(1, 1, "K2", "mark", "", "40", ground=ground)), TEXTS))
    assert finding.found == "K2: a mark or comment, and no file of this sheet counts"


def test_beside_a_line_that_waits_stands_what_it_would_be_from_the_readings() -> None:
    """To the decimals asked for; nothing where there is no ground."""
    for expected, shown in ((1.0461242, "1.0521 (from the readings: 1.0461)"), (None, "1.0521")):
        waiting = ToBeMarked("density", "own_density_g_ml", 15.0, "1.0521", expected=expected)
        marks = {"K1": replace(marking(), to_be_marked=(waiting,))}
        reviewed = Reviewed(1, records(1), [attempt(1)], marks, BOOK.people)
        (row,) = review_contents(TEXTS, reviewed, "CLASS2", ()).rows["answers"]
        assert row.values["typed"] == shown


def test_a_row_tells_what_cannot_be_used_from_nothing() -> None:
    reviewed = Reviewed(1, records(1, 2), [], {}, BOOK.people, unusable_of={"1001"})
    assert [row.values["status"] for row in review_contents(TEXTS, reviewed, "", []).rows["review"]] == [
        "what came cannot be used: see the tab Files",
        "nothing came back",
    ]


def test_answers_stand_question_by_question_with_the_fact_of_the_sheet_and_the_model_answer() -> None:
    asked = tuple(ToBeMarked("answers", f"answer_{word}", 5.0, "x") for word in ("zero", "repeat"))
    own_model = replace(asked[0], model="Twice half a millimetre.")
    marks = {
        code: replace(marking(), to_be_marked=waiting)
        for code, waiting in (("K1", asked), ("K2", (own_model, asked[1])))
    }
    given = Decision(1, 1, "K1", "answer-mark", "answer_repeat", "4")
    comment = Decision(2, 1, "K1", "comment", "answer_repeat", "Say why.")
    reviewed = Reviewed(1, records(1, 2), [attempt(1), attempt(2)], marks, BOOK.people)
    rows = review_contents(TEXTS, reviewed, "CLASS2", (given, comment)).rows["answers"]
    seen = [[row.values[name] for name in ("copy_code", "cell_name", "points", "comment")] for row in rows]
    assert seen == [
        ["K2", "answer_repeat", None, ""], ["K1", "answer_repeat", 4.0, "Say why."],
        ["K1", "answer_zero", None, ""], ["K2", "answer_zero", None, ""],
    ]  # fmt: skip
    assert rows[0].values["question"] == (
        "Which site gave you the largest difference between rounds, and why do you think so?"
    )
    # Corrected readings 20.0 and 23.0 mm; the zero of -0.5 mm stands in two sites.
    assert [row.values["compare"] for row in rows[1:]] == [
        "On this sheet: largest repeat difference Front thigh, 3 mm.\n"
        "Names this site, and a reason to do with the fold, the mark or the reading of the scale.",
        "On this sheet: zero -0.5 mm at 2 sites, so the sum would change by -1 mm.\n"
        "The zero would stand in every reading, so the sum would be off by it once for each site.",
        "On this sheet: zero -0.5 mm at 2 sites, so the sum would change by -1 mm.\nTwice half a millimetre.",
    ]


def test_a_yes_that_cannot_work_is_refused_with_the_reason() -> None:
    torn = replace(
        attempt(1, "b7", "refused"), record=None, findings=(Finding("file-empty", severity="error"),)
    )
    decision = Decision(1, 1, file_id(torn), "which-file", file_id(torn), "yes")
    contents = review_contents(TEXTS, Reviewed(1, (), [torn], {}), "", (decision,))
    (row,) = contents.rows["files"]
    assert row.values["check"] == ("Not used: a file of 0 bytes. It would take: a workbook saved as .xlsx.")
    (finding,) = said(review_findings(contents, TEXTS))
    assert (finding.code, finding.expected) == ("class-review-value", "a choice that can work")


def test_a_correction_shows_its_entry_by_place_and_words_and_what_was_typed() -> None:
    listed = ("Start B6: Age (age_years)", "Start B8: Body mass (mass_kg)")
    values = {"before": measured(61.5), "value": written("62"), "reason": written("")}
    corrected = Finding("entry-corrected", values, "Start", "B8", severity="note")
    came = replace(attempt(1), findings=(corrected,))
    reviewed = Reviewed(1, records(1), [came], {"K1": marking()}, BOOK.people, entries=listed)
    decision = Decision(1, 1, "K1", "correction", "mass_kg", "62")
    (row,) = review_contents(TEXTS, reviewed, "CLASS2", (decision,)).rows["corrections"]
    assert (row.values["cell_name"], row.values["typed"]) == ("Start B8: Body mass (mass_kg)", "61.5")


def test_a_correction_that_cannot_stand_there_says_why_beside_it() -> None:
    values = {"name": "mass_kg", "value": written("heavy")}
    unusable = Finding("entry-correction-unusable", values, "Start", "B8", severity="warning")
    came = replace(attempt(1), findings=(unusable,))
    listed = ("Start B8: Body mass (mass_kg)",)
    reviewed = Reviewed(1, records(1), [came], {"K1": marking()}, BOOK.people, entries=listed)
    decision = Decision(1, 1, "K1", "correction", "mass_kg", "heavy")
    (row,) = review_contents(TEXTS, reviewed, "CLASS2", (decision,)).rows["corrections"]
    assert row.values["check"] == "Not used: body mass = heavy. It would take: a number, or the word empty."


def test_entries_are_listed_once_by_place_words_and_name() -> None:
    layout = sheet_of().layout
    listed = entries_listed([layout, layout])
    assert "Readings C5: Round 1: Chest (reading_1_chest)" in listed
    assert len(listed) == len(set(listed))
