"""The scripts that run before anything is installed: each way in which a machine falls short is one line that
says what to type."""

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[1]


def script(name: str, path: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(name, ROOT / path)
    assert found is not None and found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """The module, in a folder of its own with a path that has spaces and accents."""
    module = script("environment", "samples/environment.py")
    monkeypatch.setitem(sys.modules, "environment", module)
    root = tmp_path / "Übung 3 é"
    (root / "samples").mkdir(parents=True)
    monkeypatch.setattr(module, "ROOT", root)
    monkeypatch.setattr(module, "ENVIRONMENT", root / ".venv")
    monkeypatch.setattr(module, "WHEELS", root / ".wheels")
    monkeypatch.setattr(sys, "argv", [str(root / "samples" / "demo.py")])
    return module


def python_that(monkeypatch: pytest.MonkeyPatch, folder: Path, lines: str) -> Path:
    """A stand-in for Python; what it was asked stands in the file returned."""
    path, asked = folder / "python", folder / "asked.txt"
    path.write_text(f'#!/bin/sh\necho "$*" >>"{asked}"\n{lines}\n', encoding="utf-8")
    path.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(path))
    return asked


def test_a_python_that_is_too_old(environment: ModuleType) -> None:
    with pytest.raises(environment.SetupError) as fault:
        environment.check_version((3, 9), "/usr/bin/python3")
    assert str(fault.value) == (
        "/usr/bin/python3: found Python 3.9; expected 3.11 or newer. Start again with a newer one."
    )


