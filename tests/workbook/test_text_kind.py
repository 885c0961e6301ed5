import pytest

from sheetgen.workbook.text_kind import text_kind, text_of

# text, end of the name, code, case
_CASES = [
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


@pytest.mark.parametrize(("text", "suffix", "code", "case"), _CASES)
def test_text_kind(text: str, suffix: str, code: str, case: str) -> None:
    assert text_kind(text, suffix) == (code, case)


def test_text_of_bytes_that_are_no_text() -> None:
    assert text_of(b"\x00\x01") is None
    assert text_of("Größe".encode("latin-1")) == "Größe"
    assert text_of("\ufeffSite".encode()) == "Site"
