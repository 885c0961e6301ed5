"""Cells of the class book as text, word and number, and its tables found by their headings."""

import difflib
import re
import unicodedata
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from sheetgen.checking.list_words import Words, code_word
from sheetgen.layout.address import column_letters
from sheetgen.layout.class_book_words import RANGES
from sheetgen.model.finding import Finding, Shown, Values, listed, quoted, term
from sheetgen.model.snapshot import CellState, Snapshot, TabState

__all__ = [
    "Line",
    "day_of",
    "faulty_id",
    "id_key",
    "in_range",
    "lines_of",
    "number_of",
    "plain",
    "problem",
    "problem_of_tab",
    "tab_titled",
    "text_of",
    "word_of",
]

_HEADINGS_WITHIN = 30
_NUMBER = re.compile(r"[+\-\u2212]?[0-9]{1,6}(?:[.,][0-9]{1,6})?")
_DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_DAY_0 = date(1899, 12, 30)
"""Day 0 of the serial numbers that workbooks hold dates as; it holds from 1 March 1900 on."""
_DAYS = (61, 2_958_465)
"""1 March 1900 to 31 December 9999."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table: row from 0, and the column and contents of each of its words.

    list_words : of the lists, in every language. language : of the table.
    """

    tab: str
    row: int
    columns: Mapping[str, int]
    cells: Mapping[str, CellState]
    list_words: Words = field(default_factory=dict)
    language: str = ""

    def place(self, word: str) -> str:
        """Return the address of a cell, such as `B9`."""
        return f"{column_letters(self.columns[word])}{self.row + 1}"


def problem(
    code: str, line: Line, word: str, values: Values | None = None, case: str = "", severity: str = "error"
) -> Finding:
    """Return a finding about one cell of the class book."""
    return Finding(code, values or {}, line.tab, line.place(word), case, severity)


def problem_of_tab(code: str, title: str, values: Values, case: str = "") -> Finding:
    """Return a finding about a whole tab; all of them are errors."""
    return Finding(code, values, title, case=case, severity="error")


def plain(text: str) -> str:
    """Return a heading without case, spaces and marks.

    Examples
    --------
    >>> plain(" Student_ID ")
    'studentid'
    """
    return re.sub(r"[\W_]+", "", text.casefold())


def id_key(text: str) -> str:
    """Return what two ids are compared by: a spreadsheet program takes no notice of upper and lower case."""
    return text.casefold()


def tab_titled(snapshot: Snapshot, title: str) -> TabState | None:
    """Return a tab by its title, None where there is none."""
    return next((tab for tab in snapshot.tabs if plain(tab.title) == plain(title)), None)


def lines_of(
    tab: TabState,
    headings: Mapping[str, str],
    may_lack: Collection[str] = (),
    list_words: Words | None = None,
    language: str = "",
) -> tuple[list[Line], list[Finding]]:
    """Return the lines of a table that hold something, wherever its headings stand.

    Parameters
    ----------
    headings : word of each column to its heading.
    may_lack : words whose column need not be there; their cells are then empty.
    list_words : of the lists, in every language. language : of the table.
    """
    rows: dict[int, dict[int, CellState]] = {}
    for (row, column), state in tab.cells.items():
        if state.is_error or (state.value is not None and str(state.value).strip()):
            rows.setdefault(row, {})[column] = state
    by_plain = {plain(heading): word for word, heading in headings.items()}
    best_row, best = -1, dict[str, int]()
    for row in sorted(row for row in rows if row < _HEADINGS_WITHIN):
        found = {
            by_plain[plain(str(rows[row][column].value))]: column
            for column in sorted(rows[row], reverse=True)
            if plain(str(rows[row][column].value)) in by_plain
        }
        if len(found) > len(best):
            best_row, best = row, found
    missing = [heading for word, heading in headings.items() if word not in (*best, *may_lack)]
    if missing:
        values = {"headings": ", ".join(missing)}
        return [], [problem_of_tab("class-book-column-missing", tab.title, values)]
    empty = CellState()
    lines = [
        Line(
            tab.title,
            row,
            best,
            {word: rows[row].get(best[word], empty) if word in best else empty for word in headings},
            list_words or {},
            language,
        )
        for row in sorted(rows)
        if row > best_row and any(column in rows[row] for column in best.values())
    ]
    return lines, []


