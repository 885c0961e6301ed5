"""Put the marks of a session into a gradebook export, or into OneRoster results."""

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.book import load_book
from sheetgen.class_folder.files import keep_last_three, read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import Person
from sheetgen.errors import FolderError, UsageError
from sheetgen.gradebook.filling import MarkedGradebook, Wanted, with_marks
from sheetgen.gradebook.oneroster_results import SCORE_STATUSES, ResultsFrame, oneroster_zip, score_status
from sheetgen.marking.marks import MarkRow
from sheetgen.report.marks_pages import marks_from

_LARGEST_FILE = 20_000_000  # bytes


class OneRosterOut(Struct, frozen=True):
    """counts : how many students by scoreStatus. frame : what the results belong to."""

    counts: dict[str, int]
    frame: ResultsFrame


def put_marks(
    folder: ClassFolder, session: int, file: Path, wanted: Wanted | None = None, write: bool = False
) -> MarkedGradebook:
    """Return a gradebook export with the marks in it, and write it where asked. wanted : what the teacher
    asks for; its title is that of the class where it gives none. write : swap the new file in; the old one is
    kept as FILE.bak-1, the last three in all. Nothing is written where nothing changes. FolderError : there
    are no marks, or the file cannot be written. UsageError : the file cannot be used, a column cannot be
    told, or a student stands in it twice."""
    marks = load_marks(folder, session)
    book = load_book(folder)
    wanted = wanted or Wanted()
    emails, shared = _emails(book.people)
    data = _file_bytes(file)
    marked = with_marks(data, file, marks, emails, replace(wanted, title=wanted.title or book.title))
    if marked.key_kind == "email":
        notes = tuple(f"two people of the roster have the email {address}" for address in shared)
        marked = replace(marked, notes=marked.notes + notes)
    if write and marked.data != data:
        _swapped_in(file, data, marked.data)
    return marked


def export_oneroster(
    folder: ClassFolder, target: Path, asked: ResultsFrame, write: bool = False
) -> OneRosterOut:
    """Return what goes into a OneRoster zip, and write it where asked.
    asked : session, day, ids, version and whether partial scores go out; class, title and language are filled
    in. write : write the zip; one that is there is kept as for put_marks. FolderError : there are no marks,
    or the zip cannot be written. UsageError : the marks cannot go into one assignment."""
    if not asked.class_id:
        remedy = "Give it with --oneroster-ids, with those of category and period."
        raise UsageError("--oneroster", "no class", "what the school's system calls the class", remedy)
    marks = load_marks(folder, asked.session)
    book = load_book(folder)
    language = book.settings.language
    frame = replace(asked, class_code=book.class_code, title=book.title, language=language)
    data = oneroster_zip(marks, frame)
    if write:
        old = read_if_there(target)
        if old is None:
            write_beside(target, data)
        elif old != data:
            _swapped_in(target, old, data)
    counts = Counter(score_status(mark, frame.partial) for mark in marks)
    return OneRosterOut({status: counts[status] for status in SCORE_STATUSES}, frame)


def load_marks(folder: ClassFolder, session: int) -> tuple[MarkRow, ...]:
    """Return the marks of a session. FolderError : there are none, or they are not as the program wrote them.
    UsageError : a student stands in them twice."""
    path = folder.marks(session)
    data = read_if_there(path)
    if data is None:
        remedy = f"Run `sheetgen read {folder.typed} --session {session}` first."
        raise FolderError(path, "no such file", f"the marks of session {session}", remedy)
    return marks_from(data, path)


def _emails(people: Sequence[Person]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Email to student_id, and the addresses that more than one person has: those tell nobody."""
    counts = Counter(person.email.casefold() for person in people if person.email)
    emails = {person.email: person.student_id for person in people if counts[person.email.casefold()] == 1}
    return emails, tuple(sorted(address for address, count in counts.items() if count > 1))


def _file_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_FILE + 1)
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror})"
        raise UsageError(path, found, "a CSV file", "Check the name and your right to read it.") from fault
    if len(data) > _LARGEST_FILE:
        found = f"more than {_LARGEST_FILE:,} bytes"
        raise UsageError(path, found, "a gradebook export", "Export one class only.")
    return data


def _swapped_in(path: Path, old: bytes, new: bytes) -> None:
    """Write the new file; the old one becomes .bak-1, and those before it move on, up to the third."""
    path = path.resolve()
    mode = path.stat().st_mode & 0o777
    keep_last_three(path, old, "{0.name}.bak-{1}", mode)
    write_beside(path, new, mode=mode)
