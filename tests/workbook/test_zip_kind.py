import pytest

from sheetgen.workbook.zip_kind import kind_of_open_xml, zip_kind

# parts, declared type, end of the name, kind or code
_CASES = [
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


@pytest.mark.parametrize(("names", "declared", "suffix", "expected"), _CASES)
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
