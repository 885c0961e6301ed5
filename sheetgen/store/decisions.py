"""The journal of the teacher's decisions: lines are added at its end, and none is ever changed."""

import csv
import io
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, fields

from sheetgen.errors import FolderError
from sheetgen.model.decision import DECISION_KINDS, Decision
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there

__all__ = ["Journal", "append_decisions", "read_decisions"]

_COLUMNS = tuple(one.name for one in fields(Decision))
_NUMBERS = ("sequence", "session", "drawn")
_DELIMITERS = (",", ";", "\t")
_ESCAPES = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}
_HARMFUL = ("=", "+", "-", "@", "\t")


@dataclass(frozen=True, slots=True)
class Journal:
    """decisions : in the order of the file. damaged : (line counted from 1, what stands there)."""

    decisions: tuple[Decision, ...]
    damaged: tuple[tuple[int, str], ...]

    @property
    def last(self) -> int:
        """The highest sequence, 0 in an empty journal."""
        return max((one.sequence for one in self.decisions), default=0)


def read_decisions(folder: ClassFolder) -> Journal:
    """Return every decision; a line that cannot be understood is named and stays where it is.

    Raises
    ------
    FolderError : the journal is there and cannot be read.
    """
    data = read_if_there(folder.decisions) or b""
    decisions: list[Decision] = []
    damaged: list[tuple[int, str]] = []
    for number, line in enumerate(re.split(rb"\r\n|\r|\n", data.removeprefix(b"\xef\xbb\xbf")), start=1):
        text = _text(line)
        if not text.strip(" ,;\t") or _is_heading(text):
            continue
        decision = _decision(text)
        if decision is None:
            damaged.append((number, text))
        else:
            decisions.append(decision)
    return Journal(tuple(decisions), tuple(damaged))


def append_decisions(folder: ClassFolder, decisions: Sequence[Decision]) -> None:
    """Add decisions at the end of the journal and wait until they are on the disk.

    Raises
    ------
    FolderError : they cannot be written.
    """
    if not decisions:
        return
    path = folder.decisions
    make_folder(path.parent)
    try:
        with path.open("ab+") as stream:
            size = stream.seek(0, os.SEEK_END)
            head = "" if size else _line(_COLUMNS)
            if size:
                stream.seek(-1, os.SEEK_END)
                # A line that broke off must not swallow the next one.
                head = "" if stream.read(1) in (b"\n", b"\r") else "\n"
            lines = [_line([_escaped(str(getattr(one, name))) for name in _COLUMNS]) for one in decisions]
            stream.write((head + "".join(lines)).encode("utf-8", "replace"))
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as fault:
        found = f"it cannot be written: {fault.strerror}"
        remedy = "Close it in other programs and make room, then run the command again."
        raise FolderError(path, found, "a journal that can be added to", remedy) from fault


def _decision(text: str) -> Decision | None:
    for delimiter in _DELIMITERS:
        try:
            (cells,) = csv.reader([text], delimiter=delimiter, strict=True)
        except (csv.Error, ValueError):
            continue
        if len(cells) != len(_COLUMNS):
            continue
        values = dict(zip(_COLUMNS, map(_unescaped, cells), strict=True))
        if values["kind"] in DECISION_KINDS and all(
            re.fullmatch("-?[0-9]{1,9}", values[name]) for name in _NUMBERS
        ):
            return Decision(
                sequence=int(values["sequence"]),
                session=int(values["session"]),
                subject=values["subject"],
                kind=values["kind"],
                name=values["name"],
                value=values["value"],
                reason=values["reason"],
                ground=values["ground"],
                drawn=int(values["drawn"]),
            )
    return None


def _is_heading(text: str) -> bool:
    return re.split("[,;\t]", text.replace('"', ""))[:2] == list(_COLUMNS[:2])


def _text(line: bytes) -> str:
    """A spreadsheet program may have saved the journal in the encoding of its system."""
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _line(cells: Sequence[str]) -> str:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerow(cells)
    return stream.getvalue()


def _escaped(text: str) -> str:
    """One line a decision, and no cell that a spreadsheet program would run as a formula."""
    text = "".join(_ESCAPES.get(character, character) for character in text)
    return f"\\{text}" if text.startswith(_HARMFUL) else text


def _unescaped(text: str) -> str:
    def plain(match: re.Match[str]) -> str:
        return {"n": "\n", "r": "\r"}.get(match[1], match[1])

    return re.sub(r"\\(.)", plain, text)
