"""Workbooks that a person types into, drawn anew: beside, read back, swapped in, the last three kept."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sheetgen.errors import FolderError
from sheetgen.store.files import make_folder, read_if_there, sha256_of, write_beside

__all__ = ["LeftAlone", "keep_last_three", "lock_file", "redrawn"]

_KEPT = 3


@dataclass(frozen=True, slots=True)
class LeftAlone:
    """Why a workbook was not drawn anew. case : `open`, `meanwhile`, `lost`, or empty: the detail."""

    case: str
    detail: str = ""

    def __str__(self) -> str:
        sentences = {
            "open": f"another program has it open ({self.detail})",
            "meanwhile": "it was saved meanwhile",
            "lost": "the new one does not hold every decision",
        }
        return sentences.get(self.case, self.detail)


def redrawn(path: Path, digest: str, draw: Callable[[], bytes | None]) -> LeftAlone | None:
    """Put a workbook drawn anew in the place of the one that was read, and keep the last three.

    Parameters
    ----------
    digest : SHA-256 of the workbook whose contents were taken over, empty where there was none.
    draw : returns the new workbook once it has read it back; None where that holds less than it should.

    Returns
    -------
    Why the workbook was left as it is, None where the new one is in its place. Left alone are
    one that another program has open, one that was saved meanwhile, and one that cannot be drawn, which
    `draw` says by a FolderError or a ValueError.
    """
    try:
        before = read_if_there(path)
        lock = lock_file(path)
        if before is not None and lock:
            return LeftAlone("open", lock)
        if digest != ("" if before is None else sha256_of(before)):
            return LeftAlone("meanwhile")
        data = draw()
        if data is None:
            return LeftAlone("lost")
        if data == before:
            return None
        make_folder(path.parent)
        if before is not None:
            keep_last_three(path, before)
        write_beside(path, data)
    except FolderError as fault:
        return LeftAlone("", fault.found)
    except ValueError as fault:
        return LeftAlone("", str(fault))
    return None


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
    free = next((number for number, copy in enumerate(kept) if not copy.exists()), _KEPT - 1)
    for number in range(free, 0, -1):
        newer = kept[number - 1]
        try:
            os.replace(newer, kept[number])
        except OSError as fault:
            found = f"{newer.name} cannot be moved: {fault.strerror}"
            raise FolderError(newer, found, "a file that can be moved", "Close it elsewhere.") from fault
    write_beside(kept[0], data)
