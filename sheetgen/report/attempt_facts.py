"""Facts about returned files that more than one table of the report needs."""

import re
from collections.abc import Sequence

from sheetgen.model.attempt import Attempt

__all__ = ["counts", "in_order", "session_of", "writable_text"]

_NOT_WRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def in_order(attempts: Sequence[Attempt], session: int) -> list[Attempt]:
    """Return the attempts by session, copy code and file."""
    return sorted(
        attempts, key=lambda attempt: (session_of(attempt, session), _copy_code(attempt), attempt.file)
    )


def session_of(attempt: Attempt, session: int) -> int:
    """Return the session on record, or the one being read where the file matches no record."""
    return session if attempt.record is None else attempt.record.session


def counts(attempt: Attempt) -> bool:
    """Tell whether the readings of a file count: a sheet of ours, neither refused nor superseded."""
    return attempt.record is not None and attempt.status in ("accepted", "review")


def writable_text(text: str) -> str:
    """Return a text that can be written as UTF-8 and as XML, and that steers no terminal.

    A file name may hold bytes that are no UTF-8; a cell may hold any sign, as a number between marks.

    Examples
    --------
    >>> writable_text("sheet\\udcff.xlsx"), writable_text("\\x1b[31m\\uffff")
    ('sheet?.xlsx', '?[31m?')
    """
    return _NOT_WRITABLE.sub("?", text)


def _copy_code(attempt: Attempt) -> str:
    return "" if attempt.record is None else attempt.record.copy_code
