"""One tab of the report as a plain value, and what several tabs need; knows no workbook library."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from msgspec import Struct, field

from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.class_folder.scores import LineSlip, Score
from sheetgen.finding import Worded
from sheetgen.marking.marks import MarkRow
from sheetgen.marking.scheme import Marking
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.came_back import Unusable
from sheetgen.statistics.analysis import ClassAnalysis, reason_words
from sheetgen.statistics.measurers import MeasurerRecord
from sheetgen.statistics.repeatability import Interval, Undefined
from sheetgen.texts.languages import Texts, with_decimal_sign


class Link(Struct, frozen=True):
    """A text that leads somewhere. target : `internal:'TAB'!A1`, or `external:PATH`, from the report."""

    text: str
    target: str


Value = str | float | None | Link


class SessionResults(Struct, frozen=True):
    """Everything that is reported of a session.
    handed_out : what is on record of the sheets that went out, of every session. analysis : of this session,
    and the change since an earlier one. class_findings : about the whole class, with severity and remedy.
    unusable : files that cannot be used, and whose they are. strays : how many sheets of other sessions lie
    in the folder of this one. slips, markings : of the sheets that count, for the tab Teach again. scores,
    items : kept scores of the session's sheets, and what each item of the scheme is called, by word.
    records : of the measurers up to this session, by student_id."""

    book: ClassBook
    attempts: Sequence[Attempt]
    session: int
    handed_out: Sequence[CopyRecord]
    analysis: ClassAnalysis
    marks: Sequence[MarkRow] = ()
    class_findings: Sequence[Worded] = ()
    unusable: Sequence[Unusable] = ()
    strays: int = 0
    slips: Sequence[LineSlip] = ()
    markings: Mapping[str, Marking] = field(default_factory=dict)
    scores: Sequence[Score] = ()
    items: Mapping[str, str] = field(default_factory=dict)
    records: Mapping[str, MeasurerRecord] = field(default_factory=dict)

    @property
    def called(self) -> str:
        """The number of the session, with its name where it has one."""
        return self.book.session_words(self.session)

    @property
    def records_to_show(self) -> dict[str, MeasurerRecord]:
        """The records over two sessions or more of who is in the class, in its order."""
        present = (person.student_id for person in self.book.people if person.status != LEFT)
        own = {student: self.records[student] for student in present if student in self.records}
        return {student: record for student, record in own.items() if len(record.sessions) > 1}


class Heading(Struct, frozen=True):
    """A column: what stands above it, its width in characters, a format word of templates/style.toml."""

    text: str
    width: float
    format: str = "wrap"


class Column(Struct, frozen=True):
    """A column of a table. key : of its heading, empty where none stands above it. width : in
    characters. value : what stands in it for a row: what a path leads to, see `at`, or a function of
    the row. format : a format word of templates/style.toml. title : what fills a place in the heading."""

    key: str
    width: float
    value: str | Callable[[Any], Any]
    format: str = "wrap"
    title: str = ""

    def heading(self, texts: Texts) -> Heading:
        """Return what stands above it."""
        text = texts[self.key].format(title=self.title) if self.key else ""
        return Heading(text, self.width, self.format)

    def cell(self, row: Any, texts: Texts) -> Value:
        """Return what stands in it: an interval in words, nothing for what cannot be given."""
        found = at(row, self.value) if isinstance(self.value, str) else self.value(row)
        if isinstance(found, Interval):
            lower, upper = (with_decimal_sign(f"{end:.2f}", texts) for end in (found.lower, found.upper))
            return texts["report_common.span"].format(lower=lower, upper=upper)
        return None if isinstance(found, Undefined) else found


def at(row: Any, path: str) -> Any:
    """Return what a path of attributes and of places in a tuple leads to. None or an `Undefined` on the way
    is the end of it.

    >>> at((Interval(0.5, 1.25, 0.95), Undefined("few-sites")), "0.upper")
    1.25
    >>> at((Interval(0.5, 1.25, 0.95), Undefined("few-sites")), "1.upper")
    Undefined(reason='few-sites', values=())
    """
    for name in path.split("."):
        if row is None or isinstance(row, Undefined):
            break
        row = row[int(name)] if name.isdigit() else getattr(row, name)
    return row


def site_column(titles: Mapping[str, str], width: float, path: str = "site") -> Column:
    """Return the column of the titles of sites; one without a title goes by its code word."""
    return Column("report_heading.site", width, lambda row: titles.get(at(row, path), at(row, path)))


def table(
    columns: Sequence[Column], rows: Iterable[Any], texts: Texts
) -> tuple[tuple[Heading, ...], tuple[tuple[Value, ...], ...]]:
    """Return the headings and the rows of a table."""
    headings = tuple(column.heading(texts) for column in columns)
    return headings, tuple(tuple(column.cell(row, texts) for column in columns) for row in rows)


class Chart(Struct, frozen=True):
    """A chart of columns of one table; columns are counted from 0. words : of the categories. numbers : of
    the values. lines : columns drawn as lines across it, named by their headings. reach : columns of how far
    an interval reaches below and above each value. rows : (first, last), from 0; None: all."""

    title: str
    words: int
    numbers: int
    lines: tuple[int, ...] = ()
    reach: tuple[int, int] | None = None
    rows: tuple[int, int] | None = None


class Section(Struct, frozen=True):
    """A further table of a tab, below the others."""

    title: str
    sentences: tuple[str, ...]
    headings: tuple[Heading, ...] = ()
    rows: tuple[tuple[Value, ...], ...] = ()
    charts: tuple[Chart, ...] = ()


class Page(Struct, frozen=True):
    """One tab. sentences : what to know or to do, below the title; they run over the cells beside them.
    filtered : the heading row carries filter buttons. more : further tables below. printed : False: for the
    screen, nothing of it is printed. unprinted : so many rows at its end are for the screen too. single : on
    one printed page. wall : that too, written large, to be projected."""

    tab: str
    title: str
    sentences: tuple[str, ...]
    headings: tuple[Heading, ...]
    rows: tuple[tuple[Value, ...], ...]
    filtered: bool = False
    charts: tuple[Chart, ...] = ()
    more: tuple[Section, ...] = ()
    printed: bool = True
    unprinted: int = 0
    single: bool = False
    wall: bool = False


def named(section: str, texts: Texts, **places: int | str) -> tuple[str, str]:
    """Return the name of a tab and its title, from the section of its texts; places : of the title."""
    return texts[f"{section}.tab"], texts[f"{section}.title"].format(**places)


def counted(key: str, count: int, texts: Texts) -> tuple[str, ...]:
    """Return the sentence with a count, none where there is nothing to be counted."""
    return (texts[key].format(count=count),) if count else ()


def short(value: float | Undefined, texts: Texts) -> str:
    """Return a small number with two digits, however small, or the reason why there is none.

    >>> short(0.00042, {}), short(1.25, {})
    ('0.00042', '1.2')
    """
    if isinstance(value, Undefined):
        return reason_words(value, texts)
    return with_decimal_sign(f"{value:.2g}", texts)


def sentence(text: str) -> str:
    """Return a text with a capital at its beginning.

    >>> sentence("no pair differs.")
    'No pair differs.'
    """
    return text[:1].upper() + text[1:]


def code_of(student_id: str, copy_codes: Sequence[str], codes: Mapping[str, str], texts: Texts) -> str:
    """Return the code that stands for a student, or the code of a sheet of theirs."""
    return codes.get(student_id) or texts["report_common.sheet_code"].format(code=copy_codes[0])


_NOT_WRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def in_order(attempts: Sequence[Attempt], session: int) -> list[Attempt]:
    """Return the attempts by session, copy code and file."""

    def place(attempt: Attempt) -> tuple[int, str, str]:
        return session_of(attempt, session), at(attempt, "record.copy_code") or "", attempt.file

    return sorted(attempts, key=place)


def session_of(attempt: Attempt, session: int) -> int:
    """Return the session on record, or the one being read where the file matches no record."""
    return session if attempt.record is None else attempt.record.session


def writable_text(text: str) -> str:
    """Return a text that can be written as UTF-8 and as XML, and that steers no terminal.

    A file name may hold bytes that are no UTF-8; a cell may hold any sign, as a number between marks.

    Examples
    --------
    >>> writable_text("sheet\\udcff.xlsx"), writable_text("\\x1b[31m\\uffff")
    ('sheet?.xlsx', '?[31m?')
    """
    return _NOT_WRITABLE.sub("?", text)
