"""What is known is not read again, what is not known any more is, and no result tells the difference."""

import os
import shutil
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import pytest

from sheetgen.flows import reading, workers
from sheetgen.flows.build import build_sheets
from sheetgen.flows.chunks import examined_here
from sheetgen.flows.examine_file import OnRecord
from sheetgen.flows.forget import forget_before
from sheetgen.flows.read import ReadSummary, read_returned
from sheetgen.model.attempt import Attempt
from sheetgen.model.decision import Decision
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.decisions import append_decisions
from tests.classes import PEOPLE, built_class, filled_sheet, record_of, returned
from tests.zips import zip_of

DAY = "2027-01-15"
EVERY = [f"{student}.xlsx" for student in PEOPLE]


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    folder = built_class(tmp_path / "class")
    for student, name in zip(PEOPLE, EVERY, strict=True):
        returned(folder, name, filled_sheet(folder, student))
    return folder


@pytest.fixture
def parsed_files(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are parsed, as they are."""
    names: list[str] = []

    def counted(files: Sequence[tuple[str, bytes]], known: OnRecord) -> list[Attempt]:
        names.extend(label for label, _ in files)
        return examined_here(files, known)

    monkeypatch.setattr(workers, "examined_here", counted)
    return names


def results(folder: ClassFolder) -> dict[str, bytes]:
    files = [path for path in folder.results(1).rglob("*") if path.is_file()]
    return {path.relative_to(folder.results(1)).as_posix(): path.read_bytes() for path in files}


def read(folder: ClassFolder, session: int = 1) -> ReadSummary:
    return read_returned(folder, session, today=DAY)


def test_known_files_are_not_parsed_again_and_the_results_are_the_same(
    folder: ClassFolder, parsed_files: list[str]
) -> None:
    first, before = read(folder), results(folder)
    assert parsed_files == EVERY
    second = read(folder)
    assert parsed_files == EVERY
    assert repr(second.attempts) == repr(first.attempts)
    assert results(folder) == before


def test_a_known_file_may_get_another_name_or_come_in_a_bundle(
    folder: ClassFolder, parsed_files: list[str]
) -> None:
    read(folder)
    (folder.returned(1) / "S01.xlsx").rename(folder.returned(1) / "of Ada.xlsx")
    data = (folder.returned(1) / "S02.xlsx").read_bytes()
    (folder.returned(1) / "S02.xlsx").unlink()
    returned(folder, "download.zip", zip_of({"Bo/sheet.xlsx": data}))
    files = [one.file for one in read(folder).attempts]
    assert files == ["S03.xlsx", "S04.xlsx", "download.zip/Bo/sheet.xlsx", "of Ada.xlsx"]
    assert parsed_files == EVERY


def test_a_file_that_is_gone_is_forgotten_and_the_bytes_are_those_of_a_new_reading(
    folder: ClassFolder, parsed_files: list[str]
) -> None:
    read(folder)
    (folder.returned(1) / "S04.xlsx").unlink()
    returned(folder, "A01.xlsx", filled_sheet(folder, "S04", {"mass_kg": 71.5}))
    read(folder)
    code = record_of(folder, "S03").copy_code.encode()
    kept = folder.known_files(1).read_bytes()
    assert code in kept
    (folder.returned(1) / "S03.xlsx").unlink()
    (folder.feedback(1) / record_of(folder, "S03").file_name).unlink()
    read(folder)
    again = results(folder)
    assert code not in again["known-files.bin"]
    shutil.rmtree(folder.results(1))
    read(folder)
    assert results(folder) == again


def test_a_reading_that_is_broken_off_goes_on_where_it_stopped(
    folder: ClassFolder, parsed_files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "CHUNK_FILES", 1)

    def broken_off(done: int, total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        read_returned(folder, 1, progress=broken_off, today=DAY)
    assert parsed_files == EVERY[:2]
    told: list[tuple[int, int]] = []
    read_returned(folder, 1, progress=lambda done, total: told.append((done, total)), today=DAY)
    assert parsed_files == EVERY
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def cut_short(data: bytes) -> bytes:
    return data[:-1000]


def with_a_bit_turned(data: bytes) -> bytes:
    place = data.index(b"mass_kg") + 10
    return data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]


def of_something_else(data: bytes) -> bytes:
    return b"PK\x03\x04" + b"\xff" * 5000


DAMAGES = (cut_short, with_a_bit_turned, of_something_else, lambda data: b"", lambda data: data + b"\0" * 9)


@pytest.mark.parametrize("damage", DAMAGES)
def test_what_is_remembered_is_never_trusted_over_the_file(
    folder: ClassFolder, damage: Callable[[bytes], bytes]
) -> None:
    read(folder)
    before = results(folder)
    folder.known_files(1).write_bytes(damage(before["known-files.bin"]))
    read(folder)
    assert results(folder) == before


def test_what_was_remembered_with_another_secret_does_not_count(
    folder: ClassFolder, parsed_files: list[str], tmp_path: Path
) -> None:
    """Who can write into results/ but not read keep/ can make nothing up."""
    other = built_class(tmp_path / "other", secret="0b" * 32)
    read(folder)
    other.results(1).mkdir(parents=True)
    shutil.copytree(folder.returned(1), other.returned(1))
    shutil.copy(folder.known_files(1), other.known_files(1))
    read(other)
    assert parsed_files == EVERY * 2


def corrected(folder: ClassFolder) -> None:
    code = record_of(folder, "S01").copy_code
    append_decisions(folder, [Decision(1, 1, code, "correction", "mass_kg", "66.5")])


def layouts_lost(folder: ClassFolder) -> None:
    shutil.rmtree(folder.layouts)


# what changes besides the files: which of them are parsed again
CIRCUMSTANCES = ((corrected, ["S01.xlsx"]), (layouts_lost, EVERY))


@pytest.mark.parametrize(("change", "again"), CIRCUMSTANCES)
def test_a_file_is_parsed_again_where_something_else_changed_that_it_depends_on(
    folder: ClassFolder, parsed_files: list[str], change: Callable[[ClassFolder], None], again: list[str]
) -> None:
    read(folder)
    change(folder)
    told = read(folder)
    assert parsed_files == [*EVERY, *again]
    shutil.rmtree(folder.results(1))
    assert repr(read(folder).attempts) == repr(told.attempts)


def test_sheets_of_another_session_leave_what_is_known_alone(
    folder: ClassFolder, parsed_files: list[str]
) -> None:
    read(folder)
    build_sheets(folder, 2)
    read(folder)
    assert parsed_files == EVERY


def test_earlier_sessions_are_looked_up_too(folder: ClassFolder, parsed_files: list[str]) -> None:
    read(folder)
    before = results(folder)
    build_sheets(folder, 2)
    read(folder, 2)
    assert parsed_files == EVERY
    assert results(folder) == before


def test_without_the_secret_nothing_is_remembered(folder: ClassFolder, parsed_files: list[str]) -> None:
    shutil.rmtree(folder.keep)
    for _ in range(2):
        read(folder)
    assert parsed_files == EVERY * 2
    assert not folder.known_files(1).exists()


def test_a_newer_program_reads_everything_anew(
    folder: ClassFolder, parsed_files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    read(folder)
    monkeypatch.setattr(reading, "program_digest", lambda: "another")
    read(folder)
    assert parsed_files == EVERY * 2


def test_forgetting_removes_what_is_remembered(folder: ClassFolder) -> None:
    read(folder)
    for path in folder.returned(1).iterdir():
        os.utime(path, (0, 0))
    forget_before(folder, date(2000, 1, 1), write=True)
    assert list(results(folder)) == ["marks.csv"]
