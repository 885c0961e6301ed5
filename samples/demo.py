"""Run the whole job on the invented sample class, into samples/demo-class: `python3 samples/demo.py`."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from environment import ROOT, SetupError, copied_command, ensure_environment, program, say

FOLDER = ROOT / "samples" / "demo-class"


def clear(folder: Path) -> None:
    """Remove the folder of an earlier run; raise SetupError where it is not certainly one."""
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    marker = folder / "keep" / "demo.txt"
    if not marker.is_file():
        raise SetupError(
            f"{folder}: found files without {marker.relative_to(folder).as_posix()}; expected nothing, or the"
            " folder of an earlier demo. Move it elsewhere or remove it, then start again."
        )
    say(f"{folder}: the class of an earlier demo is made anew; whatever was typed there goes.")
    if sys.stdin is not None and sys.stdin.isatty():
        try:
            input("Press Enter to go on, Ctrl+C to keep it. ")
        except (KeyboardInterrupt, EOFError):
            raise SetupError(f"\n{folder} is as it was.") from None
    try:
        shutil.rmtree(folder)
    except OSError as fault:
        raise SetupError(
            f"{folder}: found a file that cannot be removed ({fault.strerror}: {fault.filename}); expected"
            " files of yours that are open nowhere. Close them in other programs, then start again; made by"
            f" another user: start in a copy of your own: {copied_command()}"
        ) from fault


def main() -> int:
    """Set up, clear, run; the exit code is that of the run."""
    try:
        ensure_environment()
        clear(FOLDER)
    except SetupError as fault:
        print(fault, file=sys.stderr)
        return 2
    sys.stdout.flush()
    # Paths in what the command prints are then short, whatever folder this was started from.
    command = [str(program("sheetgen")), "demo", str(FOLDER.relative_to(ROOT))]
    done = subprocess.run(command, cwd=ROOT, check=False).returncode
    if done == 0:
        here = program("sheetgen").relative_to(ROOT)
        print(f"In this folder sheetgen is {here}; for good, in every folder: pipx install .")
    return done


if __name__ == "__main__":
    sys.exit(main())
