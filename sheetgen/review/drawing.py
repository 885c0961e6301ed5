"""The Layout of the review workbook: what is known in fixed cells, what the teacher decides beside it."""

from collections.abc import Mapping, Sequence
from functools import partial

from msgspec import Struct

from sheetgen.class_folder.decisions import CONFIRM_WORDS, EMPTY_WORD, FILE_WORDS, OBSERVED_STEPS
from sheetgen.texts.languages import Texts
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.cells import (
    BAR_HEIGHTS,
    heading_row,
    height_for,
    label,
    lines_needed,
    number_rule,
    text_rule,
    title_bar,
    words_rule,
)
from sheetgen.workbook.layout import Cell, Layout, Rule, Tab, Value

HEADING_ROW = 3
FIRST_ROW = 4
RECORD_HEADING_ROW = 4
CORRECTION_ROWS = 100
MOST_ROWS, MOST_STUDENTS = 3_300, 600
"""Rows a tab, and on the tab Observed; so all tabs stay below the rows and cells that are read back."""

_HIGHEST_MARK = 1_000


class Column(Struct, frozen=True):
    """A column of a tab; its heading stands under `review_column.KEY`, its prompt under `review_prompt.KEY`.
    width : in characters. format : a format word of the style; one that begins with `entry` is typed into.
    longest : of a text that may be typed. words : code words, shown in the language; the list of
        an entry that takes no other text.
    kind : of the decision that is typed here, empty where it belongs to that of another column."""

    key: str
    width: float
    format: str = "text"
    longest: int = 0
    words: tuple[str, ...] = ()
    kind: str = ""

    @property
    def is_entry(self) -> bool:
        return self.format.startswith("entry")


_STUDENT, _COPY = Column("student_id", 14), Column("copy_code", 14)
_CHECK = Column("check", 30, "wrap")
_CONFIRM = Column("confirm", 12, "entry_text", words=CONFIRM_WORDS)

TABS: Mapping[str, tuple[Column, ...]] = {
    "review": (
        _STUDENT, Column("name", 24), _COPY, Column("status", 20), Column("score", 10, "result_2"),
        Column("maximum", 10, "result_2"), Column("reasons", 100, "wrap"),
        Column("mark", 12, "entry_number", kind="mark"),
        Column("comment", 44, "entry_long", 2_000, kind="comment"), _CHECK, _CONFIRM,
    ),
    "answers": (
        _STUDENT, _COPY, Column("question", 36, "wrap"), Column("cell_name", 16), Column("typed", 50, "wrap"),
        Column("compare", 50, "wrap"), Column("possible", 10, "result_2"),
        Column("points", 12, "entry_number", kind="answer-mark"),
        Column("comment", 36, "entry_long", 2_000, kind="comment"), _CHECK, _CONFIRM,
    ),
    "corrections": (
        Column("copy_code", 14, "entry_text", 20), Column("cell_name", 44, "entry_text", 120),
        Column("typed", 18), Column("value", 18, "entry_text", 200, (EMPTY_WORD,), kind="correction"),
        Column("reason", 40, "entry_long", 500), _CHECK, _CONFIRM,
    ),
    "files": (
        Column("file", 40, "wrap"), _COPY, Column("file_id", 20), Column("status", 20),
        Column("findings", 60, "wrap"),
        Column("accept", 12, "entry_text", words=FILE_WORDS, kind="which-file"), _CHECK, _CONFIRM,
    ),
    "observed": (
        _STUDENT, Column("name", 24), Column("seen", 30, "wrap"),
        *(Column(step, 13, "entry_text", words=CONFIRM_WORDS, kind="observed") for step in OBSERVED_STEPS),
        Column("signed_off", 14, "entry_text", 10, kind="signed-off"), _CHECK, _CONFIRM,
    ),
    "marks": (
        _STUDENT, Column("name", 24), _COPY, Column("score", 10, "result_2"),
        Column("maximum", 10, "result_2"), Column("scored_on", 14),
        Column("withdrawn", 12, "entry_text", words=CONFIRM_WORDS, kind="withdrawn"), _CHECK, _CONFIRM,
    ),
}  # fmt: skip
"""The columns of each tab."""

RECORD_COLUMNS = {
    "review": ("copy_code", "ground", "mark", "comment", "file_ground"),
    "answers": ("copy_code", "cell_name", "ground", "points", "comment"),
    "corrections": ("copy_code", "cell_name", "ground", "value", "reason"),
    "files": ("file_id", "ground", "accept"),
    "observed": ("student_id", "ground", *OBSERVED_STEPS, "signed_off"),
    "marks": ("copy_code", "ground", "withdrawn"),
}
"""What the hidden tab keeps: what every decision was drawn as, and the ground that was shown with it."""


class ReviewRow(Struct, frozen=True):
    """values : column to what stands there, decisions included. ground, file_ground : of it, of the file."""

    values: Mapping[str, Value]
    ground: str = ""
    file_ground: str = ""


class ReviewContents(Struct, frozen=True):
    """Everything that is drawn: rows by tab key. drawn : the last sequence that is in it. entries : what a
    correction may be about, as the list shows it: place, words, name."""

    class_code: str
    session: int
    drawn: int
    rows: Mapping[str, Sequence[ReviewRow]]
    entries: Sequence[str] = ()


