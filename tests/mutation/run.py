"""How many small changes of the source the tests notice: mutation testing of one room, in a copy.

    python tests/mutation/run.py measurement|protocols|marking [--sample N] [--children N]

Needs the `nightly` extra. `--sample N` takes N changes only, from every module in proportion and the same
ones every time. Survivors that `survivors.toml` does not list are printed with what was changed. Exit code:
0 every survivor is listed, 1 one is not, 2 it could not be run.
"""

import argparse
import importlib.util
import json
import random
import shutil
import subprocess
import sys
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
SURVIVORS = Path(__file__).with_name("survivors.toml")

ROOMS = {
    "measurement": (("sheetgen/measurement/*",), ("tests/measurement",)),
    "protocols": (
        ("sheetgen/protocols/recalculation.py", "sheetgen/protocols/protocol.py"),
        ("tests/protocols",),
    ),
    "marking": (("sheetgen/marking/*",), ("tests/marking", "tests/test_slips.py")),
}
"""Room to the files that are changed and the tests that are to notice."""

SEED = 20

Survivor = tuple[str, str, str, str]
"""Module below the package, function, the line as it was, the line as it became."""

# A test that fails and one that never ends both notice the change; without a test it is not noticed.
_KILLED, _SURVIVED = (1, 3, 24, -24, 36, 152, 255), (0, 5, 33)


def verdict(exit_code: int | None) -> str:
    """Return `killed`, `survived`, `not run`, or `unclear` for an exit code that mutmut keeps of a mutant."""
    if exit_code is None:
        return "not run"
    if exit_code in _KILLED:
        return "killed"
    return "survived" if exit_code in _SURVIVED else "unclear"


def split_name(name: str) -> tuple[str, str]:
    """Return module and function of a mutant's name.

    >>> split_name("sheetgen.statistics.digits.x__unit__mutmut_12")
    ('statistics.digits', '_unit')
    >>> split_name("sheetgen.measurement.readings.xǁToleranceǁ__post_init____mutmut_1")
    ('measurement.readings', 'Tolerance.__post_init__')
    """
    module, _, rest = name.removeprefix("sheetgen.").rpartition(".")
    function = rest.rpartition("__mutmut_")[0]
    # A method's name holds its class between two marks.
    return module, function.removeprefix("xǁ").replace("ǁ", ".").removeprefix("x_")


def sampled(names: Iterable[str], count: int) -> list[str]:
    """Return so many of the names, the same ones every time, from each module in proportion to its own."""
    by_module: dict[str, list[str]] = defaultdict(list)
    for name in sorted(names):
        by_module[split_name(name)[0]].append(name)
    places = []
    for module, members in by_module.items():
        random.Random(f"{SEED} {module}").shuffle(members)
        # Evenly spread over 0 to 1, so that the first places of all modules together are in proportion.
        places += [((at + 0.5) / len(members), name) for at, name in enumerate(members)]
    return sorted(name for _, name in sorted(places)[:count])


def changed(diff: str) -> tuple[str, str]:
    """Return what a diff takes away and what it puts there, each as one line."""
    lines = [line for line in diff.splitlines() if not line.startswith(("---", "+++"))]
    was, became = (" ".join(line[1:].strip() for line in lines if line.startswith(sign)) for sign in "-+")
    return was, became


def known_survivors(text: str) -> set[Survivor]:
    """Return the survivors of a list in TOML."""
    return {
        (entry["module"], entry["function"], was, became)
        for entry in tomllib.loads(text)["survivor"]
        for was, became in entry["changes"]
    }


def table_of(verdicts: Mapping[str, str]) -> str:
    """Return killed and survived of each module and in all, for the verdict on each mutant's name."""
    counts: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for name, word in sorted(verdicts.items()):
        if word != "not run":
            counts[split_name(name)[0]][word] += 1
            counts["in all"][word] += 1
    counts["in all"] = counts.pop("in all", defaultdict(int))
    lines = ["| module | mutants | killed | survived | unclear | killed % |", "|---|--:|--:|--:|--:|--:|"]
    for module, row in counts.items():
        total = sum(row.values())
        share = f"{100 * row['killed'] / total:.1f}" if total else ""
        lines.append(
            f"| {module} | {total} | {row['killed']} | {row['survived']} | {row['unclear']} | {share} |"
        )
    return "\n".join(lines)


