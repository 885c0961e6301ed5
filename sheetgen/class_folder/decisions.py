"""The journal of decisions: every mark, comment and correction is one of its lines."""

import csv
import hashlib
import hmac
import io
import os
import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import date
from functools import partial

import msgspec
from msgspec import Struct
from msgspec.structs import astuple

from sheetgen.class_folder.files import OWNER_ONLY, make_folder, not_written, read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder

DECISION_KINDS = (
    "mark", "comment", "answer-mark", "correction", "accept-late", "which-file", "withdrawn", "observed",
    "signed-off",
)  # fmt: skip
OBSERVED_STEPS = ("asks", "marks", "above", "square", "holds", "reads", "says", "cares")
"""Of lifting and reading a fold, what the teacher watches for; common practice, no single source."""


class Decision(Struct, frozen=True):
    """One decision; a later one about the same subject, kind and name takes its place.
    sequence : counts up through the whole journal, from 1.
    subject : copy code or student id; the id of the file where it is about a file.
    kind : one of DECISION_KINDS.
    name : entry name of an answer or a correction, id of a file, a step that was observed; else empty.
    value : as typed; empty: taken back.
    reason : of a correction.
    ground : a short digest of what was seen when it was decided; empty where nothing was.
    drawn : the last sequence that the workbook it was typed into knew of."""

    sequence: int
    session: int
    subject: str
    kind: str
    name: str
    value: str
    reason: str = ""
    ground: str = ""
    drawn: int = 0


_COLUMNS = Decision.__struct_fields__
FORGOTTEN = "forgotten"
"""Stands in the journal for what was removed from it; typed by somebody, the word is escaped."""
_ESCAPES = str.maketrans({"\\": "\\\\", "\n": "\\n", "\r": "\\r"})
_HARMFUL = ("=", "+", "-", "@", "\t")


class Journal(Struct, frozen=True):
    """decisions : in the order of the file. damaged : (line counted from 1, what stands there)."""

    decisions: tuple[Decision, ...]
    damaged: tuple[tuple[int, str], ...]

    @property
    def last(self) -> int:
        """The highest sequence, 0 in an empty journal."""
        return max((decision.sequence for decision in self.decisions), default=0)


def read_decisions(folder: ClassFolder) -> Journal:
    """Return every decision; a line that cannot be understood is named and stays where it is. FolderError
    where the journal is there and cannot be read."""
    data = read_if_there(folder.decisions) or b""
    texts = [_text(line) for line in re.split(rb"\r\n|\r|\n", data.removeprefix(b"\xef\xbb\xbf"))]
    lines = [
        (number, text, _decision(text))
        for number, text in enumerate(texts, start=1)
        if text.strip(" ,;\t") and re.split("[,;\t]", text.replace('"', ""))[:2] != list(_COLUMNS[:2])
    ]
    return Journal(
        tuple(decision for _, _, decision in lines if decision is not None),
        tuple((number, text) for number, text, decision in lines if decision is None),
    )


def append_decisions(folder: ClassFolder, decisions: Sequence[Decision]) -> None:
    """Add decisions at the end of the journal, on the disk; FolderError where they cannot be written."""
    if not decisions:
        return
    path = folder.decisions
    make_folder(path.parent)
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    try:
        with open(path, "ab+", opener=partial(os.open, mode=OWNER_ONLY)) as stream:
            if stream.tell() == 0:
                writer.writerow(_COLUMNS)
            else:
                stream.seek(-1, os.SEEK_END)
                # A line that broke off must not swallow the next one.
                lines.write("" if stream.read(1) in (b"\n", b"\r") else "\n")
            writer.writerows(map(_escaped, map(str, astuple(decision))) for decision in decisions)
            stream.write(lines.getvalue().encode("utf-8", "replace"))
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as fault:
        raise not_written(path, fault) from fault


def forget_in_journal(folder: ClassFolder, forgets: Callable[[Decision], Sequence[str]], write: bool) -> int:
    """Write FORGOTTEN over what some lines hold, and return how many they are: the one thing that ever
    rewrites the journal. Every line stays, and is read as one that was taken back.
    forgets : the columns of a decision that are to go. write : do it; without it they are only counted.
    FolderError where the journal cannot be read or written."""
    data = read_if_there(folder.decisions)
    parts = re.split(rb"(\r\n|\r|\n)", data or b"")
    count = 0
    for place in range(0, len(parts), 2):
        decision = _decision(_text(parts[place].removeprefix(b"\xef\xbb\xbf")))
        columns = forgets(decision) if decision else ()
        if decision is None or not columns:
            continue
        count += 1
        line = io.StringIO()
        cells = zip(_COLUMNS, map(str, astuple(decision)), strict=True)
        csv.writer(line, lineterminator="").writerow(
            FORGOTTEN if name in columns else _escaped(text) for name, text in cells
        )
        parts[place] = line.getvalue().encode("utf-8", "replace")
    if write and count:
        write_beside(folder.decisions, b"".join(parts))
    return count


def _decision(text: str) -> Decision | None:
    for delimiter in ",;\t":
        with suppress(csv.Error, ValueError, msgspec.ValidationError):
            (cells,) = csv.reader([text], delimiter=delimiter, strict=True)
            texts = dict(zip(_COLUMNS, cells, strict=True))
            values = {
                name: ""
                if name in ("value", "reason") and text == FORGOTTEN
                else re.sub(r"\\(.)", lambda match: {"n": "\n", "r": "\r"}.get(match[1], match[1]), text)
                for name, text in texts.items()
            }
            decision = msgspec.convert(values, Decision, strict=False)
            if decision.kind in DECISION_KINDS:
                return decision
    return None


def _text(line: bytes) -> str:
    """A spreadsheet program may have saved the journal in the encoding of its system."""
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _escaped(text: str) -> str:
    """One line a decision, and no cell that a spreadsheet program would run as a formula."""
    text = text.translate(_ESCAPES)
    return f"\\{text}" if text.startswith(_HARMFUL) or text == FORGOTTEN else text


def ground_of(*parts: object, secret: str = "") -> str:
    """Return a short digest of what is seen when something is decided.
    secret : of the class, in hexadecimal: then nobody without it can try what was seen until it fits. So the
    journal may tell for good whether an answer is another one, also where it was forgotten."""
    text = "\x1f".join(map(str, parts)).encode("utf-8", "replace")
    if secret:
        return "k" + hmac.digest(bytes.fromhex(secret), text, "sha256").hex()[:16]
    return hashlib.sha256(text).hexdigest()[:12]


Key = tuple[str, str, str]
"""Subject, kind, name. Both kinds about files are `which-file` here, and about the file: does it count?"""


def current(decisions: Iterable[Decision]) -> dict[Key, Decision]:
    """Return the latest decision of each subject, kind and name; one that was taken back has no value."""

    return {
        (one.name, "which-file", one.name)
        if one.kind in ("accept-late", "which-file")
        else (one.subject, one.kind, one.name): one
        for one in decisions
    }


def is_day(text: str) -> bool:
    """Return whether a text is a day written as 2027-03-31."""
    with suppress(ValueError):
        return date.fromisoformat(text).isoformat() == text
    return False


CONFIRM_WORDS = ("yes",)
FILE_WORDS = ("yes", "no")
EMPTY_WORD = "empty"  # As the value of a correction: the entry is left empty.
