"""Cells of the class book as values of their rows in the table of settings and columns, and tables found by
their headings. What cannot be used is said on the way, under its code and with its place."""

import difflib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date, timedelta
from typing import Any

from msgspec import Struct, field

from sheetgen.class_book.table import DIVISIONS, Entry, Table
from sheetgen.finding import Finding, Value, listed, quoted, term
from sheetgen.roster.headings import shipped_wording
from sheetgen.texts.findings import Catalogue
from sheetgen.texts.languages import Words, code_word, plain_word
from sheetgen.workbook.addresses import column_letters
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState

_HEADINGS_WITHIN = 30
_NUMBER = re.compile(r"[+\-\u2212]?[0-9]{1,6}(?:[.,][0-9]{1,6})?")
_DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_DAY_0 = date(1899, 12, 30)
"""Day 0 of the serial numbers that workbooks hold dates as; it holds from 1 March 1900 on."""
_DAYS = (61, 2_958_465)
"""1 March 1900 to 31 December 9999."""
_CALIPER_LABEL = re.compile(r'[^,;"\s]([^,;"]*[^,;"\s])?')
_MAKE_UP = re.compile(r"([1-9][0-9]?)\s*=\s*([1-9][0-9]?)")
_COPY_CODE = re.compile("[0-9A-Z]{8}")
_TICKS = ("✓", "✔", "☑", "√")


class Line(Struct, frozen=True):
    """One line of a table: row from 0, and the column and contents of each of its words. list_words : of the
    lists, in every language."""

    tab: str
    row: int
    columns: Mapping[str, int]
    cells: Mapping[str, CellState]
    list_words: Words = field(default_factory=dict)

    def place(self, word: str) -> str:
        """Return the address of a cell, such as `B9`."""
        return f"{column_letters(self.columns[word])}{self.row + 1}"

    def is_empty(self, word: str) -> bool:
        """Tell whether a cell holds nothing, or only blanks."""
        return _is_empty(self.cells[word])


class Reading(Struct, frozen=True):
    """A class book being read. texts : with the decimal sign. kinds : severity and remedy of every code.
    choices : what a setting or column of kind `choice` takes. problems : what has been found so far."""

    texts: Mapping[str, str]
    kinds: Catalogue
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)
    problems: list[Finding] = field(default_factory=list)

    def say(self, code: str, place: Line | str, column: str = "", case: str = "", /, **values: Value) -> None:
        """Add a finding. place : line, with a column, or title of a tab. case : which situation of the code;
        empty: the plain one. values : what its templates name."""
        tab, cell = (place, "") if isinstance(place, str) else (place.tab, place.place(column))
        self.problems.append(Finding(code, values, tab, cell, case, self.kinds[code].severity))

    @property
    def faulty(self) -> bool:
        """Whether something was found that keeps the class book from being used."""
        return any(problem.severity == "error" for problem in self.problems)


class Row(Struct, frozen=True):
    """A line of a table as the values of its columns. faulty : columns that could not be read. before : how
    many problems there were before it was read."""

    line: Line
    values: dict[str, Any]
    faulty: frozenset[str]
    before: int


def plain(text: str) -> str:
    """Return a heading without case, spaces and marks."""
    return re.sub(r"[\W_]+", "", text.casefold())


def listed_word(text: str, words: Sequence[str], in_languages: Words) -> str | None:
    """Return the code word that a teacher's text stands for, in any language of the lists; where yes is one,
    a tick and what a roster takes for yes or no count too."""
    code = code_word(text, words, in_languages)
    if code or "yes" not in words:
        return code
    known = shipped_wording().under_18.get("x" if text.strip() in _TICKS else plain_word(text[:40]))
    return known.stands_for if known and known.stands_for in words else None


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
) -> tuple[list[Line], list[str]]:
    """Return the lines of a table that hold something, wherever its headings stand, and headings not found.
    headings : word of each column to its heading. may_lack : words whose column need not be there; their
    cells are then empty. list_words : of the lists, in every language."""
    rows: dict[int, dict[int, CellState]] = defaultdict(dict)
    for (row, column), state in sorted(tab.cells.items(), key=lambda cell: cell[0]):
        if not _is_empty(state):
            rows[row][column] = state
    by_plain = {plain(heading): word for word, heading in headings.items()}
    found: dict[int, dict[str, int]] = {-1: {}}
    for row in (row for row in rows if row < _HEADINGS_WITHIN):
        words = {column: by_plain.get(plain(str(state.value))) for column, state in rows[row].items()}
        found[row] = {word: column for column, word in reversed(words.items()) if word}
    top = max(found, key=lambda row: len(found[row]))
    columns = found[top]
    missing = [heading for word, heading in headings.items() if word not in (*columns, *may_lack)]
    if missing:
        return [], missing
    lines: list[Line] = []
    for row, cells in rows.items():
        if row > top and not cells.keys().isdisjoint(columns.values()):
            of_line = {word: cells.get(columns.get(word, -1), CellState()) for word in headings}
            lines.append(Line(tab.title, row, columns, of_line, list_words or {}))
    return lines, []


