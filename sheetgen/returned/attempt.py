"""One returned file as an Attempt: its record, its status, decided here alone, whether it came late."""

import os
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.files import sha256_of
from sheetgen.class_folder.records import ClassBook, CopyRecord
from sheetgen.finding import Finding, Values, gathered
from sheetgen.protocols.names import listed_words
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, Results, text_of
from sheetgen.protocols.settings import BuiltWith, SheetSettings
from sheetgen.sheet.student import LAYOUT_VERSION
from sheetgen.texts.findings import completed, load_catalogue
from sheetgen.texts.languages import code_word, list_words
from sheetgen.workbook.addresses import column_letters
from sheetgen.workbook.layout import Cell, Layout, Tab, Value

STATUSES = ("accepted", "review", "refused", "superseded")
COUNTED = STATUSES[:2]  # Of files whose contents may count, until the teacher says no.


class Issued(Struct, frozen=True):
    """What a returned file is compared with: its Layout, what this copy carried, its protocol and rules.
    form : the layout version of the sheet. by_names : its Layout is only what the names of its cells tell."""

    layout: Layout
    values: Mapping[str, Value]
    protocol: Protocol
    settings: SheetSettings
    form: int = LAYOUT_VERSION
    by_names: bool = False


class Attempt(Struct, frozen=True):
    """One returned file, read, recomputed and checked.
    file : what it is called in results, see `named_by_copy`; the path of one that is looked at by itself.
    incoming_name : what it was called when it came back, which may tell a person's name; empty: as `file`.
    built_with : protocol and settings of this very sheet; None where it could not be told.
    formula_names : own lines whose formula takes a result of the sheet. modified : when the file says that it
    was last saved, as it says it; empty where it does not. status : `accepted`, `review`, `refused` or
    `superseded`. record : None where the sheet could not be matched with one that was handed out."""

    file: str
    sha256: str
    status: str
    record: CopyRecord | None
    protocol_id: str
    entries: Entries
    results: Results | None
    findings: tuple[Finding, ...]
    built_with: BuiltWith | None = None
    formula_names: tuple[str, ...] = ()
    modified: str = ""
    incoming_name: str = ""

    @property
    def came_as(self) -> str:
        """What it was called when it came back."""
        return self.incoming_name or self.file

    @property
    def said(self) -> tuple[Finding, ...]:
        """The findings but one that nobody can act on: programs drop that lock. The tables alone have it."""
        return tuple(finding for finding in self.findings if finding.code != "sheet-structure-open")

    @property
    def is_practice(self) -> bool:
        """Whether the readings are the practice set: of no body, and in no statistic."""
        return text_of(self.entries, "data_source") == "practice"


def named_by_copy(
    attempts: Sequence[Attempt], days: Mapping[str, str], named: Sequence[Attempt] = ()
) -> list[Attempt]:
    """Return attempts called by their copy code with .xlsx, a second one of that copy with -2, a file of
    nobody unknown-1; so no table tells a person's name by way of one that a platform made.
    days : digest of a file to the day on which it was first read; what came first has the first number, so
    that names stay when more comes. named : attempts that are called so already."""
    codes = [attempt.record.copy_code if attempt.record else "" for attempt in attempts]
    numbers = Counter(attempt.record.copy_code if attempt.record else "" for attempt in named)
    renamed = list(attempts)
    order = [(days.get(one.sha256, "9"), one.file, at) for at, one in enumerate(attempts)]
    for _, _, at in sorted(order):
        code = codes[at]
        numbers[code] += 1
        of_copy = f"{code}-{numbers[code]}.xlsx" if numbers[code] > 1 else f"{code}.xlsx"
        name = of_copy if code else f"unknown-{numbers[code]}"
        renamed[at] = replace(attempts[at], file=name, incoming_name=attempts[at].file)
    return renamed


def named_cells(layout: Layout) -> dict[str, tuple[Tab, Cell]]:
    """Return every named cell of a Layout with its tab, by name."""
    return {cell.name: (tab, cell) for tab in layout.tabs for cell in tab.cells if cell.name}


def about_cell(code: str, values: Values, tab: Tab, cell: Cell, case: str = "") -> Finding:
    """Return a finding about one cell of a sheet."""
    place = f"{column_letters(cell.column)}{cell.row + 1}"
    return Finding(code, values, tab.title, place, case, name=cell.name.removeprefix("typed_"))


