"""Other classes of the same teacher: their folders stand beside one another."""

from sheetgen.errors import FolderError
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.keep import class_code, load_secret

__all__ = ["class_folder_beside"]

_MOST_FOLDERS = 300
"""A class folder may stand among a thousand downloads; each look costs a file that has to be opened."""


def class_folder_beside(folder: ClassFolder | None, code: str) -> str:
    """Return the name of the folder beside a class folder whose class has a code; empty where none has.

    A folder that cannot be looked into is passed over: this is a help, and nothing depends on it.
    """
    if folder is None or not code:
        return ""
    root = folder.root.absolute()
    try:
        beside = sorted(path for path in root.parent.iterdir() if path != root and path.is_dir())
    except OSError:
        return ""
    return next((path.name for path in beside[:_MOST_FOLDERS] if _code_of(ClassFolder(path)) == code), "")


def _code_of(folder: ClassFolder) -> str:
    try:
        secret = load_secret(folder) if folder.secret.is_file() else None
    except (FolderError, OSError):
        return ""
    return class_code(secret) if secret else ""
