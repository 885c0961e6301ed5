"""The guard: a returned file's bytes as a bounded package, before any XML parser sees them.

Which parts there are and how large is told from the zip directory first, so a bomb is refused without
inflating anything.
"""

import hashlib
import re
import stat
import zipfile
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from msgspec import Struct

from sheetgen import finding
from sheetgen.workbook.read import kinds
from sheetgen.workbook.read.bounded_zip import WORKBOOK, BoundedZip, ZipFault, open_zip, steps_of

LARGEST_FILE = 20_000_000  # Bytes; a sheet has some 200,000, with pictures pasted in some millions.

_ODS_LIST = "meta-inf/manifest.xml"
_LONGEST_TYPE = 200

_FOREIGN = re.compile(
    r"vba(project|data)[^/]*$|(^|/)(externallinks|embeddings|activex|macrosheets|customui|webextensions)/"
)
_NOT_NEEDED = re.compile(
    r"(^|/)(theme|drawings|chart(s|ex)|media|printersettings|customxml|customproperty|pivottables|pivotcache"
    r"|tables|querytables|ctrlprops|slicers|slicercaches|timelines|timelinecaches|richdata|persons"
    r"|threadedcomments|model|diagrams|worksheets/_rels|chartsheets/_rels)/"
    r"|(^|/)(calcchain|metadata|connections|comments\d*|xmlmaps)\.xml$"
)
_ENCODING = re.compile(rb"<\?xml[^>]*?encoding\s*=\s*[\"']([^\"']*)")
_ENCODINGS = {b"utf-8", b"utf8", b"utf-16", b"utf-16le", b"utf-16be", b"us-ascii", b"ascii", b"iso-8859-1",
              b"windows-1252"}  # fmt: skip

ODS_PARTS = ("content.xml", "styles.xml", "meta.xml")

# The list of parts names each in a line of its own; 400 of them, locked ones too, stay below this.
_LONGEST_LIST = 1_000_000
_TAG = re.compile(rb"<([^<>]*)>")
_LISTS = re.compile(rb"(?:[^\s:]+:)?file-entry\s")
_PATH = re.compile(rb"\bfull-path\s*=\s*[\"']([^\"'<>]*)")
_TYPE = re.compile(rb"\bmedia-type\s*=\s*[\"']([^\"'<>]*)")

_CODE_FOLDERS = ("basic/", "scripts/", "dialogs/")
_CHART = "application/vnd.oasis.opendocument.chart"
_OBJECT = re.compile(r"(object \d+)(/|$)")
_LINKS = (
    (b":dde-link", "a live link to another program"),
    (b":table-source", "a link to another workbook"),
    (b":cell-range-source", "a link to another workbook"),
    (b":event-listener", "something to run by itself"),
)

# fault of a zip: what says it, case of the refusal; every other one is too large in the case of its own name
_FAULTS: dict[str, tuple[Callable[..., finding.Refusal], str]] = {
    "broken": (finding.truncated, ""),
    "damaged": (finding.truncated, "part"),
    "header": (finding.truncated, "header"),
    "beyond-end": (finding.truncated, "beyond-end"),
    "overlap": (finding.unsafe, "overlap"),
    "two-names": (finding.unsafe, "two-names"),
    "method": (finding.unreadable, "method"),
    "bytes": (finding.too_large, "parts"),
    "ratio": (finding.too_large, "part-ratio"),
}


class Package(Struct, frozen=True):
    """The parts of a workbook that are read.
    parts : XML bytes by part name in lower case, without a leading slash.
    sha256 : of the file's bytes, in hexadecimal.
    foreign : names of macros, links to other files and embedded objects; never opened.
    kind : `xlsx`, `xlsm`, `xltx`, `xltm` (all of the Open XML kind) or `ods`."""

    parts: Mapping[str, bytes]
    sha256: str
    foreign: tuple[str, ...] = ()
    kind: str = kinds.OPEN_XML


def read_package(path: Path) -> Package | finding.Refusal:
    """Open a returned file read-only; nothing about its contents raises."""
    try:
        status = path.stat()
        # A pipe or a device would wait for ever.
        if not stat.S_ISREG(status.st_mode):
            return finding.unreadable("folder")
        if status.st_size > LARGEST_FILE:
            return _file_too_large(status.st_size)
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        return finding.unreadable("closed", why=getattr(error, "strerror", None) or str(error))
    return read_package_bytes(data, path.name)


def read_package_bytes(data: bytes, name: str = "") -> Package | finding.Refusal:
    """Open the bytes of a returned file; nothing about them raises.
    name : of the file; it matters only to what is said of one that is no workbook."""
    if len(data) > LARGEST_FILE:
        return _file_too_large(len(data))
    try:
        return kinds.refusal_by_magic(data, name) or _read_zip(data, kinds.suffix_of(name))
    except finding.RefusedError as refused:
        return refused.refusal
    except ZipFault as fault:
        return _refusal(fault)


def _file_too_large(count: int) -> finding.Refusal:
    return finding.too_large("", count=finding.amount(count), most=finding.amount(LARGEST_FILE))


