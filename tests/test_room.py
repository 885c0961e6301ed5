"""There is room for every word of a list beside its button, in a wide typeface and every language.

What else a student sheet shows is measured in tests/sheet.
"""

import pytest

from sheetgen.workbook.cells import column_pixels, text_pixels
from tests.sheets import Sheet, settings_with, sheet_of

PROTOCOLS = (
    "seven-sites", "three-sites-men", "three-sites-women", "four-sites", "folds-only", "youth-two-sites",
)  # fmt: skip


@pytest.fixture(params=PROTOCOLS, scope="module")
def protocol_id(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(params=[{}, {"under_18": True}, {"language": "es"}], ids=["usual", "under 18", "Spanish"],
                scope="module")  # fmt: skip
def sheet(request: pytest.FixtureRequest, protocol_id: str) -> Sheet:
    return sheet_of(settings_with(protocol_id=protocol_id, **request.param))


def test_words_of_lists_fit_their_entries(sheet: Sheet) -> None:
    """An entry has a border and an indent, and its list a button beside it. In the wide typeface a column
    that counts 7 pixels a digit has 8.48."""
    cut = [
        (cell.name, word)
        for tab in sheet.layout.tabs
        for cell in tab.cells
        if cell.rule is not None
        for word in cell.rule.words
        if text_pixels(word) + 15 > column_pixels(tab.widths[cell.column]) * 8.48 / 7
    ]
    assert cut == []
