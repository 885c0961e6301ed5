"""A spreadsheet program kept open and driven by commands: JSON lines on stdin, one JSON line each on stdout.

Run by a Python that can `import uno`, which is seldom the one of the tests; so only the standard library
and `uno` may be used here. `client.py` beside this file is the other end and documents each command.
Rows and columns count from 0; a tab is a name or a number from 0.
"""

import contextlib
import json
import os
import queue
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import traceback
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from commands import COMMANDS, Workbook, open_workbook

START_SECONDS = 120.0
FONTS = {"FONTCONFIG_FILE": str(Path(__file__).with_name("fonts.conf"))}
# Always recalculate on load; paste over a filled cell without asking; leave no lock file beside a workbook,
# since a program that is killed would not remove it, and the workbook would not open again.
SETTINGS = (
    ("Office.Calc/Formula/Load", "OOXMLRecalcMode", "0"),
    ("Office.Calc/Formula/Load", "ODFRecalcMode", "0"),
    ("Office.Calc/Input", "ReplaceCellsWarning", "false"),
    ("Office.Common/Misc", "UseLocking", "false"),
    ("Office.Common/Misc", "UseDocumentOOoLockFile", "false"),
    ("Office.Common/Save/Document", "AutoSave", "false"),
)


@dataclass
class Program:
    """The running program: its process, its profile folder, its desktop, and the open workbooks."""

    process: "subprocess.Popen[bytes]"
    folder: Path
    desktop: Any = None
    context: Any = None
    workbooks: dict[int, Workbook] = field(default_factory=dict)
    last_handle: int = 0


def find_program() -> str | None:
    """Path of the spreadsheet program, or None."""
    known = (
        shutil.which("soffice"),
        shutil.which("libreoffice"),
        "/usr/lib/libreoffice/program/soffice",
        "/Applications/LibreOffice.app/Contents/MacOS/soffice",
        r"C:\Program Files\LibreOffice\program\soffice.exe",
    )
    return next((path for path in known if path and Path(path).exists()), None)


def find_font() -> str | None:
    """The one font that workbooks are printed with, or None; a system without fontconfig has its own way."""
    lister = shutil.which("fc-list")
    if lister is None:
        return "the program's own"
    made = subprocess.run([lister], env={**os.environ, **FONTS}, capture_output=True, text=True, check=False)
    return next(iter(made.stdout.splitlines()), None)


def profile(locale: str) -> str:
    """The settings file of a user profile."""
    items = "".join(
        f'<item oor:path="/org.openoffice.{path}"><prop oor:name="{name}" oor:op="fuse">'
        f"<value>{value}</value></prop></item>\n"
        for path, name, value in (*SETTINGS, ("Setup/L10N", "ooSetupSystemLocale", locale))
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<oor:items xmlns:oor="http://openoffice.org/2001/registry">\n{items}</oor:items>\n'
    )


def obey(program: Program, command: str, arguments: list[Any]) -> Any:
    """Run one command. Raises LookupError for an unknown command or handle."""
    if command == "open":
        program.last_handle += 1
        program.workbooks[program.last_handle] = open_workbook(program.context, program.desktop, *arguments)
        return program.last_handle
    if command not in COMMANDS:
        raise LookupError(f"no command {command!r}")
    handle, *rest = arguments
    if handle not in program.workbooks:
        raise LookupError(f"no open workbook {handle}")
    result = COMMANDS[command](program.workbooks[handle], *rest)
    if command == "close":
        del program.workbooks[handle]
    return result


