"""Why a returned file is not read: a fact about the file, kept as data."""

from dataclasses import dataclass

__all__ = [
    "WORKBOOK_EXPECTED", "Refusal", "RefusedError", "other_kind", "too_large", "truncated", "unreadable",
    "unsafe",
]  # fmt: skip

WORKBOOK_EXPECTED = "a workbook saved as .xlsx"

_SAVE_AGAIN = "Open the file in a spreadsheet program, save it as .xlsx and return that copy."


@dataclass(frozen=True, slots=True)
class Refusal:
    """A whole file that is not read.

    code : stable words of the family `file`.
    found, expected : what is there and what should be.
    remedy : one sentence on what to do.
    """

    code: str
    found: str
    expected: str
    remedy: str


class RefusedError(Exception):
    """Carries a Refusal up to the function that returns it; never leaves this package."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__(refusal.found)


def other_kind(code: str, found: str, remedy: str = _SAVE_AGAIN) -> Refusal:
    """Return the refusal of a file that is not a workbook as it was handed out."""
    return Refusal(code, found, WORKBOOK_EXPECTED, remedy)


def unreadable(found: str, expected: str = WORKBOOK_EXPECTED, remedy: str = _SAVE_AGAIN) -> Refusal:
    """Return the refusal of a file whose contents cannot be understood."""
    return Refusal("file-unreadable", found, expected, remedy)


def too_large(found: str, expected: str) -> Refusal:
    """Return the refusal of a file that goes beyond a bound."""
    remedy = "Return the sheet as it was handed out, without pictures, extra rows or other files inside."
    return Refusal("file-too-large", found, expected, remedy)


def truncated(found: str) -> Refusal:
    """Return the refusal of a file of which a part was lost on the way."""
    remedy = "Ask for the file again: the copy broke off or was damaged on the way."
    return Refusal("file-truncated", found, "a whole .xlsx file", remedy)


def unsafe(found: str, expected: str) -> Refusal:
    """Return the refusal of a file that could harm a reader."""
    remedy = "Do not open it; ask for the sheet filled in again from a fresh copy."
    return Refusal("file-unsafe", found, expected, remedy)
