"""Stamped copies against workbooks rendered on their own."""

import io
import struct
import zipfile
import zlib

import openpyxl
import pytest

from sheetgen.model.layout import Identity, Image, Layout, Tab
from sheetgen.store.figures import shipped_figures
from sheetgen.store.templates import read_template
from sheetgen.workbook.package import Package, read_package_bytes
from sheetgen.workbook.snapshot_xlsx import snapshot
from sheetgen.workbook.stamp import master_of, stamped
from tests.sheets import SETTINGS, Sheet, settings_with, sheet_of

STYLE = read_template("style.toml")

# settings, caliper issued, copy code of the copy; the master is always made of another copy
COPIES = (
    (SETTINGS, "C2", "9ABC-2DEF"),
    (SETTINGS, "7", "ZZZZ-2222"),
    (settings_with(protocol_id="four-sites", tolerance_kind="percent", tolerance=10.0), "C2", "9ABC-2DEF"),
    (settings_with(protocol_id="seven-sites", under_18=True), "C2", "9ABC-2DEF"),
)


@pytest.mark.parametrize(("settings", "caliper_id", "copy_code"), COPIES)
def test_stamped_copy_equals_a_rendered_one_in_everything_a_reader_sees(
    settings: object, caliper_id: str, copy_code: str
) -> None:
    first, copy = sheet_of(settings), sheet_of(settings, caliper_id, copy_code)  # type: ignore[arg-type]
    data = stamped(master_of(first.layout, first.identity, STYLE, shipped_figures()), copy.identity)
    assert _seen(data) == _seen(copy.data)


def test_stamped_copy_equals_a_rendered_one_cell_by_cell_in_another_library() -> None:
    first, copy = sheet_of(), sheet_of(SETTINGS, "C2", "9ABC-2DEF")
    data = stamped(master_of(first.layout, first.identity, STYLE, shipped_figures()), copy.identity)
    for values_only in (False, True):
        ours, plain = (
            openpyxl.load_workbook(io.BytesIO(one), data_only=values_only) for one in (data, copy.data)
        )
        assert ours.sheetnames == plain.sheetnames
        for tab in plain.sheetnames:
            cells = [cell for row in plain[tab].iter_rows() for cell in row]
            assert [(cell.coordinate, cell.value, cell.style_id) for cell in cells] == [
                (cell.coordinate, ours[tab][cell.coordinate].value, ours[tab][cell.coordinate].style_id)
                for cell in cells
            ]


def test_stamped_copy_carries_the_images_and_the_chart_of_a_rendered_one() -> None:
    first, copy = sheet_of(), sheet_of(SETTINGS, "C2", "9ABC-2DEF")
    data = stamped(_master(first), copy.identity)
    with zipfile.ZipFile(io.BytesIO(data)) as ours, zipfile.ZipFile(io.BytesIO(copy.data)) as plain:
        names = [name for name in plain.namelist() if "drawing" in name or "media" in name or "chart" in name]
        # Drawings of three tabs with their relations, seven large pictures and seven small ones, one chart.
        assert len(names) == 6 + 14 + 1
        assert [ours.read(name) for name in names] == [plain.read(name) for name in names]


def test_marks_in_the_dots_of_a_picture_are_left_alone() -> None:
    image = Image(0, 0, "arm", 40, 30, "An arm.")
    layout = Layout("Title", "Subject", "en", (Tab("one", "One", (), images=(image,)),))
    # A private chunk of the PNG format with a mark in it, before the end of the file.
    picture = shipped_figures()["triceps"]
    chunk = b"teXx\x7f\x7fcopy_code\x7f\x7f"
    whole = struct.pack(">L", len(chunk) - 4) + chunk + struct.pack(">L", zlib.crc32(chunk))
    marked = picture[:-12] + whole + picture[-12:]
    master = master_of(layout, Identity({"copy_code": "7K3F-9QXM"}), STYLE, {"arm": marked})
    with zipfile.ZipFile(io.BytesIO(stamped(master, Identity({"copy_code": "AAAA-2222"})))) as package:
        assert package.read("xl/media/image1.png") == marked


def test_stamped_gives_the_same_bytes_every_time() -> None:
    sheet = sheet_of()
    masters = [master_of(sheet.layout, sheet.identity, STYLE, shipped_figures()) for _ in range(2)]
    assert stamped(masters[0], sheet.identity) == stamped(masters[1], sheet.identity)


def test_stamped_escapes_what_xml_would_take_for_a_tag() -> None:
    data = stamped(_master(sheet_of()), _changed(sheet_of(), student_id="<S&1>"))
    assert "<S&1>" in [
        cell.value for row in openpyxl.load_workbook(io.BytesIO(data))["Calculator"] for cell in row
    ]


# value, what is wrong with it
WRONG = ((None, "a text in every copy, not None"), (7.0, "a text in every copy, not 7.0"))


@pytest.mark.parametrize(("value", "message"), WRONG)
def test_stamped_refuses_a_value_of_another_kind(value: float | None, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        stamped(_master(sheet_of()), _changed(sheet_of(), student_id=value))


def _master(sheet: Sheet):  # type: ignore[no-untyped-def]
    return master_of(sheet.layout, sheet.identity, STYLE, shipped_figures())


def _changed(sheet: Sheet, **values: str | float | None) -> Identity:
    return Identity({**sheet.identity.values, **values})


def _seen(data: bytes) -> object:
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    return snapshot(package)
