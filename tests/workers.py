"""What worker processes of tests run: it has to be importable by them."""

import os
import time

from sheetgen.returned import pool
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.one_file import File, attempt_elsewhere
from sheetgen.returned.whose import OnRecord

KILLER = b"a file that ends whatever reads it"


def attempt_or_death(known: OnRecord, record: str, file: File) -> Attempt:
    """As the function that reads does; a worker that meets the killer dies as a crash of its parser would."""
    if file[1] == KILLER:
        os._exit(9)
    return attempt_elsewhere(known, record, file)


def _busy() -> None:
    begun = time.process_time()
    while time.process_time() - begun < 60:
        pass


def endless(_: object) -> None:
    """Be busy for ever with one item, of which a fifth of a second is allowed."""
    pool._MOST_SECONDS = 0.2
    pool._in_bounded_time(_busy)


def here(_: object) -> int:
    """Return the process that ran this."""
    return os.getpid()
