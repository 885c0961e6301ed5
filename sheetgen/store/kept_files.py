"""Workbooks that a teacher types into: whether another program has one open, and the last three of each."""

import os
from pathlib import Path

from sheetgen.errors import FolderError
from sheetgen.store.files import read_if_there, write_beside

__all__ = ["keep_last_three", "lock_file"]

_KEPT = 3


def lock_file(path: Path) -> str:
    """Return the name of the file that a program puts beside a workbook it has open, empty without one."""
    # Of a long name the first two characters give way.
    names = (f"~${path.name}", f"~${path.name[2:]}", f".~lock.{path.name}#")
    return next((name for name in names if path.with_name(name).exists()), "")


def keep_last_three(path: Path, data: bytes) -> None:
    """Keep what a workbook holds before it is drawn anew: `NAME.kept-1.xlsx`, the newest, to `kept-3`.

    Raises
    ------
    FolderError : a kept one cannot be moved or written.

    Notes
    -----
    What a run that was broken off has kept already is not kept twice, so that no older one is pushed out.
    """
    kept = [path.with_name(f"{path.stem}.kept-{number}{path.suffix}") for number in range(1, _KEPT + 1)]
    if read_if_there(kept[0]) == data:
        return
    # Up to the first gap: one that such a run has moved stays where it is.
    free = next((number for number, one in enumerate(kept) if not one.exists()), _KEPT - 1)
    for number in range(free, 0, -1):
        newer = kept[number - 1]
        try:
            os.replace(newer, kept[number])
        except OSError as fault:
            found = f"{newer.name} cannot be moved: {fault.strerror}"
            raise FolderError(newer, found, "a file that can be moved", "Close it elsewhere.") from fault
    write_beside(kept[0], data)
