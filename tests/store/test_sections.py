"""Other classes beside a class folder, known by the code that their secret makes."""

from pathlib import Path

import pytest

from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.keep import class_code
from sheetgen.store.sections import class_folder_beside

SECRET = "0b" * 32


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    for name, secret in (("monday", "0a" * 32), ("tuesday", SECRET), ("broken", "no secret")):
        (tmp_path / name / "keep").mkdir(parents=True)
        (tmp_path / name / "keep" / "secret.txt").write_text(f"{secret}\n", encoding="ascii")
    (tmp_path / "a file").write_text("mine")
    return ClassFolder(tmp_path / "monday")


def test_the_folder_of_a_class_code_is_named(folder: ClassFolder) -> None:
    assert class_folder_beside(folder, class_code(SECRET)) == "tuesday"


def test_an_unknown_code_its_own_and_none_name_no_folder(folder: ClassFolder) -> None:
    assert class_folder_beside(folder, "222222") == ""
    assert class_folder_beside(folder, class_code("0a" * 32)) == ""
    assert class_folder_beside(folder, "") == ""
    assert class_folder_beside(None, class_code(SECRET)) == ""


def test_a_parent_that_cannot_be_listed_is_no_fault(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", closed)
    assert class_folder_beside(folder, class_code(SECRET)) == ""
