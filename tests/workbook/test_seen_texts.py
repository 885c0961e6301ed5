"""Shared texts read with what was seen before."""

import pytest

from sheetgen.workbook.seen_texts import read_seen_texts

_OPENING = '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" count="2" uniqueCount="2">'


def _texts(items: str, opening: str = _OPENING, closing: str = "</sst>") -> dict[str, str] | None:
    return read_seen_texts(f"{opening}{items}{closing}".encode(), "s.xml")


def test_texts_under_other_numbers_than_before() -> None:
    assert _texts("<si><t>chest</t></si><si><t>a &amp; b</t></si>") == {"0": "chest", "1": "a & b"}
    assert _texts('<si><t xml:space="preserve"> new </t></si><si><t>chest</t></si>') == {
        "0": " new ",
        "1": "chest",
    }


def test_no_texts_at_all() -> None:
    assert _texts("") == {}


# items, opening, closing: what is left to the XML parser
@pytest.mark.parametrize(
    ("items", "opening", "closing"),
    (
        ("<si><r><t>rich</t></r></si>", _OPENING, "</sst>"),
        ("<si><t>&bad;</t></si>", _OPENING, "</sst>"),
        ("<si><t>]]></t></si>", _OPENING, "</sst>"),
        ("<si><t>a</t></si><!-- x -->", _OPENING, "</sst>"),
        ("<si/>", _OPENING, "</sst>"),
        ("<si><t>a</t></si>", _OPENING, ""),
        ("<si><t>a</t></si>", _OPENING, "</sst>\x0b"),
        ("<si><t>a</t></si>", '<sst xmlns="x">', "</sst>"),
        ("<si><t>a</t></si>", '<sst count="1" count="1">', "</sst>"),
        ("<si><t>a</t></si>", '<?xml version="1.0" encoding="iso-8859-1"?>' + _OPENING, "</sst>"),
        ("<si><t>a</t></si>" * 4_001, _OPENING, "</sst>"),
    ),
)
def test_other_shapes_are_left_to_the_parser(items: str, opening: str, closing: str) -> None:
    assert _texts(items, opening, closing) is None


def test_memory_is_bounded() -> None:
    """What was seen is forgotten when it grows too large; what is read stays the same."""
    for number in range(60):
        items = "".join(f"<si><t>{number} {index} {'x' * 60}</t></si>" for index in range(300))
        texts = _texts(items)
        assert texts is not None
        assert texts["299"] == f"{number} 299 {'x' * 60}"
