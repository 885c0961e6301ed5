"""Take in what came back: copied into returned/ as it is, and nothing there is ever overwritten."""

import os
from collections.abc import Iterable
from pathlib import Path

from sheetgen.errors import UsageError
from sheetgen.flows.examine_file import refused_attempt
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, write_beside
from sheetgen.store.labels import label_of
from sheetgen.store.returned import file_bytes, files_below

__all__ = ["taken_in"]

_LARGEST_TAKEN_IN = 500_000_000
"""Bytes: beyond the download of a whole course; a film among them would fill the memory."""
_LONG_NAME = 240
"""Bytes; most systems allow 255."""


def taken_in(folder: ClassFolder, session: int, paths: Iterable[Path]) -> list[Attempt]:
    """Copy files and folders into returned/, bytes and times kept; zips are not unpacked.

    A file that is there with other bytes is never overwritten: the new one gets a number. Links inside a
    folder are not followed.

    Returns
    -------
    Those that cannot be read or are far too large, refused: one of them keeps no other from being taken in.

    Raises
    ------
    UsageError : a path is not there, or holds the class folder itself.
    FolderError : a copy cannot be written.
    """
    refused: list[Attempt] = []
    target = folder.returned(session)
    make_folder(target)
    for path in paths:
        _check(folder, path)
        below = files_below(path) if path.is_dir() else iter([((path.name,), path)])
        for steps, source in below:
            fault = source if isinstance(source, Finding) else _copied_in(source, target, steps)
            if fault is not None:
                refused.append(refused_attempt(label_of(steps), "", fault))
    return refused


def _check(folder: ClassFolder, path: Path) -> None:
    try:
        if not path.exists():
            raise UsageError(path, "no such file or folder", "what came back", "Check the name.")
        if not path.is_dir() and not path.is_file():
            raise UsageError(path, "a device or pipe", "a file or folder", "Save it as a file first.")
    except OSError as fault:
        found = f"it cannot be looked at ({fault.strerror or fault})"
        raise UsageError(path, found, "a file or folder", "Check your right to read it.") from fault
    if folder.root.resolve().is_relative_to(path.resolve()):
        raise UsageError(
            path, "the class folder is inside", "what came back", "Name the folder of downloads."
        )


def _copied_in(source: Path, target: Path, steps: tuple[str, ...]) -> Finding | None:
    """Copy one file, or say why it cannot be; what stands in returned/ already is left alone."""
    if source.resolve().is_relative_to(target.resolve()):
        return None
    data = file_bytes(source, _LARGEST_TAKEN_IN)
    if isinstance(data, Finding):
        return data
    _copied(source, data, target.joinpath(*steps))
    return None


def _copied(source: Path, data: bytes, wanted: Path) -> None:
    """Copy under the wanted name, or the next free one where something else stands under it."""
    # A name may be as long as the system allows, so that nothing can be added to it.
    stem = wanted.stem if len(os.fsencode(wanted.name)) < _LONG_NAME else wanted.stem[:50]
    target, number = wanted, 1
    while target.exists():
        if target.is_file() and target.read_bytes() == data:
            return
        number += 1
        target = wanted.with_name(f"{stem}-{number}{wanted.suffix}")
    make_folder(target.parent)
    write_beside(target, data, sync=False, copy_of=source)
