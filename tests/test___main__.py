"""`python -m sheetgen` is the command line."""

import subprocess
import sys

from sheetgen import __version__


def test_the_module_runs_the_command_under_its_own_name() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sheetgen", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"sheetgen, version {__version__}\n"