def test_no_right_to_write(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file where a folder should be refuses the administrator too."""
    (environment.ROOT / "file").write_text("")
    monkeypatch.setattr(environment, "ENVIRONMENT", environment.ROOT / "file" / ".venv")
    with pytest.raises(environment.SetupError) as fault:
        environment.make_environment()
    assert str(fault.value).endswith(
        f'start again there: cp -R "{environment.ROOT}" ~/sheetgen && python3 ~/sheetgen/samples/demo.py'
    )


def test_a_python_that_makes_no_environments(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked = python_that(monkeypatch, tmp_path, "exit 1")
    with pytest.raises(environment.SetupError) as fault:
        environment.make_environment()
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    assert f"Type: sudo apt-get install python{version}-venv (" in str(fault.value)
    assert "Without an administrator: start demo.py with another Python" in str(fault.value)
    assert [line.split()[1] for line in asked.read_text().splitlines()] == ["venv", "virtualenv", "pip"]


def test_a_python_without_ensurepip_whose_own_pip_fills_the_environment(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    without = 'case "$*" in *--without-pip*|*pip*) exit 0;; *) exit 1;; esac'
    asked = python_that(monkeypatch, tmp_path, without)
    environment.make_environment()
    assert "install pip" in asked.read_text().splitlines()[-1]


def test_packages_that_were_brought_along_are_taken_and_nothing_else(environment: ModuleType) -> None:
    assert environment.offline() == []
    environment.WHEELS.mkdir()
    assert environment.offline() == ["--no-index", "--find-links", str(environment.WHEELS)]


def test_pip_that_fails_is_told_how_to_do_without_network(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    python = environment.ENVIRONMENT / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.write_text('#!/bin/sh\ncase "$*" in *install*) exit 1;; *-c*) echo 3 12;; esac\n')
    python.chmod(0o755)
    (environment.ROOT / "pyproject.toml").write_text("")
    with pytest.raises(environment.SetupError) as fault:
        environment.ensure_environment("test")
    assert (
        "Without network: on a computer of the same kind that has one, in a copy of this folder, type: "
        'python3 -m pip wheel --wheel-dir .wheels ".[test]" pip hatchling editables; copy the folder .wheels'
    ) in str(fault.value)


def test_code_is_copied_where_the_path_has_accents_and_installed_anew_when_it_changes(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = environment.ROOT
    (root / "pyproject.toml").write_text("")
    (root / "sheetgen").mkdir()
    (root / "sheetgen" / "one.py").write_text("1")
    before = environment.fingerprint()
    (root / "sheetgen" / "one.py").write_text("2")
    assert (environment.editable(), environment.fingerprint() == before) == ([], False)
    monkeypatch.setattr(environment, "ROOT", ROOT)
    assert environment.editable() == (["-e"] if str(ROOT).isascii() else [])


def test_demo_says_before_it_replaces_what_was_typed(
    environment: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    demo = script("demo", "samples/demo.py")
    (tmp_path / "demo" / "keep").mkdir(parents=True)
    with pytest.raises(environment.SetupError, match=r"found files without keep/demo\.txt") as fault:
        (tmp_path / "demo" / "mine.txt").write_text("")
        demo.clear(tmp_path / "demo")
    assert "Move it elsewhere or remove it" in str(fault.value)
    (tmp_path / "demo" / "keep" / "demo.txt").write_text("")
    demo.clear(tmp_path / "demo")
    assert not (tmp_path / "demo").exists()
    assert capsys.readouterr().err == (
        f"{tmp_path / 'demo'}: the class of an earlier demo is made anew; whatever was typed there goes.\n"
    )


def _run_script(monkeypatch: pytest.MonkeyPatch, missing: list[str]) -> tuple[ModuleType, list[list[str]]]:
    """tests/run.py where so much of the spreadsheet program is missing, nothing can be installed and every
    check passes; and the commands that it ran."""
    tests = script("run_tests", "tests/run.py")
    commands: list[list[str]] = []

    def passing(command: list[str], **settings: object) -> subprocess.CompletedProcess[bytes]:
        commands.append(command)
        return subprocess.CompletedProcess(command, 0, b"")

    monkeypatch.setattr(tests, "ensure_environment", lambda extra: Path("python"))
    monkeypatch.setattr(tests, "missing_office", lambda: missing)
    monkeypatch.setattr(tests, "install_system_packages", lambda *names: False)
    monkeypatch.setattr(tests, "run", passing)
    return tests, commands


def test_without_a_spreadsheet_program_the_rest_is_run_and_one_sentence_says_so(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tests, commands = _run_script(monkeypatch, ["LibreOffice Calc (soffice)", "pdftoppm"])
    assert tests.main(["-k", "zero"]) == 1
    (of_pytest,) = (command for command in commands if "pytest" in command)
    assert of_pytest[-4:] == ["-m", "not office", "-k", "zero"]
    assert len(commands) == 5
    assert (
        capsys.readouterr()
        .out.splitlines()[-1]
        .startswith(
            "== not everything was tested: some tests drive a spreadsheet program: found no LibreOffice Calc "
            "(soffice), no pdftoppm; install it (Debian, Ubuntu: sudo apt-get install libreoffice-calc "
        )
    )


def test_without_the_second_program_the_nightly_form_alone_leaves_its_tests_out_and_says_so(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tests, commands = _run_script(monkeypatch, [])
    monkeypatch.setattr(tests.shutil, "which", lambda name: None)
    assert tests.main([]) == 0
    assert [command for command in commands if "pytest" in command and "-m" in command[3:]] == []
    assert capsys.readouterr().out.splitlines()[-1] == "== all passed"
    assert tests.main(["--nightly"]) == 1
    (of_pytest,) = (command for command in commands[5:] if "pytest" in command)
    assert of_pytest[-2:] == ["-m", "not gnumeric"]
    assert (
        "== not everything was tested: some nightly tests drive Gnumeric: found no ssconvert; install it"
        in (capsys.readouterr().out)
    )


def test_double_click_for_windows_is_ascii_with_its_own_line_ends_and_stays_open() -> None:
    data = (ROOT / "samples" / "start-windows.cmd").read_bytes()
    assert data.isascii()
    assert data.count(b"\r\n") == data.count(b"\n") > 20
    assert b"pause\r\n" in data
    assert b"Python was not found on this computer. Install Python 3.11 or newer" in data


def test_double_click_for_macos_says_what_to_do_without_python(tmp_path: Path) -> None:
    for name in ("sh", "dirname"):
        (tmp_path / name).symlink_to(str(shutil.which(name)))
    done = subprocess.run(
        [str(ROOT / "samples" / "start-mac.command")],
        env={"PATH": str(tmp_path), "SHEETGEN_NO_WAIT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, os.access(ROOT / "samples" / "start-mac.command", os.X_OK)) == (2, True)
    assert done.stdout == (
        "Not done: no Python 3.11 or newer was found on this computer. Install it from python.org, then run "
        "this file again.\n"
    )
