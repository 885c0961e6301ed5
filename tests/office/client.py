"""The tests' end of the spreadsheet program: one program for many tests, driven by `driver.py`.

    with Office.start() as office, office.workbook(path) as handle:
        office.set(handle, [["Readings", 4, 2, 12.5]])
        office.get(handle, [["Results", 3, 1]])

Rows and columns count from 0; a tab is a name or a number from 0. Only the standard library is used.
"""

import contextlib
import json
import os
import queue
import shutil
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Any, Self

XLSX = "Calc MS Excel 2007 XML"
ODS = "calc8"
DRIVER = Path(__file__).with_name("driver.py")
# One reply for a whole batch would make the timeout depend on its length.
CASES_A_CALL = 250

Cell = Sequence[Any]
"""[tab, row, column], with a value behind them where one is set."""
Value = float | str | dict[str, int]
"""A number, a text ("" for an empty cell too), or {"error": the program's code}."""


class OfficeError(RuntimeError):
    """The spreadsheet program refused a command."""


class OfficeGone(OfficeError):
    """The spreadsheet program is not there: not installed, ended, or silent for too long."""


@cache
def find_system_python() -> str | None:
    """Path of a Python that can `import uno`, or None: the system's, else one that came with the program."""
    candidates = [
        os.environ.get("SHEETGEN_OFFICE_PYTHON"),
        "/usr/bin/python3",
        shutil.which("python3"),
        sys.executable,
        "/usr/lib/libreoffice/program/python",
        "/usr/lib64/libreoffice/program/python",
        *sorted(map(str, Path("/opt").glob("libreoffice*/program/python"))),
        "/Applications/LibreOffice.app/Contents/Resources/python",
        r"C:\Program Files\LibreOffice\program\python.exe",
    ]
    for candidate in candidates:
        if not candidate or not Path(candidate).exists():
            continue
        with contextlib.suppress(OSError, subprocess.TimeoutExpired):
            trial = subprocess.run(
                [candidate, "-c", "import uno"],
                capture_output=True,
                timeout=60,
                check=False,
                env=clean_environment(),
            )
            if trial.returncode == 0:
                return candidate
    return None


def clean_environment() -> dict[str, str]:
    """This process's environment without what would lead another Python into the tests' packages."""
    return {
        name: value
        for name, value in os.environ.items()
        if name not in ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV")
    }


