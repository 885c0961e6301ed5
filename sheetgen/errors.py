"""Faults of ours or of the set-up. What is wrong with returned data is a finding, never an exception.

SheetgenError
├── UsageError       the command was asked for something that cannot be done
│   └── NobodyMatched    a gradebook that holds nobody of the class
├── FolderError      a class folder, or a file in it, that cannot be used
├── RosterError      a roster that cannot be used
└── TemplateError    a protocol, a text or another template with a fault
"""


class SheetgenError(Exception):
    """Base of every exception that sheetgen raises on purpose.

    Parameters
    ----------
    place : where the fault is: a file, a file and line, or an option.
    found : what stands there.
    expected : what should stand there.
    remedy : one sentence on what to do.
    """

    exit_code = 2

    def __init__(self, place: object, found: str, expected: str, remedy: str) -> None:
        self.place = str(place)
        self.found = found
        self.expected = expected
        self.remedy = remedy
        super().__init__(f"{self.place}: {found}; expected {expected}. {remedy}")

    def __reduce__(self) -> tuple[type["SheetgenError"], tuple[str, str, str, str]]:
        return type(self), (self.place, self.found, self.expected, self.remedy)


class UsageError(SheetgenError):
    """The command was asked for something that cannot be done."""


class NobodyMatched(UsageError):
    """A gradebook that holds nobody of the class."""

    exit_code = 1


class FolderError(SheetgenError):
    """A class folder, or a file in it, that cannot be used."""


class RosterError(SheetgenError):
    """A roster that cannot be used."""


class TemplateError(SheetgenError):
    """A protocol, a text or another template with a fault."""