def text_of(line: Line, word: str, longest: int) -> tuple[str, list[Finding]]:
    """Return a cell as text: 7.0 is `7`, blanks around it are left out."""
    state = line.cells[word]
    value = state.value
    if state.is_error or state.is_date or isinstance(value, bool):
        case = "error" if state.is_error else "date" if state.is_date else "logical"
        return "", [problem("class-book-text", line, word, {"typed": quoted(value)}, case)]
    if isinstance(value, float | int):
        text = str(int(value)) if float(value).is_integer() else repr(value)
    else:
        text = unicodedata.normalize("NFC", (value or "").strip())
    # U+FFFE and U+FFFF have no place in XML, so that no workbook could show them.
    if any(unicodedata.category(sign) in ("Cc", "Zl", "Zp") or sign in "\ufffe\uffff" for sign in text):
        return text, [problem("class-book-text", line, word, {"typed": quoted(text[:60])}, "lines")]
    if len(text) > longest:
        values = {"count": len(text), "most": longest}
        return text, [problem("class-book-text", line, word, values, "long")]
    return text, []


def word_of(line: Line, word: str, words: Sequence[str], default: str) -> tuple[str, list[Finding]]:
    """Return a cell as one of some words, the default where it is empty."""
    text, problems = text_of(line, word, 255)
    if problems or not text:
        return default, problems
    shown = [line.list_words.get(line.language, {}).get(choice, choice) for choice in words]
    pairs = (*zip(shown, words, strict=True), *((code, code) for code in words))
    known = {choice.casefold(): code for choice, code in pairs}
    code = known.get(text.casefold()) or code_word(text, words, line.list_words)
    if code is not None:
        return code, []
    near = difflib.get_close_matches(text.casefold(), [choice.casefold() for choice in shown], 1)
    meant = next((choice for choice in shown if near and choice.casefold() == near[0]), "")
    wanted = listed(tuple(shown), "or")
    if meant:
        wanted = term("did-you-mean", words=wanted, near=meant)
    return default, [problem("class-book-word", line, word, {"typed": quoted(text[:60]), "words": wanted})]


def number_of(
    line: Line, word: str, right: Callable[[float], bool], wanted: Shown
) -> tuple[float | None, list[Finding]]:
    """Return a cell as a number, a decimal comma understood; None where it is empty or not right."""
    state = line.cells[word]
    value = state.value
    if isinstance(value, str) and _NUMBER.fullmatch(value.strip()):
        value = float(value.strip().replace(",", ".").replace("\u2212", "-"))
    usable = isinstance(value, float | int) and not isinstance(value, bool | str)
    if usable and not state.is_error and not state.is_date and right(float(value or 0)):
        return float(value or 0), []
    there = quoted(value)
    if value is None:
        there = term("nothing")
    elif state.is_date:
        there = term("date", number=str(value))
    return None, [problem("class-book-number", line, word, {"typed": there, "wanted": wanted})]


def day_of(line: Line, word: str) -> tuple[str, list[Finding]]:
    """Return a cell as a day, YYYY-MM-DD, whether typed so or a date of the workbook; empty where it is empty
    or no day."""
    state = line.cells[word]
    value = state.value
    text = value.strip() if isinstance(value, str) else ""
    if not state.is_error:
        if not text and (value is None or isinstance(value, str)):
            return "", []
        if isinstance(value, float | int) and state.is_date and _DAYS[0] <= value < _DAYS[1] + 1:
            return (_DAY_0 + timedelta(days=int(value))).isoformat(), []
        if _DAY.fullmatch(text) and _is_day(text):
            return text, []
    there = value[:60] if isinstance(value, str) else value
    return "", [problem("class-book-date", line, word, {"typed": quoted(there)})]


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def in_range(line: Line, word: str, limits: str) -> tuple[float | None, list[Finding]]:
    """Return a cell as a number within one of RANGES; None where it is empty or not right."""
    low, high = RANGES[limits]
    wanted = term("number-between", low=low, high=high)
    return number_of(line, word, lambda number: low <= number <= high, wanted)


def faulty_id(line: Line, word: str, text: str, seen: dict[str, str], problems: list[Finding]) -> bool:
    """Tell whether an id is empty or stands above already, and add that to the problems.

    seen : the ids above and their places; this one is added.
    """
    if not text:
        if not str(line.cells[word].value or "").strip():
            problems.append(problem("class-book-id-empty", line, word))
        return True
    above = seen.setdefault(id_key(text), line.place(word))
    if above != line.place(word):
        problems.append(problem("class-book-id-twice", line, word, {"id": quoted(text), "place": above}))
        return True
    return False
