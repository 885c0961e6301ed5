"""Words of the OpenDocument vocabulary, and addresses as it writes them."""

import re

__all__ = ["META", "OFFICE", "STYLE", "TABLE", "TEXT", "plain_address", "repeat_of"]

_START = "{urn:oasis:names:tc:opendocument:xmlns:"
OFFICE = f"{_START}office:1.0}}"
TABLE = f"{_START}table:1.0}}"
TEXT = f"{_START}text:1.0}}"
STYLE = f"{_START}style:1.0}}"
META = f"{_START}meta:1.0}}"

_MOST_DIGITS = 9
_ADDRESS = re.compile(
    r"\$?(?P<tab>'(?:[^']|'')*'|[^'.!:]+)\.(?P<first>\$?[A-Z]{1,3}\$?[0-9]{1,7})"
    r"(?::(?:\$?(?P=tab))?\.?(?P<last>\$?[A-Z]{1,3}\$?[0-9]{1,7}))?"
)


def plain_address(text: str) -> str:
    """Return a cell or block of cells as the Open XML kind writes it; what is no such thing, as it stands.

    Examples
    --------
    >>> plain_address("$Readings.$B$9"), plain_address("$'Tab 2'.$A$1:.$B$2")
    ('Readings!$B$9', "'Tab 2'!$A$1:$B$2")
    """
    match = _ADDRESS.fullmatch(text)
    if match is None:
        return text
    last = f":{match['last']}" if match["last"] else ""
    return f"{match['tab']}!{match['first']}{last}"


def repeat_of(text: str | None) -> int:
    """Return how often a row, column or cell stands there: 1 where nothing usable is said.

    Examples
    --------
    >>> repeat_of(None), repeat_of("3"), repeat_of("-2"), repeat_of("9" * 5000)
    (1, 3, 1, 1000000000)
    """
    if text is None:
        return 1
    if not (text.isascii() and text.isdigit()):
        return 1
    return max(1, int(text)) if len(text) <= _MOST_DIGITS else 10**_MOST_DIGITS
