"""What came back, a file at a time: from folders, zips, and zips in zips; links are not followed.

Zips are read as platforms make them and never unpacked to disk; what in them is nobody's work is passed over.
"""

import calendar
import os
import re
import stat
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.finding import Finding, amount
from sheetgen.roster.headings import shipped_wording
from sheetgen.workbook.read import bounded_zip as zips
from sheetgen.workbook.read.guard import LARGEST_FILE

_LARGEST_INNER = 200_000_000
_MOST_HELD = 300_000_000  # Bytes of zips in zips that are held in memory while one bundle is read.
_MOST_FILES = 20_000
_MOST_DEEP = 4  # Zips in zips: a course, a class, a person, and what that person packed.
_HEAD = 1024  # Bytes of a file that are enough to tell.
_NO_TIME = 1980  # A zip cannot count from earlier, so programs without a clock write this year.
_UNICODE_NAME = 0x800

PACKAGES = (".numbers", ".pages", ".key")  # Documents that are folders.
_FOLDERS = ("__macosx", "$recycle.bin", "system volume information")
_NAMES = ("thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r")
_STARTS = ("~$", "._", ".~lock.")
_TEXTS = (".txt", ".html", ".htm", ".json", ".xml", ".md")
"""What platforms put beside a submission: its text, its comments, a list of what is in the bundle."""
_GRADES = ("grade", "calificaciones")
_OF_PEOPLE = ("student_id", "email")
"""Columns of which a list of people has at least one, and others besides."""
_OF_SHEETS = (".xlsx", ".xlsm", ".ods", ".xls", ".numbers", ".zip")
_NO_TEXT = (zips.HEAD_OF_ZIP, b"\xd0\xcf\x11\xe0")
_SHEET_IN_XML = (b"office:spreadsheet", b"excel.sheet", b"opendocument")
"""A spreadsheet in one piece of XML: somebody's work in a wrong format, whatever it is called."""

_PART = re.compile(
    r"(\[content_types\]\.xml|mimetype|_rels/\.rels|docprops/(app|core|custom)\.xml|word/document\.xml"
    r"|ppt/presentation\.xml|xl/(workbook\.(xml|bin)|styles\.xml|sharedstrings\.xml|(_rels|worksheets|theme)/.*)"
    r"|index\.zip|index/.*\.iwa|metadata/.*\.plist|meta-inf/manifest\..*)"
)
"""Parts of a document that is itself a zip: a workbook, a text, slides, another program's sheet."""

_FAULTS = {
    "directory": ("file-bundle-too-large", "directory"),
    "entries": ("file-bundle-too-large", "files"),
    "bytes": ("file-bundle-too-large", "bytes"),
    "overlap": ("file-bundle-too-large", "overlap"),
    "unpacked": ("file-too-large", "unpacked"),
    "ratio": ("file-too-large", "ratio"),
    "locked": ("file-bundle-locked", ""),
    "method": ("file-bundle-damaged", "method"),
}
"""Faults of a zip or of an entry to code and case of the finding; any other is damage."""

LINK = Finding("file-shortcut", case="link")  # A link that came back in place of a file.

_Steps = tuple[str, ...]
_Source = TypeVar("_Source")


class Incoming(Struct, frozen=True):
    """One file that came back, not read yet. label : what it is called in results. read : gives its bytes, or
    why there are none. time : when it was last changed [s], by the clock of the disk or, in_bundle, of the
    zip; None: not known. notes : what has to be said about its name."""

    label: str
    read: Callable[[], bytes | Finding]
    time: float | None = None
    in_bundle: bool = False
    notes: tuple[Finding, ...] = ()


class Returned(Struct, frozen=True):
    """Everything that came back; passed_over : side-files and empty files."""

    files: tuple[Incoming, ...]
    passed_over: int


class _OnDisk(Struct):
    """What one file on the disk has cost so far, zips in it included; its zips stay open."""

    stack: ExitStack
    held: int = 0
    files: int = 0


_Found = Incoming | None  # None: a side-file.


