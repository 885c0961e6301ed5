"""Findings for single files."""

from collections.abc import Sequence
from pathlib import Path

from sheetgen.errors import UsageError
from sheetgen.flows.examine_file import attempt_of, attempt_of_incoming, on_record
from sheetgen.flows.sources import class_language
from sheetgen.model.attempt import Attempt
from sheetgen.store.class_folder import find_class_folder, open_class_folder
from sheetgen.store.returned import is_bundle, open_returned

__all__ = ["look_at"]


def look_at(paths: Sequence[Path], class_folder: Path | None) -> tuple[tuple[Attempt, str], ...]:
    """Return everything there is to say about some files, and about each file in a zip of them, each with the
    language of its class.

    Parameters
    ----------
    class_folder : the class they belong to; None: searched upward from each file, and without one the
        identity is not proven.

    Raises
    ------
    UsageError : a file is not there.
    FolderError : the class folder named is not one.
    """
    attempts: list[tuple[Attempt, str]] = []
    for path in paths:
        if not path.exists():
            raise UsageError(path, "no such file", "a returned sheet", "Check the name.")
        if path.is_dir():
            raise UsageError(
                path, "a folder", "a returned sheet", "Name files; `sheetgen read` takes folders."
            )
        found = find_class_folder(path.absolute().parent)
        folder = found if class_folder is None else open_class_folder(class_folder)
        known = on_record(folder)
        if is_bundle(path):
            with open_returned(path, str(path)) as came:
                looked = [attempt_of_incoming(one, known) for one in came.files]
        else:
            looked = [attempt_of(path, str(path), known)]
        language = class_language(folder)
        attempts += [(one, language) for one in looked]
    return tuple(attempts)
