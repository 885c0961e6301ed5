"""Workbooks that a teacher types into: whether another program has one open, and the last three of each."""

import os
from pathlib import Path

from sheetgen.errors import FolderError
from sheetgen.store.files import write_beside

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
    """
    kept = [path.with_name(f"{path.stem}.kept-{number}{path.suffix}") for number in range(1, _KEPT + 1)]
    for older, newer in reversed(list(zip(kept[1:], kept, strict=False))):
        if newer.exists():
            try:
                os.replace(newer, older)
            except OSError as fault:
                found = f"{newer.name} cannot be moved: {fault.strerror}"
                raise FolderError(newer, found, "a file that can be moved", "Close it elsewhere.") from fault
    write_beside(kept[0], data)
