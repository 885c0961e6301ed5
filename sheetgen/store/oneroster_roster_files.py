"""The few files of a OneRoster export that a roster is made from: out of a folder or a zip, within bounds."""

import io
import stat
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path, PurePosixPath
from typing import TypeVar

from sheetgen.errors import RosterError
from sheetgen.workbook.bounded_zip import BROKEN_ZIP

__all__ = ["READ_FILES", "holds_oneroster", "oneroster_files"]

READ_FILES = ("manifest.csv", "users.csv", "enrollments.csv", "classes.csv", "roles.csv")
"""No other file is opened, so that birth dates and the like stay where they are."""

_Entry = TypeVar("_Entry")

_MARKER = "users.csv"
_LARGEST_ZIP = 50_000_000
"""Bytes, as those of a part once it is unpacked."""
_LARGEST_PART = 30_000_000
_MOST_ENTRIES = 500
_DIRECTORY_MARK = b"PK\x01\x02"
_EXPORT = "Export the roster again."


def holds_oneroster(path: Path) -> bool:
    """Return whether a file is a zip with a table of users, at its top or in a folder; nothing raises."""
    try:
        if not stat.S_ISREG(path.stat().st_mode) or path.stat().st_size > _LARGEST_ZIP:
            return False
        data = path.read_bytes()
        if data[:2] != b"PK" or data.count(_DIRECTORY_MARK) > _MOST_ENTRIES:
            return False
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return any(_name(entry) == _MARKER for entry in archive.infolist())
    except BROKEN_ZIP:
        return False


def oneroster_files(path: Path) -> dict[str, bytes]:
    """Return the contents of READ_FILES by name, those that are there.

    They may lie at the top or in one folder below it; capitals in their names do not matter.

    Raises
    ------
    RosterError : no table of users, or several; larger than a roster is; a path that climbs out of the zip;
        damaged or locked.
    """
    return _from_folder(path) if path.is_dir() else _from_zip(path)


def _from_folder(path: Path) -> dict[str, bytes]:
    try:
        found = [
            one for one in sorted((*path.iterdir(), *path.glob("*/*"))) if one.name.lower() in READ_FILES
        ]
        chosen = _of_one_folder(path, [(str(one.parent), one) for one in found], lambda one: one.name.lower())
        return {name: _file(one) for name, one in chosen.items()}
    except OSError as fault:
        found_words = f"it cannot be read ({fault.strerror or fault})"
        raise RosterError(path, found_words, "a OneRoster export", "Check your right to read it.") from fault


def _file(path: Path) -> bytes:
    if not stat.S_ISREG(path.stat().st_mode):
        raise RosterError(path, "a folder or device", "a file", _EXPORT)
    with path.open("rb") as stream:
        return _bounded(path, stream.read(_LARGEST_PART + 1))


def _bounded(place: object, data: bytes) -> bytes:
    if len(data) > _LARGEST_PART:
        raise RosterError(place, f"more than {_LARGEST_PART:,} bytes", "a roster", "Export one class only.")
    return data


def _from_zip(path: Path) -> dict[str, bytes]:
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_ZIP + 1)
        many = data.count(_DIRECTORY_MARK) > _MOST_ENTRIES
        if len(data) > _LARGEST_ZIP or many:
            found = f"more than {_MOST_ENTRIES} entries" if many else f"more than {_LARGEST_ZIP:,} bytes"
            raise RosterError(path, found, "the zip of a roster", "Export one class or school only.")
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            climbing = next((entry for entry in entries if _climbs(entry)), None)
            if climbing is not None:
                found = f"a path that leads out of the zip, {climbing.orig_filename[:80]!r}"
                raise RosterError(path, found, "paths that stay inside", f"Do not unpack it. {_EXPORT}")
            named = [entry for entry in entries if _name(entry) in READ_FILES]
            chosen = _of_one_folder(path, [(_folder(entry), entry) for entry in named], _name)
            return {name: _part(path, archive, entry) for name, entry in chosen.items()}
    except BROKEN_ZIP as fault:
        found = f"a zip that is damaged, locked or cannot be read ({fault})"
        raise RosterError(path, found, "a whole zip without a password", _EXPORT) from fault


def _part(path: Path, archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    with archive.open(entry) as stream:
        return _bounded(f"{path}/{_name(entry)}", stream.read(_LARGEST_PART + 1))


def _steps(entry: zipfile.ZipInfo) -> PurePosixPath:
    return PurePosixPath(entry.orig_filename.replace("\\", "/"))


def _climbs(entry: zipfile.ZipInfo) -> bool:
    steps = _steps(entry)
    return steps.is_absolute() or ".." in steps.parts or ":" in "".join(steps.parts[:1])


def _name(entry: zipfile.ZipInfo) -> str:
    """The file's own name in lower case; empty for the shadows that a re-zipping desktop adds."""
    steps = _steps(entry)
    return "" if "__MACOSX" in steps.parts or len(steps.parts) > 2 else steps.name.lower()


def _folder(entry: zipfile.ZipInfo) -> str:
    return str(_steps(entry).parent)


def _of_one_folder(
    path: Path, found: Sequence[tuple[str, _Entry]], name_of: Callable[[_Entry], str]
) -> dict[str, _Entry]:
    """The files beside the table of users, by name."""
    folders = [folder for folder, entry in found if name_of(entry) == _MARKER]
    if not folders:
        remedy = "Name the roster file itself, or a whole OneRoster export."
        raise RosterError(path, f"no {_MARKER} in it", "a OneRoster export", remedy)
    if len(folders) > 1:
        remedy = "Name one export alone."
        raise RosterError(path, f"{len(folders)} files {_MARKER}", "one OneRoster export", remedy)
    beside = [entry for folder, entry in found if folder == folders[0]]
    names = [name_of(entry) for entry in beside]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise RosterError(path, f"the file {twice} twice", "each file once", _EXPORT)
    return dict(zip(names, beside, strict=True))
