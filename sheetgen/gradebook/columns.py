"""The columns of a gradebook export: how it is cut, which row names them, which one tells students apart,
which one takes the marks."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.errors import UsageError
from sheetgen.texts.csv_cells import (
    DELIMITERS,
    CsvCell,
    CsvFault,
    CsvRow,
    announced_delimiter,
    cut,
    unwrapped,
)
from sheetgen.texts.languages import folded

_ASSIGNMENT = "skinfold"
_REPEATED = "Two rows for one student: take one out, or export the gradebook again."


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the teacher asks for. Columns are named by heading, or by place as `#3`; empty: found.

    title : of the class; a column that carries it is the score column where none is named.
    partial : scores that still wait for a person are put in as well.
    """

    title: str = ""
    key: str = ""
    column: str = ""
    partial: bool = False


@dataclass(frozen=True, slots=True)
class KeyColumn:
    """A column that tells students apart: `students` by row number, as far as they are known."""

    column: int
    kind: str
    students: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class GradebookTable:
    """One way to cut the file: its delimiter, its rows, and the keys by how many students they find."""

    delimiter: str
    rows: tuple[CsvRow, ...]
    keys: tuple[KeyColumn, ...]


def plain_key(key: str) -> str:
    """Return a key without what exports put around it, and without case.

    Examples
    --------
    >>> plain_key(' ="S01" ')
    's01'
    """
    return folded(unwrapped(key.strip()).removeprefix("'"))


def table_of(text: str, known: Mapping[str, Mapping[str, str]]) -> GradebookTable:
    """Return the cut by which a column finds most students; between equals the one with most columns.

    Parameters
    ----------
    known : for each kind of key (`student_id`, `email`) its plain form to the student_id.

    Raises
    ------
    CsvFault : quotes are out of place, and no other delimiter finds a student.
    """
    announced = announced_delimiter(text)
    tables, faults = [], []
    for delimiter in announced or DELIMITERS:
        try:
            rows = tuple(cut(text, delimiter))[1 if announced else 0 :]
        except CsvFault as fault:
            faults.append(fault)
        else:
            tables.append(GradebookTable(delimiter, rows, _keys(rows, known)))
    best = max(tables, key=_found_and_columns, default=None)
    if best is None or (faults and not best.keys):
        raise faults[0]
    return best


def _found_and_columns(table: GradebookTable) -> tuple[int, int]:
    found = len(table.keys[0].students) if table.keys else 0
    return found, max((len(row.cells) for row in table.rows), default=0)


def _keys(rows: Sequence[CsvRow], known: Mapping[str, Mapping[str, str]]) -> tuple[KeyColumn, ...]:
    """Every column that finds someone: the one that finds most first, then ids, then from the left."""
    found: dict[tuple[int, str], dict[int, str]] = {}
    for number, row in enumerate(rows):
        for column, cell in enumerate(row.cells):
            value = plain_key(cell.value)
            for kind, students in known.items():
                if value in students:
                    found.setdefault((column, kind), {})[number] = students[value]
    keys = [KeyColumn(column, kind, students) for (column, kind), students in found.items()]
    return tuple(
        sorted(keys, key=lambda key: (-len(set(key.students.values())), key.kind == "email", key.column))
    )


def header_row(place: object, table: GradebookTable, wanted: Wanted) -> int:
    """Return the number of the row of headings: with the columns named, else the fullest above the students.

    Raises
    ------
    UsageError : there is no row above the students.
    """
    first = min((min(key.students) for key in table.keys[:1]), default=len(table.rows))
    above = [number for number in range(first) if not table.rows[number].blank]
    names = {folded(name) for name in (wanted.key, wanted.column) if name and not _place_of(name)}
    for number in above:
        if names and names <= {folded(cell.value) for cell in table.rows[number].cells}:
            return number
    if not above:
        found = "no row of headings above the students" if table.rows else "an empty file"
        raise UsageError(place, found, "a first row that names the columns", "Export the gradebook again.")
    return max(above, key=lambda number: sum(bool(value.strip()) for value in table.rows[number].values))


def _place_of(name: str) -> int:
    """3 for `#3`; 0 for a heading."""
    return int(name[1:]) if re.fullmatch(r"#[1-9]\d{0,3}", name) else 0


