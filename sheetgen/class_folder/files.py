"""Files of a class: each is the old or the whole new one; what a person types into is drawn anew."""

import contextlib
import csv
import errno
import hashlib
import io
import os
import secrets
import stat
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise, takewhile
from operator import itemgetter
from pathlib import Path
from typing import Any, TypeVar

from msgspec import Struct

from sheetgen.errors import FolderError

_Row = TypeVar("_Row")

_SHARING_VIOLATION = 32  # winerror

OWNER_ONLY, OWNER_ONLY_FOLDER = 0o600, 0o700
HANDED_OUT, HANDED_OUT_FOLDER = 0o666, 0o777
"""Rights of what is new, before the user's mask: of what holds names, bodies or marks, and of the rest."""

_NO_RIGHT = ("no right to write here", "Close the file in other programs, or get the right.")
_REASONS = {
    errno.EROFS: ("the disk is read-only", "Copy the folder to a place that can be written to."),
    errno.ENOSPC: ("the disk is full", "Make room, then run the command again."),
    errno.EDQUOT: ("your share of the disk is full", "Make room, then run the command again."),
    errno.EACCES: _NO_RIGHT,
    errno.EPERM: _NO_RIGHT,
    errno.EBUSY: ("another program holds it open", "Close it there, then run the command again."),
    errno.ENOENT: ("its folder is not there", "Check that the class folder has not been moved."),
    errno.ENOTDIR: ("a file stands where a folder is needed", "Move that file away."),
    errno.EISDIR: ("a folder stands where the file is needed", "Move that folder away."),
    errno.EEXIST: ("a file stands where a folder is needed", "Move that file away."),
}


def sha256_of(data: bytes) -> str:
    """Return the SHA-256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def remove_file(path: Path) -> None:
    """Remove a file that may be there; FolderError where it cannot be."""
    try:
        path.unlink(missing_ok=True)
    except OSError as fault:
        found = f"it cannot be removed ({fault.strerror})"
        remedy = "Close it in other programs, or ask for the right to remove it, and run the command again."
        raise FolderError(path, found, "a file of yours", remedy) from fault


def write_beside(
    path: Path, data: bytes, *, mode: int = OWNER_ONLY, sync: bool = True, copy_of: Path | None = None
) -> None:
    """Write a file beside its place, then swap it in.
    mode : rights of a file that was not there, before the user's mask; rights that stand are kept.
    sync : wait until the bytes are on the disk. Where many files are written, leave it out and call
        `sync_folder` once.
    copy_of : a file whose times the new one has from the moment it is there. Some network disks take none;
        then the bytes are there without them.

    FolderError where it cannot be written: the old file stays as it was, and nothing is left beside it."""
    # A name may be as long as the system allows, so nothing can be added to it.
    beside = path.with_name(f".{secrets.token_hex(8)}.part")
    try:
        try:
            with open(beside, "xb", opener=lambda name, flags: os.open(name, flags, mode)) as stream:
                stream.write(data)
                stream.flush()
                if sync:
                    os.fsync(stream.fileno())
            with contextlib.suppress(OSError):
                if copy_of is not None:
                    times = copy_of.stat()
                    os.utime(beside, ns=(times.st_atime_ns, times.st_mtime_ns))
                if path.exists():
                    beside.chmod(stat.S_IMODE(path.stat().st_mode))
            os.replace(beside, path)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise
    except OSError as fault:
        raise not_written(path, fault) from fault


def make_folder(path: Path, mode: int = OWNER_ONLY_FOLDER) -> None:
    """Make a folder, and those above it, where they are missing; FolderError where it cannot be made."""
    try:
        missing = takewhile(lambda place: not place.exists(), path.parents)
        for place in (*reversed(list(missing)), path):
            place.mkdir(mode, exist_ok=True)
    except OSError as fault:
        raise not_written(path, fault) from fault


def sync_folder(path: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def read_if_there(path: Path) -> bytes | None:
    """Return the bytes of a file of the class folder, None where there is none; FolderError: unreadable."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror})"
        raise FolderError(path, found, "a file that can be read", "Check your right to read it.") from fault


