import io
import zipfile

import pytest

from sheetgen.report.bundle import feedback_zip

# incoming names: names in the zip
NAMES = (
    (("S01_K1.xlsx",), ["S01_K1.xlsx"]),
    (("Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"), ["Fen_12_file/S01.xlsx", "Heath_13_file/S01.xlsx"]),
    (("../../etc/a.xlsx",), ["etc/a.xlsx"]),
    (("/root/a.xlsx", "C:\\a.xlsx"), ["root/a.xlsx", "C_/a.xlsx"]),
    (("..\\..\\a.xlsx", "a.xlsx"), ["a.xlsx", "a (2).xlsx"]),
    (("A.xlsx", "a.xlsx", "a.XLSX"), ["A.xlsx", "a (2).XLSX", "a (3).xlsx"]),
    (("u\u0308.xlsx", "\u00fc.xlsx"), ["u\u0308.xlsx", "\u00fc (2).xlsx"]),
    (("a.ods", "b.xlsm"), ["a.ods.xlsx", "b.xlsm.xlsx"]),
    (("what?.xlsx", "a\x00b.xlsx"), ["a_b.xlsx", "what_.xlsx"]),
    (("con.xlsx", "NUL/a.xlsx"), ["_NUL/a.xlsx", "_con.xlsx"]),
    (("..", ""), ["feedback.xlsx", "feedback (2).xlsx"]),
    (("a.xlsx", "a.xlsx/b.xlsx"), ["a (2).xlsx", "a.xlsx/b.xlsx"]),
    (("sheet\udcff.xlsx",), ["sheet_.xlsx"]),
)


@pytest.mark.parametrize(("incoming", "names"), NAMES)
def test_feedback_zip_has_safe_names_once_each(incoming: tuple[str, ...], names: list[str]) -> None:
    data = feedback_zip({name: name.encode("utf-8", "replace") for name in incoming})
    assert zipfile.ZipFile(io.BytesIO(data)).namelist() == names


def test_feedback_zip_has_the_same_bytes_in_any_order() -> None:
    files = {"b.xlsx": b"two", "a.xlsx": b"one"}
    data = feedback_zip(files)
    assert data == feedback_zip(dict(reversed(files.items())))
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        assert {name: package.read(name) for name in package.namelist()} == files
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
