"""Texts that a spreadsheet program would run as a formula."""

import pytest

from sheetgen.checking.table_text import as_meant, harmless

# text, as it stands in a table
TEXTS = (
    ("=1+1", "'=1+1"),
    ("+44 20", "'+44 20"),
    ("-Ada", "'-Ada"),
    ("@home", "'@home"),
    ("\tAda", "'\tAda"),
    ("Ada-Lou", "Ada-Lou"),
    ("'tis", "'tis"),
    ("", ""),
)


@pytest.mark.parametrize(("text", "expected"), TEXTS)
def test_harmless_and_back(text: str, expected: str) -> None:
    assert harmless(text) == expected
    assert as_meant(expected) == text
