"""Findings for single files, and what one means."""

from collections.abc import Sequence
from contextlib import ExitStack, suppress
from datetime import date
from difflib import get_close_matches
from functools import partial
from itertools import groupby
from operator import attrgetter
from pathlib import Path

from sheetgen.class_book.book import class_language, delete_reminder, load_book
from sheetgen.class_folder.folder import ClassFolder, find_class_folder, open_class_folder
from sheetgen.errors import SheetgenError, UsageError
from sheetgen.finding import SEVERITIES, FindingKind
from sheetgen.report.today import Talk, place_of
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.incoming import Incoming, file_bytes, is_bundle, open_returned
from sheetgen.returned.one_file import attempts_from
from sheetgen.returned.typed_in import with_typed_forms
from sheetgen.returned.whose import on_record
from sheetgen.texts.findings import in_short, load_catalogue
from sheetgen.texts.languages import DEFAULT_LANGUAGE, texts_in
from sheetgen.workbook.read.guard import LARGEST_FILE


def look_at(paths: Sequence[Path], class_folder: Path | None) -> tuple[tuple[Attempt, str], ...]:
    """Return everything there is to say about some files, and about each file in a zip of them, each with the
    language of its class. class_folder : theirs; None: searched upward from each file, and without one the
    identity is not proven. UsageError : a file is not there. FolderError : the folder named is none."""
    attempts: list[tuple[Attempt, str]] = []
    for path in paths:
        if not path.exists():
            raise UsageError(path, "no such file", "a returned sheet", "Check the name.")
        if path.is_dir():
            remedy = "Name files; `sheetgen read` takes folders."
            raise UsageError(path, "a folder", "a returned sheet", remedy)
        found = find_class_folder(path.absolute().parent)
        folder = found if class_folder is None else open_class_folder(class_folder)
        known = on_record(folder)
        language, read = class_language(folder), partial(attempts_from, known=known)
        with ExitStack() as opened:
            files: tuple[Incoming, ...] = (Incoming(str(path), partial(file_bytes, path, LARGEST_FILE)),)
            if is_bundle(path):
                files = opened.enter_context(open_returned(path, str(path))).files
            looked = zip(read(files), files, strict=True)
            attempts += [(one, language) for one, _ in with_typed_forms(looked, known, read)]
    return tuple(attempts)


def said_of(attempt: Attempt, language: str) -> tuple[str, ...]:
    """Return in plain words what became of a file, then a line a finding, the gravest first: where, what, and
    once a kind what to do. Nothing that was measured or typed is in it."""
    texts = texts_in(language, "sheet", "findings", "marking", "report")
    said = [texts[f"report_status.{attempt.status}"]]
    found = sorted(attempt.said, key=lambda one: (SEVERITIES.index(one.severity), one.code))
    for code, alike in groupby(found, key=attrgetter("code")):
        # A changed identity is printed at the top of every tab, and told once.
        places = ((one, "" if "identity-" in code else place_of(attempt, one, texts)) for one in alike)
        lines = (Talk((), place, in_short(one, texts)).line(texts) for one, place in places)
        first, *more = dict.fromkeys(lines)
        said += [f"{first} {texts[f'{code}.remedy']}", *more]
    return tuple(said)


def reminders(paths: Sequence[Path], class_folder: Path | None) -> tuple[str, ...]:
    """Return a line for each class of some files whose day to delete body values has come."""
    folders = {class_folder or find_class_folder(path.absolute().parent) for path in paths}
    opened = [ClassFolder(folder) if isinstance(folder, Path) else folder for folder in folders if folder]
    lines = []
    for folder in opened:
        # A class book that cannot be used is no matter of a single file.
        with suppress(SheetgenError):
            lines.append(delete_reminder(folder, load_book(folder), date.today().isoformat()))
    return tuple(filter(None, lines))


def explained(code: str, language: str = DEFAULT_LANGUAGE) -> FindingKind:
    """Return the catalogue's line of a finding, in a language; UsageError: none; a near miss is named."""
    catalogue = load_catalogue(language)
    if code in catalogue:
        return catalogue[code]
    near = get_close_matches(code, catalogue, n=1)
    remedy = f"Did you mean {near[0]!r}?" if near else "`sheetgen explain` without a code lists them all."
    raise UsageError(code, "no finding of that code", "a code of the catalogue", remedy)
