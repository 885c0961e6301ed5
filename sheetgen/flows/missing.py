"""Who is missing: a message to them, ready to paste."""

import contextlib
from collections.abc import Mapping, Sequence

from sheetgen.errors import FolderError
from sheetgen.layout.class_book_settings import LEFT
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.settings import ClassBook
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, write_beside
from sheetgen.store.texts import texts_in

__all__ = ["missing_message", "write_missing"]


def missing_message(missing: Sequence[CopyRecord], book: ClassBook, texts: Mapping[str, str]) -> str:
    """Return the message to those of whom nothing came back: one line a sheet, by given name.

    Parameters
    ----------
    texts : those of `missing.LANGUAGE`, by dotted key.

    Notes
    -----
    People who left the class are not written to, and neither are the teachers. Empty where nobody is left.
    """
    people = {person.student_id: person for person in book.people}
    lines = []
    for record in missing:
        person = people.get(record.student_id)
        if person is not None and (person.status == LEFT or person.role == "teacher"):
            continue
        name = f"{person.given_name} {person.family_name}".strip() if person is not None else ""
        words = {"name": name or record.student_id, "student_id": record.student_id, "file": record.file_name}
        lines.append((name.casefold(), texts["missing.line"].format(**words)))
    if not lines:
        return ""
    session = missing[0].session
    listed = [line for _, line in sorted(lines)]
    due = texts["missing.due"].format(due_date=book.due_date) if book.due_date else ""
    opening = texts["missing.opening"].format(session=session)
    parts = (
        texts["missing.greeting"],
        opening,
        "\n".join(listed),
        texts["missing.ask"],
        due,
        texts["missing.end"],
    )
    return "\n\n".join(part for part in parts if part) + "\n"


def write_missing(folder: ClassFolder, session: int, missing: Sequence[CopyRecord], book: ClassBook) -> str:
    """Write the message into results/, or take an old one away; return where it is, empty where none is.

    Raises
    ------
    FolderError : it cannot be written or taken away.
    """
    path = folder.missing(session)
    text = missing_message(missing, book, texts_in(book.settings.language, "missing"))
    if text:
        make_folder(path.parent)
        write_beside(path, text.encode("utf-8"), sync=False)
        return str(path)
    try:
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
    except OSError as fault:
        found = f"it cannot be removed ({fault.strerror})"
        raise FolderError(path, found, "a file of yours", "Close it in other programs.") from fault
    return ""
