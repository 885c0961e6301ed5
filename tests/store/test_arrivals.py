from pathlib import Path

import pytest

from sheetgen.errors import FolderError
from sheetgen.store.arrivals import first_seen
from sheetgen.store.class_folder import ClassFolder

A, B, C = ("a" * 64, "b" * 64, "c" * 64)


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return ClassFolder(tmp_path)


def test_first_seen_keeps_the_first_day_and_forgets_nothing(folder: ClassFolder) -> None:
    assert first_seen(folder, [A, "", A], "2027-03-01") == {A: "2027-03-01"}
    assert first_seen(folder, [B, A], "2027-03-05") == {B: "2027-03-05", A: "2027-03-01"}
    assert first_seen(folder, [C], "2027-03-09") == {C: "2027-03-09"}
    assert folder.arrivals.read_text(encoding="ascii").splitlines() == [
        "sha256,first_read", f"{A},2027-03-01", f"{B},2027-03-05", f"{C},2027-03-09",
    ]  # fmt: skip


def test_first_seen_of_nothing_new_writes_nothing(folder: ClassFolder) -> None:
    assert first_seen(folder, [], "2027-03-01") == {}
    assert not folder.keep.exists()
    first_seen(folder, [A], "2027-03-01")
    before = folder.arrivals.stat().st_mtime_ns, folder.arrivals.stat().st_ino
    first_seen(folder, [A], "2027-03-02")
    assert (folder.arrivals.stat().st_mtime_ns, folder.arrivals.stat().st_ino) == before


# what a spreadsheet program or a person made of the file
SAVED = (
    f"\ufeffsha256,first_read\r\n{A},2027-03-01\r\n",
    f'"sha256";"first_read"\n"{A}";"2027-03-01"',
    f"{A},2027-03-01\n\n,\n",
    f"sha256,first_read\n{A},2027-03-04\n{A},2027-03-01\n",
)


@pytest.mark.parametrize("text", SAVED)
def test_first_seen_in_a_file_saved_by_another_program(folder: ClassFolder, text: str) -> None:
    folder.keep.mkdir()
    folder.arrivals.write_bytes(text.encode("utf-8"))
    assert first_seen(folder, [A, B], "2027-03-09") == {A: "2027-03-01", B: "2027-03-09"}
    assert folder.arrivals.read_bytes().startswith(text.encode("utf-8"))
    assert first_seen(folder, [A, B], "2027-03-10") == {A: "2027-03-01", B: "2027-03-09"}


@pytest.mark.parametrize("line", [f"{A},1.3.2027", f"{A[:-1]},2027-03-01", A, "\udcff"])
def test_first_seen_of_a_line_that_is_damaged_names_it(folder: ClassFolder, line: str) -> None:
    """Left out, the file would count as new, and so as late."""
    data = f"sha256,first_read\n{line}\n".encode("utf-8", "surrogateescape")
    folder.keep.mkdir()
    folder.arrivals.write_bytes(data)
    with pytest.raises(FolderError, match=r"arrivals\.csv:2: .* expected a digest and a day"):
        first_seen(folder, [B], "2027-03-09")
    assert folder.arrivals.read_bytes() == data
