import io
import zipfile
from dataclasses import replace

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from sheetgen.finding import Finding
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import Marking
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.recalculation import recalculate
from sheetgen.report.feedback import Feedback, feedback_bytes, feedback_zip
from sheetgen.returned.attempt import Attempt
from sheetgen.texts.languages import load_texts
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Value
from tests.report.invented import PROTOCOL, SETTINGS, finding, returned

TEXTS = {**load_texts("marking.en"), **load_texts("feedback.en")}
STYLE = read_template("style.toml")
ANSWERED = {"answer_repeat": "Thigh.", "answer_zero": "More.", "answer_error": "Marks."}

# Site values 11.00 and 20.25, sum 31.25, density 1.005859375, fat 500 / 1.0059 - 450 = 47.1 (invented),
# masses 60.5 x 47.1 / 100 = 28.5 and 60.5 - 28.5 = 32.0.
RIGHT: dict[str, Value] = {
    "cautions_confirmed": "yes",
    "side": "right",
    "own_midpoint_upper_arm_cm": 16.3,
    "length_upper_arm_cm": 32.6,
    "own_site_triceps": 11.0,
    "own_site_front_thigh": 20.25,
    "own_sum_mm": 31.25,
    "own_density_g_ml": 1.0059,
    "own_fat_percent": 47.1,
    "own_fat_mass_kg": 28.5,
    "own_fat_free_mass_kg": 32.0,
    **ANSWERED,
}


def sheet_back(*findings: Finding, **changed: Value) -> Attempt:
    """A sheet that came back; a name with None was left empty."""
    attempt = returned(1, "accepted", *findings, **{**RIGHT, **changed})  # type: ignore[arg-type]
    return replace(attempt, entries={name: one for name, one in attempt.entries.items() if one is not None})


def marks_of(attempt: Attempt) -> Marking:
    results = attempt.results or recalculate(PROTOCOL, SETTINGS, attempt.entries)
    scheme = find_scheme("usual")
    return marked(scheme, Seen(PROTOCOL, SETTINGS, attempt.entries, results, attempt.findings))


def feedback(
    attempt: Attempt,
    *,
    with_body_values: bool = True,
    comment: str = "",
    adjusted: float | None = None,
    marking: Marking | None = None,
) -> bytes:
    page = Feedback(attempt, marking or marks_of(attempt), PROTOCOL, comment, adjusted, with_body_values)
    return feedback_bytes(page, TEXTS, STYLE, "en")


def opened(data: bytes) -> Worksheet:
    (sheet,) = openpyxl.load_workbook(io.BytesIO(data)).worksheets
    return sheet


def rows(data: bytes) -> dict[str, tuple[object, ...]]:
    """What stands beside each text of the first column."""
    lines = opened(data).iter_rows(values_only=True)
    return {str(first): rest for first, *others in lines if first is not None and (rest := tuple(others))}


def everything(data: bytes) -> list[object]:
    return [cell.value for row in opened(data).iter_rows() for cell in row if cell.value is not None]


def test_feedback_says_whose_sheet_it_is_by_codes() -> None:
    sheet = opened(feedback(sheet_back()))
    assert sheet.title == "Feedback"
    assert sheet["A1"].value == "Feedback on your measurement sheet"
    assert sheet["A2"].value == "Student 1001   Sheet K1   Participant P01   Session 1"


def test_feedback_score_waits_for_a_person() -> None:
    found = everything(feedback(sheet_back()))
    assert found[2] == (
        "Score so far, to be marked: 85 of 100 points. 15 more points wait for a person: 3 to be looked at."
    )


def test_feedback_score_is_final_without_answers() -> None:
    found = everything(feedback(sheet_back(**dict.fromkeys(ANSWERED))))
    assert found[2] == "Your score: 85 of 100 points"


def test_feedback_of_a_sheet_where_nothing_is_marked() -> None:
    attempt = sheet_back()
    found = everything(feedback(attempt, marking=Marking("usual", (), 0.0, 0.0, ()), adjusted=7))
    assert found[2] == "Your mark, as your teacher decided: 7 points"
    assert found[3] == "Nothing on this sheet was to be marked, so there is no score. That costs nothing."
    assert "No line of own working was asked for on this sheet." in found


def test_feedback_holds_the_adjusted_mark_and_the_comment() -> None:
    found = everything(feedback(sheet_back(), adjusted=91.5, comment="=Well done.\n\nMind the zero."))
    assert found[2] == "Your mark, as your teacher decided: 91.5 of 100 points"
    where = found.index("Your teacher writes")
    assert found[where + 1 : where + 3] == ["=Well done.", "Mind the zero."]