def record_heading(key: str, column: str) -> str:
    """Return the heading of a column of the hidden tab."""
    return f"{key}.{column}"


def most_rows(key: str) -> int:
    """Return how many rows a tab may have."""
    return MOST_STUDENTS if key == "observed" else MOST_ROWS


def review_layout(texts: Texts, contents: ReviewContents, language: str = "en") -> Layout:
    """Return the Layout of a review workbook; rows beyond `most_rows` are left out. texts : those of a
    language, and those of its review workbook with them."""
    tabs = [_tab(texts, key, contents.rows.get(key, ())[: most_rows(key)], contents.entries) for key in TABS]
    title, subject = texts["review.title"], texts["review.subject"]
    every = (*tabs, _record(texts, contents))
    return Layout(title, subject, language, every, page_text=texts["sheet.page"])


def _tab(texts: Texts, key: str, rows: Sequence[ReviewRow], entries: Sequence[str]) -> Tab:
    columns = TABS[key]
    headings = [texts[f"review_column.{column.key}"] for column in columns]
    cells = [*title_bar(texts[f"review_tab.{key}"], texts[f"review_line.{key}"], len(columns))]
    cells += heading_row(HEADING_ROW, headings)
    free = key == "corrections"
    spare = max(CORRECTION_ROWS - len(rows), CORRECTION_ROWS // 5) if free else 0
    for index, row in enumerate((*rows, *[ReviewRow({})] * spare)):
        for number, column in enumerate(columns):
            value = row.values.get(column.key)
            if value in column.words:
                value = texts[f"review_word.{value}"]
            cell = label(FIRST_ROW + index, number, value, column.format)
            if column.is_entry:
                # No defined name for each of thousands.
                name = f"{key}_{index + 1}_{column.key}"
                limit = row.values.get("possible")
                rule = _rule(texts, column, limit if isinstance(limit, float | int) else _HIGHEST_MARK)
                if free and column.key == "cell_name" and entries:
                    # Too long for a rule: it stands in a column that is not shown.
                    last = absolute(FIRST_ROW + len(entries) - 1, len(columns))
                    source = f"={absolute(FIRST_ROW, len(columns))}:{last}"
                    rule = Rule("list", rule.title, rule.prompt, texts["review.no_entry"], formula=source)
                cell = Cell(cell.row, number, "entry", value, name, "", column.format, rule)
            cells.append(cell)
    shown = tuple(column.width for column in columns)
    if free:
        cells += [label(FIRST_ROW + index, len(columns), text) for index, text in enumerate(entries)]
        cells.sort(key=lambda cell: (cell.row, cell.column))
    widths = (*shown, 0) if free else shown
    tallest = max(map(partial(lines_needed, bold=True), headings, shown))
    heights = [*BAR_HEIGHTS, (HEADING_ROW, height_for(tallest))]
    heights += [(FIRST_ROW + index, _height(columns, row)) for index, row in enumerate(rows)]
    first = next(number for number, column in enumerate(columns) if column.is_entry)
    return Tab(
        key, texts[f"review_tab.{key}"], tuple(cells), widths, tuple(heights),
        freeze=(FIRST_ROW, 0), landscape=True, first_entry=(FIRST_ROW, first),
        repeat=HEADING_ROW, filtered=HEADING_ROW,
    )  # fmt: skip


def _height(columns: Sequence[Column], row: ReviewRow) -> float:
    """As high as the longest text of a row needs in its column [points]."""
    texts = [(column.width, str(row.values.get(column.key) or "")) for column in columns]
    lines = max(sum(lines_needed(part, width) for part in text.split("\n")) for width, text in texts)
    return height_for(lines)


def _record(texts: Texts, contents: ReviewContents) -> Tab:
    """What was drawn; code words as they are, whatever the language."""
    cells = []
    for number, word in enumerate(("class_code", "session", "drawn")):
        cells += [label(number, 0, word), label(number, 1, getattr(contents, word))]
    kept = [(key, column) for key, columns in RECORD_COLUMNS.items() for column in columns]
    for number, (key, column) in enumerate(kept):
        cells.append(label(RECORD_HEADING_ROW, number, record_heading(key, column)))
        for at, row in enumerate(contents.rows.get(key, ())[: most_rows(key)], start=RECORD_HEADING_ROW + 1):
            value = getattr(row, column) if column.endswith("ground") else row.values.get(column)
            if value not in (None, ""):
                cells.append(label(at, number, value))
    ordered = sorted(cells, key=lambda cell: (cell.row, cell.column))
    return Tab("record", texts["review_tab.record"], tuple(ordered), hidden=True)


def _rule(texts: Texts, column: Column, highest: float) -> Rule:
    about = "observed" if column.kind == "observed" else column.key
    title, prompt = texts[f"review_column.{column.key}"], texts[f"review_prompt.{about}"]
    if column.format == "entry_number":
        return number_rule(texts, "decimal", 0, highest, title, prompt)
    if column.longest:
        return text_rule(texts, column.longest, title, prompt)
    # A tick is typed faster than a word, a column a step and a row a student.
    words = (*column.words, "x") if about == "observed" else column.words
    return words_rule(texts, words, title, prompt, "review_word")
