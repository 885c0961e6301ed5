"""The folder `keep`: secret and codes, what was handed out, Layouts, the day a file was first read."""

import hmac
import re
import secrets
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import lru_cache, partial
from itertools import count
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec.structs import replace

from sheetgen.class_folder.files import make_folder, read_if_there, sha256_of, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, CopyRecord, Person, Protection
from sheetgen.errors import FolderError
from sheetgen.workbook.layout import Layout

ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Nothing that is taken for something else when read aloud or written by hand: no 0, 1, I, L, O, U."""

Record = TypeVar("Record")


def load_secret(folder: ClassFolder) -> str | None:
    """Return the class's secret, None where it is gone; FolderError where something else stands there."""
    data = read_if_there(folder.secret)
    text = None if data is None else data.decode("ascii", "replace").strip()
    if text is not None and not re.fullmatch("[0-9a-f]{64}", text):
        remedy = "Put back the file from a copy of the class folder; without it new sheets get other codes."
        raise FolderError(folder.secret, "not a secret", "64 hexadecimal digits", remedy)
    return text


def make_secret(folder: ClassFolder, given: str = "") -> str:
    """Return the class's secret, made now where there is none: the one given, else a random one. FolderError
    where it cannot be read or written."""
    secret = load_secret(folder)
    if secret is None:
        secret = given or secrets.token_hex(32)
        make_folder(folder.keep)
        write_beside(folder.secret, f"{secret}\n".encode("ascii"))
    return secret


def class_code(secret: str) -> str:
    """Return the code that every sheet of the class carries: 6 characters."""
    return _code(secret, ("class",), 6)


def copy_code(secret: str, measurer: str, participant: str, session: int, exercise: str = "circuit") -> str:
    """Return the code of one sheet, as XXXX-XXXX: of measurer, participant, session and exercise for good.
    measurer, participant : their student_id. exercise : one of EXERCISES."""
    # Codes that were handed out before there was a second exercise were made with 0.
    last = "0" if exercise == EXERCISES[0] else exercise
    text = _code(secret, ("copy", measurer, participant, str(session), last), 8)
    return f"{text[:4]}-{text[4:]}"


def participant_code(secret: str, student_id: str, attempt: int = 0) -> str:
    """Return the code that stands for a person wherever readings stand: P- and 4 characters.
    attempt : counts on from 0 where the code is taken; see `distinct`."""
    return "P-" + _code(secret, ("participant", student_id, str(attempt)), 4)


def distinct(taken: Collection[str], propose: Callable[[int], str]) -> str:
    """Return the first proposal that is not taken, counting attempts from 0; there are 800,000 codes."""
    return next(code for code in map(propose, count()) if code not in taken)


def with_participant_codes(
    secret: str, people: Iterable[Person], taken: Collection[str] = ()
) -> tuple[Person, ...]:
    """Return the people with a participant code each; codes that are there already stay.
    Who comes first keeps the plain code where two would share one, so hand over people in roster order.
    taken : codes that stand for someone else."""
    people = tuple(people)
    taken = {*taken, *(person.participant_code for person in people if person.participant_code)}
    coded = []
    for person in people:
        if not person.participant_code:
            code = distinct(taken, partial(participant_code, secret, person.student_id))
            taken.add(code)
            person = replace(person, participant_code=code)
        coded.append(person)
    return tuple(coded)


def load_records(folder: ClassFolder) -> dict[str, tuple[CopyRecord, ...]]:
    """Return every build of every sheet that was handed out, the latest last, by copy code. Nothing where
    there is no record; FolderError where it is there and cannot be used."""
    builds: dict[str, tuple[CopyRecord, ...]] = {}
    for record in _decoded(folder.handed_out, tuple[CopyRecord, ...]) or ():
        builds[record.copy_code] = (*builds.get(record.copy_code, ()), record)
    return builds


def save_records(folder: ClassFolder, records: Mapping[str, Sequence[CopyRecord]]) -> None:
    """Write what was handed out, sorted by copy code; FolderError where it cannot be written."""
    _write(folder.handed_out, [record for code in sorted(records) for record in records[code]])


def load_roster_before(folder: ClassFolder) -> tuple[Person, ...] | None:
    """Return the roster as it was taken over last, None where that is not known; FolderError where it is
    there and cannot be used."""
    return _decoded(folder.roster, tuple[Person, ...])


def save_roster(folder: ClassFolder, people: Iterable[Person]) -> None:
    """Write down a roster as it was taken over, to tell later what the roster changed and what the teacher.
    FolderError where it cannot be written."""
    _write(folder.roster, tuple(people))


def load_protection(folder: ClassFolder) -> tuple[Protection, ...]:
    """Return who counted as under 18 when sheets were last made, nothing where that is not known; FolderError
    where it is there and cannot be used."""
    return _decoded(folder.protection, tuple[Protection, ...]) or ()


def save_protection(folder: ClassFolder, protection: Iterable[Protection]) -> None:
    """Write down who counts as under 18; FolderError where it cannot be written."""
    _write(folder.protection, tuple(protection))


def _decoded(path: Path, record: type[Record]) -> Record | None:
    data = read_if_there(path)
    try:
        return None if data is None else msgspec.json.decode(data, type=record)
    except msgspec.DecodeError as fault:
        raise _damaged(path, str(fault)) from fault


