"""A chunk of returned files to attempts: one function whose argument and result any executor can carry.

A worker loads the record of what was handed out once, from the class folder, so it has to see that folder; on
several machines it lies on a disk that all of them share. The bytes of the files travel with the chunk.
"""

import contextlib
import hashlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from sheetgen.checking.claims import Claim
from sheetgen.errors import FolderError
from sheetgen.flows.examine_file import OnRecord, attempt_of_bytes, on_record
from sheetgen.model.attempt import Attempt
from sheetgen.model.decision import Decision
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import read_if_there

__all__ = ["Chunk", "attempts_of", "chunk_of", "examined_here", "limited"]

_MOST_MEMORY = 1_500_000_000
"""Bytes of address space of a limited worker; reading a sheet takes some 200 million, libraries and all."""
_MOST_SECONDS = 30.0
"""Of processor time for one file; an honest sheet takes milliseconds, the largest let in about one."""

_limits = {"seconds": 0.0}


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some returned files, and what has to be known to read them.

    folder : of the class. record : digest of what keep/ holds. files : (what a file is called, its bytes).
    """

    folder: str
    record: str
    decisions: tuple[Decision, ...]
    minors: frozenset[str]
    claims: Mapping[str, Claim] | None
    files: tuple[tuple[str, bytes], ...] = ()


def chunk_of(known: OnRecord) -> Chunk:
    """Return a chunk without files; of the decisions it carries those that reading depends on.

    Raises
    ------
    FolderError : the record cannot be read.
    ValueError : there is no class folder.
    """
    if known.folder is None:
        raise ValueError("files are read in chunks for a class folder only")
    root = known.folder.root.absolute()
    corrections = tuple(one for one in known.decisions if one.kind == "correction")
    return Chunk(str(root), _digest(root), corrections, known.minors, known.claims)


def attempts_of(chunk: Chunk) -> list[Attempt]:
    """Return everything there is to say about each file of a chunk, in order; a bad file never raises.

    Raises
    ------
    FolderError : the record cannot be used, or is another one than when the chunk was made.
    """
    known = replace(
        _on_record(Path(chunk.folder), chunk.record),
        decisions=chunk.decisions,
        minors=chunk.minors,
        claims=chunk.claims,
    )
    return examined_here(chunk.files, known)


def examined_here(files: Sequence[tuple[str, bytes]], known: OnRecord) -> list[Attempt]:
    """Return the same with the record as it is known already."""
    attempts = []
    for label, data in files:
        with _bounded_time():
            attempts.append(attempt_of_bytes(data, label, known))
    return attempts


def limited() -> None:
    """Bound the memory of this process and the time of each file it reads, where the system can do that.

    A file beyond the time ends the process, whatever its parser is doing; beyond the memory it may, too. An
    interruption from the keyboard is left to whoever started this process, and with that one it ends.
    """
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    _limits["seconds"] = _MOST_SECONDS
    if sys.platform == "win32":
        return
    import resource

    with contextlib.suppress(OSError, ValueError):
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        most = _MOST_MEMORY if hard == resource.RLIM_INFINITY else min(_MOST_MEMORY, hard)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def _end_with_parent() -> None:
    """A worker waits for work for ever, also when whoever gave it was killed."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextlib.contextmanager
def _bounded_time() -> Iterator[None]:
    if not _limits["seconds"] or sys.platform == "win32":
        yield
        return
    # Processor time: a busy machine or one that slept is no fault of the file.
    signal.setitimer(signal.ITIMER_PROF, _limits["seconds"])
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


@lru_cache(maxsize=2)
def _on_record(root: Path, digest: str) -> OnRecord:
    known = on_record(ClassFolder(root))
    if _digest(root) != digest:
        remedy = "Let one command finish before the next; then run it again."
        raise FolderError(root / "keep", "another record than a moment ago", "the same all along", remedy)
    return known


def _digest(root: Path) -> str:
    folder = ClassFolder(root)
    kept = [read_if_there(path) or b"" for path in (folder.secret, folder.handed_out)]
    return hashlib.sha256(b"\0".join(kept)).hexdigest()