def start(locale: str) -> Program:
    """Start the program with a profile of its own and connect to it. Raises RuntimeError where it cannot."""
    import uno  # type: ignore[import-not-found]

    path = find_program()
    if path is None:
        raise RuntimeError("soffice is not installed")
    folder = Path(tempfile.mkdtemp(prefix="office-"))
    (folder / "user").mkdir()
    (folder / "user" / "registrymodifications.xcu").write_text(profile(locale), encoding="utf-8")
    pipe = f"office{uuid.uuid4().hex}"
    arguments = [
        path, "--headless", "--norestore", "--invisible", "--nologo", "--nodefault",
        f"-env:UserInstallation={folder.as_uri()}", f"--accept=pipe,name={pipe};urp;",
    ]  # fmt: skip
    with (folder / "messages.txt").open("wb") as messages:
        process = subprocess.Popen(
            arguments,
            stdin=subprocess.DEVNULL,
            stdout=messages,
            stderr=messages,
            start_new_session=os.name == "posix",
            env={**os.environ, **FONTS, "TMPDIR": str(folder)},
        )
    program = Program(process, folder)
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    address = f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
    give_up = time.monotonic() + START_SECONDS
    while True:
        try:
            program.context = resolver.resolve(address)
            break
        except Exception as fault:
            if process.poll() is None and time.monotonic() < give_up:
                time.sleep(0.1)
                continue
            said = (folder / "messages.txt").read_text(encoding="utf-8", errors="replace").strip()
            stop(program)
            raise RuntimeError(f"{path} did not start ({said or fault})") from fault
    program.desktop = program.context.ServiceManager.createInstanceWithContext(
        "com.sun.star.frame.Desktop", program.context
    )
    return program


def ask_to_end(program: Program) -> None:
    """Let the program end by itself, so that it clears away its pipes and temporary files; 10 s at most."""

    def ask() -> None:
        # The connection breaks in the middle of the call when the program obeys.
        with contextlib.suppress(Exception):
            for workbook in program.workbooks.values():
                COMMANDS["close"](workbook)
            program.desktop.terminate()

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(5)
    with contextlib.suppress(subprocess.TimeoutExpired):
        program.process.wait(5)


def stop(program: Program) -> None:
    """End the program and remove its profile."""
    # The wrapper that was started hands over to another process: the whole group has to go.
    with contextlib.suppress(OSError):
        if os.name == "posix":
            os.killpg(program.process.pid, signal.SIGKILL)
        else:
            subprocess.run(
                ["taskkill", "/F", "/T", "/PID", str(program.process.pid)], capture_output=True, check=False
            )
    with contextlib.suppress(subprocess.TimeoutExpired):
        program.process.wait(10)
    give_up = time.monotonic() + 1
    with contextlib.suppress(ProcessLookupError, AttributeError):
        while time.monotonic() < give_up:
            os.killpg(program.process.pid, 0)
            time.sleep(0.02)
    shutil.rmtree(program.folder, ignore_errors=True)


def answer(program: Program, line: str) -> dict[str, Any]:
    """The reply to one line: {"result": ...}, or {"error": ..., "gone": whether the program has ended}."""
    try:
        command, *arguments = json.loads(line)
        return {"result": obey(program, command, arguments)}
    except Exception as fault:
        # pyuno's DisposedException is no subclass that can be named before uno is loaded.
        gone = type(fault).__name__.endswith("DisposedException") or program.process.poll() is not None
        told = isinstance(fault, (LookupError, OSError, ValueError))
        said = str(fault) if told else traceback.format_exc(limit=-3)
        return {"error": said.strip() or type(fault).__name__, "gone": gone}


def main(locale: str = "en-US") -> int:
    """Obey the lines of stdin until it closes, then end the program."""

    def reply(message: dict[str, Any]) -> None:
        print(json.dumps(message), flush=True)

    try:
        program = start(locale)
    except Exception as fault:
        reply({"error": str(fault), "gone": True})
        return 1
    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    finished = threading.Event()

    def listen() -> None:
        for line in sys.stdin:
            lines.put(line)
        lines.put(None)
        # A command that hangs must not keep the program alive once nobody waits for it.
        if not finished.wait(5):
            stop(program)
            os._exit(1)

    threading.Thread(target=listen, daemon=True).start()
    reply({"result": {"process": program.process.pid}})
    while (line := lines.get()) is not None:
        reply(answer(program, line))
    finished.set()
    ask_to_end(program)
    stop(program)
    return 0


if __name__ == "__main__":
    status = main(*sys.argv[1:])
    sys.stdout.flush()
    os._exit(status)  # the bridge to a program that was ended would hold the interpreter
