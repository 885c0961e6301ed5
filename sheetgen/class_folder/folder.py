"""The class folder: where everything of a class lies, how it is found, and what a double click starts."""

import os
from collections.abc import Callable
from contextlib import suppress
from functools import reduce
from pathlib import Path

from msgspec import Struct

from sheetgen.class_folder.files import (
    HANDED_OUT,
    HANDED_OUT_FOLDER,
    make_folder,
    read_if_there,
    write_beside,
)
from sheetgen.errors import FolderError
from sheetgen.texts.templates import read_template

BOOK_NAME = "class.xlsx"


class _At(Struct, frozen=True):
    """A path of a class folder."""

    below: str

    def __get__(self, folder: "ClassFolder", _: type) -> Path:
        return folder.root / self.below


class _OfSession(Struct, frozen=True):
    """A path of a session, which counts from 1."""

    below: str

    def __get__(self, folder: "ClassFolder", _: type) -> Callable[[int], Path]:
        def path(session: int) -> Path:
            if session < 1:
                raise ValueError(f"a session counts from 1, not {session}")
            return folder.root / self.below.format(session)

        return path


class ClassFolder(Struct, frozen=True):
    """Every path of a class folder."""

    root: Path

    book = _At(BOOK_NAME)
    read_me_first = _At("read-me-first.txt")
    # The workbooks to hand out, what is to be printed, and sheets for people who are not on the roster.
    sheets = _OfSession("sheets/session-{}")
    paper_forms = _OfSession("sheets/session-{}/paper-forms.xlsx")
    site_cards = _OfSession("sheets/session-{}/site-cards.xlsx")
    typing_in = _OfSession("sheets/session-{}/typing-in.xlsx")
    handouts = _OfSession("sheets/session-{}/for-the-teacher.xlsx")
    hand_out = _OfSession("sheets/session-{}/hand-out.csv")
    spare = _OfSession("sheets/session-{}/spare")
    # What came back; never changed.
    returned = _OfSession("returned/session-{}")
    # What the teacher decides: the workbook is the view, the journal the truth.
    review = _OfSession("review/session-{}.xlsx")
    decisions = _At("review/decisions.csv")
    # Everything derived; safe to delete.
    results = _OfSession("results/session-{}")
    report = _OfSession("results/session-{}/report.xlsx")
    feedback = _OfSession("results/session-{}/feedback")
    feedback_zip = _OfSession("results/session-{}/feedback.zip")
    missing = _OfSession("results/session-{}/missing.txt")
    marks = _OfSession("results/session-{}/marks.csv")
    marks_by_item = _OfSession("results/session-{}/marks-by-item.csv")
    slips = _OfSession("results/session-{}/slips.csv")
    attempts = _OfSession("results/session-{}/attempts.csv")
    sites = _OfSession("results/session-{}/sites.csv")
    readings = _OfSession("results/session-{}/readings.csv")
    precision = _OfSession("results/session-{}/precision.csv")
    findings = _OfSession("results/session-{}/findings.csv")
    files = _OfSession("results/session-{}/files.csv")
    description = _OfSession("results/session-{}/datapackage.json")
    # What the program must remember; of the first three, what a teacher wrote.
    keep = _At("keep")
    own_protocols = _At("keep/protocols")
    roster_wording = _At("keep/roster.toml")
    marking_scheme = _At("keep/marking.toml")
    secret = _At("keep/secret.txt")
    handed_out = _At("keep/handed-out.json")
    layouts = _At("keep/layouts")
    roster = _At("keep/roster.json")
    protection = _At("keep/protection.json")
    newest_book = _At("keep/class-newest.xlsx")
    drawings = _At("keep/class-newest.txt")
    arrivals = _At("keep/arrivals.csv")
    scores = _At("keep/scores.csv")
    kept_slips = _At("keep/slips.csv")
    kept_precision = _At("keep/precision.csv")
    measurers = _At("keep/measurers.csv")
    observed = _At("keep/observed.csv")
    kept_marks = _OfSession("keep/marks/session-{}.csv")
    # Small files that run a command with a double click.
    launchers = _At("launchers")

    @property
    def typed(self) -> str:
        """The folder as it is typed in a command."""
        return f'"{self.root}"' if " " in str(self.root) else str(self.root)


