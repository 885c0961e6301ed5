"""The commands: exit codes, what goes to stdout and what to stderr."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from sheetgen import __version__
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.cli.job import main
from tests.classes import built_class, changed_setting, filled_sheet, record_of, returned, run


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def test_version() -> None:
    assert run("--version").stdout.strip().endswith(__version__)


# arguments that no command takes
WRONG = (
    ("neew",),
    ("new",),
    ("build", "class", "--session", "0"),
    ("build", "class", "--session", "one"),
    ("read", "class", "--sesion", "1"),
    ("look",),
)


@pytest.mark.parametrize("arguments", WRONG)
def test_wrong_usage_is_exit_code_2_on_stderr(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "Error: " in result.stderr


def test_exit_codes_of_read(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": "twelve"}))
    assert run("read", folder.root).exit_code == 0
    returned(folder, "bad.xlsx", b"")
    assert run("read", folder.root).exit_code == 1
    folder.book.unlink()
    assert run("read", folder.root).exit_code == 2


def test_results_go_to_stdout_and_findings_to_stderr(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": 12.3}))
    result = run("read", folder.root)
    assert "  S01, chest: a reading lies between two marks of the scale." in result.stderr.splitlines()
    assert "lies between" not in result.stdout
    assert "1 file came back: 1 count" in result.stdout.splitlines()


def test_code_and_cell_are_said_on_demand_only(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01", {"reading_1_chest": 12.3}))
    assert "entry-off-scale" not in run("read", folder.root).stderr
    assert "!C5: warning entry-off-scale" in run("read", folder.root, "--verbose").stderr


def test_json_of_read_is_json_alone_on_stdout(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "bad.xlsx", b"")
    result = run("read", folder.root, "--json")
    assert result.exit_code == 1
    shown = json.loads(result.stdout)
    assert [(one["file"], one["incoming_name"], one["status"]) for one in shown] == [
        ("unknown-1", "bad.xlsx", "refused"),
        (f"{record_of(folder, 'S01').copy_code}.xlsx", "one.xlsx", "accepted"),
    ]
    assert list(shown[0]) == [
        "file", "incoming_name", "sha256", "status", "copy_code", "student_id", "findings",
    ]  # fmt: skip


def test_notes_are_left_to_the_tables_by_read(folder: ClassFolder) -> None:
    returned(folder, "one.xlsx", filled_sheet(folder, "S01", {"participant_today": "P-GUEST"}))
    assert run("read", folder.root).stderr == ""
    assert "identity-other-participant" in folder.findings(1).read_text(encoding="utf-8")


def test_a_name_with_control_characters_cannot_drive_the_terminal(folder: ClassFolder) -> None:
    returned(folder, "a\x1b[31m\nb.xlsx", b"")
    result = run("read", folder.root, "--verbose")
    assert "\x1b" not in result.stdout + result.stderr
    (line,) = result.stderr.splitlines()
    assert line.startswith("unknown-1 (a?[31m?b.xlsx): error file-empty")


def test_build_and_new_say_what_comes_next(tmp_path: Path) -> None:
    roster = tmp_path / "r.csv"
    roster.write_text("student_id,given_name,family_name\nS01,Ada,Fen\nS02,Bo,Heath\n", encoding="utf-8")
    made = run("new", tmp_path / "class", "--roster", roster)
    assert f"sheetgen build {tmp_path / 'class'}" in made.stdout
    built = run("build", tmp_path / "class")
    assert built.stdout.splitlines() == [
        f"{tmp_path / 'class' / 'sheets' / 'session-1'}: 2 written, 0 as they were",
        f"{tmp_path / 'class' / 'sheets' / 'session-1'}/spare: 6 for people not on the roster. When one is "
        "used, add the person to the tab Roster, and type its copy code beside their pair on the tab Pairs.",
        f"{tmp_path / 'class' / 'sheets' / 'session-1'}: to print: paper-forms.xlsx, site-cards.xlsx, "
        "for-the-teacher.xlsx",
        "Every sheet prints the cautions. School policy, local law and licensed practice come first.",
    ]


def test_reading_where_nothing_came_back_says_where_to_put_it(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    result = run("read", folder.root)
    place = folder.root / "returned" / "session-1"
    last = result.stdout.splitlines()[-1]
    assert last == f"Next: put the files or the zip into {place}, then: sheetgen read {folder.root}"


def test_one_student_alone_has_nobody_to_measure(tmp_path: Path) -> None:
    """The only other person is a teacher, and teachers are left out when pairs are made."""
    roster = tmp_path / "r.csv"
    head = "student_id,given_name,family_name,role\n"
    roster.write_text(f"{head}S01,Ada,Fen,student\nT01,Bo,Heath,teacher\n", encoding="utf-8")
    run("new", tmp_path / "class", "--roster", roster)
    result = run("build", tmp_path / "class")
    assert result.exit_code == 2
    assert "nobody measures anybody" in result.stderr


def test_a_name_that_the_terminal_has_no_sign_for_is_printed_all_the_same(folder: ClassFolder) -> None:
    """A Windows terminal takes some 200 signs, and a name on Linux may be no text at all."""
    returned(folder, "\u6f22\udcff.xlsx", b"text")
    for options in ((), ("--json",)):
        result = CliRunner(charset="cp1252").invoke(main, ["read", str(folder.root), *options])
        assert result.exit_code == 1
        assert "??.xlsx" in result.output


def test_read_build_and_look_remind_of_the_day_to_delete(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    path = returned(folder, "S01.xlsx", filled_sheet(folder, "S01"))
    changed_setting(folder, "Delete on", "2020-01-31")
    for arguments in (("read", folder.root), ("build", folder.root), ("look", path)):
        said = run(*arguments).stderr
        assert "body values were to be deleted on 2020-01-31" in said, arguments


def test_the_command_alone_says_the_five_steps() -> None:
    result = run()
    assert (result.exit_code, result.stderr) == (0, "")
    steps = [line.strip() for line in result.stdout.splitlines() if line.strip()[:1].isdigit()]
    assert [line[0] for line in steps] == ["1", "2", "3", "4", "5"]
    assert [line.split()[2] for line in steps if "sheetgen" in line] == ["new", "build", "read", "gradebook"]


# arguments, the last line
WAYS_OUT = (
    (("biuld", "class"), "Error: No such command 'biuld'. Did you mean 'build'?"),
    (("xyz",), "Error: No such command 'xyz'. `sheetgen` alone says the steps."),
    (
        ("forget", "class", "--before", "31.1.2027"),
        "Error: Invalid value for '--before': '31.1.2027' is no day; write year-month-day, "
        "such as 2027-01-31.",
    ),
)


@pytest.mark.parametrize(("arguments", "last"), WAYS_OUT)
def test_wrong_usage_says_the_way_out(arguments: tuple[str, ...], last: str) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stderr.splitlines()[-1]) == (2, last)
