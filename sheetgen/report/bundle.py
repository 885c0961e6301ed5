"""All feedback of a session as one zip, for a platform's bulk return."""

import re
import unicodedata
from collections.abc import Mapping
from itertools import chain, count

from sheetgen.report.page import writable_text
from sheetgen.workbook.packages import packed

_READABLE = 0o100644 << 16
"""Permissions of the files in the zip."""
_NOT_IN_FILE_NAMES = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)


def feedback_zip(files: Mapping[str, bytes]) -> bytes:
    """Return feedback workbooks as one zip under the names the sheets came in with.

    files : incoming file name, with folders where there were any, to the bytes of the feedback. A name can
    lead nowhere but below the place where the zip is unpacked, is fit for every usual system, ends in
    `.xlsx`, and stands there once: a second one of the same name gets a number. Order and dates are fixed.
    """
    safe = {name: _safe_path(name) for name in sorted(files)}
    taken = {_folded("/".join(path[:end])) for path in safe.values() for end in range(1, len(path))}
    named = {}
    for name, path in safe.items():
        stem, ending = "/".join(path)[:-5], path[-1][-5:]
        numbered = (f"{stem} ({number}){ending}" for number in count(2))
        unique = next(one for one in chain([stem + ending], numbered) if _folded(one) not in taken)
        taken.add(_folded(unique))
        named[unique] = files[name]
    return packed(named, _READABLE)


def _safe_path(name: str) -> tuple[str, ...]:
    parts = [_safe_part(part) for part in re.split(r"[/\\]", writable_text(name))]
    kept = [part for part in parts if part] or ["feedback"]
    if not kept[-1].casefold().endswith(".xlsx"):
        kept[-1] += ".xlsx"
    return tuple(kept)


def _safe_part(part: str) -> str:
    """One step of a path, empty where it is none: no `..`, no drive, nothing that a system refuses."""
    clean = _NOT_IN_FILE_NAMES.sub("_", part).strip().rstrip(". ")
    return f"_{clean}" if _DEVICES.match(clean) else clean


def _folded(path: str) -> str:
    """The same for names that some systems take for the same."""
    return unicodedata.normalize("NFC", path).casefold()
