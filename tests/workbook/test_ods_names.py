import pytest

from sheetgen.workbook.ods_names import plain_address, repeat_of

# as an OpenDocument spreadsheet writes it, as a Snapshot has it
_ADDRESSES = [
    ("$Calculator.$B$177", "Calculator!$B$177"),
    ("Calculator.B177", "Calculator!B177"),
    ("$'Own tab'.$A$1", "'Own tab'!$A$1"),
    ("$'It''s 1.2'.$A$1", "'It''s 1.2'!$A$1"),
    ("$Sites.$A$1:.$B$2", "Sites!$A$1:$B$2"),
    ("$Sites.$A$1:$Sites.$B$2", "Sites!$A$1:$B$2"),
    ("$Sites.$A$1:$About.$B$2", "$Sites.$A$1:$About.$B$2"),
    ("$Sites.#REF!$1", "$Sites.#REF!$1"),
    ("of:=[.A1]+1", "of:=[.A1]+1"),
    ("", ""),
]


@pytest.mark.parametrize(("text", "expected"), _ADDRESSES)
def test_plain_address(text: str, expected: str) -> None:
    assert plain_address(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [(None, 1), ("7", 7), ("0", 1), ("-3", 1), ("2.5", 1), ("x", 1), ("2147483648", 1_000_000_000)],
)
def test_repeat_of(text: str | None, expected: int) -> None:
    assert repeat_of(text) == expected
