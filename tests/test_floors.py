"""The rooms: imports go down only, measurement stands alone, every module has public names and tests."""

import ast
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

ROOT = Path(__file__).resolve().parents[1]

MAY_LOAD = {
    "collections.abc",
    "dataclasses",
    "decimal",
    "functools",
    "math",
    "re",
    "statistics",
    "typing",
    "unicodedata",
}

# module without a test file of its own: why
WITHOUT_TEST: dict[str, str] = {
    "sheetgen.class_folder.records": "records without behaviour",
    "sheetgen.marking.scheme": "records; the tests of scheme files and of marks read them",
    "sheetgen.protocols.settings": "records without behaviour",
    "sheetgen.workbook.layout": "records; the renderer's and the reader's tests go through them",
    "sheetgen.errors": "records without behaviour; the commands' tests read their sentence",
}


def modules() -> list[str]:
    """Every module of the package that is not an empty package file."""
    names = []
    for path in sorted((ROOT / "sheetgen").rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if parts[-1] != "__init__":
            names.append(".".join(parts))
        elif len(path.read_text(encoding="utf-8").splitlines()) > 1:
            names.append(".".join(parts[:-1]))
    return names


def test_imports_go_down_only(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT)
    done = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    said = capsys.readouterr().out
    assert done == EXIT_STATUS_SUCCESS, said
    assert "2 kept, 0 broken" in said


def test_measurement_loads_little_and_nothing_above_it() -> None:
    core = [name for name in modules() if name.startswith("sheetgen.measurement.")]
    assert len(core) == 3
    script = (
        "import sys\n"
        # What these load in turn is the standard library's affair.
        f"import {', '.join(sorted(MAY_LOAD))}\n"
        "before = set(sys.modules)\n"
        f"import {', '.join(core)}\n"
        "print(*sorted(set(sys.modules) - before), sep='\\n')\n"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert set(done.stdout.split()) == {"sheetgen", "sheetgen.measurement", *core}


def test_a_leading_underscore_keeps_a_name_in_its_module() -> None:
    """A name without one is public, so every module has some; no module takes another's private names."""
    for path in (ROOT / "sheetgen").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        taken = [
            f"{node.module}.{name.name}"
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            for name in node.names
            if name.name.startswith("_") and node.module != "__future__"
        ]
        assert [name for name in taken if name != "sheetgen.__version__"] == [], path
        defined = [
            getattr(node, "name", "") or ast.unparse(node).split(" ")[0].rstrip(":")
            for node in tree.body
            if not isinstance(node, ast.Expr | ast.Import | ast.ImportFrom)
        ]
        if path.name not in ("__init__.py", "__main__.py"):
            assert [name for name in defined if not name.startswith("_")], path


def test_a_package_file_holds_only_its_docstring() -> None:
    for path in sorted((ROOT / "sheetgen").glob("*/__init__.py")):
        lines = path.read_text(encoding="utf-8").splitlines()
        assert len(lines) == 1, path


def test_every_module_has_a_test_file_that_mirrors_it() -> None:
    missing = [
        module
        for module in modules()
        if module != "sheetgen" and module not in WITHOUT_TEST and not _mirror(module).is_file()
    ]
    assert missing == []


def test_no_exception_is_out_of_date() -> None:
    assert [module for module in WITHOUT_TEST if module not in modules() or _mirror(module).is_file()] == []


def test_no_test_file_mirrors_a_module_that_is_gone() -> None:
    floors = [path.name for path in (ROOT / "sheetgen").iterdir() if path.is_dir()]
    known = {_mirror(module) for module in modules() if module != "sheetgen"}
    found = {path for floor in floors for path in (ROOT / "tests" / floor).glob("test_*.py")}
    assert sorted(found - known) == []


def test_a_room_is_found_in_one_look() -> None:
    """At most 20 modules in a folder, and no two modules of one name but a command and its room's."""
    files = [
        path for path in (ROOT / "sheetgen").rglob("*.py") if path.name not in ("__init__.py", "__main__.py")
    ]
    folders = Counter(path.parent for path in files)
    assert {folder.name: count for folder, count in folders.items() if count > 20} == {}
    names = Counter(path.stem for path in files if path.parent.name != "commands")
    assert [name for name, count in names.items() if count > 1] == []


def test_every_file_that_the_developers_page_names_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:[a-z_]+/)+[\w.-]+\.(?:py|toml|md))`", text)
    assert len(named) > 30
    inside = ("", "sheetgen/")
    known = [
        name for name in named if "LANG" not in name and "ID" not in name and not name.startswith("keep/")
    ]
    assert [name for name in known if not any((ROOT / f"{start}{name}").is_file() for start in inside)] == []


def test_modules_are_small() -> None:
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / "sheetgen").rglob("*.py")
    }
    assert {name: length for name, length in lengths.items() if length > 450} == {}


def _mirror(module: str) -> Path:
    *floors, name = module.split(".")[1:]
    return ROOT.joinpath("tests", *floors, f"test_{name}.py")
