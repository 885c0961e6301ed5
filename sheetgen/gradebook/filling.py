"""Marks put into a gradebook export: which row names the columns, which one tells students apart, which one
takes the marks. That column changes, every other byte stays."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from sheetgen.errors import NobodyMatched, UsageError
from sheetgen.marking.marks import MarkRow
from sheetgen.texts.csv_cells import (
    DELIMITERS,
    CsvCell,
    CsvFault,
    CsvRow,
    announced_delimiter,
    cut,
    decoded,
    encoded,
    unwrapped,
    with_value,
)
from sheetgen.texts.languages import folded

_ASSIGNMENT = "skinfold"
_PLAIN_NUMBER = re.compile(r"[-+]?\d+(?:([.,])\d+)?")
_EMPTY = ("", "-")
"""What an export writes where there is no score yet."""
_AGAIN = "Export the gradebook again."


class Wanted(Struct, frozen=True):
    """What the teacher asks for. Columns are named by heading, or by place as `#3`; empty: found. title : of
    the class; a column that carries it is the score column where none is named. partial : scores that still
    wait for a person are put in as well. scale : scores are put in out of what the column itself is out of.
    """

    title: str = ""
    key: str = ""
    column: str = ""
    partial: bool = False
    scale: bool = False


class KeyColumn(Struct, frozen=True):
    """A column that tells students apart: `students` by row number, as far as they are known."""

    column: int
    kind: str
    students: Mapping[int, str]

    @property
    def found(self) -> int:
        """How many students it holds."""
        return len(set(self.students.values()))


class GradebookTable(Struct, frozen=True):
    """One way to cut the file: its delimiter, its rows, and the keys by how many students they find."""

    delimiter: str
    rows: tuple[CsvRow, ...]
    keys: tuple[KeyColumn, ...]


class Change(Struct, frozen=True):
    """One cell: what stands in it and what is put there. old : empty where the cell is."""

    line: int
    student_id: str
    old: str
    new: str


class NotWritten(Struct, frozen=True):
    """A student of both tables whose cell is left as it is. status : of the mark, or what stands in it."""

    line: int
    student_id: str
    status: str


class MarkedGradebook(Struct, frozen=True):
    """What became of a gradebook. data : the whole new file. key_kind : `student_id` or `email`.
    changes : cells that get another content. same : students whose cell says so already. left : cells left as
    they are, by the status of the mark. not_in_marks : (line, key) of rows that no mark belongs to.
    not_in_file : students without a row. notes : what the teacher should know before writing."""

    data: bytes
    key_column: str
    key_kind: str
    score_column: str
    changes: tuple[Change, ...]
    same: tuple[str, ...]
    left: tuple[NotWritten, ...]
    not_in_marks: tuple[tuple[int, str], ...]
    not_in_file: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def matched(self) -> int:
        """How many rows of the file belong to a mark."""
        return len(self.changes) + len(self.same) + len(self.left)


def with_marks(
    data: bytes, place: object, marks: Sequence[MarkRow], emails: Mapping[str, str], wanted: Wanted
) -> MarkedGradebook:
    """Return a gradebook export with the marks in it.

    Any delimiter of comma, semicolon, tab and bar; UTF-8, UTF-16 or Windows-1252; rows whose key is not known
    are left as they are. Marks that are missing or exempt leave the cell as it is, never 0; so does a word in
    it, such as EX. place : the file, for messages. emails : address to student_id, as the roster has them.
    UsageError where the file cannot be cut into cells, a column cannot be told, or a student stands in it
    twice."""
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        remedy = "Export the gradebook as CSV, and name that file."
        raise UsageError(place, "a workbook", "a CSV file", remedy)
    by_id = {plain_key(row.student_id): row for row in marks}
    known = {
        "student_id": {plain: row.student_id for plain, row in by_id.items()},
        "email": {plain_key(address): student for address, student in emails.items()},
    }
    try:
        source = decoded(data)
        table = table_of(source.text, known)
    except CsvFault as fault:
        remedy = "Export the gradebook again, and do not mend it by hand."
        raise UsageError(f"{place}:{fault.line}", fault.found, "cells in plain quotes", remedy) from fault
    header = header_row(place, table, wanted)
    headings, below = table.rows[header].cells, table.rows[header + 1 :]
    key = key_column(place, table, header, wanted.key)
    score = score_column(place, headings, wanted, key.column)
    _refuse_doubtful_rows(place, table.rows, key, score, len(headings))
    mark_of = {row: by_id[plain_key(who)] for row, who in key.students.items() if plain_key(who) in by_id}
    own = _decimal_marks(value for row in below for value in row.values[score : score + 1])
    title = headings[score].value.strip()
    if len(own) == 2 and any(mark.score is not None and mark.score % 1 for mark in mark_of.values()):
        remedy = "Make them alike in the gradebook, and export again."
        raise UsageError(place, f"decimal points and decimal commas in {title!r}", "one of the two", remedy)
    every = _decimal_marks(value for row in below for value in row.values)
    decimal_mark = _decimal_mark(own, every, table.delimiter)
    out_of = _own_points(table.rows[header + 1 : min(mark_of, default=header)], score)
    if wanted.scale and not out_of:
        expected = "a row of points above the students"
        raise UsageError(place, f"no points possible for {title!r}", expected, "Leave --scale out.")
    written = ("final", "to be marked") if wanted.partial else ("final",)
    changes, same, left, cells = [], [], [], []
    for number, mark in mark_of.items():
        row = table.rows[number]
        old = row.cells[score].value.strip()
        if mark.score is None or mark.status not in written:
            left.append(NotWritten(row.line, mark.student_id, mark.status))
            continue
        if old not in _EMPTY and isinstance(_as_number(old), str):
            left.append(NotWritten(row.line, mark.student_id, f"it holds {old!r}"))
            continue
        stretched = out_of / mark.max_score if wanted.scale and out_of and mark.max_score else 1.0
        # Ten digits: what a sum of points adds in binary dust is not a mark.
        new = f"{round(mark.score * stretched, 2) if wanted.scale else mark.score:.10g}"
        new = new.replace(".", decimal_mark)
        if _as_number(old) == _as_number(new):
            same.append(mark.student_id)
        else:
            changes.append(Change(row.line, mark.student_id, old, new))
            cells.append((row.cells[score], new))
    found_in_file = {mark.student_id for mark in mark_of.values()}
    not_in_marks = tuple(
        (row.line, "".join(row.values[key.column : key.column + 1]).strip())
        for number, row in enumerate(below, header + 1)
        if number not in mark_of and not row.blank
    )
    return MarkedGradebook(
        encoded(with_value(source.text, cells, table.delimiter), source),
        headings[key.column].value.strip(), key.kind, title, tuple(changes), tuple(same), tuple(left),
        not_in_marks, tuple(mark.student_id for mark in marks if mark.student_id not in found_in_file),
        (*_notes(out_of, marks, wanted.scale), *_loose_note(table, by_id)),
    )  # fmt: skip


def plain_key(key: str) -> str:
    """Return a key without what exports put around it, and without case.

    >>> plain_key(' ="S01" ')
    's01'
    """
    return folded(unwrapped(key.strip()).removeprefix("'"))


def table_of(text: str, known: Mapping[str, Mapping[str, str]]) -> GradebookTable:
    """Return the cut by which a column finds most students; between equals the one with most columns.
    known : for each kind of key (`student_id`, `email`) its plain form to the student_id. CsvFault where
    quotes are out of place, and no other delimiter finds a student."""
    ids = [(plain.lstrip("0"), student) for plain, student in known["student_id"].items()]
    times = Counter(bare for bare, _ in ids)
    loose = {bare: student for bare, student in ids if bare and times[bare] == 1}
    table = _cut_by(text, known)
    # A program that takes ids for numbers drops their zeros.
    return table if table.keys else _cut_by(text, {**known, "student_id": loose}, zeros=False)


def _cut_by(text: str, known: Mapping[str, Mapping[str, str]], zeros: bool = True) -> GradebookTable:
    """The cut that finds most; zeros : those that ids begin with count."""
    announced = announced_delimiter(text)
    tables, faults = [], []
    for delimiter in announced or DELIMITERS:
        try:
            rows = tuple(cut(text, delimiter))[1 if announced else 0 :]
        except CsvFault as fault:
            faults.append(fault)
            continue
        keys = _keys(rows, known, zeros)
        widest = max((len(row.cells) for row in rows), default=0)
        tables.append((len(keys[0].students) if keys else 0, widest, GradebookTable(delimiter, rows, keys)))
    found, _, best = max(tables, key=lambda each: each[:2], default=(0, 0, None))
    if best is None or (faults and not found):
        raise faults[0]
    return best


def _keys(
    rows: Sequence[CsvRow], known: Mapping[str, Mapping[str, str]], zeros: bool
) -> tuple[KeyColumn, ...]:
    """Every column that finds someone: the one that finds most first, then ids, then from the left."""
    found: dict[tuple[int, str], dict[int, str]] = defaultdict(dict)
    for number, row in enumerate(rows):
        for column, cell in enumerate(row.cells):
            value = plain_key(cell.value) if zeros else plain_key(cell.value).lstrip("0")
            for kind, students in known.items():
                if value in students:
                    found[column, kind][number] = students[value]
    keys = (KeyColumn(column, kind, students) for (column, kind), students in found.items())
    return tuple(sorted(keys, key=lambda key: (-key.found, key.kind == "email", key.column)))


def header_row(place: object, table: GradebookTable, wanted: Wanted) -> int:
    """Return the number of the row of headings: with the columns named, else the fullest above the students.
    UsageError where there is no row above the students."""
    first = min((min(key.students) for key in table.keys[:1]), default=len(table.rows))
    above = [number for number in range(first) if not table.rows[number].blank]
    if not above:
        found = "no row of headings above the students" if table.rows else "an empty file"
        raise UsageError(place, found, "a first row that names the columns", _AGAIN)
    names = {folded(name) for name in (wanted.key, wanted.column) if name and not _place_of(name)}
    named = (at for at in above if names and names <= {folded(value) for value in table.rows[at].values})
    return next(named, max(above, key=lambda at: sum(bool(value.strip()) for value in table.rows[at].values)))


def _place_of(name: str) -> int:
    """3 for `#3`; 0 for a heading."""
    return int(name[1:]) if re.fullmatch(r"#[1-9]\d{0,3}", name) else 0


def _named(place: object, headings: Sequence[CsvCell], name: str, option: str) -> int:
    number = _place_of(name)
    exact = [at for at, cell in enumerate(headings) if cell.value.strip() == name.strip()]
    alike = [at for at, cell in enumerate(headings) if folded(cell.value) == folded(name)]
    fits = [at for at in [number - 1] if at < len(headings)] if number else exact or alike
    if len(fits) == 1:
        return fits[0]
    how_many = f"which {len(fits)} columns have" if fits else "which no column has"
    remedy = "Name it by its place." if fits else "Name one of these."
    raise UsageError(place, f"{option} {name!r}, {how_many}", f"one of {_shown(headings)}", remedy)


def _shown(headings: Sequence[CsvCell], columns: Iterable[int] | None = None) -> str:
    """Columns by place and heading, all of them where none are named."""
    names = defaultdict(str, {at: f" {cell.value.strip()!r}" for at, cell in enumerate(headings)})
    return ", ".join(f"#{at + 1}{names[at]}" for at in (list(names) if columns is None else columns))


def key_column(place: object, table: GradebookTable, header: int, name: str) -> KeyColumn:
    """Return the key column: the one named, or the one that finds most students. UsageError where no column
    finds any, two differ, or the name fits none or two; the columns are listed."""
    headings = table.rows[header].cells
    if name:
        column = _named(place, headings, name, "--key")
        return next((key for key in table.keys if key.column == column), KeyColumn(column, "student_id", {}))
    if not table.keys:
        expected = f"one of {_shown(headings)} to hold the student_ids or emails of the class"
        remedy = "Export the gradebook with ids or emails, or bring the roster's into line with it."
        found = "no column with students of this class; likely it has names only, or is of another class"
        raise NobodyMatched(place, found, expected, remedy)
    best = table.keys[0]
    if best.column >= len(headings):
        found = f"student ids in column #{best.column + 1}, which has no heading"
        raise UsageError(f"{place}:{table.rows[header].line}", found, "a heading", _AGAIN)
    # Half as many students or more, and others than this one names: a partner's, say.
    rivals = [
        key.column
        for key in table.keys[1:]
        if 2 * key.found >= best.found
        and any(best.students.get(row, student) != student for row, student in key.students.items())
    ]
    if rivals:
        names = _shown(headings, sorted({best.column, *rivals}))
        found = f"columns that hold students of the class, and not the same in every row: {names}"
        raise UsageError(place, found, "one", "Say with --key which one tells whose row it is.")
    return best


def score_column(place: object, headings: Sequence[CsvCell], wanted: Wanted, key: int) -> int:
    """Return the place of the score column: the one named, or the only one that fits title or `skinfold`.
    key : place of the key column, which cannot be it. UsageError: none or several; the columns are listed."""
    if wanted.column:
        column = _named(place, headings, wanted.column, "--column")
        if column == key:
            found = f"the column {wanted.column!r} for both key and score"
            raise UsageError(place, found, "two columns", "Name another with --column.")
        return column
    for words in filter(None, (folded(wanted.title), _ASSIGNMENT)):
        whole = re.compile(rf"(?<!\w){re.escape(words)}(?!\w)")
        fits = [at for at, cell in enumerate(headings) if at != key and whole.search(folded(cell.value))]
        if len(fits) == 1:
            return fits[0]
        if fits:
            found = f"{len(fits)} columns that could take the marks: {_shown(headings, fits)}"
            raise UsageError(place, found, "one", "Name it with --column.")
    found = f"no column whose heading names the class or the word {_ASSIGNMENT}"
    remedy = "Name it with --column, or make the assignment in the gradebook and export again."
    raise UsageError(place, found, f"one of {_shown(headings)}", remedy)


def _refuse_doubtful_rows(
    place: object, rows: Sequence[CsvRow], key: KeyColumn, score: int, columns: int
) -> None:
    """Raise UsageError where a student stands twice, or where a student's cells may have shifted.
    score : place of the score column. columns : how many headings there are."""
    lines: dict[str, list[str]] = defaultdict(list)
    for number, student in key.students.items():
        lines[student].append(str(rows[number].line))
    twins = [f"{student!r} on lines {', '.join(where)}" for student, where in lines.items() if where[1:]]
    if twins:
        remedy = "Two rows for one student: take one out, or export the gradebook again."
        raise UsageError(place, "; ".join(twins), "each student once", remedy)
    # A name that holds the delimiter, not in quotes, moves every cell behind it.
    for row in (rows[number] for number in key.students):
        if len(row.cells) <= score or any(value.strip() for value in row.values[columns:]):
            remedy = "Put a cell that holds the separating sign in quotes; leave no cell out."
            raise UsageError(f"{place}:{row.line}", f"{len(row.cells)} cells", f"{columns}", remedy)


def _decimal_mark(own: set[str], every: set[str], delimiter: str) -> str:
    """That of the score column; else of all columns; else by the habit that goes with the delimiter."""
    seen = own if len(own) == 1 else every
    return next(iter(seen)) if len(seen) == 1 else "," if delimiter == ";" else "."


def _decimal_marks(values: Iterable[str]) -> set[str]:
    found = (_PLAIN_NUMBER.fullmatch(value.strip()) for value in values)
    return {match[1] for match in found if match is not None and match[1]}


def _as_number(text: str) -> float | str:
    """A number where the text is one, so that 8, 8.0 and 8,0 are the same; else the text."""
    return float(text.replace(",", ".")) if _PLAIN_NUMBER.fullmatch(text) else text


def _own_points(between: Sequence[CsvRow], score: int) -> float | None:
    """What the score column is out of, as a row between the headings and the students says."""
    numbers = (_as_number("".join(row.values[score : score + 1]).strip()) for row in between)
    return next((points for points in numbers if isinstance(points, float) and points > 0), None)


def _notes(out_of: float | None, marks: Sequence[MarkRow], scale: bool) -> Iterator[str]:
    most = max((mark.max_score for mark in marks if mark.max_score is not None), default=None)
    if out_of and most and out_of != most:
        done = (
            f"put in out of {out_of:g}" if scale else "put in as they are; --scale puts them in out of that"
        )
        yield f"this column is out of {out_of:g}, and the marks are out of {most:g}: {done}"


def _loose_note(table: GradebookTable, by_id: Mapping[str, MarkRow]) -> Iterator[str]:
    for key in table.keys[:1]:
        cells = (plain_key(table.rows[row].values[key.column]) for row in key.students)
        if key.kind == "student_id" and not by_id.keys() & set(cells):
            yield "the file has the student ids without their leading zeros; they were matched all the same"
