"""An attempt as bytes comes back as the very same value, or there are no bytes."""

from dataclasses import replace

from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.finding import Finding
from sheetgen.store.attempt_bytes import attempt_bytes, attempt_from

RECORD = CopyRecord(
    "AB12-CD34", 1, "S01", "S02", "P-7K3F", "A1", "0" * 16, "S01.xlsx", "", {"session_number": 1, "zero": 0.5}
)
ATTEMPT = Attempt(
    "", "ab" * 32, "accepted", RECORD, "seven-sites", {"reading_1_chest": 12, "mass_kg": None}, None,
    (Finding("file-picture", {"kind": "PNG"}, severity="error"),),
)  # fmt: skip


def test_an_attempt_comes_back_and_its_whole_numbers_stay_whole() -> None:
    body = attempt_bytes(ATTEMPT)
    assert body is not None
    again = attempt_from(body, None)
    assert again == ATTEMPT
    assert again is not None
    assert type(again.entries["reading_1_chest"]) is int


def test_a_text_that_cannot_be_written_down_gives_no_bytes() -> None:
    assert attempt_bytes(replace(ATTEMPT, protocol_id="half a sign: \ud800")) is None


def test_bytes_of_something_else_give_no_attempt() -> None:
    assert attempt_from(b"\x93\x01\x02\x03", None) is None
    assert attempt_from(b"", None) is None
