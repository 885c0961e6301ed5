"""Returned files to attempts: those that are known are looked up, the others are read, here or by workers.

What was worked out is remembered chunk by chunk, so that a reading that was broken off goes on where it
stopped. A known file counts as known only in the circumstances in which it was read: this program, what is on
record of that copy, the teacher's corrections of it.
"""

import hashlib
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

import msgspec

from sheetgen.checking.catalogue import completed
from sheetgen.checking.corrections import corrections_of
from sheetgen.flows.chunks import Chunk, chunk_of
from sheetgen.flows.examine_file import OnRecord, attempt_of_bytes, refused_attempt
from sheetgen.flows.workers import STOPPED, Workers, parsed
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.model.settings import BuiltWith
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.files import sha256_of
from sheetgen.store.known_files import KnownFiles
from sheetgen.store.program_digest import program_digest
from sheetgen.store.returned import Incoming
from sheetgen.workbook.file_kind import suffix_of

__all__ = ["CHUNK_FILES", "attempt_of_incoming", "attempts_from", "circumstances"]

CHUNK_FILES = 50
"""A quarter of a second of work: enough that handing it over costs little beside it."""
_CHUNK_BYTES = 4_000_000
"""Sheets with pictures pasted in are handed over in smaller chunks."""

Progress = Callable[[int, int], None]


def attempts_from(
    files: Sequence[Incoming],
    known: OnRecord,
    remembered: KnownFiles | None = None,
    progress: Progress | None = None,
    workers: Workers | None = None,
) -> list[Attempt]:
    """Return everything there is to say about each returned file, in order; a bad one never raises.

    Parameters
    ----------
    remembered : of this session; what is worked out now is added. None: every file is read.
    progress : is told how many files are done, of how many.
    workers : who else parses; None: nobody.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    ValueError : there is no class folder.
    """
    reading = _Reading(files, chunk_of(known), circumstances(known), remembered, progress)
    for attempts in parsed(reading.chunks(), known, workers or Workers()):
        reading.take(attempts)
    if remembered is not None:
        remembered.keep_only(reading.keys.values())
    return [reading.done[index] for index in range(len(files))]


def attempt_of_incoming(one: Incoming, known: OnRecord) -> Attempt:
    """Return everything there is to say about one file as it came back, read here; a bad one never raises."""
    data = one.read()
    if isinstance(data, Finding):
        attempt = refused_attempt(one.label, "", data)
    else:
        attempt = attempt_of_bytes(data, one.label, known)
    return _with_notes(attempt, one)


def circumstances(known: OnRecord) -> Callable[[str], str]:
    """Return a function from a copy code to a digest of all that its attempt follows from besides the file.

    The empty code stands for a file of which the copy could not be told.
    """
    folder = known.folder
    own, layouts = [], set()
    if folder is not None:
        own = [path.read_bytes() for path in sorted(folder.own_protocols.glob("*.toml"))]
        layouts = {path.name for path in folder.layouts.glob("*.json")}
    corrections = [one for one in known.decisions if one.kind == "correction"]
    common = (
        program_digest(), known.class_code, bool(known.builds), own, sorted(known.minors),
        known.claims is None,
    )  # fmt: skip
    shared = _digest(common)

    @cache
    def holds(code: str) -> str:
        if not code:
            return _digest((shared, sorted(known.builds), sorted(layouts)))
        builds = known.builds.get(code, ())
        there = [f"{build.layout_digest}.json" in layouts for build in builds]
        claim = known.claims.get(code) if known.claims else None
        return _digest((shared, code, builds, there, corrections_of(corrections, code), claim))

    return holds


@dataclass(slots=True)
class _Reading:
    """How far the reading of some files is."""

    files: Sequence[Incoming]
    empty: Chunk
    holds: Callable[[str], str]
    remembered: KnownFiles | None
    progress: Progress | None
    done: dict[int, Attempt] = field(default_factory=dict)
    keys: dict[int, str] = field(default_factory=dict)
    asked: deque[list[int]] = field(default_factory=deque)
    built: dict[BuiltWith, BuiltWith] = field(default_factory=dict)

    def chunks(self) -> Iterator[Chunk]:
        """Give those files that have to be read, in chunks, and take the others."""
        some: list[tuple[str, bytes]] = []
        asked: list[int] = []
        for index, one in enumerate(self.files):
            data = one.read()
            if isinstance(data, Finding):
                self._finish(index, refused_attempt(one.label, "", data))
                continue
            key = f"{sha256_of(data)}{suffix_of(one.label)}"
            self.keys[index] = key
            found = None if self.remembered is None else self.remembered.find(key, self.holds)
            if found is not None:
                self._finish(index, replace(found, file=one.label))
                continue
            some.append((one.label, data))
            asked.append(index)
            if len(some) >= CHUNK_FILES or sum(len(data) for _, data in some) >= _CHUNK_BYTES:
                self.asked.append(asked)
                yield replace(self.empty, files=tuple(some))
                some, asked = [], []
        if some:
            self.asked.append(asked)
            yield replace(self.empty, files=tuple(some))

    def take(self, attempts: Sequence[Attempt]) -> None:
        """Take what became of the next chunk."""
        asked, shared = self.asked.popleft(), self._with_shared(attempts)
        if self.remembered is not None:
            self.remembered.add(
                (self.keys[index], self.holds(attempt.record.copy_code if attempt.record else ""), attempt)
                for index, attempt in zip(asked, shared, strict=True)
                if not _by_chance(attempt)
            )
        for index, attempt in zip(asked, shared, strict=True):
            self._finish(index, attempt)

    def _finish(self, index: int, attempt: Attempt) -> None:
        self.done[index] = _with_notes(attempt, self.files[index])
        if self.progress is not None:
            self.progress(len(self.done), len(self.files))

    def _with_shared(self, attempts: Sequence[Attempt]) -> list[Attempt]:
        """The attempts with one value for all that were built with the same; workers send one each."""
        own: dict[tuple[int, int], BuiltWith] = {}
        shared = []
        for attempt in attempts:
            built = attempt.built_with
            if built is not None:
                same = (id(built.settings), id(built.protocol))
                if same not in own:
                    own[same] = self.built.setdefault(built, built)
                attempt = replace(attempt, built_with=own[same])
            shared.append(attempt)
        return shared


def _with_notes(attempt: Attempt, one: Incoming) -> Attempt:
    """The attempt with what has to be said about the name that its file came under."""
    if not one.notes:
        return attempt
    return replace(attempt, findings=(*completed(one.notes, load_catalogue()), *attempt.findings))


def _by_chance(attempt: Attempt) -> bool:
    """Whether a file may become another thing next time: by the folders beside, or by the worker's limits."""
    return any(one.code == "file-other-class" or one.case == STOPPED for one in attempt.findings)


def _digest(value: object) -> str:
    return hashlib.sha256(msgspec.msgpack.encode(value)).hexdigest()[:32]
