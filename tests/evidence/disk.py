"""Faults of the disk while a command runs in this process: full, read-only, or a file that is held open."""

import builtins
import contextlib
import errno
import os
import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from unittest import mock

from click.testing import Result

from sheetgen.class_folder import files
from tests.classes import run
from tests.evidence.kills import Contents, Stage, contents_of, halves, is_done


class _Counter:
    """Lets calls through until the one that fails; number -1 lets all through."""

    def __init__(self, number: int) -> None:
        self.number = number
        self.calls = 0

    def fails(self) -> bool:
        self.calls += 1
        return self.calls - 1 == self.number


class _FullDisk:
    """A stream that takes half of what is written and then has no room."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __enter__(self) -> "_FullDisk":
        return self

    def __exit__(self, *_: object) -> None:
        self._stream.close()

    def write(self, data: bytes) -> None:
        self._stream.write(data[: len(data) // 2])
        self._stream.flush()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextlib.contextmanager
def _full(counter: _Counter) -> Iterator[None]:
    def opening(*arguments: Any, **named: Any) -> Any:
        stream = builtins.open(*arguments, **named)  # noqa: SIM115
        return _FullDisk(stream) if counter.fails() else stream

    with mock.patch.object(files, "open", opening, create=True):
        yield


@contextlib.contextmanager
def _read_only(counter: _Counter) -> Iterator[None]:
    real = os.open

    def opening(path: Any, flags: int, *more: Any, **named: Any) -> int:
        if flags & os.O_CREAT and str(path).endswith(".part") and counter.fails():
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))
        return real(path, flags, *more, **named)

    with mock.patch("os.open", opening):
        yield


@contextlib.contextmanager
def _held_open(counter: _Counter) -> Iterator[None]:
    real = os.replace

    def replacing(source: Any, target: Any, **named: Any) -> None:
        if counter.fails():
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(target))
        real(source, target, **named)

    with mock.patch("os.replace", replacing):
        yield


FAULTS = {"disk full": _full, "folder read-only": _read_only, "file held open": _held_open}
"""A fault to what makes it happen at one of the writes of a run."""


@dataclass(frozen=True, slots=True)
class Faulty:
    """What became of runs with a fault: what was wrong with each, empty where nothing was.

    stopped : runs that ended with a sentence; the others could do without what failed, and said so.
    """

    runs: int
    stopped: int
    wrong: tuple[str, ...]


def writes_of(stage: Stage) -> dict[str, int]:
    """How often an undisturbed run does what each fault can meet."""
    counters = {fault: _Counter(-1) for fault in FAULTS}
    with contextlib.ExitStack() as all_at_once:
        for fault, counter in counters.items():
            all_at_once.enter_context(FAULTS[fault](counter))
        _once(stage)
    return {fault: counter.calls for fault, counter in counters.items()}


def faulty_runs(stage: Stage, fault: str, writes: int, most: int, seed: int) -> Faulty:
    """Run a command with the same fault at each of its writes in turn, at most so many of them at random.

    Wrong is: a traceback, no sentence with the place, a file that is neither old nor new, anything left
    beside, and a second run that does not come out as an undisturbed one. writes : as writes_of counts them.
    """
    numbers = range(writes)
    chosen = sorted(random.Random(seed).sample(numbers, min(most, len(numbers))))
    wrong = []
    stopped = 0
    for number in chosen:
        with FAULTS[fault](_Counter(number)):
            result = _once(stage)
        stopped += result.exit_code == 2
        now = contents_of(stage.root)
        wrong += [f"{fault} at write {number}: {one}" for one in _troubles(stage, result, now)]
        wrong += [f"{fault} at write {number}: {one}" for one in halves(stage, now)]
        wrong += [f"{fault} at write {number}: {one} left" for one in now.data if one.endswith(".part")]
        again = run(*stage.command)
        if again.exit_code != 0 or not is_done(stage, contents_of(stage.root)):
            names = contents_of(stage.root).data
            other = [name for name in names if names[name] != stage.after.data.get(name)]
            wrong.append(
                f"{fault} at write {number}: the second run differs: {other[:3]} {again.stderr[-200:]}"
            )
    return Faulty(len(chosen), stopped, tuple(wrong))


def _once(stage: Stage) -> Result:
    shutil.rmtree(stage.root)
    shutil.copytree(stage.master, stage.root)
    return run(*stage.command)


def _troubles(stage: Stage, result: Result, now: Contents) -> list[str]:
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return [f"{type(result.exception).__name__}: {result.exception}"]
    if "Traceback" in result.stderr:
        return ["a traceback"]
    lines = result.stderr.splitlines()
    if result.exit_code == 2 and (len(lines) != 1 or str(stage.root) not in lines[0]):
        return [f"not one sentence with the place: {lines[:3]}"]
    # What only saves time may fail without a word, as long as everything else came out.
    if result.exit_code == 0 and not lines and not is_done(stage, now):
        return ["nothing was said"]
    return []
