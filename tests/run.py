"""Set up what the checks need and run them all: `python3 tests/run.py [--nightly] [arguments for pytest]`.

`--nightly` runs the long forms. Where a spreadsheet program cannot be had, the tests that drive it are left
out.
Exit code: 0 all passed, 2 the set-up failed, else pytest's own, or 1 where another check failed or tests were
left out.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
# Both hold modules of the standard library's means alone, usable before anything is installed.
sys.path[:0] = [str(ROOT / "samples"), str(ROOT / "tests" / "office")]

from environment import (  # noqa: E402
    SetupError,
    check_version,
    ensure_environment,
    install_system_packages,
    program,
)

DEBIAN_PACKAGES = ("libreoffice-calc", "python3-uno", "poppler-utils", "fonts-dejavu-core")


def missing_office() -> list[str]:
    """What of the spreadsheet program's parts is not installed, in words."""
    from client import find_system_python
    from driver import find_font, find_program

    find_system_python.cache_clear()
    parts = (
        ("LibreOffice Calc (soffice)", find_program()),
        ("a Python that can import uno", find_system_python()),
        ("pdftoppm", shutil.which("pdftoppm")),
        ("font DejaVu Sans", find_font()),
    )
    return [name for name, found in parts if not found]


def lacking_office() -> str:
    """Install the spreadsheet program where it is missing; where that cannot be done, return what is lacking
    and what to type, in one sentence."""
    if not missing_office() or (install_system_packages(*DEBIAN_PACKAGES) and not missing_office()):
        return ""
    return (
        f"some tests drive a spreadsheet program: found no {', no '.join(missing_office())}; install it"
        f" (Debian, Ubuntu: sudo apt-get install {' '.join(DEBIAN_PACKAGES)};"
        " Fedora: sudo dnf install libreoffice-calc libreoffice-pyuno poppler-utils dejavu-sans-fonts;"
        " macOS: brew install --cask libreoffice && brew install poppler;"
        " Windows: the LibreOffice installer, and Poppler with its folder on PATH) and start again."
    )


def lacking_gnumeric() -> str:
    """The same of a second spreadsheet program, which the nightly form alone drives."""
    if shutil.which("ssconvert") or (install_system_packages("gnumeric") and shutil.which("ssconvert")):
        return ""
    return (
        "some nightly tests drive Gnumeric: found no ssconvert; install it (Debian, Ubuntu: sudo apt-get"
        " install gnumeric; Fedora: sudo dnf install gnumeric; macOS: brew install gnumeric) and start again."
    )


def run(command: list[str], unseen: bool = False, **settings: str) -> subprocess.CompletedProcess[bytes]:
    """Run one check with the project's folder as the current one. unseen : keep what it prints for later."""
    # Many tests start Pythons of their own: without compiled files each compiles the whole package anew.
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    if not unseen:
        return subprocess.run(command, cwd=ROOT, env=kept | settings, check=False)
    # What does not go to a terminal is in the letters of the system, and some have too few for a drawn frame.
    kept["PYTHONUTF8"] = "1"
    output = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    return subprocess.run(command, cwd=ROOT, env=kept | settings, check=False, **output)


def main(arguments: list[str]) -> int:
    """Set up and run everything; every check runs even where an earlier one failed."""
    try:
        check_version(sys.version_info[:2], sys.executable)
        python = str(ensure_environment("test"))
    except SetupError as fault:
        print(fault, file=sys.stderr)
        return 2
    nightly = {"SHEETGEN_NIGHTLY": "1"} if "--nightly" in arguments else {}
    lacking = {"office": lacking_office(), "gnumeric": lacking_gnumeric() if nightly else ""}
    left_out = [marker for marker, sentence in lacking.items() if sentence]
    passed_on = [argument for argument in arguments if argument != "--nightly"]
    checks = {
        "ruff": [python, "-m", "ruff", "check", "."],
        "ruff format": [python, "-m", "ruff", "format", "--check", "."],
        "import-linter": [str(program("lint-imports"))],
        "mypy": [python, "-m", "mypy"],
    }
    possible = ["-m", " and ".join(f"not {marker}" for marker in left_out)] if left_out else []
    sharing = ("-n", "2", "--dist", "loadfile", "--no-loadscope-reorder")
    tests = [python, "-m", "pytest", *sharing, *possible, *passed_on]
    with ThreadPoolExecutor(1) as beside:
        # Tests wait for the spreadsheet program, and one of the two ends first: there is time for these.
        begun = {title: beside.submit(run, command, unseen=True) for title, command in checks.items()}
        print("== pytest", flush=True)
        codes = {"pytest": run(tests, **nightly).returncode}
    for title, check in begun.items():
        print(f"== {title}", flush=True)
        sys.stdout.buffer.write(check.result().stdout)
        sys.stdout.flush()
        codes[title] = check.result().returncode
    failed = [title for title, code in codes.items() if code != 0]
    if failed:
        print(f"== failed: {', '.join(failed)}", flush=True)
    for marker in left_out:
        print(f"== not everything was tested: {lacking[marker]}", flush=True)
    if not failed and not left_out:
        print("== all passed", flush=True)
    return codes["pytest"] or int(bool(failed or left_out))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