def as_code_word(name: str, value: Value) -> Value:
    """Return a word of the list of an entry, in any language, as its code word; anything else as it is."""
    words = list_words("sheet")
    return code_word(value, listed_words(name), words) or value if isinstance(value, str) else value


def file_id(attempt: Attempt) -> str:
    """Return what a file is known by in decisions: the start of its digest, else of that of its name."""
    return (attempt.sha256 or sha256_of(os.fsencode(attempt.came_as)))[:16]


def with_findings(attempt: Attempt, findings: Iterable[Finding], *, first: bool = False) -> Attempt:
    """Return an attempt with further findings, behind those that are there or first, and the status that
    follows from all of them. A file that could not be read to the end has no results and is refused."""
    more = completed(findings, load_catalogue())
    every = gathered((*more, *attempt.findings) if first else (*attempt.findings, *more))
    status = "refused" if attempt.results is None else status_of(every)
    return replace(attempt, findings=every, status=status)


def superseded(attempt: Attempt, findings: Iterable[Finding] = ()) -> Attempt:
    """Return an attempt that another file of its copy takes the place of, with findings that say why."""
    return replace(with_findings(attempt, findings), status="superseded")


def answered(attempt: Attempt, counts: bool | None) -> Attempt:
    """Return an attempt with the teacher's word on it, if any, which settles only what is for review."""
    if attempt.status != "review" or counts is None:
        return attempt
    return replace(attempt, status="accepted" if counts else "refused")


def status_of(findings: Iterable[Finding]) -> str:
    """Return `refused` (error of file or identity), `review` (of the sheet; open question) or `accepted`."""
    status = "accepted"
    for finding in findings:
        family = finding.code.partition("-")[0]
        if finding.severity == "error" and family in ("file", "identity"):
            return "refused"
        if (finding.severity == "error" and family == "sheet") or load_catalogue()[finding.code].question:
            status = "review"
    return status


UNTOUCHED = "entry-nothing-typed"  # Code of the finding about a sheet as it was handed out.


def is_untouched(attempt: Attempt) -> bool:
    """Tell whether a file was found to be a sheet as it was handed out."""
    return any(finding.code == UNTOUCHED for finding in attempt.findings)


def has_work(attempt: Attempt) -> bool:
    """Tell whether the contents of a file count: a sheet of ours, neither refused nor superseded, in which
    something was typed or of which the teacher said that it counts all the same."""
    untouched = attempt.status == "review" and is_untouched(attempt)
    return attempt.record is not None and attempt.status in COUNTED and not untouched


LATE_CODES = ("procedure-late", "procedure-after-feedback")


def late_findings(day_seen: str, due_date: str, feedback_given: str) -> tuple[Finding, ...]:
    """Return what is late about a file that was first read on a day.
    day_seen, due_date, feedback_given : as YYYY-MM-DD; empty where nobody knows, or there is none."""
    days = zip(LATE_CODES, (due_date, feedback_given), strict=True)
    # Days written so sort as texts.
    return tuple(Finding(code, {"day": day_seen, "last": day}) for code, day in days if "" < day < day_seen)


def waits_for_an_answer(attempt: Attempt) -> bool:
    """Tell whether something else than lateness keeps a file for review."""
    others = [finding for finding in attempt.findings if finding.code not in LATE_CODES]
    return len(others) == len(attempt.findings) or status_of(others) == "review"


def is_late(attempt: Attempt) -> bool:
    """Tell whether a file was found to have come in late."""
    return any(finding.code in LATE_CODES for finding in attempt.findings)


def with_late_findings(
    attempts: Sequence[Attempt], days: Mapping[str, str], book: ClassBook
) -> list[Attempt]:
    """Return the attempts with what is late about them; those then wait for the teacher's yes.
    What is refused stays as it is, and so do the sheets of teachers: they are no work to be handed in.
    days : digest of a file to the day on which it was first read."""
    teachers = book.teachers
    own = {person.student_id: person.due_date for person in book.people if person.due_date}

    def judged(attempt: Attempt) -> Attempt:
        if attempt.record is None or attempt.status == "refused" or attempt.record.student_id in teachers:
            return attempt
        day_seen = days.get(attempt.sha256, "")
        due = own.get(attempt.record.student_id, book.due_date)
        return with_findings(attempt, late_findings(day_seen, due, book.feedback_given))

    return [judged(attempt) for attempt in attempts]
