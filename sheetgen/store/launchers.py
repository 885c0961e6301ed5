"""Small files in the class folder for whoever never opens a terminal: a double click builds, reads or opens.

They find the class folder by where they lie, so it can be moved, renamed and shared. The program is the
`sheetgen` of the search path; else the Python that made the folder, written down in `python.txt` alone, since
it goes stale on another computer; else whatever Python has sheetgen.
"""

from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, read_if_there, write_beside
from sheetgen.store.templates import read_template

__all__ = ["write_launchers"]

_ACTIONS = (
    ("1 build sheets", "build", "Build the sheets"),
    ("2 read returned", "read", "Read what came back"),
    ("3 open report", "open", "Open the report"),
)
# ending, template, program that opens a workbook, rights, line end
_SYSTEMS = (
    (".cmd", "windows.cmd", "", 0o666, "\r\n"),
    (".command", "unix.sh", "open", 0o777, "\n"),
    (".sh", "unix.sh", "xdg-open", 0o777, "\n"),
)


def write_launchers(folder: ClassFolder, python: str) -> None:
    """Write the launchers for Windows, macOS and Linux, and by which Python they were made.

    Parameters
    ----------
    python : path of a Python that has sheetgen; empty: none is written down.

    Raises
    ------
    FolderError : one cannot be written.
    """
    make_folder(folder.launchers)
    for ending, template, opener, mode, line_end in _SYSTEMS:
        text = read_template(f"launchers/{template}")
        for name, action, title in _ACTIONS:
            words = {"@title@": title, "@action@": action, "@opener@": opener}
            written = text
            for mark, word in words.items():
                written = written.replace(mark, word)
            data = written.replace("\n", line_end).encode("utf-8")
            path = folder.launchers / f"{name}{ending}"
            if read_if_there(path) != data:
                write_beside(path, data, mode=mode)
    if python:
        write_beside(folder.launchers / "python.txt", f"{python}\n".encode())
