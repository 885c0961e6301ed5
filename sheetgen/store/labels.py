"""Names of what came back, as they are shown: in one spelling, without signs that play tricks, each once."""

import re
import unicodedata
from collections.abc import MutableMapping, Sequence

__all__ = ["climbs", "label_of", "steps_of", "unique_label"]

_TRICKS = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
"""Signs that turn the direction of what follows: `fdp.xlsx` shown as `xslx.pdf`. Letters of a script that
runs from right to left need none of them."""
_LONGEST_STEP = 255
"""Bytes; what usual file systems allow. A zip may hold names of 65,535."""
_MOST_NORMALIZED = 500
"""Characters at each end: putting together thousands of accents on one letter takes seconds."""
_DRIVE = re.compile(r"[A-Za-z]:")


def steps_of(name: str) -> tuple[str, ...]:
    """Return the steps of a name inside a zip, either slash dividing them; `.` and empty ones are none.

    Examples
    --------
    >>> steps_of("./Ada\\\\sheet.xlsx"), steps_of("../sheet.xlsx")
    (('Ada', 'sheet.xlsx'), ('..', 'sheet.xlsx'))
    """
    return tuple(step for step in re.split(r"[/\\]", name) if step not in ("", "."))


def climbs(name: str) -> bool:
    """Tell whether a name inside a zip leads out of it: absolute, on a drive, or upwards.

    Examples
    --------
    >>> [climbs(name) for name in ("a/b.xlsx", "/a.xlsx", "C:\\\\a.xlsx", "a/../../b.xlsx", "..b.xlsx")]
    [False, True, True, True, False]
    """
    return name.startswith(("/", "\\")) or _DRIVE.match(name) is not None or ".." in steps_of(name)


def label_of(steps: Sequence[str]) -> str:
    """Return what a file is called in results and messages.

    Letters that are written as letter and accent are put together, as most systems write them; signs that
    cannot be printed are shown as `?`.

    Examples
    --------
    >>> label_of(["Zoe\\u0308", "a\\x1b[31m\\u202e.xlsx"])
    'Zoë/a?[31m?.xlsx'
    """
    return "/".join(_shown(step) for step in steps)


def unique_label(label: str, taken: MutableMapping[str, int]) -> str:
    """Return a label that is not taken yet, and take it; two files of one zip may have the same name.

    Parameters
    ----------
    taken : label to the number from which the next one of that name is sought, so that thousands of one name
        take no longer than thousands of others.

    Examples
    --------
    >>> taken: dict[str, int] = {}
    >>> [unique_label("a.xlsx", taken) for _ in range(3)]
    ['a.xlsx', 'a [2].xlsx', 'a [3].xlsx']
    """
    stem, point, ending = label.rpartition(".")
    if not point or "/" in ending:
        stem, point, ending = label, "", ""
    number, unique = taken.get(label, 1), label
    while unique in taken:
        number += 1
        unique = f"{stem} [{number}]{point}{ending}"
    taken[label] = number
    taken.setdefault(unique, 1)
    return unique


def _shown(step: str) -> str:
    if len(step) > 2 * _MOST_NORMALIZED:
        step = step[:_MOST_NORMALIZED] + step[-_MOST_NORMALIZED:]
    whole = unicodedata.normalize("NFC", step)
    plain = "".join("?" if sign in _TRICKS or not _printable(sign) else sign for sign in whole)
    if len(plain.encode("utf-8")) <= _LONGEST_STEP:
        return plain
    return f"{plain[:40]}…{plain[-20:]}"


def _printable(sign: str) -> bool:
    # Format signs join letters in some scripts; line ends, control signs and halves of signs do harm.
    return unicodedata.category(sign) not in ("Cc", "Cs", "Zl", "Zp", "Cn", "Co")
