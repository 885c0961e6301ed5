"""Batch files for Windows, held to hand rules where none of them can run."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder, write_launchers

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = "start-windows"
NAMES = ("1 build sheets", "2 read returned", "3 open report", SAMPLE)
SHIMS = ("py", "python", "python3", "pip", "pipx", "sheetgen")
"""Commands that may be batch files: without `call` ours would end with them."""
PATHS = ("%~dp0", "%class%", "%report%", "%recorded%", "%%I", "%%~fI")
"""What holds a path, which may have spaces, brackets and ampersands."""
FROM_OUTSIDE = {"errorlevel", "SHEETGEN_SESSION"}
QUOTED = re.compile('"[^"]*"')
READ = re.compile(r"%(\w+)(?::~[\d,-]+)?%")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Every batch file there is, by name."""
    folder = ClassFolder(tmp_path_factory.mktemp("class"))
    write_launchers(folder, "")
    found = {path.stem: path.read_bytes() for path in (folder.launchers / "windows").glob("*.cmd")}
    found |= {path.stem: path.read_bytes() for path in (ROOT / "samples").glob("*.cmd")}
    return found


def commands(line: str) -> Iterator[str]:
    """The commands of a line, without the conditions before them."""
    for part in re.split(r"&&|\|\||(?:^|\s)\(|\)(?:\s|$)| else ", line):
        words = re.sub(r"^for .* do ", "", part.strip())
        while condition := re.match(r'if (?:not )?(?:defined \S+|exist "[^"]*"|"[^"]*"=="[^"]*") ?', words):
            words = words[condition.end() :].strip()
        if words:
            yield words


def line_faults(line: str) -> Iterator[str]:
    """What is wrong with one line by itself."""
    if line.startswith(("rem ", ":")):
        return
    outside = QUOTED.sub("", line)
    if '"' in outside:
        yield "a quote is not closed"
    if outside.count("(") != outside.count(")"):
        yield "brackets are not balanced"
    if any(path in outside.replace("%%I in", "") for path in PATHS):
        yield "a path without quotes"
    if "%" in READ.sub("", re.sub(r"%%(?:~f)?I|%~dp0", "", line)):
        yield "a lone percent sign"
    for command in commands(line):
        word, _, rest = command.partition(" ")
        if word in SHIMS or word.startswith("%"):
            yield "a shim without call"
        if word == "call" and any(path in rest for path in PATHS):
            yield "a path on a line with call"
        if word == "set" and not re.match(r'(/p )?"\w+=', rest):
            yield "set without quotes"
        if word == "start" and not rest.startswith('"" "'):
            yield "start without a title"
        if word == "cd" and not rest.startswith("/d "):
            yield "cd that keeps its drive"
        if word == "echo" and re.search("[&|<>^]", QUOTED.sub("", rest)):
            yield "a sign in a text that is no text"
    for name in re.findall(r'\(set (?:/p )?"(\w+)=', line):
        if f"%{name}%" in line:
            yield "a value read in the brackets that set it"


def labels(lines: list[str]) -> list[str]:
    """The labels, in order."""
    return [line[1:] for line in lines if line.startswith(":")]


def flow_faults(lines: list[str]) -> Iterator[str]:
    """What is wrong with the way through the file: every line is reached, and its end with an exit code."""
    places = {line[1:]: at for at, line in enumerate(lines) if line.startswith(":")}
    waiting, seen = [(0, False)], set()
    while waiting:
        at, coded = waiting.pop()
        if at >= len(lines):
            yield "an end without exit"
            continue
        if (at, coded) in seen:
            continue
        seen.add((at, coded))
        line = lines[at]
        if line.startswith("exit /b"):
            if not coded:
                yield "an end without an exit code"
            continue
        jump = re.search(r"\bgoto (\w+)", line) if not line.startswith("rem ") else None
        if jump and jump[1] in places:
            waiting.append((places[jump[1]], coded))
        if not line.startswith("goto "):
            waiting.append((at + 1, coded or line.startswith('set "code=')))
    reached = {at for at, _ in seen}
    if any(line and at not in reached for at, line in enumerate(lines)):
        yield "a line that is never reached"


