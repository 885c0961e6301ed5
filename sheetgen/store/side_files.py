"""What comes along in a bundle and is nobody's work: passed over, and counted."""

from collections.abc import Sequence

from sheetgen.store.bundles import HEAD_OF_ZIP

__all__ = ["HEAD", "is_side_file"]

HEAD = 1024
"""Bytes of a file that are enough to tell."""

_FOLDERS = ("__macosx", "$recycle.bin", "system volume information")
_NAMES = ("thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r")
_STARTS = ("~$", "._", ".~lock.")
_TEXTS = (".txt", ".html", ".htm", ".json", ".xml", ".md")
"""What platforms put beside a submission: its text, its comments, a list of what is in the bundle."""
_OF_SHEETS = (".xlsx", ".xlsm", ".ods", ".xls", ".numbers", ".zip")
_NO_TEXT = (HEAD_OF_ZIP, b"\xd0\xcf\x11\xe0")
_SHEET_IN_XML = (b"office:spreadsheet", b"excel.sheet", b"opendocument")
"""A spreadsheet in one piece of XML: somebody's work in a wrong format, whatever it is called."""


def is_side_file(steps: Sequence[str], head: bytes) -> bool:
    """Tell whether a file is passed over.

    Parameters
    ----------
    steps : of its name, folders first. head : its first HEAD bytes, fewer only where there are no more.

    Notes
    -----
    An empty file is passed over unless it is named like a sheet or a bundle: then it is an upload that broke
    off, and somebody would be missing without a word.

    Examples
    --------
    >>> [is_side_file([name], b"") for name in ("empty", "sheet.xlsx")]
    [True, False]
    >>> [is_side_file(steps, b"PK\\x03\\x04") for steps in (["__MACOSX", "s.xlsx"], ["~$s.xlsx"], ["s.txt"])]
    [True, True, False]
    """
    folders, name = [step.casefold() for step in steps[:-1]], steps[-1].casefold() if steps else ""
    if any(step in _FOLDERS or (step.startswith(".") and step != "..") for step in folders):
        return True
    if name in _NAMES or name.startswith(_STARTS):
        return True
    of_sheet = name.endswith(_OF_SHEETS)
    if name.startswith(".") or not head:
        return not of_sheet
    return name.endswith(_TEXTS) and not _holds_a_sheet(head)


def _holds_a_sheet(head: bytes) -> bool:
    plain = head.replace(b"\x00", b"").lower()
    return head.startswith(_NO_TEXT) or any(word in plain for word in _SHEET_IN_XML)
