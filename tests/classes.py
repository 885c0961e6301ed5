"""Class folders for tests: an invented class, built and filled, and commands run in this process."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from shutil import copytree
from tempfile import TemporaryDirectory
from unittest import mock

import msgspec
from click.testing import CliRunner, Result
from msgspec.structs import replace

from sheetgen.class_book.book import drawn, load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.cli.job import main
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import sample_entries
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.finding import Finding
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.incoming import file_bytes
from sheetgen.returned.one_file import attempt_of_bytes, refused_attempt
from sheetgen.returned.whose import OnRecord
from sheetgen.workbook.addresses import place_of
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled, with_parts_changed
from sheetgen.workbook.read.guard import LARGEST_FILE
from tests.typed_cells import Place, with_typed

PEOPLE = ("S01", "S02", "S03", "S04")
ROSTER = """student_id,given_name,family_name,under_18
S01,Ada,Fen,no
S02,Bo,Heath,no
S03,Cy,Moor,no
S04,Di,Wold,no
"""


def run(*arguments: object) -> Result:
    """Run one command and return its exit code, stdout and stderr."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def only_line(result: Result) -> str:
    """Return what a command that failed said: one line on stderr, nothing on stdout."""
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    return line


def built_class(root: Path, secret: str = "0a" * 32) -> ClassFolder:
    """Return a class of four, in two pairs, its sheets built; another secret makes another class."""
    for name, data in _built(secret).items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return ClassFolder(root)


@lru_cache(maxsize=4)
def _built(secret: str) -> dict[str, bytes]:
    """Every file of such a class by its path; a class book takes a second to render."""
    with TemporaryDirectory() as name:
        root = Path(name) / "class"
        roster = Path(name) / "roster.csv"
        roster.write_text(ROSTER, encoding="utf-8")
        folder = new_class(root, roster, secret=secret)
        in_pairs = replace(load_book(folder), group_size=2, pairings=())
        folder.book.write_bytes(drawn(folder, in_pairs)[1])
        build_sheets(folder, 1)
        files = [path for path in root.rglob("*") if path.is_file()]
        return {path.relative_to(root).as_posix(): path.read_bytes() for path in files}


def copied(folder: ClassFolder, root: Path) -> ClassFolder:
    """Return a copy of a class in another folder, for a test of its own; times stay."""
    return ClassFolder(copytree(folder.root, root))


def record_of(folder: ClassFolder, student_id: str, build: int = -1, session: int = 1) -> CopyRecord:
    """Return what is on record of a student's sheet: the latest build, or another."""
    wanted = (student_id, session)
    records = keep.load_records(folder).values()
    (builds,) = (builds for builds in records if (builds[0].student_id, builds[0].session) == wanted)
    return builds[build]


def filled_sheet(
    folder: ClassFolder,
    student_id: str,
    change: Mapping[str, Value] | None = None,
    build: int = -1,
    data: bytes | None = None,
    stored: Mapping[str, Value] | None = None,
    session: int = 1,
) -> bytes:
    """Return a student's sheet with a full set of plausible entries, some of them changed.

    Parameters
    ----------
    data : the bytes to fill where it is not the file in sheets/.
    stored : results that the file carries instead of the right ones.
    """
    record = record_of(folder, student_id, build, session)
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    settings = built_with.settings
    (caliper,) = (one for one in settings.calipers if one.identifier == record.caliper_id)
    entries = {
        "caliper_id": caliper.identifier,
        "data_source": "measured",
        "side": "right",
        **sample_entries(built_with.protocol, settings, caliper, student_id),
        **(change or {}),
    }
    results = stored_results(built_with.protocol, settings, entries)
    handed_out = data or (folder.sheets(session) / record.file_name).read_bytes()
    return filled(handed_out, layout, entries, {**results, **(stored or {})})


def returned(folder: ClassFolder, name: str, data: bytes) -> Path:
    """Put a file into returned/ of session 1."""
    path = folder.returned(1) / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def changed_setting(folder: ClassFolder, label: str, value: Value) -> None:
    """Change a setting in the class book."""

    def beside(shown: Mapping[Place, str]) -> dict[Place, Value]:
        ((row, _),) = (place for place, text in shown.items() if text == label and place[1] == 0)
        return {(row, 1): value}

    folder.book.write_bytes(with_typed(folder.book.read_bytes(), "Class", beside))


def typed_in_book(folder: ClassFolder, tab: str, cells: Mapping[str, Value]) -> None:
    """Type into cells of a tab of the class book, named like B10; None empties one."""
    typed = {place_of(name): value for name, value in cells.items()}
    folder.book.write_bytes(with_typed(folder.book.read_bytes(), tab, lambda _: typed))


def with_text_replaced(data: bytes, old: str, new: str) -> bytes:
    """Return a workbook with one text retyped wherever it stands, on every tab and in the shared texts."""
    parts = [f"xl/worksheets/sheet{number}.xml" for number in range(1, 8)] + ["xl/sharedStrings.xml"]

    def change(part: bytes) -> bytes:
        return part.replace(old.encode(), new.encode())

    return with_parts_changed(data, dict.fromkeys(parts, change))


def attempts_in(folder: ClassFolder, session: int = 1, today: str = "") -> tuple[Attempt, ...]:
    """What reading a session says of each file, with the days on record and the review workbook; no tables
    and pages are made of it, and no scores kept."""
    with mock.patch("sheetgen.commands.read.write_results", lambda *_: ()):
        return read_returned(folder, session, today=today).attempts


def attempt_of(path: Path, name: str, known: OnRecord) -> Attempt:
    """What is read of one returned file, called by a name."""
    data = file_bytes(path, LARGEST_FILE)
    return (
        refused_attempt(name, "", data) if isinstance(data, Finding) else attempt_of_bytes(data, name, known)
    )
