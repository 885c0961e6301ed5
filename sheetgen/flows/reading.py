"""Returned files to attempts: here, or by whatever executor there is.

Each process loads the record of what was handed out once, from the class folder, so it has to see that
folder; on several machines it lies on a disk that all of them share. The bytes of a file travel.
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache

from sheetgen.checking.status import with_findings
from sheetgen.errors import FolderError
from sheetgen.flows.examine_file import OnRecord, attempt_of_bytes, on_record, refused_attempt
from sheetgen.flows.pool import mapped
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import read_if_there, sha256_of
from sheetgen.store.returned import Incoming

__all__ = ["Task", "attempt_elsewhere", "attempt_of_incoming", "attempts_from", "tasks_of"]


@dataclass(frozen=True, slots=True)
class Task:
    """One file, and what has to be known to read it in another process.

    known : without the builds. record : digest of what keep/ holds of them. label : what the file is called.
    data : its bytes, or why there are none.
    """

    known: OnRecord
    record: str
    label: str
    data: bytes | Finding


def attempts_from(
    files: Sequence[Incoming],
    known: OnRecord,
    progress: Callable[[int, int], None] | None = None,
    executor: Executor | None = None,
) -> list[Attempt]:
    """Return everything there is to say about each returned file, in order; a bad one never raises.

    Parameters
    ----------
    progress : is told how many files are done, of how many.
    executor : who reads; None: this process.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    """
    attempts: list[Attempt] = []
    for attempt in mapped(attempt_elsewhere, tasks_of(files, known), len(files), executor, _stopped):
        attempts.append(_with_notes(attempt, files[len(attempts)]))
        if progress is not None:
            progress(len(attempts), len(files))
    return attempts


def attempt_of_incoming(one: Incoming, known: OnRecord) -> Attempt:
    """Return everything there is to say about one file as it came back; a bad one never raises."""
    return _with_notes(_attempt(one.label, one.read(), known), one)


def tasks_of(files: Sequence[Incoming], known: OnRecord) -> Iterator[Task]:
    """Give a task for each file; of the decisions it carries those that reading depends on."""
    corrections = tuple(one for one in known.decisions if one.kind == "correction")
    folder = known.folder and ClassFolder(known.folder.root.absolute())
    record = "" if folder is None else _digest(folder)
    bare = replace(known, folder=folder, builds={}, decisions=corrections)
    return (Task(bare, record, one.label, one.read()) for one in files)


def attempt_elsewhere(task: Task) -> Attempt:
    """Return everything there is to say about the file of a task; a bad one never raises.

    Raises
    ------
    FolderError : the record cannot be used, or is another one than when the task was made.
    """
    folder = task.known.folder
    known = task.known if folder is None else replace(task.known, builds=_record(folder, task.record).builds)
    return _attempt(task.label, task.data, known)


def _attempt(label: str, data: bytes | Finding, known: OnRecord) -> Attempt:
    if isinstance(data, Finding):
        return refused_attempt(label, "", data)
    return attempt_of_bytes(data, label, known)


def _stopped(task: Task) -> Attempt:
    """A file that ended two processes."""
    fault = Finding("file-unreadable", case="stopped")
    digest = sha256_of(task.data) if isinstance(task.data, bytes) else ""
    return refused_attempt(task.label, digest, fault)


def _with_notes(attempt: Attempt, one: Incoming) -> Attempt:
    """The attempt with what has to be said about the name that its file came under."""
    return with_findings(attempt, one.notes, load_catalogue(), first=True) if one.notes else attempt


@lru_cache(maxsize=2)
def _record(folder: ClassFolder, digest: str) -> OnRecord:
    known = on_record(folder)
    if _digest(folder) != digest:
        remedy = "Let one command finish before the next; then run it again."
        raise FolderError(folder.keep, "another record than a moment ago", "the same all along", remedy)
    return known


def _digest(folder: ClassFolder) -> str:
    kept = [read_if_there(path) or b"" for path in (folder.secret, folder.handed_out)]
    return hashlib.sha256(b"\0".join(kept)).hexdigest()
