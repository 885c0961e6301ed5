"""The command starts fast: no library for workbooks or tables is loaded before a command needs it."""

import subprocess
import sys
from pathlib import Path

import click
import pytest

from sheetgen.cli.job import main
from tests.classes import run

HEAVY = ("pandas", "numpy", "openpyxl", "xlsxwriter", "lxml", "msgspec")
ROOT = Path(__file__).resolve().parents[1]


def commands(group: click.Group, *before: str) -> list[str]:
    """The words behind `sheetgen` of every command, those of groups written out."""
    words = []
    for name, command in sorted(group.commands.items()):
        inner = commands(command, *before, name) if isinstance(command, click.Group) else []
        words += inner or [" ".join((*before, name))]
    return words


assert isinstance(main, click.Group)
COMMANDS = commands(main)


# arguments of the command line
@pytest.mark.parametrize("arguments", (("--help",), ("--version",), ("read", "--help")))
def test_help_loads_no_heavy_library(arguments: tuple[str, ...]) -> None:
    script = (
        "import sys\n"
        "from sheetgen.cli.job import main\n"
        f"try: main({list(arguments)!r})\n"
        "except SystemExit: pass\n"
        f"print('loaded:', *sorted({set(HEAVY)!r} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "loaded:"


def test_a_read_loads_what_starts_processes_only_for_many_files() -> None:
    script = "import sys, sheetgen.commands.read\nprint('multiprocessing' in sys.modules)\n"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_the_commands_of_the_job_are_there() -> None:
    assert {"new", "build", "read", "look", "explain", "demo"} <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("option", ("-h", "--help"))
def test_help_has_an_example_that_names_the_command(command: str, option: str) -> None:
    result = run(*command.split(), option)
    assert (result.exit_code, result.stderr) == (0, "")
    _, example = result.stdout.split("Example:\n")
    assert example.lstrip().startswith(f"sheetgen {command}")


@pytest.mark.parametrize("command", sorted(main.commands))
def test_every_command_is_in_the_readme_or_the_handbook(command: str) -> None:
    pages = [ROOT / "README.md", *(ROOT / "templates" / "handbook").glob("*.md")]
    assert any(f"sheetgen {command}" in path.read_text(encoding="utf-8") for path in pages)