class Office:
    """A running spreadsheet program. `start()` makes one; `stop()` or leaving a `with` block ends it."""

    def __init__(self, driver: "subprocess.Popen[str]", timeout: float) -> None:
        self._driver = driver
        self._timeout = timeout
        self._replies: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._messages: deque[str] = deque(maxlen=20)
        self._gone: str | None = None
        self.process: int = 0
        for work in (self._read_replies, self._read_messages):
            threading.Thread(target=work, daemon=True).start()

    @classmethod
    def start(cls, *, locale: str = "en-US", timeout: float = 120.0) -> Self:
        """Start the program with an empty profile of its own; timeout [s] holds for each command.

        Raises OfficeGone where the program or its Python is not installed, or it does not start.
        """
        python = find_system_python()
        if python is None:
            raise OfficeGone(
                "no Python here can `import uno`: install LibreOffice Calc with its Python bridge"
                " (Debian: libreoffice-calc python3-uno), or run python3 tests/run.py, which does so"
            )
        driver = subprocess.Popen(
            [python, "-X", "utf8", str(DRIVER), locale],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env=clean_environment(),
        )
        office = cls(driver, timeout)
        try:
            office.process = office._reply("start", 150.0)["process"]
        except OfficeError:
            office.stop()
            raise
        return office

    def stop(self) -> None:
        """End the program; what is open is closed without saving."""
        self._gone = self._gone or "it was stopped"
        with contextlib.suppress(OSError):
            if self._driver.stdin is not None:
                self._driver.stdin.close()
        try:
            self._driver.wait(20)
        except subprocess.TimeoutExpired:
            self._driver.kill()
            self._driver.wait(10)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def open(self, path: Path | str, password: str | None = None) -> int:
        """Open a workbook, every formula recalculated, and return its handle."""
        return int(self._call("open", str(Path(path).absolute()), password))

    @contextlib.contextmanager
    def workbook(self, path: Path | str) -> Iterator[int]:
        """Open a workbook for the length of a `with` block."""
        handle = self.open(path)
        try:
            yield handle
        finally:
            if self._gone is None:
                self.close(handle)

    def close(self, handle: int) -> None:
        """Close a workbook without saving."""
        self._call("close", handle)

    def set(self, handle: int, values: Sequence[Cell]) -> None:
        """Set [tab, row, column, value]: a number, a text (never parsed), or None to empty the cell.

        Format and validation stay; validation is not asked. Raises OfficeError at a locked cell.
        """
        self._call("set", handle, values)

    def get(self, handle: int, places: Sequence[Cell]) -> list[Value]:
        """Values at [tab, row, column]."""
        return list(self._call("get", handle, places))

    def formulas(self, handle: int, places: Sequence[Cell]) -> list[str]:
        """Formulas, or entries as typed, at [tab, row, column]."""
        return list(self._call("formulas", handle, places))

    def cases(
        self, handle: int, places: Sequence[Cell], batch: Sequence[Sequence[Cell]]
    ) -> list[list[Value]]:
        """For each case of [tab, row, column, value]: fill it in, recalculate, and read all places. A value
        {"formula": text} is a formula, as `set_formula` takes it.

        A case stands alone: what the other cases of this and earlier batches filled is emptied first,
        while what `set` put elsewhere stays. The last case is left in the workbook.
        """
        results: list[list[Value]] = []
        for start in range(0, len(batch), CASES_A_CALL):
            results += self._call("cases", handle, places, batch[start : start + CASES_A_CALL])
        return results

    def save_as(
        self, handle: int, path: Path | str, filter_name: str = XLSX, password: str | None = None
    ) -> None:
        """Save a copy as XLSX or ODS; with a password, encrypted."""
        self._call("save_as", handle, str(Path(path).absolute()), filter_name, password)

    def to_pdf(self, handle: int, path: Path | str) -> None:
        """Print the visible tabs into a PDF file."""
        self._call("to_pdf", handle, str(Path(path).absolute()))

    def move(self, handle: int, tab: str | int, source: Sequence[int], target: Sequence[int]) -> None:
        """Move [row, column], or a block [row, column, last row, last column], to [row, column] of the tab.

        What dragging with the mouse does; works on a protected sheet between unlocked cells.
        """
        self._call("move", handle, tab, source, target)

    drag = move

    def cut_paste(self, handle: int, tab: str | int, source: Sequence[int], target: Sequence[int]) -> None:
        """The same by the menu commands Cut and Paste and the clipboard."""
        self._call("cut_paste", handle, tab, source, target)

    def typed(
        self, handle: int, keys: Sequence[str], tab: str | int | None = None, start: Sequence[int] = (0, 0)
    ) -> list[list[str | int]]:
        """Press keys: texts letter by letter, or `enter`, `tab`, `escape`, `up`, `down`,
        `left`, `right`, `next tab`.

        From [row, column] of a tab, or from where the cursor is. Returns [tab, row, column] of the cursor
        after each. Rules are asked: what one refuses is not in the cell afterwards.
        """
        return list(self._call("typed", handle, tab, start, keys))

    def set_formula(self, handle: int, tab: str | int, row: int, column: int, text: str) -> None:
        """Set a formula, in English function names with semicolons; refused at a locked cell."""
        self._call("set_formula", handle, tab, row, column, text)

    def unprotect(self, handle: int, tab: str | int | None, password: str = "") -> None:
        """Take the protection of a tab off, or of the workbook's structure where tab is None."""
        self._call("unprotect", handle, tab, password)

    def protect(self, handle: int, tab: str | int | None, password: str = "") -> None:
        """Put the protection on."""
        self._call("protect", handle, tab, password)

    def rename_tab(self, handle: int, tab: str | int, name: str) -> None:
        """Rename a tab; refused while the workbook's structure is protected."""
        self._call("rename_tab", handle, tab, name)

    def insert_tab(self, handle: int, name: str, position: int = 0) -> None:
        """Insert an empty tab before a position; refused while the workbook's structure is protected."""
        self._call("insert_tab", handle, name, position)

    def tabs(self, handle: int) -> list[str]:
        """Names of all tabs, hidden ones too."""
        return list(self._call("tabs", handle))

    def names(self, handle: int) -> dict[str, str]:
        """Defined names of the workbook and what each points at, as $Tab.$A$1."""
        return dict(self._call("names", handle))

    def _call(self, command: str, *arguments: Any) -> Any:
        if self._gone is not None:
            raise OfficeGone(f"the spreadsheet program is gone: {self._gone}")
        assert self._driver.stdin is not None
        try:
            self._driver.stdin.write(json.dumps([command, *arguments]) + "\n")
            self._driver.stdin.flush()
        except OSError as fault:
            self._gone = f"it ended before {command}"
            raise OfficeGone(f"the spreadsheet program is gone: {self._gone}{self._said()}") from fault
        return self._reply(command, self._timeout)

    def _reply(self, command: str, timeout: float) -> Any:
        try:
            line = self._replies.get(timeout=timeout)
        except queue.Empty:
            self._gone = f"no answer to {command} within {timeout:g} s"
            self.stop()
            raise OfficeGone(f"the spreadsheet program is gone: {self._gone}{self._said()}") from None
        if line is None:
            self._gone = f"its driver ended during {command}"
            raise OfficeGone(f"the spreadsheet program is gone: {self._gone}{self._said()}")
        reply = json.loads(line)
        if "error" not in reply:
            return reply["result"]
        if reply["gone"]:
            self._gone = f"it ended during {command}: {reply['error']}"
            raise OfficeGone(f"the spreadsheet program is gone: {self._gone}{self._said()}")
        raise OfficeError(f"{command}: {reply['error']}")

    def _said(self) -> str:
        return "".join(f"\n  {line}" for line in self._messages)

    def _read_replies(self) -> None:
        assert self._driver.stdout is not None
        for line in self._driver.stdout:
            self._replies.put(line)
        self._replies.put(None)

    def _read_messages(self) -> None:
        assert self._driver.stderr is not None
        for line in self._driver.stderr:
            self._messages.append(line.rstrip())
