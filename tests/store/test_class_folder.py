from pathlib import Path

import pytest

from sheetgen.errors import FolderError
from sheetgen.store.class_folder import ClassFolder, find_class_folder, open_class_folder


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
        folder.book, folder.sheets(1), folder.paper_forms(1), folder.spare(1), folder.returned(2),
        folder.review(1),
        folder.decisions, folder.results(2), folder.report(1), folder.feedback(1), folder.marks(1),
        folder.attempts(1), folder.sites(1), folder.readings(1), folder.findings(1), folder.description(1),
        folder.keep,
    ]  # fmt: skip
    assert [path.as_posix() for path in paths] == [
        "c/class.xlsx", "c/sheets/session-1", "c/sheets/session-1/paper-forms.xlsx",
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