def _copy(room: str, folder: Path) -> None:
    """Copy the project and say in the copy what is to be changed and which tests are run."""
    left_out = shutil.ignore_patterns(".*", "__pycache__", "mutants", "build", "dist", "*.egg-info")
    shutil.copytree(ROOT, folder, ignore=left_out)
    beside = sorted(path.name for path in folder.iterdir() if path.name not in ("sheetgen", "tests"))
    settings = {
        "source_paths": ["sheetgen"],
        "only_mutate": list(ROOMS[room][0]),
        "also_copy": beside,
        "pytest_add_cli_args_test_selection": list(ROOMS[room][1]),
        # The profile draws the same examples every time and sets no limit to the time of one.
        "pytest_add_cli_args": ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-profile=ci"],
    }
    lines = [f"{key} = {json.dumps(value)}" for key, value in settings.items()]
    text = (folder / "pyproject.toml").read_text(encoding="utf-8")
    written = "\n".join([text.rstrip("\n"), "", "[tool.mutmut]", *lines, ""])
    (folder / "pyproject.toml").write_text(written, encoding="utf-8")


def _mutmut(folder: Path, *arguments: str, quiet: bool = False) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "mutmut", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=quiet, text=True, check=False)


def _exit_codes(folder: Path) -> dict[str, int | None]:
    codes: dict[str, int | None] = {}
    for path in sorted((folder / "mutants").rglob("*.meta")):
        codes.update(json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"])
    return codes


def _run(sample: int | None, children: int, folder: Path) -> dict[str, int | None]:
    """Run the mutants in the copy and return the exit code of each."""
    chosen: Sequence[str] = ()
    if sample is not None:
        # A name that no mutant has: it makes the mutants and runs none.
        made = _mutmut(folder, "run", "none", quiet=True)
        chosen = sampled(_exit_codes(folder), sample)
        if not chosen:
            print(made.stdout, made.stderr)
            return {}
    _mutmut(folder, "run", "--max-children", str(children), *chosen)
    return _exit_codes(folder)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the mutants of a room and print the table and the survivors that are not listed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("room", choices=sorted(ROOMS))
    parser.add_argument("--sample", type=int, metavar="N", help="only so many, in proportion by module")
    parser.add_argument("--children", type=int, default=2, metavar="N", help="processes at once (2)")
    asked = parser.parse_args(arguments)
    if importlib.util.find_spec("mutmut") is None:
        print('mutmut is not installed; expected it beside Python: pip install -e ".[test,nightly]"')
        return 2
    known = known_survivors(SURVIVORS.read_text(encoding="utf-8"))
    with TemporaryDirectory(prefix="mutation-") as temporary:
        folder = Path(temporary) / "copy"
        _copy(asked.room, folder)
        codes = _run(asked.sample, asked.children, folder)
        verdicts = {name: verdict(code) for name, code in codes.items()}
        if all(word == "not run" for word in verdicts.values()):
            print("no mutant was run; expected the tests to pass without one: see what mutmut said above")
            return 2
        print(table_of(verdicts))
        unknown = 0
        for name in sorted(name for name, word in verdicts.items() if word == "survived"):
            was, became = changed(_mutmut(folder, "show", name, quiet=True).stdout)
            if (*split_name(name), was, became) not in known:
                unknown += 1
                print(f"\nsurvived, not listed: {name}\n  was    {was}\n  became {became}")
    print(f"\n{unknown} survivors are not listed in {SURVIVORS.name}")
    return int(unknown > 0)


if __name__ == "__main__":
    sys.exit(main())
