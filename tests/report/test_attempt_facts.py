import pytest

from sheetgen.report.attempt_facts import counts, session_of, writable_text
from tests.report.invented import accepted, refused_without_record, returned


@pytest.mark.parametrize(
    ("status", "expected"),
    [("accepted", True), ("review", True), ("refused", False), ("superseded", False)],
)
def test_counts_by_status(status: str, expected: bool) -> None:
    assert counts(returned(1, status)) is expected


def test_session_of_a_file_without_record_is_the_one_being_read() -> None:
    assert (session_of(accepted(1), 4), session_of(refused_without_record(), 4)) == (1, 4)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a\x00b\x1b[31m", "a?b?[31m"),
        ("\ufffe\uffff", "??"),
        ("\udc80", "?"),
        ("1\t2\r\n3 é😀", "1\t2\r\n3 é😀"),
    ],
)
def test_writable_text_has_no_sign_that_spoils_a_table(text: str, expected: str) -> None:
    """A cell may hold any sign as a number between marks; ESC steers a terminal, U+FFFF is no XML."""
    assert writable_text(text) == expected
