"""What came of the sheets that people are to hand in: an untouched one, what cannot be used, or nothing."""

import re
import unicodedata
from collections.abc import Iterable, Sequence

from msgspec import Struct

from sheetgen.class_book.sheets_wanted import expected_back
from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.records import ClassBook, CopyRecord, Person
from sheetgen.finding import Finding
from sheetgen.returned.attempt import UNTOUCHED, Attempt, has_work
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import folded


class Unusable(Struct, frozen=True):
    """A file that came back and cannot be used as it is. file : its name as it came in. finding : the reason.
    student_id : whose it is, empty where nobody knows. copy_code : of its sheet, empty where it is none of
    this session. by_name : only its name tells whose it is."""

    file: str
    finding: Finding
    student_id: str
    copy_code: str = ""
    by_name: bool = False


class Awaited(Struct, frozen=True):
    """A sheet that somebody is to hand in and of which no file counts.
    came : what came in its place; nothing where it is empty."""

    record: CopyRecord
    came: tuple[Unusable, ...]

    @property
    def because(self) -> str:
        """The code of why what came cannot be used; empty where nothing came."""
        return self.came[0].finding.code if self.came else ""


def unusable_files(
    attempts: Iterable[Attempt], strays: Iterable[Attempt], book: ClassBook, session: int
) -> tuple[Unusable, ...]:
    """Return the files that were refused, untouched sheets, and sheets of other sessions.
    attempts : of this session. strays : sheets of other sessions among its files."""
    people = [person for person in book.people if person.status != LEFT]
    found = []
    for attempt in attempts:
        if attempt.status == "refused" or (attempt.status == "review" and not has_work(attempt)):
            record = attempt.record
            whose = record.student_id if record else person_named(attempt.came_as, people)
            code, by_name = record.copy_code if record else "", not record and bool(whose)
            found.append(Unusable(attempt.came_as, _reason(attempt), whose, code, by_name))
    for attempt in strays:
        if attempt.record is not None and attempt.status != "refused":
            values = {"found": attempt.record.session, "own": session}
            finding = Finding("file-other-session", values, severity="error")
            found.append(Unusable(attempt.came_as, finding, attempt.record.student_id))
    return tuple(found)


_DOCUMENTS = ("file-document", "file-slides", "file-pdf", "file-picture", "file-recording")


def in_nobodys_place(
    attempts: Sequence[Attempt], handed_out: Sequence[CopyRecord], book: ClassBook
) -> tuple[Attempt, ...]:
    """Return the documents that are plainly no sheet and stand for none: of somebody whose sheets are all
    here, of nobody only while nobody's is missing. handed_out : in this session; of none nobody can tell."""
    missing = {one.record.student_id for one in awaited(handed_out, book, attempts, ())}

    def stands_for_none(attempt: Attempt) -> bool:
        whose = person_named(attempt.came_as, book.people)
        return whose not in missing if whose else not missing

    refused = (one for one in attempts if one.status == "refused" and handed_out)
    documents = (one for one in refused if any(found.code in _DOCUMENTS for found in one.findings))
    return tuple(filter(stands_for_none, documents))


def _reason(attempt: Attempt) -> Finding:
    """The finding for which a file cannot be used: an error of file or identity, else the open question."""
    for one in attempt.findings:
        if one.severity == "error" and one.code.startswith(("file-", "identity-")):
            return one
    questions = [one for one in attempt.findings if load_catalogue()[one.code].question]
    return next((one for one in questions if one.code == UNTOUCHED), questions[0])


def awaited(
    handed_out: Iterable[CopyRecord],
    book: ClassBook,
    attempts: Iterable[Attempt],
    unusable: Sequence[Unusable],
) -> tuple[Awaited, ...]:
    """Return the sheets handed out that are still waited for, with what came in their place."""
    here = {attempt.record.copy_code for attempt in attempts if attempt.record and has_work(attempt)}
    return tuple(
        Awaited(record, tuple(one for one in unusable if _is_in_place_of(record, one)))
        for record in expected_back(handed_out, book)
        if record.copy_code not in here
    )


def _is_in_place_of(record: CopyRecord, unusable: Unusable) -> bool:
    if unusable.copy_code:
        return unusable.copy_code == record.copy_code
    return unusable.student_id == record.student_id


_SHORTEST_ID = 4  # Of an id of digits alone: shorter ones stand in many names and mean something else.
_TIMES = re.compile(
    r"(?<![a-z])attempt[ _-]?\d{1,3}(?!\d)|(?<!\d)20\d\d[-_.]?\d\d[-_.]?\d\d(?:[-_ T.]\d\d[-_.:\d]*)?",
    re.IGNORECASE,
)


def person_named(name: str, people: Iterable[Person]) -> str:
    """Return the student_id of the one person whom the name of a file or folder names; empty where it names
    nobody, or several.

    By the id, the email, or the given and the family name, each word of them; accents do not matter.

    >>> people = [Person("L07", "Zoe", "de la Fen"), Person("12", "Al", "Rye", "al@lighthouse.example")]
    >>> [person_named(name, people) for name in ("de-la-fen_zo\u00eb_99.pdf", "l07 (1).pdf", "12.pdf")]
    ['L07', 'L07', '']
    """
    plain = _TIMES.sub(" ", folded(name))
    words = _words(plain)
    found = {person.student_id for person in people if _names(plain, words, person)}
    return found.pop() if len(found) == 1 else ""


def _names(plain: str, words: list[str], person: Person) -> bool:
    own = _words(folded(person.student_id))
    is_short = person.student_id.isdigit() and len(person.student_id) < _SHORTEST_ID
    by_id = not is_short and any(words[place : place + len(own)] == own for place in range(len(words)))
    names = [_words(folded(name)) for name in (person.given_name, person.family_name)]
    by_name = all(names) and not {word for name in names for word in name} - set(words)
    return bool(own and by_id) or by_name or bool(person.email and folded(person.email) in plain)


def _words(plain: str) -> list[str]:
    bare = "".join(sign for sign in unicodedata.normalize("NFD", plain) if not unicodedata.combining(sign))
    return re.findall(r"[^\W_]+", bare)
