"""Damage to the bytes of a file and to its zip."""

import random
import re
import warnings
import zipfile
from collections.abc import Callable, Mapping
from io import BytesIO

from tests.evidence.twins import parts_of, zipped

_WIDE = ((1, 0), (1, 0xFF), (2, 0xFFFF), (4, 0xFFFFFFFF), (4, 0x7FFFFFFF), (4, 1), (2, 9), (2, 1), (4, 0))

Mutation = Callable[[bytes, random.Random], bytes]


# --- bytes


def flipped(data: bytes, dice: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 5, 50))):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed)


def _one_bit(data: bytes, dice: random.Random) -> bytes:
    changed = bytearray(data)
    changed[dice.randrange(len(changed))] ^= 1 << dice.randrange(8)
    return bytes(changed)


def _truncated(data: bytes, dice: random.Random) -> bytes:
    return data[
        : dice.choice((dice.randrange(len(data)), dice.randrange(100), len(data) - dice.randrange(1, 60)))
    ]


def _slice_gone(data: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(data))
    return data[:at] + data[at + dice.choice((1, 4, 30, 1000)) :]


def _slice_twice(data: bytes, dice: random.Random) -> bytes:
    at, length = dice.randrange(len(data)), dice.choice((1, 22, 46, 4_000))
    return data[:at] + data[at : at + length] * 2 + data[at + length :]


def _more_before_or_behind(data: bytes, dice: random.Random) -> bytes:
    more = dice.randbytes(dice.choice((1, 30, 5_000)))
    return more + data if dice.random() < 0.5 else data + more


def _twice(data: bytes, dice: random.Random) -> bytes:
    return data + data


# --- the zip


def _places(data: bytes, magic: bytes) -> list[int]:
    return [match.start() for match in re.finditer(re.escape(magic), data)]


def _field(magic: bytes, length: int) -> Mutation:
    """One field of one header set to something extreme."""

    def make(data: bytes, dice: random.Random) -> bytes:
        places = _places(data, magic)
        if not places:
            return flipped(data, dice)
        at = dice.choice(places) + dice.randrange(4, length)
        size, value = dice.choice(_WIDE)
        return data[:at] + value.to_bytes(size, "little") + data[at + size :]

    return make


def parts_changed(change: Callable[[dict[str, bytes], random.Random], Mapping[str, bytes]]) -> Mutation:
    def make(data: bytes, dice: random.Random) -> bytes:
        return zipped(
            change(dict(parts_of(data)), dice), dice.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))
        )

    return make


def some_part(parts: Mapping[str, bytes], dice: random.Random) -> str:
    """A part of XML, mostly of those that are read."""
    names = [name for name in parts if name.endswith((".xml", ".rels"))]
    if dice.random() < 0.9:
        names = [name for name in names if not re.search("draw|theme|chart|Object|settings", name)] or names
    return dice.choice(names)


def part_gone(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    del parts[some_part(parts, dice)]
    return parts


def _parts_swapped(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    one, other = some_part(parts, dice), some_part(parts, dice)
    parts[one], parts[other] = parts[other], parts[one]
    return parts


def _part_renamed(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    name = some_part(parts, dice)
    new = dice.choice(("../" + name, "/" + name, name.upper(), name + "\x00", name.replace("/", "\\"),
                       "C:/" + name,
                       "x" * 300, name + "/", "~$" + name, "con", " "))  # fmt: skip
    parts[new] = parts.pop(name)
    return parts


def _part_replaced(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    parts[some_part(parts, dice)] = dice.choice(
        (b"", b" ", b"<", b"<x/>", b"\x00" * 1000, dice.randbytes(500), b"<?xml version='1.0'?>",
         b"\xff\xfe<\x00",
         b"<a>" * 30_000, b"<a " + b"b='1' " * 3_000 + b"/>", "é".encode("latin-1"))
    )  # fmt: skip
    return parts


def _part_twice(data: bytes, dice: random.Random) -> bytes:
    """A second part of the same name, or one that differs in case only."""
    parts = parts_of(data)
    name = some_part(parts, dice)
    stream = BytesIO(data)
    with warnings.catch_warnings(), zipfile.ZipFile(stream, "a") as archive:
        warnings.simplefilter("ignore")
        entry = zipfile.ZipInfo(dice.choice((name, name.upper(), "./" + name, name.replace("/", "//"))))
        archive.writestr(entry, parts[some_part(parts, dice)])
    return stream.getvalue()


def _many_parts(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    name = some_part(parts, dice)
    return {
        **parts,
        **{f"xl/worksheets/more{number}.xml": parts[name] for number in range(dice.choice((5, 500)))},
    }


BYTE_MUTATIONS: dict[str, Mutation] = {
    "bytes changed": flipped,
    "one bit": _one_bit,
    "truncated": _truncated,
    "slice gone": _slice_gone,
    "slice twice": _slice_twice,
    "more before or behind": _more_before_or_behind,
    "twice": _twice,
    "directory field": _field(b"PK\x01\x02", 46),
    "header field": _field(b"PK\x03\x04", 30),
    "end field": _field(b"PK\x05\x06", 20),
    "part gone": parts_changed(part_gone),
    "parts swapped": parts_changed(_parts_swapped),
    "part renamed": parts_changed(_part_renamed),
    "part replaced": parts_changed(_part_replaced),
    "part twice": _part_twice,
    "many parts": parts_changed(_many_parts),
}
"""A kind of damage to what does it to the bytes of a file."""
