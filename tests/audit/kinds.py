"""One workbook of every kind that is made, by name: student sheets of every protocol and language, and all
that a class of five in each language makes in two sessions."""

import os
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from msgspec.structs import replace

from sheetgen.class_book.book import load_book, write_book
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import DEMO_CALIPERS, fill_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.commands.summary import summary_of, write_summary
from sheetgen.protocols.loading import shipped_protocols
from sheetgen.texts.languages import languages
from tests.sheets import settings_with, sheet_of

# The sample fills them by number: L20's file is damaged.
ROSTER = """student_id,given_name,family_name,under_18
L01,Ada,Fen,no
L02,Bo,Heath,no
L07,Cy,Moor,no
L10,Di,Wold,no
L20,Ed,Dale,no
"""

# what a sheet is made for, over the usual settings
SHEETS: Mapping[str, Mapping[str, object]] = {
    "sheet": {"reading_drill": True},
    "sheet without results": {"show_results": "never", "site_rule": "closest-pair"},
    "sheet of somebody under 18": {"under_18": True, "youth_estimate": "on", "tolerance_kind": "percent"},
}

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))

# kind, where the class folder has it; the first of several
OF_A_CLASS = {
    "class book": "class.xlsx",
    "sheet built": "sheets/session-1/L01_*.xlsx",
    "sheet filled": "returned/session-1/L01_*.xlsx",
    "sheet of a second session": "sheets/session-2/L01_*.xlsx",
    "sheet for a second caliper": "sheets/session-2/L01_second-caliper_*.xlsx",
    "sheet of the teacher's": "sheets/session-2/teacher_*.xlsx",
    "spare sheet": "sheets/session-1/spare/*.xlsx",
    "paper forms": "sheets/session-1/paper-forms.xlsx",
    "site cards": "sheets/session-1/site-cards.xlsx",
    "typing-in book": "sheets/session-1/typing-in.xlsx",
    "slips and run sheet": "sheets/session-1/for-the-teacher.xlsx",
    "review": "review/session-1.xlsx",
    "second marker's sample": "review/session-1-second-marker.xlsx",
    "report": "results/session-1/report.xlsx",
    "report of a second session": "results/session-2/report.xlsx",
    "feedback": "results/session-1/feedback/L01_*.xlsx",
    "answer to a file that cannot be used": "answers/L20_*",
    "summary": "summary.xlsx",
}

# Kinds that take one reading of a class more: in the ordinary form in one language only.
LATER = {kind: "en" for kind, place in OF_A_CLASS.items() if "session-2" in place} | {
    "second marker's sample": "es"
}

KINDS = (
    *(
        f"{kind}, {protocol_id}, {language}"
        for kind in SHEETS
        for protocol_id in shipped_protocols()
        for language in languages()
        if kind == "sheet" or (protocol_id in ("seven-sites", "youth-two-sites"))
    ),
    *(
        f"{kind}, {language}"
        for kind in OF_A_CLASS
        for language in languages()
        if NIGHTLY or LATER.get(kind, language) == language
    ),
)


def workbook(kind: str) -> bytes:
    """Return the workbook of one of KINDS."""
    name, *protocol_ids, language = kind.split(", ") if kind.startswith("sheet") else kind.rsplit(", ", 1)
    if protocol_ids:
        settings = settings_with(protocol_id=protocol_ids[0], language=language, **SHEETS[name])
        return sheet_of(settings).data
    return _class_of(language)[name]


@cache
def _class_of(language: str) -> Mapping[str, bytes]:
    with TemporaryDirectory() as name:
        folder = _lived(Path(name), language)
        wanted = [kind for kind in OF_A_CLASS if f"{kind}, {language}" in KINDS]
        return {kind: _first(folder.root, OF_A_CLASS[kind]).read_bytes() for kind in wanted}


def _lived(root: Path, language: str) -> ClassFolder:
    """A class after one session, marked by a second marker, or after two, as far as its kinds need."""
    roster = root / "roster.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    folder = new_class(
        root / "class", roster, calipers=DEMO_CALIPERS[:2], secret="0b" * 32, language=language
    )
    build_sheets(folder, 1)
    fill_sheets(folder, 1)
    read_returned(folder, 1, today="2027-01-15")
    if f"second marker's sample, {language}" in KINDS:
        read_returned(folder, 1, today="2027-01-16", second_marker=True)
    if f"report of a second session, {language}" in KINDS:
        _second_session(folder)
    # Nowhere but in the zip for a platform.
    with zipfile.ZipFile(folder.root / "results/session-1/feedback.zip") as answers:
        answers.extractall(folder.root / "answers")
    write_summary(summary_of({"evening": folder}), folder.root / "summary.xlsx")
    return folder


def _second_session(folder: ClassFolder) -> None:
    """Two calipers are compared, and the teacher measures."""
    book = load_book(folder)
    people = (*book.people, Person("teacher", "", "", role="teacher"))
    write_book(folder, replace(book, people=people, teacher_measures=("L01",)))
    build_sheets(folder, 2, calipers=("C1", "C2"))
    fill_sheets(folder, 2)
    read_returned(folder, 2, today="2027-02-15")


def _first(root: Path, pattern: str) -> Path:
    return min(path for path in root.glob(pattern) if path.is_file())