def test_feedback_holds_a_long_comment_to_its_end() -> None:
    long = " ".join(f"word{number}" for number in range(600))
    found = everything(feedback(sheet_back(), comment=long))
    where, end = found.index("Your teacher writes"), found.index("Marks by item")
    assert " ".join(str(piece) for piece in found[where + 1 : end]) == long


def test_feedback_marks_by_item_with_the_reason() -> None:
    found = rows(feedback(sheet_back(own_density_g_ml=1.006)))
    assert found["Item"] == ("Points", "Out of", "To be marked", "Why")
    assert found["Setting up and zero"] == (6, 6, None, "All right")
    assert found["Density"] == (10.5, 15, None, "1 not right: see your own working below")
    assert found["Interpretation and sources of error"] == (
        0, 15, 15,
        "Question on repeating, question on the zero, question on sources of error: "
        "to be marked by the teacher",
    )  # fmt: skip


def test_feedback_shows_three_numbers_a_line_and_what_to_redo() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=32.25, own_density_g_ml=0.9980)))
    assert found["Line"] == (
        "Yours", "From your line above", "From your readings", "What happened, and what to redo",
    )  # fmt: skip
    assert found["Corrected value, Triceps, mm"] == (11, 11, 11, "Right")
    assert found["Sum of the sites, mm"] == (
        32.25, 31.25, 31.25,
        "The zero was deducted twice. Redo the corrected site values: deduct the zero only once from each "
        "reading.",
    )  # fmt: skip
    # 1.25 - 0.0078125 x 32.25
    assert found["Body density, g/ml"] == (0.998, 0.998046875, 1.005859375, "Right")


def test_feedback_names_a_slip_once_for_lines_that_follow_each_other() -> None:
    found = rows(feedback(sheet_back(own_site_triceps=10.5, own_site_front_thigh=19.75, own_sum_mm=30.25)))
    assert found["Corrected value, Triceps, mm"][3] == (
        "The zero of the caliper was not deducted. Redo the corrected site values: deduct the zero, with its "
        "sign, from each reading."
    )
    assert found["Corrected value, Front thigh, mm"][3] == "As in the line above"


def test_feedback_shows_a_line_left_empty_without_a_number() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=None)))
    assert found["Sum of the sites, mm"] == (None, 31.25, 31.25, "Left empty")


BODY_VALUES = (
    11.0, 20.25, 31.25, 1.005859375, 1.0059, 47.1, 47.0873786407767, 28.5, 32.0, 60.5, 16.3, 32.6, 20.0,
    9.5, 11.5, 19.5, 22.5, 10.0, 12.0, 23.0, 20.5,
)  # fmt: skip


def test_feedback_without_body_values_holds_none_of_them() -> None:
    """Every cell is looked through; the marks of this sheet are none of these numbers but 10."""
    seen = finding("procedure-zero-differs", "warning", "Start", "B15", found="31.25")
    attempt = sheet_back(seen, own_fat_percent=0.47)
    hidden = everything(feedback(attempt, with_body_values=False))
    shown = everything(feedback(attempt))
    numbers = [value for value in hidden if isinstance(value, int | float)]
    assert set(numbers) & set(BODY_VALUES) == {10}
    assert {31.25, 20.25, 1.0059, 28.5} <= {value for value in shown if isinstance(value, int | float)}
    texts = " ".join(value for value in hidden if isinstance(value, str))
    assert [value for value in BODY_VALUES if str(value) in texts] == []


def test_feedback_without_body_values_shows_the_points_of_a_line() -> None:
    found = rows(feedback(sheet_back(own_sum_mm=None), with_body_values=False))
    assert found["Line"] == ("Points", "Out of", "To be marked", "What happened, and what to redo")
    assert found["Sum of the sites, mm"] == (0, 10, None, "Left empty")
    assert found["Corrected value, Triceps, mm"] == (5, 5, None, "Right")


def test_feedback_says_what_was_noticed_in_plain_words() -> None:
    attempt = sheet_back(
        finding("sheet-names-lost", "note"),
        finding("procedure-third-missing", "warning", "Readings", "F9", found="12.5"),
        finding("procedure-third-missing", "warning", "Readings", "F10"),
        finding("never-heard-of", "error"),
        finding("class-same-numbers", "error", found="1002"),
    )
    found = everything(feedback(attempt))
    where, end = found.index("What was noticed"), found.index("What to practise")
    assert found[where + 1 : end] == [
        "Your teacher would like to look at one point of this file with you.",
        "Rounds 1 and 2 disagree and there is no third reading; the mean of the two was taken. "
        "(Readings F9, Readings F10)",
    ]