@contextmanager
def open_returned(path: Path, label: str = "") -> Iterator[Returned]:
    """Give everything below a folder, or in a file, in order of name; zips stay open meanwhile. label : what
    goes before the names, for a path that is a file itself. Zips are told by their contents, so a sheet that
    was named `.zip` is a sheet, and a bundle named `.xlsx` is opened. What cannot be read is one file whose
    `read` says why; it keeps no other from being read."""
    with ExitStack() as stack:
        files: Iterable[tuple[_Steps, Path | Finding]] = [(tuple(label.split("/")), path)]
        if not label:
            files = _with_packages(files_below(path))
        found = [one for steps, file in files for one in _of_file(_OnDisk(stack), file, steps)]
        taken: dict[str, int] = {}
        came = [replace(one, label=zips.unique_label(one.label, taken)) for one in found if one is not None]
        yield Returned(tuple(came), len(found) - len(came))


def is_bundle(path: Path) -> bool:
    """Tell whether a file begins as a zip of others does; what is a sheet or cannot be read is none."""
    with suppress(OSError):
        # A pipe or a device would wait for ever.
        return path.is_file() and begins_as_bundle(_head(path))
    return False


def files_below(root: Path) -> Iterator[tuple[_Steps, Path | Finding]]:
    """Give the steps from a folder to each file below it, in order of name, with the file or why it is none.
    A folder that cannot be listed, a link and a device are findings; one that is not there holds nothing."""
    found: list[tuple[_Steps, Path | Finding]] = []
    waiting: list[_Steps] = [()]
    while waiting:
        steps = waiting.pop()
        folder = root.joinpath(*steps)
        try:
            with os.scandir(folder) as listed:
                entries = list(listed)
        except FileNotFoundError:
            continue
        except OSError as fault:
            found.append(((*steps, "") if steps else (".",), file_finding(fault, "unlisted")))
            continue
        for entry in entries:
            inside = (*steps, entry.name)
            if entry.is_symlink():
                found.append((inside, LINK))
            elif entry.is_dir(follow_symlinks=False):
                waiting.append(inside)
            elif entry.is_file(follow_symlinks=False):
                found.append((inside, folder / entry.name))
            else:
                found.append((inside, Finding("file-unreadable", case="device")))
    yield from sorted(found, key=lambda one: "/".join(one[0]))


def file_bytes(path: Path, most: int) -> bytes | Finding:
    """Return the bytes of a file, or why it is not read: one of more than `most` bytes is left alone."""
    try:
        status = path.stat()
        # A pipe or a device would wait for ever.
        if not stat.S_ISREG(status.st_mode):
            return Finding("file-unreadable", case="folder")
        if status.st_size <= most:
            return path.read_bytes()
    except OSError as fault:
        return file_finding(fault)
    return Finding("file-too-large", {"count": amount(status.st_size), "most": amount(most)})


def file_finding(fault: OSError, case: str = "closed") -> Finding:
    """Return the finding of a file or folder that the system does not let be read."""
    return Finding("file-unreadable", {"why": str(fault.strerror or fault)}, case=case)


def is_side_file(steps: Sequence[str], head: bytes) -> bool:
    """Tell whether a file is passed over. steps : of its name, folders first. head : its first 1,024 bytes,
    fewer only where there are no more. An empty file is passed over unless it is named like a sheet or a
    bundle: then it is an upload that broke off, and somebody would be missing without a word."""
    *folders, name = map(str.casefold, steps)
    if any(step in _FOLDERS or (step.startswith(".") and step != "..") for step in folders):
        return True
    if name in _NAMES or name.startswith(_STARTS):
        return True
    if name.startswith(".") or not head:
        return not name.endswith(_OF_SHEETS)
    plain = head.replace(b"\x00", b"").lower()
    holds_a_sheet = head.startswith(_NO_TEXT) or any(word in plain for word in _SHEET_IN_XML)
    return (name.endswith(_TEXTS) and not holds_a_sheet) or _is_list_of_people(name, plain)


