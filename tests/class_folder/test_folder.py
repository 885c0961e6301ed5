"""The launchers: where they find their class, what they run, and what they say last."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder, find_class_folder, open_class_folder, write_launchers
from sheetgen.errors import FolderError


@pytest.fixture
def class_root(tmp_path: Path) -> Path:
    root = tmp_path / "school" / "my-class"
    (root / "sheets" / "session-1").mkdir(parents=True)
    (root / "class.xlsx").write_bytes(b"")
    return root


def test_class_folder_paths() -> None:
    """These places are promised to other people's scripts."""
    folder = ClassFolder(Path("c"))
    paths = [
        folder.book, folder.sheets(1), folder.paper_forms(1), folder.site_cards(1),
        folder.spare(1), folder.returned(2), folder.review(1),
        folder.decisions, folder.results(2), folder.report(1), folder.feedback(1), folder.marks(1),
        folder.attempts(1), folder.sites(1), folder.readings(1), folder.findings(1), folder.description(1),
        folder.keep,
    ]  # fmt: skip
    assert [path.as_posix() for path in paths] == [
        "c/class.xlsx", "c/sheets/session-1", "c/sheets/session-1/paper-forms.xlsx",
        "c/sheets/session-1/site-cards.xlsx",
        "c/sheets/session-1/spare",
        "c/returned/session-2", "c/review/session-1.xlsx", "c/review/decisions.csv", "c/results/session-2",
        "c/results/session-1/report.xlsx", "c/results/session-1/feedback", "c/results/session-1/marks.csv",
        "c/results/session-1/attempts.csv", "c/results/session-1/sites.csv",
        "c/results/session-1/readings.csv",
        "c/results/session-1/findings.csv", "c/results/session-1/datapackage.json",
        "c/keep",
    ]  # fmt: skip


def test_class_folder_keeps_its_memory_in_one_place() -> None:
    folder = ClassFolder(Path("c"))
    assert {path.parent for path in (folder.secret, folder.handed_out, folder.layouts)} == {folder.keep}


def test_class_folder_of_session_0() -> None:
    with pytest.raises(ValueError, match="counts from 1"):
        ClassFolder(Path("c")).sheets(0)


@pytest.mark.parametrize("below", ["", "sheets", "sheets/session-1", "sheets/session-1/a.xlsx"])
def test_find_class_folder_from_below(class_root: Path, below: str) -> None:
    assert find_class_folder(class_root / below) == ClassFolder(class_root)


def test_find_class_folder_where_there_is_none(class_root: Path) -> None:
    assert find_class_folder(class_root.parent) is None


def test_open_class_folder(class_root: Path) -> None:
    assert open_class_folder(class_root) == ClassFolder(class_root)


@pytest.mark.parametrize(
    ("place", "found", "remedy"),
    [
        ("nothing", "no such folder", "sheetgen new"),
        ("empty", "a folder without class.xlsx", "sheetgen new"),
        ("school", "a folder without class.xlsx", "Did you mean .*my-class"),
        ("school/my-class/sheets", "a folder without class.xlsx", "Did you mean .*my-class"),
        ("school/my-class/class.xlsx", "a file", "Did you mean .*my-class"),
    ],
)
def test_open_class_folder_of_something_else(
    class_root: Path, tmp_path: Path, place: str, found: str, remedy: str
) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(
        FolderError, match=f"{found}; expected a class folder, which holds class.xlsx.*{remedy}"
    ):
        open_class_folder(tmp_path / place)


AWKWARD = '3rd form\'s "best" $HOME `id` Übung & 100% (new)'
"""A folder name with everything that a shell takes for something else."""
SYSTEMS = {".cmd": "windows", ".command": "mac", ".sh": "linux"}
SHOW = '#!/bin/sh\nprintf "%s\\n" "$@" >"$SEEN"\necho worked\nexit "${CODE:-0}"\n'
"""A program that writes down what it was asked."""


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    folder = ClassFolder(tmp_path / AWKWARD)
    write_launchers(folder, "")
    return folder


def tools(root: Path, *programs: str) -> Path:
    """A search path of its own, with nothing on it that has sheetgen, and stand-ins for some programs."""
    place = root / "tools"
    place.mkdir()
    for name in ("sh", "dirname"):
        (place / name).symlink_to(str(shutil.which(name)))
    for name in programs:
        (place / name).write_text(SHOW)
        (place / name).chmod(0o755)
    return place


