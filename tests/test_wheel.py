"""The wheel in an empty environment: templates travel inside it, and the command works from any folder."""

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import openpyxl
import pytest

from tests.classes import ROSTER
from tests.office.client import clean_environment

ROOT = Path(__file__).resolve().parents[1]
SCRIPTS = "Scripts" if sys.platform == "win32" else "bin"


def call(*command: object, cwd: Path) -> str:
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=clean_environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    call(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=ROOT)
    (path,) = folder.glob("*.whl")
    return path


def test_every_template_and_module_is_in_the_wheel(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    templates = {
        f"sheetgen/templates/{path.relative_to(ROOT / 'templates').as_posix()}"
        for path in (ROOT / "templates").rglob("*")
        if path.is_file()
    }
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "sheetgen").rglob("*.py")}
    beside = {"sheetgen/LICENSE", "sheetgen/py.typed"}
    assert sorted((templates | modules | beside) - inside) == []
    outside = [name for name in inside if not name.startswith(("sheetgen/", "skinfold_sheetgen-"))]
    assert outside == []


def test_the_licence_is_mit_and_said_so_in_the_wheel(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        (name,) = (name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
        said = archive.read(name).decode("utf-8").splitlines()
        text = archive.read("sheetgen/LICENSE").decode("ascii")
    assert "License-Expression: MIT" in said
    assert text.startswith("MIT License\n\nCopyright (c) 2026 the sheetgen authors\n")


def test_the_archive_of_the_source_holds_what_the_wheel_is_made_of(tmp_path: Path) -> None:
    call(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", tmp_path, cwd=ROOT)
    (path,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(path) as archive:
        inside = {name.partition("/")[2] for name in archive.getnames()}
    wanted = (
        "sheetgen/LICENSE",
        "sheetgen/py.typed",
        "README.md",
        "templates/roster.toml",
        "samples/demo.py",
    )
    assert [name for name in wanted if name not in inside] == []


@pytest.mark.nightly
def test_an_installed_wheel_builds_a_class_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    """Nightly, and the one test that needs a network: what the wheel depends on comes from a registry."""
    call(sys.executable, "-m", "venv", tmp_path / "empty", cwd=tmp_path)
    programs = tmp_path / "empty" / SCRIPTS
    call(programs / "python", "-m", "pip", "install", "--quiet", wheel, cwd=tmp_path)
    (tmp_path / "work").mkdir()
    (tmp_path / "work" / "r.csv").write_text(ROSTER, encoding="utf-8")
    call(programs / "sheetgen", "new", "F", "--roster", "r.csv", cwd=tmp_path / "work")
    call(programs / "sheetgen", "build", "F", cwd=tmp_path / "work")
    sheets = sorted((tmp_path / "work" / "F" / "sheets" / "session-1").glob("S*.xlsx"))
    assert [path.name[:4] for path in sheets] == ["S01_", "S02_", "S03_", "S04_"]
    tabs = openpyxl.load_workbook(sheets[0]).sheetnames
    assert tabs == [
        "Care",
        "Start",
        "Sites",
        "Drill",
        "Readings",
        "Working",
        "Results",
        "About",
        "Calculator",
    ]
    place = call(
        programs / "python",
        "-c",
        "from sheetgen.texts.templates import templates_folder; print(templates_folder())",
        cwd=tmp_path / "work",
    )
    assert Path(place.strip()).is_relative_to(tmp_path / "empty")
