import pytest

from sheetgen.workbook.text_kind import text_kind, text_of

# text, end of the name, code, what it is
_CASES = [
    ("site;round 1\n", "", "file-csv", "text with separated values (CSV)"),
    ("12.4", ".tsv", "file-csv", "text with separated values (CSV)"),
    ("see the other file", "", "file-text", "text"),
    ('{"doc_id": "1", "email": "a"}', "", "file-shortcut", "a cloud shortcut"),
    ('{"a": 1}', ".json", "file-text", "text (JSON)"),
    ("[InternetShortcut]\nURL=x", "", "file-shortcut", "a shortcut to a web address"),
    ("[Desktop Entry]\nType=Link", "", "file-shortcut", "a shortcut to a web address"),
    (
        '<?xml version="1.0"?><plist><dict><key>URL</key><string>x</string></dict></plist>',
        "",
        "file-shortcut",
        "a shortcut to a web address",
    ),
    ("go to this place", ".url", "file-shortcut", "a shortcut"),
    ("\n<!DOCTYPE html><html>", "", "file-web-page", "a web page"),
    ("<script>", ".htm", "file-web-page", "a web page"),
    ("<html><body>Sign in", ".xlsx", "file-web-page", "a web page"),
    ("<table><tr><td>1", ".xls", "file-web-table", "a table of a web page under the name of a workbook"),
    ('<?xml version="1.0"?><a/>', "", "file-text", "text (XML)"),
    (
        '<?mso-application progid="Excel.Sheet"?>',
        ".xls",
        "file-xml-spreadsheet",
        "an XML spreadsheet in the format of 2003",
    ),
    (
        '<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0">',
        ".fods",
        "file-xml-spreadsheet",
        "an OpenDocument file in one piece",
    ),
    ("Received: a\r\nFrom: b\r\nSubject: c\r\n\r\nx", "", "file-mail", "a saved mail"),
    ("From: b\n\nSubject: c, and\nDate: d", "", "file-text", "text"),
]


@pytest.mark.parametrize(("text", "suffix", "code", "found"), _CASES)
def test_text_kind(text: str, suffix: str, code: str, found: str) -> None:
    assert text_kind(text, suffix) == (code, found)


def test_text_of_bytes_that_are_no_text() -> None:
    assert text_of(b"\x00\x01") is None
    assert text_of("Größe".encode("latin-1")) == "Größe"
    assert text_of("\ufeffSite".encode()) == "Site"