def launched(
    folder: ClassFolder, name: str, path: Path, typed: str | None = None, **more: str
) -> tuple[int, list[str], list[str]]:
    """Run a launcher from another folder; return its exit code, its lines, and what a stand-in was asked."""
    seen = path / "seen.txt"
    wait = {"SHEETGEN_NO_WAIT": "1"} if typed is None else {}
    done = subprocess.run(
        [str(folder.launchers / SYSTEMS[Path(name).suffix] / name)],
        input=typed or "",
        capture_output=True,
        text=True,
        check=False,
        cwd=path,
        env={"PATH": str(path), "SEEN": str(seen), "LC_ALL": "C.UTF-8", **wait, **more},
    )
    asked = seen.read_text(encoding="utf-8").splitlines() if seen.exists() else []
    return done.returncode, done.stdout.splitlines(), asked


def test_each_system_has_its_three_in_a_folder_and_only_shells_are_executable(folder: ClassFolder) -> None:
    names = ("1 build sheets", "2 read returned", "3 open report")
    there = {path.relative_to(folder.launchers).as_posix(): path for path in folder.launchers.rglob("*.*")}
    assert sorted(there) == sorted(f"{SYSTEMS[end]}/{name}{end}" for name in names for end in SYSTEMS)
    executable = {name for name, path in there.items() if os.access(path, os.X_OK)}
    assert executable == {name for name in there if not name.startswith("windows/")}


def test_those_of_an_earlier_version_give_way(folder: ClassFolder) -> None:
    (folder.launchers / "1 build sheets.sh").write_text("earlier")
    (folder.launchers / "mine.sh").write_text("the teacher's")
    write_launchers(folder, "")
    assert sorted(path.name for path in folder.launchers.iterdir()) == ["linux", "mac", "mine.sh", "windows"]


def test_what_windows_runs_ends_its_lines_its_own_way(folder: ClassFolder) -> None:
    data = (folder.launchers / "windows" / "1 build sheets.cmd").read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") > 40
    assert data.isascii()


def test_they_hold_no_path_of_the_machine_but_in_the_one_file(folder: ClassFolder) -> None:
    write_launchers(folder, sys.executable)
    holding = [
        path.name
        for path in folder.launchers.rglob("*.*")
        if sys.executable.encode() in path.read_bytes() or str(folder.root).encode() in path.read_bytes()
    ]
    assert holding == ["python.txt"]


# launcher, what the command is asked, last line
RUNS = (
    ("1 build sheets.sh", "build", "Done: the sheets are in the folder sheets, session-1."),
    ("1 build sheets.command", "build", "Done: the sheets are in the folder sheets, session-1."),
    ("2 read returned.sh", "read", "Done: the results are in the folder results, session-1."),
)


@pytest.mark.parametrize(("name", "action", "last"), RUNS)
def test_the_class_is_the_folder_above_whatever_it_is_called(
    folder: ClassFolder, tmp_path: Path, name: str, action: str, last: str
) -> None:
    code, lines, asked = launched(folder, name, tools(tmp_path, "sheetgen"))
    assert (code, lines[-1]) == (0, last)
    assert asked == [action, str(folder.root), "--session", "1"]
    assert lines[-3:-1] == ["Working ...", "worked"]


def test_the_session_is_asked_for_and_the_window_waits(folder: ClassFolder, tmp_path: Path) -> None:
    path = tools(tmp_path, "sheetgen")
    code, lines, asked = launched(folder, "1 build sheets.sh", path, typed="2\n\n")
    assert (code, asked[-1]) == (0, "2")
    assert lines[-2:] == [
        "Done: the sheets are in the folder sheets, session-2.",
        "Press Enter to close this window. ",
    ]
    assert launched(folder, "1 build sheets.sh", path, typed="\n\n")[2][-1] == "1"


@pytest.mark.parametrize("wrong", ("0", "two", "-1", "100", "1; echo hacked", "$(echo 3)"))
def test_a_wrong_session_is_asked_again(folder: ClassFolder, tmp_path: Path, wrong: str) -> None:
    path = tools(tmp_path, "sheetgen")
    code, lines, asked = launched(folder, "2 read returned.command", path, typed=f"{wrong}\n3\n\n")
    assert (code, asked[-1]) == (0, "3")
    assert "That is no session. Type a number from 1 to 99, such as 2." in lines[1]


def test_a_wrong_session_and_nobody_there_to_ask_again(folder: ClassFolder, tmp_path: Path) -> None:
    code, lines, asked = launched(folder, "1 build sheets.sh", tools(tmp_path, "sheetgen"), typed="two")
    assert (code, asked) == (2, [])
    assert lines[-2].endswith("Not done: no session was chosen.")


def test_on_windows_what_may_be_a_shim_is_called_and_no_path_stands_on_that_line(folder: ClassFolder) -> None:
    """Without `call` a batch file that runs another one ends with it; `call` reads percent signs twice."""
    lines = (folder.launchers / "windows" / "2 read returned.cmd").read_text(encoding="ascii").splitlines()
    runs = [line.partition(" && ")[0] for line in lines if "sheetgen " in line and "echo" not in line]
    runs = [line for line in runs if not line.startswith(("rem", "where", 'if defined recorded "'))]
    assert len(runs) == 6
    assert [line for line in runs if '"%recorded%" -m' not in line and "call " not in line] == []
    assert [line for line in runs if "%class%" in line or "%~dp0" in line] == []


