"""Template files: what shipped ones and a teacher's own share."""

from pathlib import Path

import pytest

from sheetgen.errors import TemplateError, UsageError
from sheetgen.texts import templates
from sheetgen.texts.templates import (
    TemplateKind,
    examined,
    path_of,
    read_template,
    shipped,
    table_of,
    templates_folder,
)
from sheetgen.texts.toml_tables import Fault, FileFault, Table


def place_package(monkeypatch: pytest.MonkeyPatch, package: Path) -> None:
    monkeypatch.setattr(templates, "_PACKAGE", package)


def test_templates_folder_holds_the_protocols() -> None:
    assert (templates_folder() / "protocols" / "seven-sites.toml").is_file()


def test_templates_folder_inside_an_installed_package(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What was installed with the package goes before a folder beside it."""
    (tmp_path / "sheetgen" / "templates" / "protocols").mkdir(parents=True)
    (tmp_path / "templates" / "protocols").mkdir(parents=True)
    place_package(monkeypatch, tmp_path / "sheetgen")
    assert templates_folder() == tmp_path / "sheetgen" / "templates"


def test_templates_folder_beside_the_package_in_a_checkout(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "templates" / "protocols").mkdir(parents=True)
    place_package(monkeypatch, tmp_path / "sheetgen")
    assert templates_folder() == tmp_path / "templates"


def test_templates_folder_of_something_else_is_not_taken(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "templates").mkdir()
    place_package(monkeypatch, tmp_path / "sheetgen")
    with pytest.raises(TemplateError, match="no templates here"):
        templates_folder()


def test_read_template_of_a_shipped_file() -> None:
    assert 'identifier = "seven-sites"' in read_template("protocols/seven-sites.toml")


@pytest.mark.parametrize(
    ("relative", "message"),
    [
        ("protocols/nothing.toml", "cannot be read"),
        ("protocols", "cannot be read"),
        ("latin.txt", "cannot be read .*position 3.* expected a text file in UTF-8"),
    ],
)
def test_read_template_refuses(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, relative: str, message: str
) -> None:
    (tmp_path / "templates" / "protocols").mkdir(parents=True)
    (tmp_path / "templates" / "latin.txt").write_bytes(b"caf\xe9")
    place_package(monkeypatch, tmp_path / "sheetgen")
    with pytest.raises(TemplateError, match=message):
        read_template(relative)


def _title_faults(table: Table) -> list[Fault]:
    return [] if "title" in table else [Fault(("title",), "missing", "a text")]


KIND = TemplateKind("marking scheme", "marking", _title_faults)


def _file(folder: Path, text: str | bytes) -> Path:
    path = folder / "own.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def test_shipped_and_its_path() -> None:
    assert shipped(KIND) == ("usual",)
    assert path_of(KIND, "usual").name == "usual.toml"
    assert path_of(KIND, "mine/own.toml") == Path("mine/own.toml")


def test_path_of_a_near_miss() -> None:
    with pytest.raises(
        UsageError, match=r"no marking scheme 'usal'; expected usual\. Did you mean 'usual'\?"
    ):
        path_of(KIND, "usal")


# contents of the file, its faults
FILES = (
    ('title = "A"\n', ()),
    ("", (FileFault(0, "title", "missing", "a text"),)),
    (b"title = \xff", (FileFault(1, "", "byte 9 is not UTF-8", "a file saved as UTF-8 text"),)),
    ("#" * 200_001, (FileFault(0, "", "more than 200 kB", "a marking scheme file of a few kB"),)),
    (
        'title = "A"\nidentifier = "usual"\n',
        (FileFault(2, "identifier", "'usual', the name of a shipped marking scheme", "a name of its own"),),
    ),
)


@pytest.mark.parametrize(("contents", "expected"), FILES)
def test_examined(tmp_path: Path, contents: str | bytes, expected: tuple[FileFault, ...]) -> None:
    assert examined(KIND, _file(tmp_path, contents))[1] == expected


def test_table_of_a_file_with_a_fault_names_it(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match=r"1 fault; .*\n  title: missing; expected a text"):
        table_of(KIND, _file(tmp_path, ""))


def test_table_of_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match="a marking scheme file"):
        table_of(KIND, tmp_path / "none.toml")
