from pathlib import Path

import pytest

from sheetgen.errors import TemplateError
from sheetgen.store import templates
from sheetgen.store.templates import read_template, templates_folder


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
        ("../secret.txt", "out of the templates folder"),
        ("protocols/../../secret.txt", "out of the templates folder"),
        ("/secret.txt", "out of the templates folder"),
        ("latin.txt", "byte 4 is not UTF-8"),
    ],
)
def test_read_template_refuses(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, relative: str, message: str
) -> None:
    (tmp_path / "secret.txt").write_text("not a template", encoding="utf-8")
    (tmp_path / "templates" / "protocols").mkdir(parents=True)
    (tmp_path / "templates" / "latin.txt").write_bytes(b"caf\xe9")
    place_package(monkeypatch, tmp_path / "sheetgen")
    with pytest.raises(TemplateError, match=message):
        read_template(relative)
