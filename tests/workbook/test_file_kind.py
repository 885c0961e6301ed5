import pytest

from sheetgen.workbook.file_kind import refusal_by_magic

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


def _stream(name: str) -> bytes:
    return _COMPOUND + name.encode("utf-16-le") + bytes(64)


# bytes, code, what the message says it is
_CASES = [
    (b"", "file-empty", "a file of 0 bytes"),
    (bytes(5000), "file-truncated", "nothing but zero bytes"),
    (_stream("EncryptedPackage"), "file-encrypted", "a file locked with a password"),
    (_stream("Workbook"), "file-old-format", "a workbook in the old .xls format"),
    (_stream("Book"), "file-old-format", "a workbook in the old .xls format"),
    (b"\x09\x08\x10\x00\x00\x06\x05\x00", "file-old-format", "a workbook in the old .xls format"),
    (_stream("WordDocument"), "file-not-a-workbook", "a text document in an old format"),
    (_COMPOUND, "file-not-a-workbook", "a compound file that holds no workbook"),
    (b"%PDF-1.7\n%\xe2\xe3", "file-not-a-workbook", "a PDF"),
    (b"\x89PNG\r\n\x1a\n\x00\x00", "file-not-a-workbook", "a picture (PNG)"),
    (b"\xff\xd8\xff\xe0\x00\x10JFIF", "file-not-a-workbook", "a picture (JPEG)"),
    (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "file-not-a-workbook", "a picture (WebP)"),
    (b"BM\x36\x00\x00\x00\x00\x00", "file-not-a-workbook", "a picture (BMP)"),
    (b"BMI is not asked for", "file-not-a-workbook", "text"),
    (b"\x00\x00\x00\x18ftypheic", "file-not-a-workbook", "a photograph or film of a phone"),
    (b"{\\rtf1 }", "file-not-a-workbook", "a text document (RTF)"),
    (b"PK\x05\x06" + bytes(18), "file-not-a-workbook", "an empty zip archive"),
    (b"chest,12.4,12.6\n", "file-not-a-workbook", "text with separated values (CSV)"),
    (b"\xff\xfec\x00,\x001\x00", "file-not-a-workbook", "text with separated values (CSV)"),
    ("bras gauche\u00e9".encode("latin-1"), "file-not-a-workbook", "text"),
    (b'{"doc_id": "1", "email": "a"}', "file-not-a-workbook", "a cloud shortcut"),
    (b"[InternetShortcut]\nURL=x", "file-not-a-workbook", "a shortcut to a web address"),
    (b"\n<!DOCTYPE html><html>", "file-not-a-workbook", "a web page"),
    (b'<?xml version="1.0"?><a/>', "file-not-a-workbook", "text (XML)"),
    (
        b'<?mso-application progid="Excel.Sheet"?>',
        "file-old-format",
        "an XML spreadsheet in the format of 2003",
    ),
    (
        b'<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0">',
        "file-is-ods",
        "an OpenDocument file in one piece",
    ),
    (b"\x01\x02\x03\x04", "file-not-a-workbook", "data of an unknown kind"),
]


@pytest.mark.parametrize(("data", "code", "found"), _CASES)
def test_refusal_by_magic_of_each_kind(data: bytes, code: str, found: str) -> None:
    refusal = refusal_by_magic(data)
    assert refusal is not None
    assert (refusal.code, refusal.found) == (code, found)


def test_refusal_by_magic_text_cut_inside_a_character() -> None:
    refusal = refusal_by_magic("\u00e9".encode() * 3000 + b"x")
    assert refusal is not None
    assert refusal.found == "text"


def test_refusal_by_magic_of_a_zip() -> None:
    assert refusal_by_magic(b"PK\x03\x04rest") is None
