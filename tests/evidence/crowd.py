"""A folder of many files, some bad in every way there is: each bad one is one line, the others count."""

import csv
import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sheetgen.class_folder.folder import ClassFolder
from tests.classes import run
from tests.evidence.bombs import BOMBS
from tests.evidence.changer import changed, with_change
from tests.evidence.changer_book import book_of
from tests.evidence.kills import contents_of
from tests.evidence.twins import Twin, parts_of, twins_of, zipped
from tests.zips import locked, nested, zip_of

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def _changed(kind: str) -> Callable[[Twin, random.Random], bytes]:
    def make(twin: Twin, dice: random.Random) -> bytes:
        book = book_of(twin.data)
        change = changed(book, kind, dice)
        assert change is not None
        return with_change(book, change)

    return make


def _replaced(old: str, new: str) -> Callable[[Twin, random.Random], bytes]:
    def make(twin: Twin, dice: random.Random) -> bytes:
        return zipped(
            {name: re.sub(old.encode(), new.encode(), part) for name, part in parts_of(twin.data).items()}
        )

    return make


def _with_part(name: str, data: bytes) -> Callable[[Twin, random.Random], bytes]:
    return lambda twin, _: zipped({**parts_of(twin.data), name: data})


def _marked(data: bytes) -> Callable[[Twin, random.Random], bytes]:
    """Bytes of no sheet, each time with something else behind them."""
    return lambda _, dice: data + b" " + dice.randbytes(6).hex().encode()


BAD: dict[str, Callable[[Twin, random.Random], bytes]] = {
    "empty.xlsx": lambda _, __: b"",
    "truncated.xlsx": lambda twin, dice: twin.data[: dice.randrange(5_000, len(twin.data) - 100)],
    "old.xls": _marked(_COMPOUND + b"\x00" * 1_500),
    "picture.jpg": _marked(b"\xff\xd8\xff\xe0\x00\x10JFIF"),
    "print.pdf": _marked(b"%PDF-1.7"),
    "notes.xlsx": _marked(b"see the other file"),
    "=table.csv": _marked(b"site,round 1,round 2\nchest,12.4,12.6\n"),
    "page.xlsx": _marked(b"<!DOCTYPE html><html><head><title>Sign in</title></head></html>"),
    "table.xlsx": _marked(b"<html><body><table><tr><td>12.4</td></tr></table></body></html>"),
    "link.gsheet": _marked(b'{"doc_id": "1a", "resource_key": "", "email": "s01@lighthouse.example"}'),
    "mail.eml": _marked(b"From: s01@lighthouse.example\nSubject: my sheet\nDate: today\n\nhere it is"),
    "packed.rar": _marked(b"Rar!\x1a\x07\x01\x00"),
    "film.mp4": _marked(b"\x00\x00\x00\x18ftypisom"),
    "text.docx": lambda _, dice: zip_of({"[Content_Types].xml": b"", "word/document.xml": dice.randbytes(9)}),
    "slides.pptx": lambda _, dice: zip_of(
        {"[Content_Types].xml": b"", "ppt/presentation.xml": dice.randbytes(9)}
    ),
    "own.numbers": lambda _, dice: zip_of({"Index/Document.iwa": dice.randbytes(9)}),
    "bytes.xlsx": lambda _, dice: b"\x01\x02\x03\x04" + dice.randbytes(500),
    "locked.zip": lambda twin, _: locked(zip_of({"sheet.xlsx": twin.data})),
    "broken.zip": lambda twin, _: zip_of({"sheet.xlsx": twin.data})[:-40],
    "in-zips.zip": lambda twin, _: nested(twin.data, 6),
    "bomb.xlsx": lambda _, dice: BOMBS["16 MB of zeros"]() + dice.randbytes(3),
    "climbs.xlsx": _with_part("../climbs.xml", b"<a/>"),
    "doctype.xlsx": _with_part("xl/more.xml", b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"),
    "not-xml.xlsx": _replaced("</sheetData>", "</sheetdata>"),
    "no-tabs.xlsx": _replaced("<sheet [^>]*/>", ""),
    "other-class\x1b[31m.xlsx": _changed("identity-everywhere"),
    "identity, changed.xlsx": _changed("identity"),
    "number, over formula.xlsx": _changed("formula-as-its-value"),
    "label -- changed.xlsx": _changed("label-text"),
    "@coefficient.xlsx": _changed("coefficient"),
}
"""The name of a bad file to what makes it of a good one."""


@dataclass(frozen=True, slots=True)
class Crowd:
    """What reading the crowd came to, and reading it again.

    lines : on stderr. named : bad files that one line, and only one, is about. same : whether the second
    reading said and wrote the same.
    """

    exit_code: int
    summary: str
    lines: int
    named: int
    same: bool
    returned_same: bool


def crowd_of(root: Path, good: int, bad: int, seed: int) -> tuple[ClassFolder, list[str]]:
    """Return a class of which so many good files came back, and so many bad ones beside them, by name."""
    dice = random.Random(seed)
    twins = twins_of(root, ("four-sites",), good + bad)
    folder = ClassFolder(root / "four-sites")
    place = folder.returned(1)
    for twin in twins[:good]:
        (place / f"{twin.student_id} sheet.xlsx").write_bytes(twin.data)
    names = []
    kinds = list(BAD)
    for number, twin in enumerate(twins[good:]):
        kind = kinds[number % len(kinds)]
        names.append(f"{kind[:1] if kind[0] in '=@' else ''}{number:03} {kind.lstrip('=@')}")
        (place / names[-1]).write_bytes(BAD[kind](twin, dice))
    return folder, names


def read_twice(folder: ClassFolder, bad: list[str]) -> Crowd:
    """Read a class twice from the command line."""
    came = contents_of(folder.returned(1))
    first = run("read", folder.root, "--verbose")
    made = contents_of(folder.root)
    second = run("read", folder.root, "--verbose")
    again = contents_of(folder.root)
    with folder.files(1).open(encoding="utf-8", newline="") as stream:
        called = {row["incoming_name"].lstrip("'"): row["file"] for row in csv.DictReader(stream)}
    lines = [line for line in first.stderr.splitlines() if line.startswith(tuple(called.values()))]
    # A file in a bundle has the bundle before its name.
    shown = ["".join(sign if sign.isprintable() else "?" for sign in name) for name in bad]
    files = [next(file for name, file in called.items() if name.startswith(one)) for one in shown]
    named = sum(sum(line.startswith((f"{file}:", f"{file} (")) for line in lines) == 1 for file in files)
    said = (first.exit_code, first.stdout, first.stderr) == (second.exit_code, second.stdout, second.stderr)
    return Crowd(
        first.exit_code,
        first.stdout.splitlines()[0] if first.stdout else repr(first.exception),
        len(lines),
        named,
        said and made.data == again.data,
        came == contents_of(folder.returned(1)),
    )
