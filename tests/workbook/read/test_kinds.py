import struct

import pytest

from sheetgen.workbook.read.kinds import (
    COMPOUND_MAGIC,
    compound_names,
    kind_of_open_xml,
    refusal_by_magic,
    suffix_of,
    text_kind,
    text_of,
    zip_kind,
)
from tests.wording import refused

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)

# text, end of the name, code, case
_CASES_OF_TEXT_KIND = [
    ("site;round 1\n", "", "file-csv", ""),
    ("12.4", ".tsv", "file-csv", ""),
    ("see the other file", "", "file-text", ""),
    ('{"doc_id": "1", "email": "a"}', "", "file-shortcut", "cloud"),
    ('{"a": 1}', ".json", "file-text", "json"),
    ("[InternetShortcut]\nURL=x", "", "file-shortcut", "web"),
    ("[Desktop Entry]\nType=Link", "", "file-shortcut", "web"),
    (
        '<?xml version="1.0"?><plist><dict><key>URL</key><string>x</string></dict></plist>',
        "",
        "file-shortcut",
        "web",
    ),
    ("go to this place", ".url", "file-shortcut", ""),
    ("\n<!DOCTYPE html><html>", "", "file-web-page", ""),
    ("<script>", ".htm", "file-web-page", ""),
    ("<html><body>Sign in", ".xlsx", "file-web-page", ""),
    ("<table><tr><td>1", ".xls", "file-web-table", ""),
    ('<?xml version="1.0"?><a/>', "", "file-text", "xml"),
    (
        '<?mso-application progid="Excel.Sheet"?>',
        ".xls",
        "file-xml-spreadsheet",
        "",
    ),
    (
        '<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0">',
        ".fods",
        "file-xml-spreadsheet",
        "open-document",
    ),
    ("Received: a\r\nFrom: b\r\nSubject: c\r\n\r\nx", "", "file-mail", ""),
    ("From: b\n\nSubject: c, and\nDate: d", "", "file-text", ""),
]

# parts, declared type, end of the name, kind or code
_CASES_OF_ZIP_KIND = [
    (["_rels/.rels", "xl/workbook.xml"], "", ".xlsx", "xlsx"),
    (["mimetype", "content.xml"], "application/vnd.oasis.opendocument.spreadsheet", ".xlsx", "ods"),
    (["mimetype"], "application/vnd.oasis.opendocument.spreadsheet-template", ".ots", "ods"),
    (["mimetype"], "application/vnd.oasis.opendocument.text", ".ods", "file-document"),
    (["mimetype"], "application/vnd.oasis.opendocument.presentation", "", "file-slides"),
    (["mimetype"], "application/vnd.oasis.opendocument.graphics", "", "file-not-a-workbook"),
    (["_rels/.rels", "xl/workbook.bin"], "", ".xlsx", "file-binary-workbook"),
    (["_rels/.rels", "word/document.xml"], "", ".xlsx", "file-document"),
    (["_rels/.rels", "ppt/presentation.xml"], "", ".xlsx", "file-slides"),
    (["index/document.iwa", "index/calculationengine.iwa"], "", ".numbers", "file-own-format"),
    (["sheet.numbers/index.zip"], "", ".zip", "file-own-format"),
    (["index.zip", "metadata/properties.plist"], "", ".numbers", "file-own-format"),
    (["index/document.iwa"], "", ".pages", "file-document"),
    (["index/document.iwa", "index/slide-12.iwa"], "", "", "file-slides"),
    (["one.xlsx", "two.xlsx"], "", ".zip", "file-archive"),
]

_END, _FREE = 0xFFFFFFFE, 0xFFFFFFFF


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


@pytest.mark.parametrize(("text", "suffix", "code", "case"), _CASES_OF_TEXT_KIND)
def test_text_kind(text: str, suffix: str, code: str, case: str) -> None:
    assert text_kind(text, suffix) == (code, case)


def test_text_of_bytes_that_are_no_text() -> None:
    assert text_of(b"\x00\x01") is None
    assert text_of("Größe".encode("latin-1")) == "Größe"
    assert text_of("\ufeffSite".encode()) == "Site"


@pytest.mark.parametrize(("names", "declared", "suffix", "expected"), _CASES_OF_ZIP_KIND)
def test_zip_kind(names: list[str], declared: str, suffix: str, expected: str) -> None:
    kind = zip_kind(names, declared, suffix)
    assert (kind if isinstance(kind, str) else kind[0]) == expected


# words of the list of content types, kind
_CONTENT_TYPES = [
    (b"vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml", "xlsx"),
    (b"vnd.ms-excel.sheet.macroEnabled.main+xml", "xlsm"),
    (b"vnd.openxmlformats-officedocument.spreadsheetml.template.main+xml", "xltx"),
    (b"vnd.ms-excel.template.macroEnabled.main+xml", "xltm"),
    (b"", "xlsx"),
]


@pytest.mark.parametrize(("words", "kind"), _CONTENT_TYPES)
def test_kind_of_open_xml(words: bytes, kind: str) -> None:
    assert kind_of_open_xml(b'<Override ContentType="application/' + words + b'"/>') == kind


def _entry(name: str) -> bytes:
    raw = name.encode("utf-16-le") + b"\0\0"
    return (raw.ljust(64, b"\0") + struct.pack("<HB", len(raw), 2)).ljust(128, b"\0")


def _compound(*names: str, body: bytes = b"") -> bytes:
    """A file of four sectors: sector table, two of the directory, one of contents."""
    header = bytearray(COMPOUND_MAGIC.ljust(512, b"\0"))
    struct.pack_into("<H", header, 30, 9)
    struct.pack_into("<L", header, 48, 1)
    struct.pack_into("<109L", header, 76, 0, *[_FREE] * 108)
    table = struct.pack("<4L", 0xFFFFFFFD, 2, _END, _END).ljust(512, b"\xff")
    entries = b"".join(map(_entry, names)).ljust(1024, b"\0")
    return bytes(header) + table + entries + body.ljust(512, b"\0")


def test_compound_names_of_a_directory() -> None:
    names = ("Root Entry", "Workbook", "\x05SummaryInformation", "one", "two", "three")
    assert compound_names(_compound(*names)) == frozenset(names)


def test_compound_names_of_a_mail_with_a_workbook_hung_on() -> None:
    hung_on = b"".join(map(_entry, ("Root Entry", "Workbook")))
    refusal = refusal_by_magic(_compound("Root Entry", "__substg1.0_0037001F", body=hung_on))
    assert refusal is not None
    assert refusal.code == "file-mail"


@pytest.mark.parametrize("data", [b"", COMPOUND_MAGIC, COMPOUND_MAGIC + bytes(504), b"x" * 600])
def test_compound_names_of_a_directory_that_is_not_there(data: bytes) -> None:
    assert compound_names(data) == frozenset()


def test_a_document_that_speaks_of_a_workbook_is_a_document() -> None:
    """A word in the text of a document is no stream of that name."""
    body = "Workbook and EncryptedPackage".encode("utf-16-le")
    refusal = refusal_by_magic(_compound("Root Entry", "WordDocument", body=body))
    assert refusal is not None
    assert refusal.code == "file-document"
