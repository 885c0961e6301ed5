"""What was worked out of returned files, remembered by content, so that a known file is not parsed again.

A file of results/, safe to delete: frames one after the other, added while files are being read, so that what
was read before a reading was broken off is not lost. A frame is a head (what it is about, and in which
circumstances it holds), a body, and a code over both that only the class's secret makes. A frame that is cut
short, damaged or made without the secret is passed over; nothing here is ever a reason to fail.

It holds body values, as the tables beside it do. The code keeps out whoever can write into results/ but has
not got keep/; against one who has both, nothing in the class folder is safe.
"""

import contextlib
import hashlib
import hmac
import os
import struct
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import BinaryIO

import msgspec

from sheetgen.errors import FolderError
from sheetgen.model.attempt import Attempt
from sheetgen.model.settings import BuiltWith
from sheetgen.store.attempt_bytes import attempt_bytes, attempt_from
from sheetgen.store.files import make_folder, write_beside

__all__ = ["KnownFiles", "known_files"]

_FORM = b"known-files 1"
_SIZES = struct.Struct("<II32s")
"""Bytes of head and body, and the code over both."""
_LARGEST = 4_000_000
"""Bytes of a head or body; more is no frame of ours."""


@dataclass(frozen=True, slots=True)
class _Head:
    """kind : `attempt`, `built-with` or `written`. key : what it is about.

    holds : digest of the circumstances.
    copy_code : of an attempt, empty where it has none. built_with : key of what it was built with, or empty.
    """

    kind: str
    key: str
    holds: str = ""
    copy_code: str = ""
    built_with: str = ""


@dataclass(frozen=True, slots=True)
class _Place:
    head: _Head
    offset: int
    head_bytes: int
    body_bytes: int
    code: bytes

    @property
    def end(self) -> int:
        return self.offset + _SIZES.size + self.head_bytes + self.body_bytes


