"""What came back, a file at a time: from folders, zips, and zips in zips; links are not followed."""

import calendar
import contextlib
import os
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sheetgen.finding import Finding, amount
from sheetgen.returned.bundles import (
    HEAD,
    MOST_DEEP,
    entry_bytes,
    entry_head,
    entry_name,
    is_link,
    is_side_file,
    is_zip,
    looks_like_document,
    open_bundle,
    too_deep,
)
from sheetgen.workbook.read.bounded_zip import BoundedZip, climbs, is_locked, label_of, steps_of, unique_label

_LARGEST_FILE = 20_000_000
"""Bytes; a sheet has some 30,000, with pictures pasted in some millions."""
_LARGEST_INNER = 200_000_000
_MOST_HELD = 300_000_000
"""Bytes of zips in zips that are held in memory while one bundle is read."""
_MOST_FILES = 20_000
_NO_TIME = 1980
"""A zip cannot count from earlier, so programs without a clock write this year."""
_PACKAGES = (".numbers", ".pages", ".key")
"""Documents that are folders."""


@dataclass(frozen=True, slots=True)
class Incoming:
    """One file that came back, not read yet.

    label : what it is called in results. read : gives its bytes, or why there are none.
    time : when it was last changed [s], by the clock of the disk or, in_bundle, of the zip; None: not known.
    notes : what has to be said about its name.
    """

    label: str
    read: Callable[[], bytes | Finding]
    time: float | None = None
    in_bundle: bool = False
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Returned:
    """Everything that came back; passed_over : side-files and empty files."""

    files: tuple[Incoming, ...]
    passed_over: int


@dataclass(slots=True)
class _Walk:
    """What is counted on the way; `held` and `files` begin anew with each file on the disk."""

    stack: ExitStack
    found: list[Incoming]
    taken: dict[str, int]
    passed_over: int = 0
    held: int = 0
    files: int = 0

    def add(
        self,
        label: str,
        read: Callable[[], bytes | Finding],
        time: float | None = None,
        in_bundle: bool = False,
        notes: tuple[Finding, ...] = (),
    ) -> None:
        self.found.append(Incoming(unique_label(label, self.taken), read, time, in_bundle, notes))

    def add_fault(self, label: str, fault: Finding) -> None:
        self.add(label, lambda: fault)


@contextlib.contextmanager
def open_returned(path: Path, label: str = "") -> Iterator[Returned]:
    """Give everything below a folder, or in a file, in order of name; zips stay open meanwhile.

    Parameters
    ----------
    label : what goes before the names, for a path that is a file itself.

    Notes
    -----
    Zips are told by their contents, so a sheet that was named `.zip` is a sheet, and a bundle named `.xlsx`
    is opened. What cannot be read is one file whose `read` says why; it keeps no other from being read.
    """
    with ExitStack() as stack:
        walk = _Walk(stack, [], {})
        if label:
            _of_file(walk, path, tuple(label.split("/")))
        else:
            packages: set[str] = set()
            for steps, one in files_below(path):
                if isinstance(one, Finding):
                    walk.add_fault(label_of(steps), one)
                elif not _in_package(walk, steps, packages):
                    _of_file(walk, one, steps)
        yield Returned(tuple(walk.found), walk.passed_over)


def is_bundle(path: Path) -> bool:
    """Tell whether a file begins as a zip of others does; what is a sheet or cannot be read is none."""
    try:
        # A pipe or a device would wait for ever.
        if not path.is_file():
            return False
        with path.open("rb") as stream:
            head = stream.read(HEAD)
    except (OSError, ValueError):
        return False
    return is_zip(head) and not looks_like_document(head)


def files_below(root: Path) -> Iterator[tuple[tuple[str, ...], Path | Finding]]:
    """Give the steps from a folder to each file below it, in order of name, with the file or why it is none.

    A folder that cannot be listed, a link and a device are given as findings; a folder that is not there
    holds nothing.
    """
    found: list[tuple[tuple[str, ...], Path | Finding]] = []
    waiting: list[tuple[str, ...]] = [()]
    while waiting:
        steps = waiting.pop()
        folder = root.joinpath(*steps)
        try:
            with os.scandir(folder) as entries:
                listed = list(entries)
        except FileNotFoundError:
            continue
        except OSError as fault:
            closed = Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="unlisted")
            found.append(((*steps, "") if steps else (".",), closed))
            continue
        for entry in listed:
            inside = (*steps, entry.name)
            if entry.is_symlink():
                found.append((inside, link_finding()))
            elif entry.is_dir(follow_symlinks=False):
                waiting.append(inside)
            elif entry.is_file(follow_symlinks=False):
                found.append((inside, folder / entry.name))
            else:
                found.append((inside, Finding("file-unreadable", case="device")))
    yield from sorted(found, key=lambda one: "/".join(one[0]))


def file_bytes(path: Path, most: int) -> bytes | Finding:
    """Return the bytes of a file, or why it is not read.

    Parameters
    ----------
    most : bytes; a larger file is left unread.
    """
    try:
        size = path.stat().st_size
        if size <= most:
            return path.read_bytes()
    except OSError as fault:
        return file_finding(fault)
    return Finding("file-too-large", {"count": amount(size), "most": amount(most)})


