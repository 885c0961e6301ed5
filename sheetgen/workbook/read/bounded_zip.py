"""Zips within bounds: told from the directory before anything is unpacked, and never more than is declared.

Workbooks are zips of parts, bundles are zips of returned files; both are read here, within their own bounds.
"""

import io
import re
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import MutableMapping, Sequence
from contextlib import ExitStack
from operator import attrgetter
from pathlib import Path
from typing import IO

from msgspec import Struct

from sheetgen.finding import Plain, Shown, amount, quoted

HEAD_OF_ZIP = b"PK\x03\x04"

_MEGABYTE = 1024 * 1024


class Bounds(Struct, frozen=True):
    """What a zip may hold.
    largest_directory, largest_entry, largest_sum : bytes, the latter two unpacked. largest_ratio : unpacked
    to packed; entries up to `small` bytes may be packed as tightly as they like."""

    most_entries: int
    largest_directory: int
    largest_entry: int | None
    largest_sum: int
    largest_ratio: int = 200
    small: int = _MEGABYTE


WORKBOOK = Bounds(400, 200_000, 20 * _MEGABYTE, 40 * _MEGABYTE)  # Sheets pack about 10 to 30 to 1.
BUNDLE = Bounds(5_000, 4 * _MEGABYTE, None, 2_000 * _MEGABYTE)
"""A bundle of a thousand people has two or three entries for each; its reader says how large one may be."""

_LOCAL = struct.Struct("<4s22x2H")
_END = struct.Struct("<12xL6x")
_END_64 = struct.Struct("<40xQ8x")
_LONGEST_END = 22 + 65_535 + 76
"""Bytes at the end of a zip that tell of its directory: with the longest comment, and of the large form."""
_IN_LARGE_FORM = 0xFFFFFFFF
_UNICODE_NAME = 0x800
_HEAD_READ = 16_384  # Packed bytes that are read to unpack the first few of an entry.
BROKEN_ZIP = (
    zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, OSError, EOFError,
    ValueError, OverflowError, LookupError, struct.error, zlib.error,
)  # fmt: skip
"""What the library raises for a zip that is damaged or of a form that it does not know."""


class ZipFault(Exception):
    """Why a zip or an entry is not read.
    case : `broken`, `directory`, `entries`, `bytes`, `overlap` or `beyond-end` of a zip; `unpacked`, `ratio`,
        `declared`, `damaged`, `header`, `two-names`, `method` or `locked` of an entry.
    values : what the templates of a finding name."""

    def __init__(self, case: str, **values: Plain | Shown) -> None:
        self.case, self.values = case, values
        super().__init__(case)


class BoundedZip(Struct, frozen=True):
    """An open zip. Made by `open_zip`; close it.
    directory_start : bytes before the directory."""

    entries: tuple[zipfile.ZipInfo, ...]
    directory_start: int
    bounds: Bounds
    stream: IO[bytes]

    def check(self) -> None:
        """Raise ZipFault where what the directory tells is beyond the bounds; nothing is unpacked."""
        bounds, largest = self.bounds, self.bounds.largest_entry
        if len(self.entries) > bounds.most_entries:
            count = amount(len(self.entries))
            raise ZipFault("entries", count=count, most=amount(bounds.most_entries))
        total = end = 0
        for entry in self.entries:
            total += entry.file_size
            if total > bounds.largest_sum or (largest is not None and entry.file_size > largest):
                part = {} if largest is None else {"part": amount(largest)}
                count = amount(max(entry.file_size, total))
                raise ZipFault("bytes", count=count, most=amount(bounds.largest_sum), **part)
            if largest is not None:
                _check_ratio(entry, bounds)
        for entry in sorted(self.entries, key=attrgetter("header_offset")):
            if entry.header_offset < end:
                raise ZipFault("overlap")
            end = entry.header_offset + _LOCAL.size + entry.compress_size
        if end > self.directory_start:
            raise ZipFault("beyond-end")

    def close(self) -> None:
        """Close the file."""
        self.stream.close()

    def head(self, entry: zipfile.ZipInfo, length: int) -> bytes:
        """Return the first bytes of an entry, fewer where it is smaller; ZipFault where it is locked,
        damaged, or packed in an unusual way."""
        return self._unpacked(entry, _HEAD_READ, min(length, entry.file_size))[0]

    def read(self, entry: zipfile.ZipInfo, most: int | None = None) -> bytes:
        """Return an entry: never more than it declares, and only if length and checksum agree.
        most : bytes it may declare; None: as the bounds have it, which `check` has told. ZipFault where it is
        too large, locked, damaged, or packed in an unusual way."""
        size = entry.file_size
        if most is not None and size > most:
            raise ZipFault("unpacked", count=amount(size), most=amount(most))
        _check_ratio(entry, self.bounds)
        # What is packed for so few bytes and is more than that cannot be right, and need not be read.
        plain, whole = self._unpacked(entry, 2 * size + 1_024, size + 1)
        if len(plain) > size:
            raise ZipFault("declared", count=amount(size))
        if not whole or len(plain) != size or zlib.crc32(plain) != entry.CRC:
            raise ZipFault("damaged", part=quoted(entry.filename))
        return plain

    def _packed(self, entry: zipfile.ZipInfo, length: int) -> bytes:
        if is_locked(entry):
            raise ZipFault("locked")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            # The other ways unpack a piece at once however large it becomes.
            raise ZipFault("method", method=entry.compress_type)
        self.stream.seek(entry.header_offset)
        header = self.stream.read(_LOCAL.size)
        if len(header) < _LOCAL.size or not header.startswith(HEAD_OF_ZIP):
            raise ZipFault("header")
        _, name_length, extra_length = _LOCAL.unpack(header)
        encoding = "utf-8" if entry.flag_bits & _UNICODE_NAME else "cp437"
        if self.stream.read(name_length).decode(encoding, "replace") != entry.orig_filename:
            raise ZipFault("two-names")
        self.stream.seek(extra_length, io.SEEK_CUR)
        return self.stream.read(length)

    def _unpacked(self, entry: zipfile.ZipInfo, most_packed: int, length: int) -> tuple[bytes, bool]:
        """At most so many bytes of an entry, and whether they are all there is."""
        packed = self._packed(entry, min(entry.compress_size, most_packed))
        if entry.compress_type == zipfile.ZIP_STORED:
            return packed[:length], len(packed) <= length
        inflater = zlib.decompressobj(-zlib.MAX_WBITS)
        try:
            plain = inflater.decompress(packed, length) if length else b""
            # An exact fit may not have met its end mark yet.
            whole = inflater.eof or (not inflater.decompress(inflater.unconsumed_tail, 1) and inflater.eof)
        except zlib.error as fault:
            raise ZipFault("damaged", part=quoted(entry.filename)) from fault
        return plain, whole