def faults(data: bytes) -> list[str]:
    """Return everything that is wrong with a batch file."""
    lines = data.decode("ascii", "replace").replace("\r\n", "\n").split("\n")
    code = [line for line in lines if not line.startswith("rem ")]
    text = "\n".join(code)
    found = [] if data.isascii() else ["a sign beyond ASCII"]
    if data.count(b"\r\n") != data.count(b"\n") or data.count(b"\r") != data.count(b"\n"):
        found.append("a line end of another system")
    if code[0] != "@echo off" or code[1] != "setlocal DisableDelayedExpansion":
        found.append("no setlocal before all else")
    if lines[-3:] != ["if not defined SHEETGEN_NO_WAIT pause", "exit /b %code%", ""]:
        found.append("an end without pause and exit code")
    found += (fault for line in lines for fault in line_faults(line))
    goals = set(re.findall(r"\bgoto (\w+)", text))
    if goals - set(labels(lines)):
        found.append("a goto without its label")
    if len(set(labels(lines))) < len(labels(lines)):
        found.append("a label twice")
    known = set(re.findall(r'\bset (?:/p )?"(\w+)=', text)) | FROM_OUTSIDE
    if set(READ.findall(text)) - known:
        found.append("a name that nothing sets")
    # Whatever runs the job is followed by the line that takes its exit code, or by another way to run it.
    runs = [at for at, line in enumerate(lines) if is_run(line)]
    if any(not is_run(lines[at + 1]) and lines[at + 1] != 'set "code=%errorlevel%"' for at in runs):
        found.append("an exit code that is lost")
    return [*found, *flow_faults(lines)]


def is_run(line: str) -> bool:
    """Tell whether a line runs the job itself, not only asks whether a program is there."""
    return ">nul" not in line and any(re.match('call |"%recorded%" ', one) for one in commands(line))


def test_every_batch_file_is_looked_at(files: dict[str, bytes]) -> None:
    assert sorted(files) == sorted(NAMES)
    runs = {name: sum(map(is_run, data.decode("ascii").splitlines())) for name, data in files.items()}
    assert runs == {"1 build sheets": 4, "2 read returned": 4, "3 open report": 4, SAMPLE: 1}


@pytest.mark.parametrize("name", NAMES)
def test_a_batch_file_keeps_every_rule(files: dict[str, bytes], name: str) -> None:
    assert faults(files[name]) == []


LAUNCHER = "2 read returned"
# file, what stands in it, what is put in its place, the fault
BROKEN = (
    (LAUNCHER, "\r\n", "\n", "a line end of another system"),
    (LAUNCHER, "Working ...", "Working \u2026", "a sign beyond ASCII"),
    (LAUNCHER, "setlocal DisableDelayedExpansion\r\n", "", "no setlocal before all else"),
    (LAUNCHER, "NO_WAIT pause", "NO_WAIT rem", "an end without pause and exit code"),
    (LAUNCHER, "exit /b %code%", "exit /b 0", "an end without pause and exit code"),
    (LAUNCHER, 'pushd "%class%"', "pushd %class%", "a path without quotes"),
    (LAUNCHER, '<"%~dp0..\\python.txt"', "<%~dp0..\\python.txt", "a path without quotes"),
    (SAMPLE, 'cd /d "%~dp0.."', 'cd "%~dp0.."', "cd that keeps its drive"),
    (SAMPLE, 'start "" "samples', 'start "samples', "start without a title"),
    (SAMPLE, "call %python% samples", "%python% samples", "a shim without call"),
    (SAMPLE, "python call python --version", "python python --version", "a shim without call"),
    (LAUNCHER, "call py --version", "py --version", "a shim without call"),
    (LAUNCHER, '=="sheetgen" call sheetgen', '=="sheetgen" sheetgen', "a shim without call"),
    (LAUNCHER, "call sheetgen %action% .", 'call sheetgen %action% "%class%"', "a path on a line with call"),
    (LAUNCHER, 'set "code=%errorlevel%"', "set code=%errorlevel%", "set without quotes"),
    (LAUNCHER, 'set "code=%errorlevel%"\r\n', "", "an exit code that is lost"),
    (LAUNCHER, 'set "code=2"\r\n\r\n:finish', ":finish", "an end without an exit code"),
    (LAUNCHER, "=%SHEETGEN_SESSION%\")", '=%SHEETGEN_SESSION%"', "brackets are not balanced"),
    (LAUNCHER, '"session=%SHEETGEN_SESSION%"', '"session=%session%"',
     "a value read in the brackets that set it"),
    (LAUNCHER, 'set "other=1"', 'set "other=1', "a quote is not closed"),
    (LAUNCHER, ":no_class\r\n", ":no_clas\r\n", "a goto without its label"),
    (LAUNCHER, ":no_class\r\n", ":finish\r\n", "a label twice"),
    (LAUNCHER, "goto finish\r\n\r\n:open_report", "goto finish\r\necho Done.\r\n\r\n:open_report",
     "a line that is never reached"),
    (LAUNCHER, "of session %session% is opened", "of session %sesion% is opened", "a name that nothing sets"),
    (LAUNCHER, "Working ...", "Working: 100 % ...", "a lone percent sign"),
    (LAUNCHER, "Working ...", "Working & waiting", "a sign in a text that is no text"),
    (LAUNCHER, "exit /b %code%\r\n", "", "an end without exit"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "stands", "put", "fault"), BROKEN)
def test_a_batch_file_that_breaks_a_rule_is_found(
    files: dict[str, bytes], name: str, stands: str, put: str, fault: str
) -> None:
    before = files[name].decode("ascii")
    assert stands in before
    assert fault in faults(before.replace(stands, put).encode("utf-8"))