@dataclass(slots=True)
class KnownFiles:
    """What is remembered of one session. Made by `known_files`."""

    path: Path
    key: bytes
    places: dict[tuple[str, str], _Place] = field(default_factory=dict)
    size: int = 0
    built: dict[str, BuiltWith] = field(default_factory=dict)
    digests: dict[int, tuple[BuiltWith, str]] = field(default_factory=dict)

    def find(self, key: str, holds: Callable[[str], str]) -> Attempt | None:
        """Return what was worked out of a file, its name left empty; None where that is not known, or not so.

        Parameters
        ----------
        key : of the file, by its content. holds : the circumstances of a copy code, as they are now.
        """
        place = self.places.get(("attempt", key))
        if place is None or place.head.holds != holds(place.head.copy_code):
            return None
        body = self._body(place)
        if body is None:
            return None
        built_with = None
        if place.head.built_with:
            built_with = self._built_with(place.head.built_with)
            if built_with is None:
                return None
        return attempt_from(body, built_with)

    def add(self, some: Iterable[tuple[str, str, Attempt]]) -> None:
        """Remember what was worked out of some files, by key and circumstances; what cannot be, is not."""
        frames: list[tuple[_Head, bytes]] = []
        for key, holds, attempt in some:
            body = attempt_bytes(attempt)
            if body is None or len(body) > _LARGEST:
                continue
            built = self._digest_of(attempt.built_with, frames) if attempt.built_with else ""
            code = attempt.record.copy_code if attempt.record else ""
            frames.append((_Head("attempt", key, holds, code, built), body))
        # A full disk, or a folder that cannot be written to, is told where the results are written.
        with contextlib.suppress(OSError, FolderError):
            self._append(frames)

    def written(self, name: str) -> str:
        """Return the digest that a file of results/ was last written with; empty where that is not known."""
        place = self.places.get(("written", name))
        return "" if place is None or self._body(place) is None else place.head.holds

    def note_written(self, digests: Mapping[str, str], names: Sequence[str]) -> None:
        """Remember the digests that some files were written with, by name.

        Parameters
        ----------
        names : of all files that are there, in order; others are forgotten.
        """
        frames = [(_Head("written", name, digest), b"") for name, digest in digests.items()]
        with contextlib.suppress(OSError, FolderError):
            self._append(frames)
        self.keep_only([key for kind, key in self.places if kind == "attempt"], names)

    def keep_only(self, keys: Iterable[str], written: Iterable[str] | None = None) -> None:
        """Forget every returned file but some, and order these: the same files then make the same bytes.

        Parameters
        ----------
        keys : of the returned files. written : names of the files of results/ to be kept; None: as they are.
        """
        wanted: dict[tuple[str, str], None] = {}
        for key in keys:
            place = self.places.get(("attempt", key))
            if place is not None:
                if place.head.built_with:
                    wanted["built-with", place.head.built_with] = None
                wanted["attempt", key] = None
        if written is None:
            written = [key for kind, key in self.places if kind == "written"]
        wanted |= dict.fromkeys(("written", name) for name in written)
        self._keep([self.places[one] for one in wanted if one in self.places])

    def _keep(self, wanted: list[_Place]) -> None:
        ends = [0, *(place.end for place in wanted)]
        with contextlib.suppress(OSError, FolderError):
            in_order = all(place.offset == end for place, end in zip(wanted, ends, strict=False))
            if in_order and (not self.path.exists() or self.path.stat().st_size == ends[-1]):
                return
            if not wanted:
                self.path.unlink(missing_ok=True)
                self._placed(wanted)
                return
            with self.path.open("rb") as stream:
                frames = [_bytes_at(stream, place) for place in wanted]
            write_beside(self.path, b"".join(frames), sync=False)
            self._placed(wanted)

    def _placed(self, wanted: list[_Place]) -> None:
        """Take over where the frames stand now."""
        self.places, self.size = {}, 0
        for place in wanted:
            moved = replace(place, offset=self.size)
            self.places[place.head.kind, place.head.key] = moved
            self.size = moved.end

    def _append(self, frames: list[tuple[_Head, bytes]]) -> None:
        if not frames:
            return
        make_folder(self.path.parent)
        with self.path.open("r+b" if self.path.exists() else "w+b") as stream:
            # What a broken-off reading left half written is written over.
            stream.truncate(self.size)
            stream.seek(self.size)
            offset, places = self.size, []
            for head, body in frames:
                packed = msgspec.msgpack.encode(head)
                code = self._code(packed, body)
                stream.write(_SIZES.pack(len(packed), len(body), code) + packed + body)
                places.append(_Place(head, offset, len(packed), len(body), code))
                offset = places[-1].end
        self.size = offset
        for place in places:
            self.places[place.head.kind, place.head.key] = place

    def _body(self, place: _Place) -> bytes | None:
        try:
            with self.path.open("rb") as stream:
                data = _bytes_at(stream, place)[_SIZES.size :]
        except OSError:
            return None
        head, body = data[: place.head_bytes], data[place.head_bytes :]
        return body if hmac.compare_digest(self._code(head, body), place.code) else None

    def _built_with(self, digest: str) -> BuiltWith | None:
        if digest not in self.built:
            place = self.places.get(("built-with", digest))
            body = None if place is None else self._body(place)
            if body is None:
                return None
            try:
                self.built[digest] = msgspec.msgpack.decode(body, type=BuiltWith)
            except (msgspec.DecodeError, UnicodeError):
                return None
        return self.built[digest]

    def _digest_of(self, built_with: BuiltWith, frames: list[tuple[_Head, bytes]]) -> str:
        """The key of what sheets were built with; written down before the first of them."""
        # Thousands of sheets share one value; it stays here, so that its id stays its own.
        known = self.digests.get(id(built_with))
        if known is not None:
            return known[1]
        body = msgspec.msgpack.encode(built_with)
        digest = hashlib.sha256(body).hexdigest()[:16]
        self.digests[id(built_with)] = (built_with, digest)
        if ("built-with", digest) not in self.places:
            frames.append((_Head("built-with", digest), body))
            self.built[digest] = built_with
        return digest

    def _code(self, head: bytes, body: bytes) -> bytes:
        return hmac.digest(self.key, head + body, "sha256")


def known_files(path: Path, secret: str) -> KnownFiles:
    """Open what is remembered at a place; nothing where there is none, or where it cannot be understood.

    Parameters
    ----------
    secret : of the class, in hexadecimal.
    """
    known = KnownFiles(path, hmac.digest(bytes.fromhex(secret), _FORM, "sha256"))
    with contextlib.suppress(OSError), path.open("rb") as stream:
        size = os.fstat(stream.fileno()).st_size
        while (place := _next_place(stream, known.size, size)) is not None:
            known.places[place.head.kind, place.head.key] = place
            known.size = place.end
    return known


def _next_place(stream: BinaryIO, offset: int, size: int) -> _Place | None:
    """The frame at an offset; None where there is none, or not a whole one."""
    stream.seek(offset)
    start = stream.read(_SIZES.size)
    if len(start) < _SIZES.size:
        return None
    head_bytes, body_bytes, code = _SIZES.unpack(start)
    if head_bytes > _LARGEST or offset + _SIZES.size + head_bytes + body_bytes > size:
        return None
    try:
        head = msgspec.msgpack.decode(stream.read(head_bytes), type=_Head)
    except (msgspec.DecodeError, UnicodeError):
        return None
    return _Place(head, offset, head_bytes, body_bytes, code)


def _bytes_at(stream: BinaryIO, place: _Place) -> bytes:
    stream.seek(place.offset)
    return stream.read(place.end - place.offset)
