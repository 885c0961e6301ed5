"""A whole session by double clicks alone: build, read, and what is said when something is wrong."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.new import new_class
from tests.classes import ROSTER, copied, filled_sheet, returned

AWKWARD = '3rd form\'s "best" $HOME `id` Übung & 100% (new)'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    place = tmp_path_factory.mktemp("made")
    (place / "r.csv").write_text(ROSTER, encoding="utf-8")
    return new_class(place / AWKWARD, place / "r.csv")


@pytest.fixture
def folder(made: ClassFolder, tmp_path: Path) -> ClassFolder:
    return copied(made, tmp_path / AWKWARD)


def clicked(folder: ClassFolder, name: str) -> tuple[int, str, str]:
    """Run a launcher where the command is not on the search path; exit code, last line, stderr."""
    tools = folder.root.parent / "tools"
    tools.mkdir(exist_ok=True)
    for program in ("sh", "dirname"):
        if not (tools / program).exists():
            (tools / program).symlink_to(str(shutil.which(program)))
    environment = {"PATH": str(tools), "SHEETGEN_NO_WAIT": "1", "LC_ALL": "C.UTF-8"}
    done = subprocess.run(
        [str(folder.launchers / {".sh": "linux", ".command": "mac"}[Path(name).suffix] / name)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        env={**environment, "HOME": os.environ.get("HOME", "/")},
    )
    return done.returncode, done.stdout.splitlines()[-1], done.stderr


def test_a_session_from_sheets_to_report(folder: ClassFolder) -> None:
    code, last, said = clicked(folder, "1 build sheets.sh")
    assert (code, last, said) == (0, "Done: the sheets are in the folder sheets, session-1.", "")
    assert len(list(folder.sheets(1).glob("*_*.xlsx"))) == 4
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    code, last, _ = clicked(folder, "2 read returned.sh")
    assert (code, last) == (0, "Done: the results are in the folder results, session-1.")
    assert folder.report(1).is_file()
    code, last, _ = clicked(folder, "3 open report.sh")
    assert last.endswith(f"Open this file: {folder.report(1)}")


def test_a_file_that_cannot_be_used_is_told_and_the_rest_is_read(folder: ClassFolder) -> None:
    clicked(folder, "1 build sheets.command")
    returned(folder, "photo.xlsx", b"\x89PNG\r\n\x1a\n" + b"\0" * 64)
    code, last, _ = clicked(folder, "2 read returned.command")
    assert (code, last) == (
        1, "Done, but some files could not be used: see above; the report names each, with what to do.",
    )  # fmt: skip
    assert "photo.xlsx" in folder.files(1).read_text(encoding="utf-8")


def test_a_class_book_that_cannot_be_used_says_why_and_what_to_do(folder: ClassFolder) -> None:
    folder.book.write_bytes(b"hello")
    code, last, said = clicked(folder, "1 build sheets.sh")
    assert (code, last) == (2, "Not done: the lines above say why and what to do.")
    assert said.startswith(f"sheetgen: {folder.book}: ")