def open_zip(source: Path | bytes, bounds: Bounds) -> BoundedZip:
    """Open a zip whose directory is not too large to be read; its contents are still to be checked. Raises
    ZipFault: it is broken, or its directory is too large; OSError: the file cannot be read."""
    stream: IO[bytes] = source.open("rb") if isinstance(source, Path) else io.BytesIO(source)
    with ExitStack() as opened:
        opened.enter_context(stream)
        if _directory_size(stream) > bounds.largest_directory:
            raise ZipFault("directory", most=amount(bounds.most_entries))
        try:
            archive = zipfile.ZipFile(stream)
        except BROKEN_ZIP as fault:
            raise ZipFault("broken", why=str(fault)[:120] or type(fault).__name__) from fault
        opened.pop_all()
    return BoundedZip(tuple(archive.infolist()), archive.start_dir, bounds, stream)


def is_locked(entry: zipfile.ZipInfo) -> bool:
    """Tell whether an entry asks for a password."""
    return bool(entry.flag_bits & 0x1)


def _directory_size(stream: IO[bytes]) -> int:
    """Bytes of the directory, the most that any end of it declares: the library has to read them all."""
    size = stream.seek(0, io.SEEK_END)
    stream.seek(max(0, size - _LONGEST_END))
    tail = stream.read()
    stream.seek(0)
    declared = (
        int(end.unpack_from(tail, match.start())[0])
        for magic, end in ((b"PK\x05\x06", _END), (b"PK\x06\x06", _END_64))
        for match in re.finditer(magic, tail)
        if len(tail) - match.start() >= end.size
    )
    return max((size for size in declared if size != _IN_LARGE_FORM), default=0)


def _check_ratio(entry: zipfile.ZipInfo, bounds: Bounds) -> None:
    if entry.file_size > bounds.small and entry.file_size > bounds.largest_ratio * entry.compress_size:
        raise ZipFault("ratio", ratio=bounds.largest_ratio)


_TRICKS = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
"""Signs that turn the direction of what follows: `fdp.xlsx` shown as `xslx.pdf`. Letters of a script that
runs from right to left need none of them."""
_NOT_PRINTED = frozenset(("Cc", "Cs", "Zl", "Zp", "Cn", "Co"))
_LONGEST_STEP = 255  # Bytes; what usual file systems allow. A zip may hold names of 65,535.
_MOST_NORMALIZED = 500
"""Characters at each end: putting together thousands of accents on one letter takes seconds."""
_DRIVE = re.compile(r"[A-Za-z]:")


def steps_of(name: str) -> tuple[str, ...]:
    """Return the steps of a name inside a zip, either slash dividing them; `.` and empty ones are none."""
    return tuple(step for step in re.split(r"[/\\]", name) if step not in ("", "."))


def climbs(name: str) -> bool:
    """Tell whether a name inside a zip leads out of it: absolute, on a drive, or upwards."""
    return name.startswith(("/", "\\")) or _DRIVE.match(name) is not None or ".." in steps_of(name)


def label_of(steps: Sequence[str]) -> str:
    """Return what a file is called in results and messages.

    Letters that are written as letter and accent are put together, as most systems write them; signs that
    cannot be printed are shown as `?`.

    >>> label_of(["Zoe\\u0308", "a\\x1b[31m\\u202e.xlsx"])
    'Zoë/a?[31m?.xlsx'
    """
    return "/".join(_shown(step) for step in steps)


def unique_label(label: str, taken: MutableMapping[str, int]) -> str:
    """Return a label that is not taken yet, and take it; two files of one zip may have the same name.
    taken : label to the number from which the next one of that name is sought, so that thousands of one name
    take no longer than thousands of others."""
    stem, point, ending = label.rpartition(".")
    if not point or "/" in ending:
        stem, point, ending = label, "", ""
    number, unique = taken.get(label, 1), label
    while unique in taken:
        number += 1
        unique = f"{stem} [{number}]{point}{ending}"
    taken[label] = number
    taken.setdefault(unique, 1)
    return unique


def _shown(step: str) -> str:
    if len(step) > 2 * _MOST_NORMALIZED:
        step = step[:_MOST_NORMALIZED] + step[-_MOST_NORMALIZED:]
    whole = unicodedata.normalize("NFC", step)
    # Format signs join letters in some scripts; line ends, control signs and halves of signs do harm.
    plain = "".join(
        "?" if sign in _TRICKS or unicodedata.category(sign) in _NOT_PRINTED else sign for sign in whole
    )
    return plain if len(plain.encode("utf-8")) <= _LONGEST_STEP else f"{plain[:40]}…{plain[-20:]}"