def file_finding(fault: OSError) -> Finding:
    """Return the finding of a file that the system does not let be read."""
    return Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case="closed")


def link_finding() -> Finding:
    """Return the finding of a link that came back in place of a file."""
    return Finding("file-shortcut", case="link")


def _of_file(walk: _Walk, path: Path, steps: tuple[str, ...]) -> None:
    label = label_of(steps)
    walk.held = walk.files = 0
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD)
        time = path.stat().st_mtime
    except (OSError, ValueError) as fault:
        walk.add_fault(label, file_finding(fault) if isinstance(fault, OSError) else link_finding())
        return
    if is_side_file(steps, head):
        walk.passed_over += 1
    elif not _opened(walk, path, label, head, 1):
        walk.add(label, partial(file_bytes, path, _LARGEST_FILE), time)


def _opened(walk: _Walk, source: Path | bytes, label: str, head: bytes, deep: int) -> bool:
    """Whether a file is a bundle of others, or a bundle that cannot be opened; if so, they were added."""
    if not is_zip(head) or looks_like_document(head):
        return False
    if deep > MOST_DEEP:
        walk.add_fault(label, too_deep())
        return True
    archive = open_bundle(source)
    if isinstance(archive, Finding):
        if archive.code == "file-bundle-damaged" and label.lower().endswith((".xlsx", ".xlsm")):
            return False
        walk.add_fault(label, archive)
        return True
    if archive is None:
        return False
    walk.stack.callback(archive.close)
    _of_bundle(walk, archive, label, deep)
    return True


def _of_bundle(walk: _Walk, archive: BoundedZip, label: str, deep: int) -> None:
    entries = sorted(
        (entry for entry in archive.entries if not entry_name(entry).endswith(("/", "\\"))), key=entry_name
    )
    walk.files += len(entries)
    if walk.files > _MOST_FILES:
        walk.add_fault(label, _too_many(walk.files))
        return
    if entries and all(is_locked(entry) for entry in entries):
        walk.add_fault(label, Finding("file-bundle-locked"))
        return
    before = len(walk.found), walk.passed_over
    packages: set[str] = set()
    for entry in entries:
        steps = steps_of(entry_name(entry)) or ("no name",)
        if not _in_package(walk, (label, *steps), packages):
            _of_entry(walk, archive, entry, f"{label}/{label_of(steps)}", steps, deep)
    if (len(walk.found), walk.passed_over) == before:
        walk.add_fault(label, Finding("file-archive", case="nothing-in-it"))


def _of_entry(
    walk: _Walk,
    archive: BoundedZip,
    entry: zipfile.ZipInfo,
    label: str,
    steps: tuple[str, ...],
    deep: int,
) -> None:
    # Of a locked file only the name tells; a side-file is passed over all the same.
    head = b"?" if is_locked(entry) else entry_head(archive, entry, HEAD)
    if is_side_file(steps, b"?" if isinstance(head, Finding) else head):
        walk.passed_over += 1
        return
    if is_link(entry):
        walk.add_fault(label, link_finding())
        return
    notes = (_climbing(entry_name(entry)),) if climbs(entry_name(entry)) else ()
    if isinstance(head, bytes) and is_zip(head) and not looks_like_document(head):
        data: bytes | Finding = _too_much_held()
        if walk.held + entry.file_size <= _MOST_HELD:
            data = entry_bytes(archive, entry, _LARGEST_INNER)
        if isinstance(data, Finding):
            walk.add_fault(label, data)
            return
        walk.held += len(data)
        if _opened(walk, data, label, head, deep + 1):
            return
    read = partial(entry_bytes, archive, entry, _LARGEST_FILE)
    walk.add(label, read, _time_of(entry), in_bundle=True, notes=notes)


def _in_package(walk: _Walk, steps: tuple[str, ...], packages: set[str]) -> bool:
    """Whether a file is part of a document that is a folder; such a document is one file, added once."""
    ends = (end for end, step in enumerate(steps[:-1], start=1) if step.lower().endswith(_PACKAGES))
    end = next(ends, 0)
    if not end or is_side_file(steps[:end], b"?"):
        return False
    label = label_of(steps[:end])
    if label not in packages:
        packages.add(label)
        walk.add_fault(label, Finding("file-own-format", case="folder"))
    return True


def _time_of(entry: zipfile.ZipInfo) -> float | None:
    year, month, day, *clock = entry.date_time
    if year <= _NO_TIME or not 1 <= month <= 12:
        return None
    return float(calendar.timegm((year, month, day, *clock, 0, 0, 0)))


def _climbing(name: str) -> Finding:
    return Finding("file-name-climbs", {"name": label_of([name])[:120]})


def _too_many(count: int) -> Finding:
    values = {"count": amount(count), "most": amount(_MOST_FILES)}
    return Finding("file-bundle-too-large", values, case="files")


def _too_much_held() -> Finding:
    return Finding("file-bundle-too-large", {"most": amount(_MOST_HELD)}, case="held")
