"""The Layout of the review workbook: what is known in fixed cells, what the teacher decides beside it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.layout.cells import heading_row, label, number_rule, text_rule, words_rule
from sheetgen.layout.text_size import height_for, lines_needed
from sheetgen.model.layout import Cell, Layout, Rule, Tab, Value

__all__ = [
    "COLUMNS",
    "CONFIRM_WORDS",
    "CORRECTION_ROWS",
    "EMPTY_WORD",
    "ENTRY_COLUMNS",
    "FILE_WORDS",
    "FIRST_ROW",
    "MOST_ROWS",
    "RECORD_COLUMNS",
    "RECORD_HEADING_ROW",
    "ReviewContents",
    "ReviewRow",
    "record_heading",
    "review_layout",
]

HEADING_ROW = 3
FIRST_ROW = 4
RECORD_HEADING_ROW = 4
CORRECTION_ROWS = 100
MOST_ROWS = 4_000
"""A tab; so all tabs stay below the rows and cells that are read back."""

CONFIRM_WORDS = ("yes",)
FILE_WORDS = ("yes", "no")
EMPTY_WORD = "empty"
"""As the value of a correction: the entry is left empty."""

_HIGHEST_MARK = 1_000
_LONGEST = {"comment": 2_000, "copy_code": 20, "cell_name": 60, "value": 200, "reason": 500}

COLUMNS = {
    "review": (
        "student_id", "name", "copy_code", "status", "score", "maximum", "reasons", "mark", "comment",
        "check", "confirm",
    ),
    "answers": (
        "student_id", "copy_code", "question", "cell_name", "typed", "possible", "points", "check", "confirm",
    ),
    "corrections": ("copy_code", "cell_name", "value", "reason", "check", "confirm"),
    "files": ("file", "copy_code", "file_id", "status", "findings", "accept", "check", "confirm"),
}  # fmt: skip
"""Columns of each tab."""

ENTRY_COLUMNS = {
    "review": ("mark", "comment", "confirm"),
    "answers": ("points", "confirm"),
    "corrections": ("copy_code", "cell_name", "value", "reason", "confirm"),
    "files": ("accept", "confirm"),
}
RECORD_COLUMNS = {
    "review": ("copy_code", "ground", "mark", "comment", "file_ground"),
    "answers": ("copy_code", "cell_name", "ground", "points"),
    "corrections": ("copy_code", "cell_name", "ground", "value", "reason"),
    "files": ("file_id", "ground", "accept"),
}
"""What the hidden tab keeps: what every decision was drawn as, and the ground that was shown with it."""

_WIDTHS: Mapping[str, float] = {
    "student_id": 14, "name": 24, "copy_code": 14, "status": 20, "score": 10, "maximum": 10, "reasons": 100,
    "mark": 12, "comment": 44, "check": 30, "confirm": 12, "question": 28, "cell_name": 24, "typed": 60,
    "possible": 10, "points": 12, "value": 18, "reason": 40, "file": 40, "file_id": 20, "findings": 60,
    "accept": 12,
}  # fmt: skip

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """values : column to what stands there, decisions included. ground : digest of what is shown.

    file_ground : digest of the file alone.
    """

    values: Mapping[str, Value]
    ground: str = ""
    file_ground: str = ""


@dataclass(frozen=True, slots=True)
class ReviewContents:
    """Everything that is drawn: rows by tab key. drawn : the last sequence that is in it."""

    class_code: str
    session: int
    drawn: int
    rows: Mapping[str, Sequence[ReviewRow]]


def record_heading(key: str, column: str) -> str:
    """Return the heading of a column of the hidden tab."""
    return f"{key}.{column}"


def review_layout(texts: Texts, contents: ReviewContents, language: str = "en") -> Layout:
    """Return the Layout of a review workbook; rows beyond MOST_ROWS are left out.

    Parameters
    ----------
    texts : those of a language, and those of its review workbook with them.
    """
    tabs = [_tab(texts, key, contents.rows.get(key, ())[:MOST_ROWS]) for key in COLUMNS]
    return Layout(
        title=texts["review.title"],
        subject=texts["review.subject"],
        language=language,
        tabs=(*tabs, _record(texts, contents)),
        page_text=texts["sheet.page"],
    )


def _tab(texts: Texts, key: str, rows: Sequence[ReviewRow]) -> Tab:
    columns = COLUMNS[key]
    cells = [
        label(0, 0, texts[f"review_tab.{key}"], "title"),
        label(1, 0, texts[f"review_line.{key}"], "step"),
        *heading_row(HEADING_ROW, [texts[f"review_column.{column}"] for column in columns]),
    ]
    rules = {column: _rule(texts, column) for column in ENTRY_COLUMNS[key]}
    spare = max(CORRECTION_ROWS - len(rows), CORRECTION_ROWS // 5) if key == "corrections" else 0
    for index, each in enumerate((*rows, *[ReviewRow({})] * spare)):
        row = FIRST_ROW + index
        for at, column in enumerate(columns):
            value = _shown(texts, column, each.values.get(column))
            if column in rules:
                name = f"{key}_{index + 1}_{column}"
                rule = rules[column]
                if column == "points" and isinstance(each.values.get("possible"), float | int):
                    rule = _points_rule(texts, float(each.values["possible"] or 0))
                # No defined name for each of thousands.
                cells.append(
                    Cell(row, at, "entry", value, name=name, format=_entry_format(column), rule=rule)
                )
            else:
                cells.append(label(row, at, value, _label_format(column)))
    first = next((at for at, column in enumerate(columns) if column in rules), 0)
    heading = max(
        lines_needed(texts[f"review_column.{column}"], _WIDTHS[column], bold=True) for column in columns
    )
    heights = ((HEADING_ROW, height_for(heading)), *_heights(columns, rows))
    return Tab(
        key, texts[f"review_tab.{key}"], tuple(cells), tuple(_WIDTHS[column] for column in columns),
        heights, freeze=(FIRST_ROW, 0), landscape=True, first_entry=(FIRST_ROW, first),
    )  # fmt: skip


def _shown(texts: Texts, column: str, value: Value) -> Value:
    """A code word as the language shows it; the hidden tab holds the code word itself."""
    words = {"accept": FILE_WORDS, "value": (EMPTY_WORD,)}.get(column, ())
    return texts[f"review_word.{value}"] if value in words else value


def _heights(columns: Sequence[str], rows: Sequence[ReviewRow]) -> tuple[tuple[int, float], ...]:
    """Rows as high as their longest text needs in its column."""

    def lines(column: str, value: Value) -> int:
        return sum(lines_needed(part, _WIDTHS[column]) for part in str(value or "").split("\n"))

    most = [max(lines(column, each.values.get(column)) for column in columns) for each in rows]
    return tuple((FIRST_ROW + index, height_for(count)) for index, count in enumerate(most))


def _record(texts: Texts, contents: ReviewContents) -> Tab:
    cells = [
        label(0, 0, "class_code"), label(0, 1, contents.class_code),
        label(1, 0, "session"), label(1, 1, contents.session),
        label(2, 0, "drawn"), label(2, 1, contents.drawn),
    ]  # fmt: skip
    at = 0
    for key, columns in RECORD_COLUMNS.items():
        for column in columns:
            cells.append(label(RECORD_HEADING_ROW, at, record_heading(key, column)))
            for index, row in enumerate(contents.rows.get(key, ())[:MOST_ROWS]):
                own = {"ground": row.ground, "file_ground": row.file_ground}
                value = own[column] if column in own else row.values.get(column)
                if value not in (None, ""):
                    cells.append(label(RECORD_HEADING_ROW + 1 + index, at, value))
            at += 1
    ordered = sorted(cells, key=lambda cell: (cell.row, cell.column))
    return Tab("record", texts["review_tab.record"], tuple(ordered), hidden=True)


def _rule(texts: Texts, column: str) -> Rule:
    title, prompt = texts[f"review_column.{column}"], texts[f"review_prompt.{column}"]
    if column == "mark":
        return number_rule(texts, "decimal", 0, _HIGHEST_MARK, title, prompt)
    if column == "points":
        return _points_rule(texts, _HIGHEST_MARK)
    if column == "accept":
        return words_rule(texts, FILE_WORDS, title, prompt, "review_word")
    if column == "confirm":
        return words_rule(texts, CONFIRM_WORDS, title, prompt, "review_word")
    return text_rule(texts, _LONGEST[column], title, prompt)


def _points_rule(texts: Texts, possible: float) -> Rule:
    title, prompt = texts["review_column.points"], texts["review_prompt.points"]
    return number_rule(texts, "decimal", 0, possible, title, prompt)


def _entry_format(column: str) -> str:
    if column in ("mark", "points"):
        return "entry_number"
    return "entry_long" if column in ("comment", "reason") else "entry_text"


def _label_format(column: str) -> str:
    wrapped = ("reasons", "typed", "findings", "check", "file", "question")
    return (
        "wrap" if column in wrapped else "result_2" if column in ("score", "maximum", "possible") else "text"
    )
