"""The columns of a gradebook export: how it is cut, which row names them, which one tells students apart,
which one takes the marks."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sheetgen.errors import UsageError
from sheetgen.texts.csv_cells import CsvCell, CsvFault, CsvRow, cut

__all__ = [
    "GradebookTable",
    "KeyColumn",
    "Wanted",
    "header_row",
    "key_column",
    "plain_key",
    "refuse_doubtful_rows",
    "score_column",
    "table_of",
]

_DELIMITERS = ",;\t|"
_ANNOUNCED = re.compile(r"sep=([^\"\r\n])[ ]*(?=[\r\n]|\Z)", re.IGNORECASE)
_AS_TEXT = re.compile(r'="(.*)"', re.DOTALL)  # how some exports keep leading zeros
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
    key = key.strip()
    as_text = _AS_TEXT.fullmatch(key)
    key = as_text[1] if as_text else key
    return unicodedata.normalize("NFC", key.removeprefix("'").strip()).casefold()


def _heading(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def table_of(text: str, known: Mapping[str, Mapping[str, str]]) -> GradebookTable:
    """Return the cut by which a column finds most students; between equals the one with most columns.

    Parameters
    ----------
    known : for each kind of key (`student_id`, `email`) its plain form to the student_id.

    Raises
    ------
    CsvFault : quotes are out of place, and no other delimiter finds a student.
    """
    announced = _ANNOUNCED.match(text)
    tables, faults = [], []
    for delimiter in announced[1] if announced else _DELIMITERS:
        try:
            rows = tuple(cut(text, delimiter))
        except CsvFault as fault:
            faults.append(fault)
            continue
        tables.append(GradebookTable(delimiter, rows[1:] if announced else rows, ()))
    if not tables:
        raise faults[0]
    keyed = [GradebookTable(one.delimiter, one.rows, _keys(one.rows, known)) for one in tables]
    best = max(
        keyed, key=lambda one: (_most_found(one), max((len(row.cells) for row in one.rows), default=0))
    )
    if faults and not best.keys:
        raise faults[0]
    return best


def _most_found(table: GradebookTable) -> int:
    return len(table.keys[0].students) if table.keys else 0


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
    names = {_heading(name) for name in (wanted.key, wanted.column) if name and not _place_of(name)}
    for number in above:
        if names and names <= {_heading(cell.value) for cell in table.rows[number].cells}:
            return number
    if not above:
        found = "no row of headings above the students" if table.rows else "an empty file"
        raise UsageError(place, found, "a first row that names the columns", "Export the gradebook again.")
    return max(above, key=lambda number: (_filled(table.rows[number]), -number))


def _filled(row: CsvRow) -> int:
    return sum(bool(cell.value.strip()) for cell in row.cells)


def _place_of(name: str) -> int:
    """3 for `#3`; 0 for a heading."""
    return int(name[1:]) if re.fullmatch(r"#[1-9]\d{0,3}", name) else 0


def _named(place: object, headings: Sequence[CsvCell], name: str, option: str) -> int:
    number = _place_of(name)
    exact = [at for at, cell in enumerate(headings) if cell.value.strip() == name.strip()]
    alike = [at for at, cell in enumerate(headings) if _heading(cell.value) == _heading(name)]
    fits = ([number - 1] if number <= len(headings) else []) if number else exact or alike
    if len(fits) == 1:
        return fits[0]
    found = f"{option} {name!r}, " + (
        "which no column has" if not fits else f"which {len(fits)} columns have"
    )
    remedy = "Name one of these." if not fits else "Name it by its place."
    raise UsageError(place, found, f"one of {_listed(headings)}", remedy)


def _listed(headings: Sequence[CsvCell]) -> str:
    return ", ".join(_shown(headings, at) for at in range(len(headings)))


def _shown(headings: Sequence[CsvCell], at: int) -> str:
    return f"#{at + 1} {headings[at].value.strip()!r}" if at < len(headings) else f"#{at + 1}"


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
        raise UsageError(
            f"{place}:{table.rows[header].line}", found, "a heading", "Export the gradebook again."
        )
    rivals = [other for other in table.keys[1:] if _contradicts(best, other)]
    if rivals:
        places = sorted({key.column for key in (best, *rivals)})
        names = ", ".join(_shown(headings, at) for at in places)
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

    Parameters
    ----------
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
    for words in filter(None, (_heading(wanted.title), _ASSIGNMENT)):
        whole = re.compile(rf"(?<!\w){re.escape(words)}(?!\w)")
        fits = [at for at, cell in enumerate(headings) if at != key and whole.search(_heading(cell.value))]
        if len(fits) == 1:
            return fits[0]
        if fits:
            names = ", ".join(_shown(headings, at) for at in fits)
            found = f"{len(fits)} columns that could take the marks: {names}"
            raise UsageError(place, found, "one", "Name it with --column.")
    found = f"no column whose heading names the class or the word {_ASSIGNMENT}"
    remedy = "Name it with --column, or make the assignment in the gradebook and export again."
    raise UsageError(place, found, f"one of {_listed(headings)}", remedy)


def refuse_doubtful_rows(
    place: object, rows: Sequence[CsvRow], key: KeyColumn, score: int, columns: int
) -> None:
    """Refuse a file in which a student stands twice, or in which a student's cells may have shifted.

    Parameters
    ----------
    score : place of the score column. columns : how many headings there are.

    Raises
    ------
    UsageError : with the lines.
    """
    lines: dict[str, list[int]] = {}
    for number, student in key.students.items():
        lines.setdefault(student, []).append(rows[number].line)
    twins = [
        f"{student!r} on lines {', '.join(map(str, where))}" for student, where in lines.items() if where[1:]
    ]
    if twins:
        raise UsageError(place, "; ".join(twins), "each student once", _REPEATED)
    # A name that holds the delimiter, not in quotes, moves every cell behind it.
    for number in key.students:
        row = rows[number]
        extra = any(cell.value.strip() for cell in row.cells[columns:])
        if extra or len(row.cells) <= score:
            remedy = "Put a cell that holds the separating sign in quotes; leave no cell out."
            raise UsageError(f"{place}:{row.line}", f"{len(row.cells)} cells", f"{columns}", remedy)