def kept_rows(path: Path, columns: Sequence[str], row_of: Callable[[list[str]], _Row]) -> tuple[_Row, ...]:
    """Return the rows of a table in keep/, none where it is not there; FolderError where it cannot be read or
    understood: its line is named.
    row_of : of the cells of a line; TypeError or ValueError where they cannot be understood."""
    text = (read_if_there(path) or b"").decode("utf-8-sig", "replace")
    rows = []
    for number, cells in enumerate(csv.reader(io.StringIO(text, newline="")), start=1):
        if number == 1 or not cells:
            continue
        try:
            rows.append(row_of(cells))
        except (TypeError, ValueError) as fault:
            remedy = "Correct the line, or put the file back from a copy of the class folder."
            raise FolderError(f"{path}:{number}", repr(cells)[:80], ", ".join(columns), remedy) from fault
    return tuple(rows)


def keep_rows(path: Path, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Write a table of keep/, by session, which is its first column, where it differs from the one there;
    where nothing is kept there is no table. FolderError where it cannot be written."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(kept := sorted(rows, key=itemgetter(0)))
    data, before = stream.getvalue().encode("utf-8"), read_if_there(path)
    if data != before and (kept or before):
        make_folder(path.parent)
        write_beside(path, data)


def not_written(path: Path, fault: OSError) -> FolderError:
    """Return the error of a file or folder that the system does not let be written."""
    number = errno.EBUSY if getattr(fault, "winerror", None) == _SHARING_VIOLATION else fault.errno
    other = str(fault.strerror or fault), "Check the folder, then run the command again."
    reason, remedy = _REASONS.get(number or 0, other)
    return FolderError(path, f"it cannot be written: {reason}", "a place that can be written to", remedy)


class LeftAlone(Struct, frozen=True):
    """Why a workbook was not drawn anew. case : `open`, `meanwhile`, `lost`, or empty: the detail."""

    case: str
    detail: str = ""

    def __str__(self) -> str:
        opened = f"another program has it open ({self.detail})"
        return {"open": opened, "meanwhile": "it was saved meanwhile"}.get(self.case, self.detail)


def redrawn(path: Path, digest: str, draw: Callable[[], bytes | None]) -> LeftAlone | None:
    """Put a workbook drawn anew in the place of the one that was read, keep the last three, and return None;
    or why it was left as it is: another program has it open, it was saved meanwhile, or it cannot be drawn.
    digest : SHA-256 of the workbook whose contents were taken over, empty where there was none.
    draw : returns the new workbook once it has read it back; None where that holds less than it should. It
        says by a FolderError or a ValueError that the workbook cannot be drawn."""
    try:
        before = read_if_there(path)
        if before is not None and (lock := lock_file(path)):
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
    except (FolderError, ValueError) as fault:
        return LeftAlone("", fault.found if isinstance(fault, FolderError) else str(fault))
    return None


def lock_file(path: Path) -> str:
    """Return the name of the file that a program puts beside a workbook it has open, empty without one."""
    # Of a long name the first two characters give way.
    names = (f"~${path.name}", f"~${path.name[2:]}", f".~lock.{path.name}#")
    return next((name for name in names if path.with_name(name).exists()), "")


def keep_last_three(
    path: Path, data: bytes, name: str = "{0.stem}.kept-{1}{0.suffix}", mode: int = OWNER_ONLY
) -> None:
    """Keep what a workbook holds before it is drawn anew: `NAME.kept-1.xlsx`, the newest, to `kept-3`. What a
    run that was broken off has kept already is not kept twice, so that no older one is pushed out.
    FolderError where a kept one cannot be moved or written."""
    kept = [path.with_name(name.format(path, number)) for number in (1, 2, 3)]
    if read_if_there(kept[0]) == data:
        return
    # Up to the first gap: one that such a run has moved stays where it is.
    free = next((number for number, copy in enumerate(kept) if not copy.exists()), 2)
    for newer, older in reversed(list(pairwise(kept[: free + 1]))):
        try:
            os.replace(newer, older)
        except OSError as fault:
            found = f"{newer.name} cannot be moved: {fault.strerror}"
            raise FolderError(newer, found, "a file that can be moved", "Close it elsewhere.") from fault
    write_beside(kept[0], data, mode=mode)
