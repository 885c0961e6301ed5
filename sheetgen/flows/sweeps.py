"""How often the interpreter looks for circles of objects that nobody holds any more."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["seldom_swept"]

_SELDOM = 1_000_000


@contextmanager
def seldom_swept() -> Iterator[None]:
    """Within, circles are looked for among young objects only.

    What is known of a class holds none, and going through all of it, again whenever a quarter more has come,
    takes a twentieth of the time of a whole read. At the end all are looked for once, so that who reads class
    after class needs no more memory than for the largest.
    """
    young, middle, old = gc.get_threshold()
    gc.set_threshold(young, middle, _SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(young, middle, old)
        gc.collect()
