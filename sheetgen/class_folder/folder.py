"""The class folder: where everything of a class lies, how it is found, and what a double click starts."""

from dataclasses import dataclass
from pathlib import Path

from sheetgen.class_folder.files import make_folder, read_if_there, write_beside
from sheetgen.errors import FolderError
from sheetgen.texts.templates import read_template

BOOK_NAME = "class.xlsx"


@dataclass(frozen=True, slots=True)
class ClassFolder:
    """Every path of a class folder. A session counts from 1."""

    root: Path

    @property
    def book(self) -> Path:
        """The class book."""
        return self.root / BOOK_NAME

    def sheets(self, session: int) -> Path:
        """The workbooks to hand out."""
        return self.root / "sheets" / _session(session)

    def paper_forms(self, session: int) -> Path:
        """One printable page a student."""
        return self.sheets(session) / "paper-forms.xlsx"

    def handouts(self, session: int) -> Path:
        """Pair slips, run sheet and stations; it holds names."""
        return self.sheets(session) / "for-the-teacher.xlsx"

    def spare(self, session: int) -> Path:
        """Workbooks for people who are not on the roster."""
        return self.sheets(session) / "spare"

    def returned(self, session: int) -> Path:
        """What came back; never changed."""
        return self.root / "returned" / _session(session)

    def review(self, session: int) -> Path:
        """What the teacher decides, as a workbook."""
        return self.root / "review" / f"{_session(session)}.xlsx"

    @property
    def decisions(self) -> Path:
        """The journal of the teacher's decisions."""
        return self.root / "review" / "decisions.csv"

    def results(self, session: int) -> Path:
        """Everything derived; safe to delete."""
        return self.root / "results" / _session(session)

    def report(self, session: int) -> Path:
        """The report on the class."""
        return self.results(session) / "report.xlsx"

    def feedback(self, session: int) -> Path:
        """One page a student."""
        return self.results(session) / "feedback"

    def feedback_zip(self, session: int) -> Path:
        """All feedback in one file, under the names the sheets came in with, for bulk return."""
        return self.results(session) / "feedback.zip"

    def missing(self, session: int) -> Path:
        """A message to those whose sheets are missing, ready to paste."""
        return self.results(session) / "missing.txt"

    def marks(self, session: int) -> Path:
        """The marks."""
        return self.results(session) / "marks.csv"

    def attempts(self, session: int) -> Path:
        """One line a returned file."""
        return self.results(session) / "attempts.csv"

    def sites(self, session: int) -> Path:
        """One line a site of a returned file."""
        return self.results(session) / "sites.csv"

    def readings(self, session: int) -> Path:
        """One line a reading."""
        return self.results(session) / "readings.csv"

    def precision(self, session: int) -> Path:
        """One line a site: the class's technical error."""
        return self.results(session) / "precision.csv"

    def findings(self, session: int) -> Path:
        """One line a finding."""
        return self.results(session) / "findings.csv"

    def description(self, session: int) -> Path:
        """What the columns of the exports mean."""
        return self.results(session) / "datapackage.json"

    @property
    def keep(self) -> Path:
        """What the program must remember."""
        return self.root / "keep"

    @property
    def own_protocols(self) -> Path:
        """The teacher's own protocols."""
        return self.keep / "protocols"

    @property
    def roster_wording(self) -> Path:
        """The class's own wordings of a roster's headings; most classes have none."""
        return self.keep / "roster.toml"

    @property
    def marking_scheme(self) -> Path:
        """The marking scheme of the class, for the teacher to edit."""
        return self.keep / "marking.toml"

    @property
    def secret(self) -> Path:
        """The secret that the codes of the class are made from."""
        return self.keep / "secret.txt"

    @property
    def handed_out(self) -> Path:
        """The record of what was handed out."""
        return self.keep / "handed-out.json"

    @property
    def roster(self) -> Path:
        """The roster as it was taken over last."""
        return self.keep / "roster.json"

    @property
    def launchers(self) -> Path:
        """Small files that run a command with a double click."""
        return self.root / "launchers"

    @property
    def arrivals(self) -> Path:
        """The day on which each returned file was first read."""
        return self.keep / "arrivals.csv"

    @property
    def scores(self) -> Path:
        """The truth of every score."""
        return self.keep / "scores.csv"

    @property
    def layouts(self) -> Path:
        """The Layout of every sheet handed out, by its digest."""
        return self.keep / "layouts"


def find_class_folder(start: Path) -> ClassFolder | None:
    """Return the nearest class folder: start itself, or one above it. None where there is none."""
    start = start.absolute()
    for folder in (start, *start.parents):
        if _is_class_folder(folder):
            return ClassFolder(folder)
    return None


def open_class_folder(root: Path) -> ClassFolder:
    """Return a class folder that is there.

    Raises
    ------
    FolderError : it is not one; a class folder just above or below is named.
    """
    if _is_class_folder(root):
        return ClassFolder(root)
    if not root.exists():
        found, remedy = "no such folder", "Check the name, or make it with `sheetgen new`."
    elif not root.is_dir():
        found, remedy = "a file", "Name the folder of the class."
    else:
        found, remedy = f"a folder without {BOOK_NAME}", "Make a class folder with `sheetgen new`."
    near = _near(root)
    if near is not None:
        remedy = f"Did you mean {near}?"
    raise FolderError(root, found, f"a class folder, which holds {BOOK_NAME}", remedy)


def _session(session: int) -> str:
    if session < 1:
        raise ValueError(f"a session counts from 1, not {session}")
    return f"session-{session}"


def _is_class_folder(folder: Path) -> bool:
    try:
        return (folder / BOOK_NAME).is_file()
    except OSError:
        return False


def _near(root: Path) -> Path | None:
    try:
        below = sorted(folder for folder in root.iterdir() if _is_class_folder(folder))
    except OSError:
        below = []
    if below:
        return below[0]
    above = find_class_folder(root)
    return None if above is None else above.root


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
