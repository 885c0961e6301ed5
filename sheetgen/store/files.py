"""Files of the class folder: one is either the old or the whole new one, and every fault is one sentence."""

import contextlib
import errno
import hashlib
import os
import secrets
import shutil
from pathlib import Path

from sheetgen.errors import FolderError

__all__ = ["make_folder", "read_if_there", "sha256_of", "sync_folder", "write_beside"]

_SHARING_VIOLATION = 32  # winerror

_REASONS = {
    errno.EROFS: ("the disk is read-only", "Copy the folder to a place that can be written to."),
    errno.ENOSPC: ("the disk is full", "Make room, then run the command again."),
    errno.EDQUOT: ("your share of the disk is full", "Make room, then run the command again."),
    errno.EACCES: ("no right to write here", "Close the file in other programs, or get the right."),
    errno.EPERM: ("no right to write here", "Close the file in other programs, or get the right."),
    errno.EBUSY: ("another program holds it open", "Close it there, then run the command again."),
    errno.ENOENT: ("its folder is not there", "Check that the class folder has not been moved."),
    errno.ENOTDIR: ("a file stands where a folder is needed", "Move that file away."),
    errno.EISDIR: ("a folder stands where the file is needed", "Move that folder away."),
    errno.EEXIST: ("a file stands where a folder is needed", "Move that file away."),
}


def sha256_of(data: bytes) -> str:
    """Return the SHA-256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def write_beside(
    path: Path, data: bytes, *, mode: int = 0o666, sync: bool = True, copy_of: Path | None = None
) -> None:
    """Write a file beside its place, then swap it in.

    Parameters
    ----------
    mode : rights of the new file, before the user's mask.
    sync : wait until the bytes are on the disk. Where many files are written, leave it out and call
        `sync_folder` once.
    copy_of : a file whose times and rights the new one has from the moment it is there. Some network disks
        take none; then the bytes are there without them.

    Raises
    ------
    FolderError : it cannot be written. The old file stays as it was, and nothing is left beside it.
    """
    # A name may be as long as the system allows, so nothing can be added to it.
    beside = path.with_name(f".{secrets.token_hex(8)}.part")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        try:
            with open(descriptor, "wb") as stream:
                stream.write(data)
                stream.flush()
                if sync:
                    os.fsync(stream.fileno())
            if copy_of is not None:
                with contextlib.suppress(OSError):
                    shutil.copystat(copy_of, beside)
            os.replace(beside, path)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise
    except OSError as fault:
        raise _not_written(path, fault) from fault


def make_folder(path: Path) -> None:
    """Make a folder, and those above it, where they are missing.

    Raises
    ------
    FolderError : it cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise _not_written(path, fault) from fault


def sync_folder(path: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def read_if_there(path: Path) -> bytes | None:
    """Return the bytes of a file of the class folder, None where there is none.

    Raises
    ------
    FolderError : there is one, and it cannot be read.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror})"
        raise FolderError(path, found, "a file that can be read", "Check your right to read it.") from fault


def _not_written(path: Path, fault: OSError) -> FolderError:
    number = errno.EBUSY if getattr(fault, "winerror", None) == _SHARING_VIOLATION else fault.errno
    remedy = "Check the folder, then run the command again."
    reason, remedy = _REASONS.get(number or 0, (str(fault.strerror or fault), remedy))
    return FolderError(path, f"it cannot be written: {reason}", "a place that can be written to", remedy)
