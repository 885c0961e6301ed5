"""Statistics as cells: a number, or nothing where there is only a reason in words."""

from collections.abc import Mapping, Sequence

from sheetgen.checking.class_words import reason_words
from sheetgen.core.outcome import Interval, Undefined
from sheetgen.layout.number_text import with_decimal_sign
from sheetgen.model.settings import ClassBook
from sheetgen.report.page import Texts, Value

__all__ = [
    "code_of",
    "ends",
    "said_once",
    "sentence",
    "short",
    "shown",
    "site_width",
    "span",
    "student_codes",
]


def shown(value: float | Undefined | None) -> float | None:
    """Return the number, None where there is none."""
    return None if isinstance(value, Undefined) else value


def ends(interval: Interval | Undefined) -> tuple[Value, Value]:
    """Return both ends of an interval, (None, None) where there is none."""
    return (None, None) if isinstance(interval, Undefined) else (interval.lower, interval.upper)


def span(interval: Interval | Undefined, texts: Texts) -> str:
    """Return an interval in one cell, empty where there is none.

    Examples
    --------
    >>> span(Interval(-0.5, 1.25, 0.95), {"report_common.span": "{lower} to {upper}"})
    '-0.50 to 1.25'
    """
    if isinstance(interval, Undefined):
        return ""
    lower, upper = (with_decimal_sign(f"{end:.2f}", texts) for end in (interval.lower, interval.upper))
    return texts["report_common.span"].format(lower=lower, upper=upper)


def said_once(reasons: Sequence[str], texts: Texts) -> tuple[str, ...]:
    """Return the sentence that stands for a reason which is the same at every site, none where it is not.

    Examples
    --------
    >>> said_once(["too few people"] * 2, {"report_common.at_every_site": "At every site: {reason}."})
    ('At every site: too few people.',)
    >>> said_once(["too few people", ""], {})
    ()
    """
    alike = len(set(reasons)) == 1 and reasons[0] != ""
    return (texts["report_common.at_every_site"].format(reason=reasons[0]),) if alike else ()


def short(value: float | Undefined, texts: Texts) -> str:
    """Return a small number with two digits, however small, or the reason why there is none.

    Examples
    --------
    >>> short(0.00042, {}), short(1.25, {})
    ('0.00042', '1.2')
    """
    if isinstance(value, Undefined):
        return reason_words(value, texts)
    return with_decimal_sign(f"{value:.2g}", texts)


def sentence(text: str) -> str:
    """Return a text with a capital at its beginning.

    Examples
    --------
    >>> sentence("no pair differs.")
    'No pair differs.'
    """
    return text[:1].upper() + text[1:]


def site_width(heading: str) -> float:
    """Return the characters that the longest word of a heading needs; its words stand below each other."""
    return max(10.0, 2.0 + 1.1 * max(len(word) for word in heading.split()))


def student_codes(book: ClassBook) -> Mapping[str, str]:
    """Return the code that stands for each student_id; nobody without a code is in it."""
    return {one.student_id: one.participant_code for one in book.people if one.participant_code}


def code_of(student_id: str, copy_codes: Sequence[str], codes: Mapping[str, str], texts: Texts) -> str:
    """Return the code that stands for a student, or the code of a sheet of theirs."""
    return codes.get(student_id) or texts["report_common.sheet_code"].format(code=copy_codes[0])
