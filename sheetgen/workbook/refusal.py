"""Why a returned file is not read: a fact about the file, kept as data."""

from collections.abc import Mapping
from dataclasses import dataclass

from sheetgen.model.finding import Plain, Shown

__all__ = ["Refusal", "RefusedError", "other_kind", "too_large", "truncated", "unreadable", "unsafe"]

_SAVE_AGAIN = "Open the file in a spreadsheet program, save it as .xlsx and return that copy."


@dataclass(frozen=True, slots=True)
class Refusal:
    """A whole file that is not read.

    code, case, values : those of the finding; the code is of the family `file`.
    remedy : one sentence on what to do, where the file is one of the teacher's own.
    """

    code: str
    case: str
    values: Mapping[str, Plain | Shown]
    remedy: str


class RefusedError(Exception):
    """Carries a Refusal up to the function that returns it; never leaves this package."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__(refusal.code, refusal.case)


def other_kind(code: str, case: str = "", remedy: str = _SAVE_AGAIN, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that is not a workbook as it was handed out."""
    return Refusal(code, case, values, remedy)


def unreadable(case: str, remedy: str = _SAVE_AGAIN, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file whose contents cannot be understood."""
    return Refusal("file-unreadable", case, values, remedy)


def too_large(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that goes beyond a bound."""
    remedy = "Return the sheet as it was handed out, without pictures, extra rows or other files inside."
    return Refusal("file-too-large", case, values, remedy)


def truncated(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file of which a part was lost on the way."""
    remedy = "Ask for the file again: the copy broke off or was damaged on the way."
    return Refusal("file-truncated", case, values, remedy)


def unsafe(case: str, **values: Plain | Shown) -> Refusal:
    """Return the refusal of a file that could harm a reader."""
    remedy = "Do not open it; ask for the sheet filled in again from a fresh copy."
    return Refusal("file-unsafe", case, values, remedy)