def _is_list_of_people(name: str, plain: bytes) -> bool:
    """Whether a CSV is a platform's own list for grading: by its name, or by headings of people."""
    if not name.endswith(".csv"):
        return False
    first_line = plain.decode("utf-8", "replace").lstrip("\ufeff\ufffd").splitlines()[:1]
    cells = [cell.strip('" ') for line in first_line for cell in re.split("[,;\t]", line)]
    columns = {known.stands_for for cell in cells if (known := shipped_wording().column(cell)) is not None}
    return name.startswith(_GRADES) or (len(columns) > 1 and not columns.isdisjoint(_OF_PEOPLE))


def begins_as_bundle(head: bytes) -> bool:
    """Tell from the first bytes of a file whether it is a zip whose first part is none of a document."""
    length = int.from_bytes(head[26:28], "little")
    name = head[30 : 30 + length].decode("utf-8", "replace")
    return head.startswith(zips.HEAD_OF_ZIP) and not _is_part(name)


def _is_part(name: str) -> bool:
    return _PART.fullmatch(name.replace("\\", "/").lstrip("/").lower()) is not None


def open_bundle(source: Path | bytes) -> zips.BoundedZip | Finding | None:
    """Open a zip of returned files. The zip, to be closed by the caller; or why it is not opened; or None
    where it is a document of its own, such as a sheet that was named `.zip`."""
    with ExitStack() as closing:
        try:
            archive = zips.open_zip(source, zips.BUNDLE)
            closing.callback(archive.close)
            if any(_is_part(entry_name(entry)) for entry in archive.entries):
                return None
            archive.check()
        except OSError as fault:
            return file_finding(fault)
        except zips.ZipFault as fault:
            return _zip_finding(fault)
        closing.pop_all()
    return archive


def entry_name(entry: zipfile.ZipInfo) -> str:
    """Return the name of an entry; many programs write UTF-8 and do not say so."""
    if not entry.flag_bits & _UNICODE_NAME:
        with suppress(UnicodeError):
            return entry.orig_filename.encode("cp437").decode("utf-8")
    return entry.orig_filename


def unpacked(
    unpack: Callable[[zipfile.ZipInfo, int], bytes], entry: zipfile.ZipInfo, count: int
) -> bytes | Finding:
    """Return what the head or the whole of an entry holds, or why it is not read. unpack : `head` or `read`
    of its zip. count : bytes of a head, or the most that a whole one may declare."""
    try:
        return unpack(entry, count)
    except (zips.ZipFault, OSError) as fault:
        return _zip_finding(fault)


def _zip_finding(fault: zips.ZipFault | OSError) -> Finding:
    if isinstance(fault, OSError):
        return Finding("file-bundle-damaged", {"why": str(fault)[:120]})
    if fault.case in _FAULTS:
        code, case = _FAULTS[fault.case]
        return Finding(code, fault.values, case=case)
    why = fault.values.get("why", f"an entry: {fault.case}")
    case = "no-zip" if why == "File is not a zip file" else ""
    return Finding("file-bundle-damaged", {"why": why}, case=case)


