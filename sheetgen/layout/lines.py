"""One line of the hidden tab: a name, how it is worked out, and what it is before anything is entered."""

from dataclasses import dataclass

from sheetgen.model.layout import Value

__all__ = ["Line"]


@dataclass(frozen=True, slots=True)
class Line:
    """formula : with names in braces, empty for a fixed value. first : value at hand-out."""

    name: str
    formula: str
    first: Value = ""