def _is_empty(state: CellState) -> bool:
    return not state.is_error and (state.value is None or not str(state.value).strip())


def rows_of(
    reading: Reading, lines: Sequence[Line], table: Table, defaults: Mapping[str, Any]
) -> Iterator[Row]:
    """Yield the values of every line of a table. Where its first column holds ids, a line without one of its
    own is left out and said. defaults : column to what an empty cell stands for; without one a text is empty,
    and a number has to be there."""
    above: dict[str, str] = {}
    first = table.entries[0]
    for line in lines:
        before = len(reading.problems)
        values = {one.key: value_of(reading, line, one, defaults.get(one.key)) for one in table.entries}
        cells = {problem.cell for problem in reading.problems[before:]}
        faulty = frozenset(key for key in line.columns if line.place(key) in cells)
        if first.kind in ("id", "label"):
            text, place = values[first.key], line.place(first.key)
            if not text:
                if line.is_empty(first.key):
                    reading.say("class-book-id-empty", line, first.key)
                continue
            other = above.setdefault(id_key(text), place)
            if other != place:
                reading.say("class-book-id-twice", line, first.key, id=quoted(text), place=other)
                continue
        yield Row(line, values, faulty, before)


def value_of(reading: Reading, line: Line, entry: Entry, default: Any = None, column: str = "") -> Any:
    """Return what a cell holds by the row of its setting or column; the default where it is empty or faulty.
    default : of a number that may not be left empty, None. column : where it stands, if not under its key."""
    column = column or entry.key
    if entry.kind in ("word", "choice"):
        return _word_of(reading, line, column, entry.words or reading.choices[entry.key], default or "")
    if entry.kind == "flag":
        return _word_of(reading, line, column, entry.words, "yes" if default else "no") == "yes"
    if entry.numeric:
        return _number_of(reading, line, column, entry, default)
    if entry.kind == "day":
        return _day_of(reading, line, column)
    before = len(reading.problems)
    text = _text_of(reading, line, column, int(entry.most))
    if entry.kind == "label" and text and not _CALIPER_LABEL.fullmatch(text):
        reading.say("class-book-caliper-id", line, column, id=quoted(text))
    if entry.kind == "code":
        return _copy_code(reading, line, column, text) if text and len(reading.problems) == before else ""
    if entry.kind == "groups":
        groups = (tuple(filter(None, map(str.strip, group.split(",")))) for group in text.split(";"))
        return tuple(filter(None, groups))
    if entry.kind == "names":
        return tuple(map(str.strip, text.rstrip("; ").split(";"))) if text else ()
    if entry.kind == "make-ups":
        return _make_ups(reading, line, column, text)
    return text


def _text_of(reading: Reading, line: Line, column: str, most: int) -> str:
    """A cell as text: 7.0 is `7`, blanks around it are left out."""
    state = line.cells[column]
    value = state.value
    if state.is_error or state.is_date or isinstance(value, bool):
        kind = "error" if state.is_error else "date" if state.is_date else "logical"
        reading.say("class-book-text", line, column, kind, typed=quoted(value))
        return ""
    if isinstance(value, float | int):
        text = str(int(value)) if float(value).is_integer() else repr(value)
    else:
        text = unicodedata.normalize("NFC", (value or "").strip())
    # U+FFFE and U+FFFF have no place in XML, so that no workbook could show them.
    if any(unicodedata.category(sign) in ("Cc", "Zl", "Zp") or sign in "\ufffe\uffff" for sign in text):
        reading.say("class-book-text", line, column, "lines", typed=quoted(text[:60]))
    elif len(text) > most:
        reading.say("class-book-text", line, column, "long", count=len(text), most=most)
    return text


