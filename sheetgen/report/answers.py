"""What is said to those whose work has not come, or cannot be used: missing.txt, and answers to single files.

Each answer is for one person, and names and quotes nobody else, nor another one's file.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from textwrap import wrap

from xlsxwriter.workbook import Workbook

from sheetgen.class_book.lesson import takes_turns
from sheetgen.class_folder.files import make_folder, remove_file, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, Person
from sheetgen.report.writing import Formats, new_tab, workbook_bytes
from sheetgen.returned.came_back import Awaited, Unusable
from sheetgen.texts.findings import ready_answer
from sheetgen.texts.languages import Texts, texts_in

_WIDTH = 90
_OF_BUNDLES = ("file-bundle-damaged", "file-bundle-locked", "file-bundle-too-large")
"""Codes about a whole download, which is nobody's file."""
_LINE = "-" * 60


def answers_by_file(
    unusable: Iterable[Unusable], waited: Iterable[Awaited], language: str
) -> dict[str, bytes]:
    """Return an answer, as a workbook of one page, to each file that cannot be used, by its incoming name.
    waited : the sheets still waited for. Whose work is here gets no answer to what came besides; and where
    nobody knows whose a file is, only a file of which the answer is plain gets one."""
    texts = texts_in(language, "findings", "missing", "feedback")
    waiting = {one.record.student_id for one in waited}
    answers = {}
    for one in unusable:
        told = ready_answer(one.finding.code, texts) or (texts["missing.other"] if one.student_id else "")
        if told and one.student_id in (*waiting, "") and one.finding.code not in _OF_BUNDLES:
            answers[one.file] = _page(told, texts, language)
    return answers


def _page(answer: str, texts: Texts, language: str) -> bytes:
    def fill(workbook: Workbook, formats: Formats) -> None:
        tab = new_tab(workbook, formats, texts["feedback.tab"], [_WIDTH], texts["feedback.page"])
        for row, line in enumerate([texts["feedback.title"], "", *wrap(answer, _WIDTH)]):
            tab.write(row, 0, line, "text" if row else "title")

    return workbook_bytes(texts["feedback.title"], language, fill)


def missing_text(missing: Sequence[Awaited], book: ClassBook, texts: Texts) -> str:
    """Return missing.txt: the addresses for a blind copy with a message to all, and one to each by name.
    texts : those of findings and of `missing.LANGUAGE`, by dotted key. People who left the class are not
    written to, and neither are the teachers. Empty where nobody is left."""
    apart = {one.student_id for one in book.people if not takes_turns(one)}
    people = {one.student_id: one for one in book.people}
    theirs: dict[str, list[Awaited]] = defaultdict(list)
    for one in missing:
        theirs[one.record.student_id].append(one)
    to = [people.get(student_id, Person(student_id, "", "")) for student_id in theirs.keys() - apart]
    if not to:
        return ""
    session = book.session_words(missing[0].record.session)
    to.sort(key=lambda person: (_name(person).casefold(), person.student_id))
    addresses = dict.fromkeys(person.email for person in to if person.email)
    to_all = [texts["missing.greeting_all"], texts["missing.opening_all"].format(session=session)]
    blind_copy = (texts["missing.blind_copy"], ", ".join(addresses), _message(to_all, book.due_date, texts))
    blocks = ["\n\n".join(blind_copy)] if addresses else []
    for person in to:
        heading = ", ".join(filter(None, (f"{_name(person)} ({person.student_id})", person.email)))
        greeting = texts["missing.greeting"].format(name=person.given_name or _name(person))
        said = [line for one in theirs[person.student_id] for line in _said(one, session, texts)]
        message = _message([greeting, *said], person.due_date or book.due_date, texts)
        blocks.append(f"{heading}\n\n{message}")
    return f"\n\n{_LINE}\n".join(blocks) + "\n"


def _name(person: Person) -> str:
    return person.full_name or person.student_id


def _message(paragraphs: Sequence[str], due_date: str, texts: Texts) -> str:
    due = texts["missing.due"].format(due_date=due_date) if due_date else ""
    return "\n\n".join(filter(None, (*paragraphs, due, texts["missing.end"])))


def _said(one: Awaited, session: str, texts: Texts) -> list[str]:
    """What is said of one sheet: that nothing came, or the answer to what came in its place."""
    values = {"session": session, "file": one.record.file_name}
    if not one.came:
        return [texts["missing.nothing"].format(**values)]
    about = texts["missing.by_name" if one.came[0].by_name else "missing.about"].format(**values)
    return [about, ready_answer(one.because, texts) or texts["missing.other"]]


def write_missing(folder: ClassFolder, session: int, missing: Sequence[Awaited], book: ClassBook) -> str:
    """Write missing.txt into results/, or take an old one away; return where it is, empty where none is.
    FolderError where it cannot be written or taken away."""
    path = folder.missing(session)
    text = missing_text(missing, book, texts_in(book.settings.language, "findings", "missing"))
    if text:
        make_folder(path.parent)
        write_beside(path, text.encode("utf-8"), sync=False)
        return str(path)
    remove_file(path)
    return ""
