"""What worker processes of tests run: it has to be importable by them."""

import os
import time
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from typing import Any

from sheetgen.flows import chunks
from sheetgen.flows.chunks import Chunk
from sheetgen.model.attempt import Attempt

__all__ = ["KILLER", "NeverStarts", "attempts_or_death", "endless", "greedy", "here"]

KILLER = b"a file that ends whatever reads it"


def attempts_or_death(chunk: Chunk) -> list[Attempt]:
    """As the function that reads does; a worker that meets the killer dies as a crash of its parser would."""
    if any(data == KILLER for _, data in chunk.files):
        os._exit(9)
    return chunks.attempts_of(chunk)


def greedy() -> int:
    """Ask for more memory than a worker may have."""
    return len(bytearray(3_000_000_000))


def endless() -> None:
    """Be busy for ever with one file, of which a fifth of a second is allowed."""
    chunks._limits["seconds"] = 0.2
    with chunks._bounded_time():
        begun = time.process_time()
        while time.process_time() - begun < 60:
            pass


def here() -> int:
    """Return the process that ran this."""
    return os.getpid()


class NeverStarts(Executor):
    """An executor of which every worker dies at once."""

    def submit(self, *_: Any, **__: Any) -> Future[Any]:
        raise BrokenProcessPool("a worker died")
