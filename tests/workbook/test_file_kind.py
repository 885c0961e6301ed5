import pytest

from sheetgen.workbook.file_kind import refusal_by_magic, suffix_of
from tests.wording import refused

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


def _stream(name: str) -> bytes:
    return _COMPOUND + name.encode("utf-16-le") + bytes(64)


# bytes, code, what the message says it is
_CASES = [
    (b"", "file-empty", "a file of 0 bytes"),
    (b" \r\n\t\n", "file-empty", "nothing but blanks"),
    (bytes(5000), "file-truncated", "nothing but zero bytes"),
    (_stream("EncryptedPackage"), "file-encrypted", "a file locked with a password"),
    (_stream("Workbook"), "file-old-format", "a workbook in the old .xls format"),
    (_stream("Book"), "file-old-format", "a workbook in the old .xls format"),
    (b"\x09\x08\x10\x00\x00\x06\x05\x00", "file-old-format", "a workbook in the old .xls format"),
    (_stream("WordDocument"), "file-document", "a text document in an old format"),
    (_stream("PowerPoint Document"), "file-slides", "slides in an old format"),
    (_stream("__substg1.0_0037001F"), "file-mail", "a saved mail"),
    (_COMPOUND, "file-not-a-workbook", "a compound file that holds no workbook"),
    (b"%PDF-1.7\n%\xe2\xe3", "file-pdf", "a PDF"),
    (b"\x89PNG\r\n\x1a\n\x00\x00", "file-picture", "a picture (PNG)"),
    (b"\xff\xd8\xff\xe0\x00\x10JFIF", "file-picture", "a picture (JPEG)"),
    (b"GIF89a\x01\x00", "file-picture", "a picture (GIF)"),
    (b"II*\x00\x08\x00\x00\x00", "file-picture", "a picture (TIFF)"),
    (b"MM\x00*\x00\x00\x00\x08", "file-picture", "a picture (TIFF)"),
    (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "file-picture", "a picture (WebP)"),
    (b"BM\x36\x00\x00\x00\x00\x00", "file-picture", "a picture (BMP)"),
    (b"\x00\x00\x00\x18ftypheic", "file-picture", "a picture as phones take them"),
    (b"\x00\x00\x00\x20ftypisom", "file-recording", "a sound recording or film"),
    (b"RIFF\x10\x00\x00\x00WAVEfmt ", "file-recording", "a sound recording or film"),
    (b"BMI is not asked for", "file-text", "text"),
    (b"ID3 is no reading", "file-text", "text"),
    (b"ID3\x04\x00\x00", "file-recording", "a sound recording"),
    (b"{\\rtf1 }", "file-document", "a text document (RTF)"),
    (b"Rar!\x1a\x07\x01\x00", "file-archive", "a compressed archive (RAR)"),
    (b"7z\xbc\xaf\x27\x1c\x00\x04", "file-archive", "a compressed archive (7z)"),
    (b"\x1f\x8b\x08\x00", "file-archive", "a compressed archive (gzip)"),
    (bytes(20) + b"x" + bytes(236) + b"ustar\x0000", "file-archive", "an archive (tar)"),
    (b"PK\x05\x06" + bytes(18), "file-archive", "an empty zip archive"),
    (b"\x4c\x00\x00\x00\x01\x14\x02\x00", "file-shortcut", "a shortcut to a file on another device"),
    (b"bplist00\xd1\x01", "file-shortcut", "a shortcut to a web address"),
    (b"chest,12.4,12.6\n", "file-csv", "text with separated values (CSV)"),
    (b"\xff\xfec\x00,\x001\x00", "file-csv", "text with separated values (CSV)"),
    ("bras gauche\u00e9".encode("latin-1"), "file-text", "text"),
    (b"\x01\x02\x03\x04", "file-not-a-workbook", "data of an unknown kind"),
]


@pytest.mark.parametrize(("data", "code", "found"), _CASES)
def test_refusal_by_magic_of_each_kind(data: bytes, code: str, found: str) -> None:
    refusal = refusal_by_magic(data, "sheet.xlsx")
    assert refusal is not None
    assert (refusal.code, refused(refusal).found) == (code, found)


# name, bytes, code: the contents count, and the name only where they say nothing
_NAMES = [
    ("sheet.xlsx", b"%PDF-1.7", "file-pdf"),
    ("sheet.csv", b"%PDF-1.7", "file-pdf"),
    ("photo.HEIC", b"\x01\x02\x03\x04", "file-picture"),
    ("sheet.xlsx.part", b"\x01\x02\x03\x04", "file-truncated"),
    ("sheet.url", b"\x01\x02\x03\x04", "file-shortcut"),
    ("film.mov", b"\x01\x02\x03\x04", "file-recording"),
    ("sheet.xlsx", b"\x01\x02\x03\x04", "file-not-a-workbook"),
    ("sheet.csv", b"12.4", "file-csv"),
    ("sheet.gsheet", b'{"key": "value"}', "file-shortcut"),
    ("sheet.xls", b"<html><table><tr><td>1</td></tr></table></html>", "file-web-table"),
    ("page.html", b"<html><table><tr><td>1</td></tr></table></html>", "file-web-page"),
    ("photo.jpg", _stream("Workbook"), "file-old-format"),
]


@pytest.mark.parametrize(("name", "data", "code"), _NAMES)
def test_refusal_by_magic_asks_the_name_second(name: str, data: bytes, code: str) -> None:
    refusal = refusal_by_magic(data, name)
    assert refusal is not None
    assert refusal.code == code


def test_refusal_by_magic_of_a_table_behind_a_long_list_of_styles() -> None:
    page = b"<html><style>" + b"td {color: black}\n" * 2000 + b"</style><table><tr><td>1</td></tr></table>"
    refusal = refusal_by_magic(page, "sheet.xls")
    assert refusal is not None
    assert refusal.code == "file-web-table"


def test_refusal_by_magic_text_cut_inside_a_character() -> None:
    refusal = refusal_by_magic("\u00e9".encode() * 3000 + b"x")
    assert refusal is not None
    assert refused(refusal).found == "text"


def test_refusal_by_magic_of_a_zip() -> None:
    assert refusal_by_magic(b"PK\x03\x04rest") is None


def test_suffix_of_a_name_without_one() -> None:
    assert [suffix_of(name) for name in ("", "sheet", ".gsheet", "a.b.ODS ")] == ["", "", ".gsheet", ".ods"]