def _read_zip(data: bytes, suffix: str) -> Package:
    archive = open_zip(data, WORKBOOK)
    archive.check()
    by_name = _entries_by_name(archive.entries)
    kind = _kind_of(archive, by_name, suffix)
    if kind == kinds.OPEN_DOCUMENT:
        return _open_document(data, archive, by_name)
    others = {name: entry.filename for name, entry in by_name.items() if _FOREIGN.search(name)}
    parts = {
        name: _plain_part(archive, entry)
        for name, entry in by_name.items()
        if name.endswith((".xml", ".rels")) and name not in others and not _NOT_NEEDED.search(name)
    }
    foreign = tuple(shown for name, shown in others.items() if not name.endswith(".rels"))
    kind = kinds.kind_of_open_xml(parts.get("[content_types].xml", b""))
    return Package(parts, hashlib.sha256(data).hexdigest(), foreign, kind)


def _open_document(data: bytes, archive: BoundedZip, by_name: Mapping[str, zipfile.ZipInfo]) -> Package:
    entry = by_name.get(_ODS_LIST)
    listed = b"" if entry is None else _plain_part(archive, entry)
    if b"encryption-data" in listed or "encrypted-package" in by_name:
        raise finding.RefusedError(finding.other_kind("file-encrypted"))
    parts = {name: _plain_part(archive, by_name[name]) for name in ODS_PARTS if name in by_name}
    foreign = foreign_in_package([one.filename for one in by_name.values()], media_types(listed))
    content = parts.get("content.xml", b"")
    foreign += tuple(dict.fromkeys(words for mark, words in _LINKS if mark in content))
    return Package(parts, hashlib.sha256(data).hexdigest(), foreign, kinds.OPEN_DOCUMENT)


def _entries_by_name(entries: Iterable[zipfile.ZipInfo]) -> dict[str, zipfile.ZipInfo]:
    by_name: dict[str, zipfile.ZipInfo] = {}
    for entry in entries:
        name = _part_name(entry.orig_filename)
        # Folder marks, and the shadow files that a re-zipping desktop adds, are no parts.
        if not name or name.endswith(("/", ".ds_store")) or name.startswith("__macosx/"):
            continue
        if name in by_name:
            raise finding.RefusedError(finding.unsafe("twice", part=finding.quoted(name)))
        by_name[name] = entry
    return by_name


def _part_name(raw: str) -> str:
    """Return a zip entry's name as a part name: lower case, forward slashes, no leading slash."""
    name = raw.replace("\\", "/").lower()
    steps = name.split("/")
    climbs = ".." in steps or name.startswith("//") or ":" in steps[0]
    if climbs or any(character < " " for character in name):
        raise finding.RefusedError(finding.unsafe("climbs", part=finding.quoted(raw[:80])))
    return "/".join(steps_of(name)) + ("/" if name.endswith("/") else "")


def _kind_of(archive: BoundedZip, by_name: Mapping[str, zipfile.ZipInfo], suffix: str) -> str:
    declared = ""
    entry = by_name.get("mimetype")
    if entry is not None and entry.file_size < _LONGEST_TYPE:
        declared = archive.read(entry).decode("ascii", "replace").strip()
    elif "content.xml" in by_name and _ODS_LIST in by_name:
        # Packed anew by hand, a document may lose the part that says its type; the list says it too.
        declared = media_types(_plain_part(archive, by_name[_ODS_LIST])).get("/", "")
    kind = kinds.zip_kind(by_name, declared, suffix)
    if not isinstance(kind, str):
        code, case, what = kind
        raise finding.RefusedError(finding.other_kind(code, case, kind=what))
    return kind


def _plain_part(archive: BoundedZip, entry: zipfile.ZipInfo) -> bytes:
    """Return a part; document types and entities are refused, and encodings that could hide them."""
    part = archive.read(entry)
    plain = part.replace(b"\x00", b"")
    declared = _ENCODING.search(plain, 0, 200)
    if declared and declared[1].strip().lower() not in _ENCODINGS:
        raise finding.RefusedError(finding.unsafe("encoding", part=finding.quoted(entry.filename)))
    if b"<!DOCTYPE" in plain or b"<!ENTITY" in plain:
        raise finding.RefusedError(finding.unsafe("declaration", part=finding.quoted(entry.filename)))
    return part


def _refusal(fault: ZipFault) -> finding.Refusal:
    if fault.case == "locked":
        return finding.other_kind("file-encrypted", "zip")
    refusal, case = _FAULTS.get(fault.case, (finding.too_large, fault.case))
    if fault.values.get("why") == "File is not a zip file":
        case = "no-zip"
    return refusal(case, **fault.values)


def media_types(listed: bytes) -> dict[str, str]:
    """Return the type of each part by its path in lower case, as the list META-INF/manifest.xml says."""
    types = {}
    for match in _TAG.finditer(listed[:_LONGEST_LIST]):
        path, kind = _PATH.search(match[1]), _TYPE.search(match[1])
        if path and kind and _LISTS.match(match[1]):
            types[path[1].decode("utf-8", "replace").lower()] = kind[1].decode("utf-8", "replace")
    return types


def foreign_in_package(names: Iterable[str], types: Mapping[str, str]) -> tuple[str, ...]:
    """Return the names of macros and of embedded objects that are no charts."""

    def is_foreign(name: str) -> bool:
        item = _OBJECT.match(name)
        is_chart = item and types.get(f"{item[1]}/", types.get(item[1], "")) == _CHART
        return name.startswith(_CODE_FOLDERS) or (item is not None and not is_chart)

    return tuple(name for name in names if is_foreign(name.lower()))