# launcher, exit code of the command, last line
FAILURES = (
    ("1 build sheets.sh", 2, "Not done: the lines above say why and what to do."),
    ("2 read returned.sh", 2, "Not done: the lines above say why and what to do."),
    (
        "2 read returned.sh",
        1,
        "Done, but some files could not be used: see above; the report names each, with what to do.",
    ),
)


@pytest.mark.parametrize(("name", "code", "last"), FAILURES)
def test_a_command_that_fails_is_told_in_the_last_line(
    folder: ClassFolder, tmp_path: Path, name: str, code: int, last: str
) -> None:
    done, lines, _ = launched(folder, name, tools(tmp_path, "sheetgen"), CODE=str(code))
    assert (done, lines[-1]) == (code, last)


def test_without_the_command_the_python_written_down_runs_it(folder: ClassFolder, tmp_path: Path) -> None:
    path = tools(tmp_path)
    (tmp_path / "a python").write_text(SHOW)
    (tmp_path / "a python").chmod(0o755)
    write_launchers(folder, str(tmp_path / "a python"))
    code, _, asked = launched(folder, "1 build sheets.sh", path)
    assert (code, asked) == (0, ["-m", "sheetgen", "build", str(folder.root), "--session", "1"])


def test_a_python_that_is_gone_gives_way_to_another(folder: ClassFolder, tmp_path: Path) -> None:
    write_launchers(folder, str(tmp_path / "no longer there"))
    code, _, asked = launched(folder, "1 build sheets.sh", tools(tmp_path, "python3"))
    assert (code, asked[:3]) == (0, ["-m", "sheetgen", "build"])


def test_without_any_program_the_last_line_says_what_to_do(folder: ClassFolder, tmp_path: Path) -> None:
    code, lines, _ = launched(folder, "1 build sheets.sh", tools(tmp_path))
    assert code == 2
    assert lines[-1].startswith(
        "Not done: Python was not found on this computer. Install Python 3.11 or newer"
    )


def test_where_python_lacks_sheetgen_the_last_line_says_what_to_type(
    folder: ClassFolder, tmp_path: Path
) -> None:
    path = tools(tmp_path)
    (path / "python3").write_text("#!/bin/sh\nexit 1\n")
    (path / "python3").chmod(0o755)
    code, lines, _ = launched(folder, "1 build sheets.sh", path)
    assert code == 2
    assert lines[-1].startswith("Not done: sheetgen was not found on this computer. Open a terminal in the ")


def test_the_report_is_opened_where_there_is_one(folder: ClassFolder, tmp_path: Path) -> None:
    path = tools(tmp_path, "xdg-open", "open")
    code, lines, asked = launched(folder, "3 open report.sh", path)
    assert (code, asked) == (2, [])
    last = "Not done: there is no report of session 1 yet. Run '2 read returned' first."
    assert lines[-1] == last
    folder.report(1).parent.mkdir(parents=True)
    folder.report(1).write_bytes(b"report")
    for name in ("3 open report.sh", "3 open report.command"):
        code, lines, asked = launched(folder, name, path)
        assert (code, asked) == (0, [str(folder.report(1))])
        assert lines[-1] == "Done: the report of session 1 is opened."


def test_where_nothing_opens_a_workbook_the_report_is_named(folder: ClassFolder, tmp_path: Path) -> None:
    folder.report(1).parent.mkdir(parents=True)
    folder.report(1).write_bytes(b"report")
    code, lines, _ = launched(folder, "3 open report.sh", tools(tmp_path))
    assert code == 2
    assert lines[-1].endswith(f"Open this file: {folder.report(1)}")


def test_a_folder_keep_that_cannot_be_read_stops_and_is_never_taken_for_empty(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "class.xlsx").write_bytes(b"")
    assert open_class_folder(tmp_path) == ClassFolder(tmp_path)
    (tmp_path / "keep").write_bytes(b"")
    with pytest.raises(FolderError, match=r"keep: it cannot be read .*; expected a folder that can be read"):
        open_class_folder(tmp_path)
    (tmp_path / "keep").unlink()
    (tmp_path / "keep").mkdir()
    assert open_class_folder(tmp_path) == ClassFolder(tmp_path)

    def no_right(path: Path) -> list[str]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.listdir", no_right)
    with pytest.raises(FolderError, match="Permission denied"):
        open_class_folder(tmp_path)


def test_a_folder_with_blanks_is_typed_in_quotes() -> None:
    assert (ClassFolder(Path("a")).typed, ClassFolder(Path("a b")).typed) == ("a", '"a b"')