def test_feedback_of_a_sheet_in_good_order() -> None:
    attempt = sheet_back(reading_2_front_thigh=20.5, reading_3_front_thigh=None)
    found = everything(feedback(attempt))
    where = found.index("What was noticed")
    assert found[where + 1 : where + 4] == [
        "Nothing: your sheet came back in good order.",
        "What to practise",
        "Your readings show nothing in particular. Keep your hand in.",
    ]


def test_feedback_shows_the_repeat_difference_by_site() -> None:
    found = rows(feedback(sheet_back(), with_body_values=False))
    assert found["Site"][0] == "Your repeat difference, mm"
    assert found["Triceps"] == (2, "no", "no", "Rounds 1 and 2 agree")
    assert found["Front thigh"] == (3, "yes", "yes", "The third reading settled it")


def test_feedback_without_results_has_no_repeat_difference() -> None:
    attempt = sheet_back()
    found = everything(feedback(replace(attempt, results=None), marking=marks_of(attempt)))
    assert "Your repeat difference" not in found


def test_feedback_marks_practice_readings_in_no_way() -> None:
    measured, practised = sheet_back(), sheet_back(data_source="practice")
    assert everything(feedback(practised)) == everything(feedback(measured))


def test_feedback_is_one_protected_page_without_entries() -> None:
    sheet = opened(feedback(sheet_back()))
    assert sheet.protection.sheet
    assert {cell.protection.locked for row in sheet.iter_rows() for cell in row} == {True}
    assert sheet.page_setup.orientation == "portrait"
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight or 1) == (1, 1)


def test_feedback_texts_are_never_formulas() -> None:
    attempt = sheet_back(finding("entry-date", "error", "=cmd", "A1"))
    marking = marks_of(attempt)
    items = (replace(marking.items[0], title="=1+1"), *marking.items[1:])
    data = feedback(attempt, marking=replace(marking, items=items), comment="@SUM(A1)\n+1\n-1\n=1")
    kinds = {cell.data_type for row in opened(data).iter_rows() for cell in row}
    assert kinds == {"s", "n"}
    assert {"=1+1", "@SUM(A1)", "+1", "-1", "=1"} <= set(everything(data))


def test_feedback_has_the_same_bytes_for_the_same_inputs() -> None:
    assert feedback(sheet_back(), comment="Good.") == feedback(sheet_back(), comment="Good.")


# incoming names: names in the zip
NAMES = (
    (("S01_K1.xlsx",), ["S01_K1.xlsx"]),
    (("Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"), ["Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"]),
    (("../../etc/a.xlsx",), ["etc/a.xlsx"]),
    (("/root/a.xlsx", "C:\\a.xlsx"), ["root/a.xlsx", "C_/a.xlsx"]),
    (("..\\..\\a.xlsx", "a.xlsx"), ["a.xlsx", "a (2).xlsx"]),
    (("A.xlsx", "a.xlsx", "a.XLSX"), ["A.xlsx", "a (2).XLSX", "a (3).xlsx"]),
    (("u\u0308.xlsx", "\u00fc.xlsx"), ["u\u0308.xlsx", "\u00fc (2).xlsx"]),
    (("a.ods", "b.xlsm"), ["a.ods.xlsx", "b.xlsm.xlsx"]),
    (("what?.xlsx", "a\x00b.xlsx"), ["a_b.xlsx", "what_.xlsx"]),
    (("con.xlsx", "NUL/a.xlsx"), ["_NUL/a.xlsx", "_con.xlsx"]),
    (("..", ""), ["feedback.xlsx", "feedback (2).xlsx"]),
    (("a.xlsx", "a.xlsx/b.xlsx"), ["a (2).xlsx", "a.xlsx/b.xlsx"]),
    (("sheet\udcff.xlsx",), ["sheet_.xlsx"]),
)


@pytest.mark.parametrize(("incoming", "names"), NAMES)
def test_feedback_zip_has_safe_names_once_each(incoming: tuple[str, ...], names: list[str]) -> None:
    data = feedback_zip({name: name.encode("utf-8", "replace") for name in incoming})
    assert zipfile.ZipFile(io.BytesIO(data)).namelist() == names


def test_feedback_zip_has_the_same_bytes_in_any_order() -> None:
    files = {"b.xlsx": b"two", "a.xlsx": b"one"}
    data = feedback_zip(files)
    assert data == feedback_zip(dict(reversed(files.items())))
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {name: package.read(name) for name in package.namelist()} == files
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
