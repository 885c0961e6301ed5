"""A digest of the program itself: what an older one worked out is not taken for what this one would."""

import hashlib
import platform
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

from sheetgen.store.templates import templates_folder

__all__ = ["program_digest"]

_PACKAGE = Path(__file__).resolve().parent.parent
_LIBRARIES = ("lxml", "msgspec")
"""Those that reading a returned file depends on."""


@lru_cache(maxsize=1)
def program_digest() -> str:
    """Return a digest of every source file and template, and of the libraries that take part in reading.

    A version number would not do: it stays the same while the program, or a template, is being changed.

    Raises
    ------
    TemplateError : the templates are not there.
    """
    digest = hashlib.sha256(platform.python_version().encode("ascii"))
    for name in _LIBRARIES:
        digest.update(f"{name} {version(name)}\n".encode())
    for folder, pattern in ((_PACKAGE, "*.py"), (templates_folder(), "*.toml")):
        for path in sorted(folder.rglob(pattern)):
            digest.update(path.relative_to(folder).as_posix().encode("utf-8"))
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()
