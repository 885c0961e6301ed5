"""Remove body values and returned files that are older than a date; keep marks and the class itself."""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError

_KEPT = ("marks.csv", "precision.csv")
"""Scores, and the precision of the class as a whole: no body values."""
_OLD_MEMORY = "session-*/known-files.bin"
"""What earlier versions remembered of returned files, with body values; nothing reads it any more."""


@dataclass(frozen=True, slots=True)
class Forgotten:
    """Paths inside the class folder. returned, derived : removed, or to be. kept : marks and precision."""

    returned: tuple[str, ...]
    derived: tuple[str, ...]
    kept: tuple[str, ...]


def forget_before(folder: ClassFolder, before: date, write: bool = False) -> Forgotten:
    """Remove returned files last changed before a date, and what was derived from their sessions.

    Parameters
    ----------
    before : files last changed on an earlier day than this go.
    write : remove them; without it only say what would go.

    Raises
    ------
    FolderError : a file cannot be removed; everything named before it is gone.

    Notes
    -----
    Tables, report and feedback of a session that loses a file go as well, since they repeat its body values;
    `sheetgen read` makes them anew from what is left. Marks and the class's precision stay: they hold no body
    values. Sheets as handed out hold codes and invented practice readings, no body values.
    """
    returned: list[Path] = []
    results: list[Path] = []
    for session in sorted((folder.root / "returned").glob("session-*")):
        old = [path for path in _files(session) if _day(path) < before]
        returned += old
        results += _files(folder.root / "results" / session.name) if old else []
    derived = [path for path in results if path.name not in _KEPT]
    if write:
        for path in (*derived, *returned):
            _removed(path)
        remove_old_memory(folder)
    kept = [path for path in results if path.name in _KEPT]
    names = (
        tuple(path.relative_to(folder.root).as_posix() for path in paths)
        for paths in (returned, derived, kept)
    )
    return Forgotten(*names)


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def remove_old_memory(folder: ClassFolder) -> None:
    """Remove what earlier versions remembered of returned files, of every session.

    Raises
    ------
    FolderError : a file cannot be removed.
    """
    for path in (folder.root / "results").glob(_OLD_MEMORY):
        _removed(path)


def _day(path: Path) -> date:
    return datetime.fromtimestamp(path.lstat().st_mtime).date()


def _removed(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as fault:
        found = f"it cannot be removed ({fault.strerror})"
        remedy = "Close it in other programs, or ask for the right to remove it, and run the command again."
        raise FolderError(path, found, "a file of yours", remedy) from fault