def _named(place: object, headings: Sequence[CsvCell], name: str, option: str) -> int:
    number = _place_of(name)
    exact = [at for at, cell in enumerate(headings) if cell.value.strip() == name.strip()]
    alike = [at for at, cell in enumerate(headings) if folded(cell.value) == folded(name)]
    fits = ([number - 1] if number <= len(headings) else []) if number else exact or alike
    if len(fits) == 1:
        return fits[0]
    how_many = f"which {len(fits)} columns have" if fits else "which no column has"
    remedy = "Name it by its place." if fits else "Name one of these."
    raise UsageError(place, f"{option} {name!r}, {how_many}", f"one of {_listed(headings)}", remedy)


def _listed(headings: Sequence[CsvCell]) -> str:
    return _shown(headings, range(len(headings)))


def _shown(headings: Sequence[CsvCell], columns: Iterable[int]) -> str:
    names = [f" {cell.value.strip()!r}" for cell in headings]
    return ", ".join(f"#{at + 1}{names[at] if at < len(names) else ''}" for at in columns)


def key_column(place: object, table: GradebookTable, header: int, name: str) -> KeyColumn:
    """Return the key column: the one named, or the one that finds most students.

    Raises
    ------
    UsageError : no column finds any, two differ, or the name fits none or two; the columns are listed.
    """
    headings = table.rows[header].cells
    if name:
        column = _named(place, headings, name, "--key")
        keys = [key for key in table.keys if key.column == column]
        return keys[0] if keys else KeyColumn(column, "student_id", {})
    if not table.keys:
        expected = f"one of {_listed(headings)} to hold the student_ids or emails of the class"
        remedy = "Export the gradebook with ids or emails, or bring the roster's into line with it."
        raise UsageError(place, "no column with students of this class", expected, remedy)
    best = table.keys[0]
    if best.column >= len(headings):
        found = f"student ids in column #{best.column + 1}, which has no heading"
        line = table.rows[header].line
        raise UsageError(f"{place}:{line}", found, "a heading", "Export the gradebook again.")
    rivals = [rival for rival in table.keys[1:] if _contradicts(best, rival)]
    if rivals:
        names = _shown(headings, sorted({key.column for key in (best, *rivals)}))
        found = f"columns that hold students of the class, and not the same in every row: {names}"
        raise UsageError(place, found, "one", "Say with --key which one tells whose row it is.")
    return best


def _contradicts(best: KeyColumn, other: KeyColumn) -> bool:
    """Whether another column names half as many students or more, and others than this: a partner's, say."""
    if 2 * len(set(other.students.values())) < len(set(best.students.values())):
        return False
    return any(best.students.get(row, student) != student for row, student in other.students.items())


def score_column(place: object, headings: Sequence[CsvCell], wanted: Wanted, key: int) -> int:
    """Return the place of the score column: the one named, or the only one that fits title or `skinfold`.

    key : place of the key column, which cannot be it.

    Raises
    ------
    UsageError : there is none, or more than one; the columns are listed.
    """
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
    raise UsageError(place, found, f"one of {_listed(headings)}", remedy)


def refuse_doubtful_rows(
    place: object, rows: Sequence[CsvRow], key: KeyColumn, score: int, columns: int
) -> None:
    """Raise UsageError where a student stands twice, or where a student's cells may have shifted.

    score : place of the score column. columns : how many headings there are.
    """
    lines: dict[str, list[str]] = defaultdict(list)
    for number, student in key.students.items():
        lines[student].append(str(rows[number].line))
    twins = [f"{student!r} on lines {', '.join(where)}" for student, where in lines.items() if where[1:]]
    if twins:
        raise UsageError(place, "; ".join(twins), "each student once", _REPEATED)
    # A name that holds the delimiter, not in quotes, moves every cell behind it.
    for number in key.students:
        row = rows[number]
        extra = any(cell.value.strip() for cell in row.cells[columns:])
        if extra or len(row.cells) <= score:
            remedy = "Put a cell that holds the separating sign in quotes; leave no cell out."
            raise UsageError(f"{place}:{row.line}", f"{len(row.cells)} cells", f"{columns}", remedy)
