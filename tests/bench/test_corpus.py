"""The files that speed is measured on: as a spreadsheet program saved them, honest, read the same by all."""

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.returned.whose import on_record
from sheetgen.workbook.read.guard import Package, read_package
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import Snapshot
from tests.bench.corpus import class_with_sheets, files_of, fill_class
from tests.classes import attempt_of
from tests.referee import comparable, referee_snapshot

pytestmark = pytest.mark.office

HONEST_NOTES = {"sheet-structure-open"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    one = class_with_sheets(tmp_path_factory.mktemp("bench") / "class", 4)
    fill_class(one, saved=2)
    return one


def test_every_file_of_a_measured_class_is_an_honest_one(folder: ClassFolder) -> None:
    """Those made from the bytes of others too: own texts, own readings, results that follow from them."""
    known = on_record(folder)
    attempts = [attempt_of(path, path.name, known) for path in files_of(folder)]
    assert [one.status for one in attempts] == ["accepted"] * 4
    assert {finding.code for one in attempts for finding in one.findings} <= HONEST_NOTES
    assert len({tuple(sorted(one.entries.items())) for one in attempts}) == 4
    assert all(one.results is not None and one.results.sum_mm is not None for one in attempts)


def test_snapshots_of_saved_files_are_those_of_the_referee(folder: ClassFolder) -> None:
    for path in files_of(folder):
        package = read_package(path)
        assert isinstance(package, Package)
        read = snapshot(package)
        assert isinstance(read, Snapshot)
        assert comparable(read) == comparable(referee_snapshot(path.read_bytes()))