def _write(path: Path, records: Sequence[CopyRecord | Person | Protection]) -> None:
    make_folder(path.parent)
    write_beside(path, msgspec.json.format(msgspec.json.encode(records), indent=1) + b"\n")


def store_layout(folder: ClassFolder, layout: Layout) -> str:
    """Store a Layout by its digest, 16 hexadecimal digits, unless it is there, and return the digest.
    FolderError where it cannot be written."""
    # Decoded once more, 1 and 1.0 are written the same: decoding makes a float of every number.
    data = msgspec.json.encode(msgspec.json.decode(msgspec.json.encode(layout), type=Layout))
    digest = _digest(data)
    path = folder.layouts / f"{digest}.json"
    if read_if_there(path) != data:
        make_folder(folder.layouts)
        write_beside(path, data)
    return digest


def load_layout(folder: ClassFolder, digest: str) -> Layout | None:
    """Return a stored Layout, None where it is gone or that is no digest; FolderError where it is damaged."""
    path = folder.layouts / f"{digest}.json"
    return _layout_in(path) if re.fullmatch("[0-9a-f]{16}", digest) and path.is_file() else None


def _code(secret: str, parts: tuple[str, ...], length: int) -> str:
    """Characters of the alphabet from HMAC-SHA256, never three letters in a row: those can spell a word."""

    def proposed(number: int) -> str:
        message = "\x1f".join((*parts, str(number))).encode("utf-8")
        rest = int.from_bytes(hmac.digest(bytes.fromhex(secret), message, "sha256"), "big")
        return "".join(ALPHABET[rest // len(ALPHABET) ** place % len(ALPHABET)] for place in range(length))

    return next(text for text in map(proposed, count()) if not re.search("[A-Z]{3}", text))


def _digest(data: bytes) -> str:
    return sha256_of(data)[:16]


@lru_cache(maxsize=64)
def _layout_in(path: Path) -> Layout | None:
    if _digest(read_if_there(path) or b"") != path.stem:
        raise _damaged(path, "other contents than its name says")
    return _decoded(path, Layout)


def _damaged(path: Path, found: str) -> FolderError:
    remedy = "Put it back from a copy of the class folder."
    return FolderError(path, found, "the file as sheetgen wrote it", remedy)


_MOST_FOLDERS = 300
"""A class folder may stand among a thousand downloads; each look costs a file that has to be opened."""


def class_folder_beside(folder: ClassFolder, code: str) -> str:
    """Return the name of the folder beside a class folder whose class has a code; empty where none has. A
    folder that cannot be looked into is passed over: this is a help, and nothing depends on it."""
    root = folder.root.absolute()
    with suppress(OSError):
        beside = sorted(path for path in root.parent.iterdir() if path != root and path.is_dir())
        for path in beside[:_MOST_FOLDERS]:
            with suppress(FolderError, OSError):
                secret = load_secret(ClassFolder(path))
                if secret and class_code(secret) == code:
                    return path.name
    return ""


_HEADING = b"sha256,first_read\n"
_LINE = re.compile('"?([0-9a-f]{64})"?[,;\t]"?([0-9]{4}-[0-9]{2}-[0-9]{2})"?')


def first_seen(folder: ClassFolder, digests: Iterable[str], today: str) -> dict[str, str]:
    """Return digest of each file to the day on which it was first read; those not known yet are added.
    digests : SHA-256, in hexadecimal; an empty one, of a file that could not be read, is passed over.
    today : the day, as YYYY-MM-DD, of files that are new, and of those to which a clock that was ahead gave a
    day still to come. FolderError where the record cannot be read, understood or written."""
    known = arrival_days(folder)
    days = {digest: min(known.get(digest, today), today) for digest in digests if digest}
    # Of two lines for one file the earlier day holds.
    new = [digest for digest in days if days[digest] != known.get(digest)]
    if new:
        head = read_if_there(folder.arrivals) or _HEADING
        end = b"" if head.endswith((b"\n", b"\r")) else b"\n"
        lines = "".join(f"{digest},{today}\n" for digest in new)
        make_folder(folder.keep)
        write_beside(folder.arrivals, head + end + lines.encode("ascii"))
    return days


def days_to_come(folder: ClassFolder, today: str) -> int:
    """Return of how many files the day of first reading is still to come: a clock was ahead."""
    return sum(day > today for day in arrival_days(folder).values())


def arrival_days(folder: ClassFolder) -> dict[str, str]:
    """Return the digest of every file that was ever read to the day of the first time, YYYY-MM-DD; of two
    lines for one file the earlier day holds."""
    known: dict[str, str] = {}
    data = read_if_there(folder.arrivals) or b""
    lines = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").splitlines()
    for number, line in enumerate(lines, start=1):
        if not line.strip(" ,;\t") or "sha256" in line:
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            remedy = "Correct the line, or put the file back from a copy of the class folder."
            expected = "a digest and a day, as in DIGEST,2027-03-31"
            raise FolderError(f"{folder.arrivals}:{number}", repr(line[:80]), expected, remedy)
        digest, day = match.groups()
        known[digest] = min(day, known.get(digest, day))
    return known
