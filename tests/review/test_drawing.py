import io

import openpyxl

from sheetgen.class_folder.decisions import CONFIRM_WORDS, EMPTY_WORD, FILE_WORDS, OBSERVED_STEPS
from sheetgen.review.drawing import (
    CORRECTION_ROWS,
    FIRST_ROW,
    MOST_ROWS,
    RECORD_COLUMNS,
    TABS,
    ReviewContents,
    ReviewRow,
    most_rows,
    record_heading,
    review_layout,
)
from sheetgen.review.taking_over import review_texts
from sheetgen.texts.languages import load_texts
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity, Layout
from sheetgen.workbook.read.parts import ROW_LIMIT
from sheetgen.workbook.render import rendered


def layout_of(**rows: list[ReviewRow]) -> Layout:
    return review_layout(review_texts(), ReviewContents("CLASS2", 1, 7, rows))


def test_every_tab_has_its_headings_and_only_its_entries_unlocked() -> None:
    row = ReviewRow({"copy_code": "K1", "cell_name": "sum_mm", "file_id": "a1", "possible": 5.0}, "g1")
    layout = layout_of(review=[row], answers=[row], files=[row], observed=[row], marks=[row])
    assert [tab.key for tab in layout.tabs] == [
        "review",
        "answers",
        "corrections",
        "files",
        "observed",
        "marks",
        "record",
    ]
    entries = {
        key: [columns[cell.column].key for cell in layout.tab(key).cells if cell.role == "entry"]
        for key, columns in TABS.items()
    }
    assert {key: columns[: len(set(columns))] for key, columns in entries.items()} == {
        "review": ["mark", "comment", "confirm"],
        "answers": ["points", "comment", "confirm"],
        "corrections": ["copy_code", "cell_name", "value", "reason", "confirm"],
        "files": ["accept", "confirm"],
        "observed": [*OBSERVED_STEPS, "signed_off", "confirm"],
        "marks": ["withdrawn", "confirm"],
    }


def test_there_is_room_for_a_hundred_corrections_and_always_for_more() -> None:
    def count(drawn: int) -> int:
        rows = [ReviewRow({"copy_code": "K1"})] * drawn
        cells = layout_of(corrections=rows).tab("corrections").cells
        return len({cell.row for cell in cells if cell.role == "entry"})

    assert (count(0), count(3), count(CORRECTION_ROWS)) == (100, 100, 120)


def test_points_are_limited_by_what_is_possible() -> None:
    layout = layout_of(answers=[ReviewRow({"copy_code": "K1", "possible": 5.0})])
    (cell,) = (cell for cell in layout.tab("answers").cells if cell.name == "answers_1_points")
    assert cell.rule is not None
    assert (cell.rule.kind, cell.rule.minimum, cell.rule.maximum) == ("decimal", 0, 5.0)


def test_the_hidden_tab_keeps_what_was_drawn() -> None:
    row = ReviewRow({"copy_code": "K1", "mark": 12.0, "comment": "well held"}, "g1", "f1")
    record = layout_of(review=[row]).tab("record")
    assert record.hidden
    values = {(cell.row, cell.column): cell.value for cell in record.cells}
    assert [values[row, 1] for row in range(3)] == ["CLASS2", 1, 7]
    assert [values[4, column] for column in range(5)] == [
        record_heading("review", column) for column in RECORD_COLUMNS["review"]
    ]
    assert [values[5, column] for column in range(5)] == ["K1", "g1", 12.0, "well held", "f1"]


def test_a_full_tab_is_read_back_whole() -> None:
    assert FIRST_ROW + MOST_ROWS + CORRECTION_ROWS <= ROW_LIMIT
    cells = {key: (len(TABS[key]) + len(RECORD_COLUMNS[key])) * most_rows(key) for key in TABS}
    assert sum(cells.values()) - cells["corrections"] < 200_000


def test_every_text_of_the_review_is_used_and_none_is_too_long() -> None:
    """Input and error messages 255 characters, their title 32: limits of the Open XML spreadsheet format."""
    texts = load_texts("review.en")
    columns = [column for columns in TABS.values() for column in columns]
    used = {f"review_column.{column.key}" for column in columns}
    prompted = {"observed" if one.kind == "observed" else one.key for one in columns if one.is_entry}
    used |= {f"review_prompt.{key}" for key in prompted}
    used |= {f"review_tab.{key}" for key in (*TABS, "record")} | {f"review_line.{key}" for key in TABS}
    elsewhere = ("review.", "review_status.")
    used |= {f"review_word.{word}" for word in (*CONFIRM_WORDS, *FILE_WORDS, EMPTY_WORD, "x")}
    assert {key for key in texts if not key.startswith(elsewhere)} == used
    row = ReviewRow({"possible": 5.0})
    layout = layout_of(review=[row], answers=[row], files=[row], observed=[row], marks=[row])
    rules = [cell.rule for tab in layout.tabs for cell in tab.cells if cell.rule is not None]
    assert [one for one in rules if len(one.title) > 32 or max(len(one.prompt), len(one.error)) > 255] == []


def test_rows_can_be_filtered_and_not_sorted() -> None:
    data = rendered(
        layout_of(answers=[ReviewRow({"copy_code": "K1"})]), Identity(), read_template("style.toml")
    )
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Answers"]
    # In the file a 1 forbids.
    assert (sheet.auto_filter.ref, sheet.protection.autoFilter, sheet.protection.sort) == (
        "A4:K5",
        False,
        True,
    )


def test_an_entry_to_be_corrected_is_chosen_from_a_list_of_cells() -> None:
    contents = ReviewContents("CLASS2", 1, 7, {}, ("Start B6: Age (age_years)", "Start B8: Mass (mass_kg)"))
    tab = review_layout(review_texts(), contents).tab("corrections")
    (rule,) = {cell.rule for cell in tab.cells if cell.name.endswith("_cell_name")}
    assert rule is not None and (rule.kind, rule.formula) == ("list", "=$H$5:$H$6")
    assert [cell.value for cell in tab.cells if cell.column == 7] == list(contents.entries)
    assert tab.widths[7] == 0
