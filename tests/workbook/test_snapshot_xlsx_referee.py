"""Sheets as they are handed out, filled, and saved by another library: read as the referee reads them."""

import io
from functools import lru_cache

import openpyxl
import pytest

from sheetgen.flows.sample_entries import sample_entries, stored_results
from sheetgen.model.snapshot import Snapshot
from sheetgen.workbook.fill import filled
from sheetgen.workbook.package import Package, read_package_bytes
from sheetgen.workbook.snapshot_xlsx import snapshot
from tests.referee import comparable, referee_snapshot
from tests.sheets import CALIPERS, sheet_of


@lru_cache(maxsize=4)
def _filled(seed: str) -> bytes:
    sheet = sheet_of()
    protocol, rules = sheet.source.protocol, sheet.source.settings
    entries = {**sample_entries(protocol, rules, CALIPERS[0], seed), "caliper_id": "C1", "side": "right"}
    return filled(sheet.data, sheet.layout, entries, stored_results(protocol, rules, entries))


def _saved_by_openpyxl(seed: str) -> bytes:
    stream = io.BytesIO()
    openpyxl.load_workbook(io.BytesIO(_filled(seed))).save(stream)
    return stream.getvalue()


_FILES = {
    "handed out": lambda: sheet_of().data,
    "filled": lambda: _filled("A"),
    "filled by another": lambda: _filled("B"),
    "saved by openpyxl": lambda: _saved_by_openpyxl("A"),
}


@pytest.mark.parametrize("name", sorted(_FILES))
def test_every_kind_of_file_is_read_as_by_the_referee(name: str) -> None:
    data = _FILES[name]()
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    read = snapshot(package)
    assert isinstance(read, Snapshot)
    assert comparable(read) == comparable(referee_snapshot(data))
