"""Texts in CSV tables that no spreadsheet program runs as a formula."""

__all__ = ["as_meant", "harmless"]

_RUN_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def harmless(text: str) -> str:
    """Return a text with an apostrophe in front where a spreadsheet program would run it.

    Examples
    --------
    >>> harmless("=1+1"), harmless("Ada")
    ("'=1+1", 'Ada')
    """
    return "'" + text if text.startswith(_RUN_AS_FORMULA) else text


def as_meant(text: str) -> str:
    """Return a text without the apostrophe that made it harmless.

    Examples
    --------
    >>> as_meant("'=1+1"), as_meant("'quoted'")
    ('=1+1', "'quoted'")
    """
    return text[1:] if text.startswith("'") and text[1:].startswith(_RUN_AS_FORMULA) else text