def _copy_code(reading: Reading, line: Line, column: str, text: str) -> str:
    """A copy code as it is printed, however the blanks, hyphens and capitals were typed."""
    signs = re.sub(r"[\s\-\u2010-\u2015]", "", text).upper()
    if _COPY_CODE.fullmatch(signs):
        return f"{signs[:4]}-{signs[4:]}"
    reading.say("class-book-spare", line, column, typed=quoted(text))
    return ""


def _make_ups(reading: Reading, line: Line, column: str, text: str) -> tuple[str, ...]:
    """Sessions for those who missed an earlier one, each as `3=1`."""
    found = []
    for piece in filter(None, map(str.strip, text.split(";"))):
        match = _MAKE_UP.fullmatch(piece)
        if match is None or int(match[1]) <= int(match[2]):
            reading.say("class-book-number", line, column, typed=quoted(piece[:40]), wanted="3=1")
        else:
            found.append(f"{match[1]}={match[2]}")
    return tuple(found)


def _word_of(reading: Reading, line: Line, column: str, words: Sequence[str], default: str) -> str:
    """A cell as one of some words, in any language of the lists; those of the book's own come first."""
    before = len(reading.problems)
    text = _text_of(reading, line, column, 255)
    if len(reading.problems) > before or not text:
        return default
    shown = [reading.texts.get(f"book_word.{word}", word) for word in words]
    own = {known.casefold(): word for known, word in zip((*shown, *words), (*words, *words), strict=True)}
    code = own.get(text.casefold()) or listed_word(text, words, line.list_words)
    if code is not None:
        return code
    by_folded = {word.casefold(): word for word in shown}
    wanted = listed(tuple(shown), "or")
    for near in difflib.get_close_matches(text.casefold(), by_folded, 1):
        wanted = term("did-you-mean", words=wanted, near=by_folded[near])
    reading.say("class-book-word", line, column, typed=quoted(text[:60]), words=wanted)
    return default


def _number_of(
    reading: Reading, line: Line, column: str, entry: Entry, default: float | None
) -> float | None:
    """A cell as a number, a decimal comma understood."""
    state = line.cells[column]
    value = state.value
    if line.is_empty(column) and (default is not None or entry.kind == "block"):
        return default
    if isinstance(value, str) and _NUMBER.fullmatch(value.strip()):
        value = float(value.strip().replace(",", ".").replace("\u2212", "-"))
    if isinstance(value, float | int) and not (isinstance(value, bool) or state.is_error or state.is_date):
        number = float(value)
        right = number in DIVISIONS if entry.kind == "step" else entry.least <= number <= entry.most
        if right and entry.kind != "whole":
            return number
        if right and number.is_integer():
            return int(number)
    there = term("nothing") if value is None else quoted(value)
    if state.is_date:
        there = term("date", number=str(value))
    key = "whole-number-between" if entry.kind == "whole" else "number-between"
    wanted = term(key, low=entry.least, high=entry.most)
    if entry.kind == "step":
        wanted = listed(tuple(f"{step:g}" for step in DIVISIONS), "or")
    reading.say("class-book-number", line, column, typed=there, wanted=wanted)
    return default


def _day_of(reading: Reading, line: Line, column: str) -> str:
    """A cell as a day, YYYY-MM-DD, whether typed so or a date of the workbook; empty where it is no day."""
    if line.is_empty(column):
        return ""
    state = line.cells[column]
    value = state.value
    if isinstance(value, float | int) and state.is_date and _DAYS[0] <= value < _DAYS[1] + 1:
        return (_DAY_0 + timedelta(days=int(value))).isoformat()
    if isinstance(value, str) and _DAY.fullmatch(value.strip()):
        with suppress(ValueError):
            return date.fromisoformat(value.strip()).isoformat()
    there = value[:60] if isinstance(value, str) else value
    reading.say("class-book-date", line, column, typed=quoted(there))
    return ""