def find_class_folder(start: Path) -> ClassFolder | None:
    """Return the nearest class folder: start itself, or one above it. None where there is none."""
    start = start.absolute()
    return next((ClassFolder(folder) for folder in (start, *start.parents) if _is_class_folder(folder)), None)


def open_class_folder(root: Path) -> ClassFolder:
    """Return a class folder that is there. FolderError where it is not one: a class folder just above or
    below is named. Also where keep/ cannot be read: taken for empty, it would make every sheet a
    stranger's."""
    if _is_class_folder(root):
        folder = ClassFolder(root)
        for path in (folder.keep, folder.layouts, folder.own_protocols):
            try:
                os.listdir(path)
            except FileNotFoundError:
                continue
            except OSError as fault:
                remedy = (
                    "Get the right to read it, or put it back from a copy; until then nothing is changed."
                )
                found = f"it cannot be read ({fault.strerror})"
                raise FolderError(path, found, "a folder that can be read", remedy) from fault
        return folder
    if not root.exists():
        found, remedy = "no such folder", "Check the name, or make it with `sheetgen new`."
    elif not root.is_dir():
        found, remedy = "a file", "Name the folder of the class."
    else:
        found, remedy = f"a folder without {BOOK_NAME}", "Make a class folder with `sheetgen new`."
    near = _near(root)
    if near is not None:
        remedy = f"Did you mean {near}?"
    raise FolderError(root, found, f"a class folder, which holds {BOOK_NAME}", remedy)


def _is_class_folder(folder: Path) -> bool:
    try:
        return (folder / BOOK_NAME).is_file()
    except OSError:
        return False


def _near(root: Path) -> Path | None:
    try:
        below = sorted(folder for folder in root.iterdir() if _is_class_folder(folder))
    except OSError:
        below = []
    above = find_class_folder(root)
    return next(iter(below), above.root if above else None)


_ACTIONS = (
    ("1 build sheets", "build", "Build the sheets"),
    ("2 read returned", "read", "Read what came back"),
    ("3 open report", "open", "Open the report"),
)
# folder, ending, template, program that opens a workbook, rights, line end
_SYSTEMS = (
    ("windows", ".cmd", "windows.cmd", "", HANDED_OUT, "\r\n"),
    ("mac", ".command", "unix.sh", "open", 0o777, "\n"),
    ("linux", ".sh", "unix.sh", "xdg-open", 0o777, "\n"),
)


def write_launchers(folder: ClassFolder, python: str) -> None:
    """Write the launchers for Windows, macOS and Linux, and the path of a Python that has sheetgen; empty:
    none is written down. FolderError : one cannot be written."""
    make_folder(folder.launchers, HANDED_OUT_FOLDER)
    for system, ending, template, opener, mode, line_end in _SYSTEMS:
        make_folder(folder.launchers / system, HANDED_OUT_FOLDER)
        text = read_template(f"launchers/{template}")
        for name, action, title in _ACTIONS:
            words = {"@title@": title, "@action@": action, "@opener@": opener, "\n": line_end}
            data = reduce(lambda written, mark: written.replace(*mark), words.items(), text).encode("utf-8")
            path = folder.launchers / system / f"{name}{ending}"
            if read_if_there(path) != data:
                write_beside(path, data, mode=mode)
            # Earlier versions put those of all systems side by side.
            with suppress(OSError):
                (folder.launchers / path.name).unlink()
    if python:
        write_beside(folder.launchers / "python.txt", f"{python}\n".encode(), mode=HANDED_OUT)
