"""The day on which each returned file was first read: lines are added, and none is ever changed."""

import re
from collections.abc import Iterable

from sheetgen.errors import FolderError
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there, write_beside

__all__ = ["first_seen"]

_HEADING = b"sha256,first_read\n"
_LINE = re.compile('"?([0-9a-f]{64})"?[,;\t]"?([0-9]{4}-[0-9]{2}-[0-9]{2})"?')


def first_seen(folder: ClassFolder, digests: Iterable[str], today: str) -> dict[str, str]:
    """Return digest of each file to the day on which it was first read; those not known yet are added.

    Parameters
    ----------
    digests : SHA-256, in hexadecimal; an empty one, of a file that could not be read, is passed over.
    today : the day, as YYYY-MM-DD, of files that are new.

    Raises
    ------
    FolderError : the record cannot be read, understood or written.
    """
    data = read_if_there(folder.arrivals) or b""
    known = _known(folder, data)
    asked = list(dict.fromkeys(digest for digest in digests if digest))
    new = [digest for digest in asked if digest not in known]
    if new:
        head = data or _HEADING
        end = b"" if head.endswith((b"\n", b"\r")) else b"\n"
        lines = "".join(f"{digest},{today}\n" for digest in new)
        make_folder(folder.keep)
        write_beside(folder.arrivals, head + end + lines.encode("ascii"))
    return {digest: known.get(digest, today) for digest in asked}


def _known(folder: ClassFolder, data: bytes) -> dict[str, str]:
    """Digest to day; of two lines for one file the earlier day holds."""
    known: dict[str, str] = {}
    lines = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").splitlines()
    for number, line in enumerate(lines, start=1):
        if not line.strip(" ,;\t") or "sha256" in line:
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            raise FolderError(
                f"{folder.arrivals}:{number}",
                repr(line[:80]),
                "a digest and a day, as in DIGEST,2027-03-31",
                "Correct the line, or put the file back from a copy of the class folder.",
            )
        digest, day = match.groups()
        known[digest] = min(day, known.get(digest, day))
    return known
