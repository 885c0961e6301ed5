"""Findings for single files."""

from collections.abc import Sequence
from pathlib import Path

from sheetgen.errors import UsageError
from sheetgen.flows.examine_file import attempt_of, on_record
from sheetgen.model.attempt import Attempt
from sheetgen.store.class_folder import find_class_folder, open_class_folder

__all__ = ["look_at"]


def look_at(paths: Sequence[Path], class_folder: Path | None) -> tuple[Attempt, ...]:
    """Return everything there is to say about some files.

    Parameters
    ----------
    class_folder : the class they belong to; None: searched upward from each file, and without one the
        identity is not proven.

    Raises
    ------
    UsageError : a file is not there.
    FolderError : the class folder named is not one.
    """
    attempts = []
    for path in paths:
        if not path.exists():
            raise UsageError(path, "no such file", "a returned sheet", "Check the name.")
        if path.is_dir():
            raise UsageError(
                path, "a folder", "a returned sheet", "Name files; `sheetgen read` takes folders."
            )
        found = find_class_folder(path.absolute().parent)
        folder = found if class_folder is None else open_class_folder(class_folder)
        attempts.append(attempt_of(path, str(path), on_record(folder)))
    return tuple(attempts)
