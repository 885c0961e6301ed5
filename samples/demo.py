"""Run the whole job on the invented sample class, into samples/demo-class: `python3 samples/demo.py`."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from environment import ROOT, SetupError, ensure_environment, program

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
    shutil.rmtree(folder)


def main() -> int:
    """Set up, clear, run; the exit code is that of the run."""
    try:
        ensure_environment()
        clear(FOLDER)
    except SetupError as fault:
        print(fault, file=sys.stderr)
        return 2
    # Paths in what the command prints are then short, whatever folder this was started from.
    command = [str(program("sheetgen")), "demo", str(FOLDER.relative_to(ROOT))]
    return subprocess.run(command, cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