def _head(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(_HEAD)


def _with_packages(
    files: Iterable[tuple[_Steps, _Source | Finding]],
) -> Iterator[tuple[_Steps, _Source | Finding]]:
    """The files, those that make up a document that is a folder as one that is not read."""
    packages: set[_Steps] = set()
    for steps, file in files:
        ends = (end for end, step in enumerate(steps[:-1], start=1) if step.lower().endswith(PACKAGES))
        package = steps[: next(ends, 0)]
        if not package or isinstance(file, Finding) or is_side_file(package, b"?"):
            yield steps, file
        elif package not in packages:
            packages.add(package)
            yield package, Finding("file-own-format", case="folder")


def _unread(label: str, fault: Finding) -> Incoming:
    return Incoming(label, lambda: fault)


def _of_file(disk: _OnDisk, path: Path | Finding, steps: _Steps) -> Iterator[_Found]:
    """One file on the disk, or the files in it."""
    label = zips.label_of(steps)
    if isinstance(path, Finding):
        yield _unread(label, path)
        return
    try:
        head, time = _head(path), path.stat().st_mtime
    except OSError as fault:
        yield _unread(label, file_finding(fault))
        return
    file = Incoming(label, partial(file_bytes, path, LARGEST_FILE), time)
    if is_side_file(steps, head):
        yield None
    elif begins_as_bundle(head):
        yield from _opened(disk, path, file, 1)
    else:
        yield file


def _opened(disk: _OnDisk, source: Path | bytes, file: Incoming, deep: int) -> Iterator[_Found]:
    """The files in what begins as a bundle; or the file itself, where it is a document after all."""
    if deep > _MOST_DEEP:
        values = {"others": _MOST_DEEP - 1, "most": _MOST_DEEP}
        yield _unread(file.label, Finding("file-bundle-too-large", values, case="deep"))
        return
    archive = open_bundle(source)
    if isinstance(archive, zips.BoundedZip):
        disk.stack.callback(archive.close)
        yield from _of_bundle(disk, archive, file.label, deep)
    elif archive is None or (
        archive.code == "file-bundle-damaged" and file.label.lower().endswith((".xlsx", ".xlsm"))
    ):
        yield file
    else:
        yield _unread(file.label, archive)


def _of_bundle(disk: _OnDisk, archive: zips.BoundedZip, label: str, deep: int) -> Iterator[_Found]:
    files = (entry for entry in archive.entries if not entry_name(entry).endswith(("/", "\\")))
    entries = sorted(files, key=entry_name)
    disk.files += len(entries)
    if disk.files > _MOST_FILES:
        values = {"count": amount(disk.files), "most": amount(_MOST_FILES)}
        yield _unread(label, Finding("file-bundle-too-large", values, case="files"))
        return
    if entries and all(map(zips.is_locked, entries)):
        yield _unread(label, Finding("file-bundle-locked"))
        return
    below = (((label, *(zips.steps_of(entry_name(entry)) or ("no name",))), entry) for entry in entries)
    whole = _with_packages(below)
    found = [one for steps, entry in whole for one in _of_entry(disk, archive, entry, steps, deep)]
    yield from found or [_unread(label, Finding("file-archive", case="nothing-in-it"))]


def _of_entry(
    disk: _OnDisk, archive: zips.BoundedZip, entry: zipfile.ZipInfo | Finding, steps: _Steps, deep: int
) -> Iterator[_Found]:
    """One file in a bundle, or the files in it. steps : to it, behind the label of the bundle."""
    if isinstance(entry, Finding):
        yield _unread(zips.label_of(steps), entry)
        return
    label, name = f"{steps[0]}/{zips.label_of(steps[1:])}", entry_name(entry)
    # Of a locked file only the name tells; a side-file is passed over all the same.
    head = b"?" if zips.is_locked(entry) else unpacked(archive.head, entry, _HEAD)
    if is_side_file(steps[1:], b"?" if isinstance(head, Finding) else head):
        yield None
        return
    if stat.S_ISLNK(entry.external_attr >> 16):
        yield _unread(label, LINK)
        return
    notes = (Finding("file-name-climbs", {"name": zips.label_of([name])[:120]}),) if zips.climbs(name) else ()
    read = partial(unpacked, archive.read, entry, LARGEST_FILE)
    file = Incoming(label, read, _time_of(entry), in_bundle=True, notes=notes)
    if isinstance(head, Finding) or not begins_as_bundle(head):
        yield file
        return
    data: bytes | Finding = Finding("file-bundle-too-large", {"most": amount(_MOST_HELD)}, case="held")
    if disk.held + entry.file_size <= _MOST_HELD:
        data = unpacked(archive.read, entry, _LARGEST_INNER)
    if isinstance(data, Finding):
        yield _unread(label, data)
        return
    disk.held += len(data)
    yield from _opened(disk, data, file, deep + 1)


def _time_of(entry: zipfile.ZipInfo) -> float | None:
    year, month, day, *clock = entry.date_time
    if year <= _NO_TIME or not 1 <= month <= 12:
        return None
    return float(calendar.timegm((year, month, day, *clock, 0, 0, 0)))
