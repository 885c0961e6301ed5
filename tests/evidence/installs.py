"""How the program is installed and where it then works: `python tests/evidence/installs.py [PYTHON ...]`.

Wheel and source archive are made from what git holds, installed by each PYTHON (this one without an argument)
with the newest and, by the first, with the lowest versions that pyproject.toml allows, in a folder whose name
has a space and accents. Then the demo, which builds, fills and reads three sessions, is run as it is; and
with an installation nobody can write into, without a network and without /dev/shm, where this system can make
that so (Linux, as root). Exit code 1 where anything failed.
"""

import os
import subprocess
import sys
import tarfile
import tomllib
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.office.client import clean_environment  # noqa: E402

FOLDER = "Übungen im März"
_BARE = """mount -t tmpfs -o ro none /dev/shm || exit 1
mount --bind "$1" "$1" && mount -o remount,bind,ro "$1" || exit 1
shift
exec "$@"
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One way of installing. fault : the last words of what failed, empty where nothing did."""

    python: str
    package: str
    versions: str
    demo: bool = False
    bare: bool | None = None
    fault: str = ""


class Failed(Exception):
    """A command ended with another code than 0; its last line."""


def call(*command: object, cwd: Path) -> str:
    """Return what a command prints; Failed where it fails."""
    words = [str(part) for part in command]
    done = subprocess.run(
        words, cwd=cwd, env=clean_environment(), capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise Failed(((done.stderr or done.stdout).strip().splitlines() or ["no word"])[-1])
    return done.stdout


def lowest(project: str) -> list[str]:
    """Return the lowest versions that a pyproject.toml allows, as pip is asked for them.

    >>> lowest('[project]\\ndependencies = ["click>=8.1", "xlrd>=2.0.1"]')
    ['click==8.1', 'xlrd==2.0.1']
    """
    return [word.replace(">=", "==") for word in tomllib.loads(project)["project"]["dependencies"]]


def packages_of(folder: Path) -> dict[str, Path]:
    """Return the wheel and the source archive, made from what git holds."""
    clean = folder / "clean"
    data = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, capture_output=True, check=True).stdout
    with tarfile.open(fileobj=BytesIO(data)) as archive:
        archive.extractall(clean, filter="data")
    call(sys.executable, "-m", "hatchling", "build", "-d", folder, cwd=clean)
    return {"wheel": next(folder.glob("*.whl")), "sdist": next(folder.glob("*.tar.gz"))}


def installed(python: str, kind: str, package: Path, pinned: list[str], folder: Path) -> Line:
    """Install a package into an environment of its own and run the demo there."""
    version = call(python, "-c", "import platform; print(platform.python_version())", cwd=folder).strip()
    line = Line(version, kind, "lowest" if pinned else "newest")
    place = folder / FOLDER / f"{kind} {version} {line.versions}"
    sheetgen = place / "env" / "bin" / "sheetgen"
    demo, bare = False, None
    try:
        call(python, "-m", "venv", place / "env", cwd=folder)
        call(place / "env/bin/python", "-m", "pip", "install", "--quiet", package, *pinned, cwd=folder)
        call(sheetgen, "demo", place / "demo", cwd=place)
        demo = True
        if sys.platform == "linux" and os.geteuid() == 0:
            bare = False
            alone = ("unshare", "--mount", "--net", "sh", "-c", _BARE, "sh", place / "env")
            call(*alone, sheetgen, "demo", place / "bare", cwd=place)
            bare = True
    except Failed as fault:
        return Line(line.python, kind, line.versions, demo, bare, str(fault))
    return Line(line.python, kind, line.versions, demo, bare)


def main(pythons: list[str]) -> int:
    """Install in every way and print the table."""
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    lines = []
    with TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        packages = packages_of(folder)
        for number, python in enumerate(pythons):
            for kind, package in packages.items():
                for pinned in ([], lowest(project)) if number == 0 else ([],):
                    lines.append(installed(python, kind, package, pinned, folder))
    print("| Python | package | versions | demo | no right to write, no network, no /dev/shm |")
    print("|---|---|---|---|---|")
    for line in lines:
        bare = "-" if line.bare is None else "yes" if line.bare else "no"
        print(
            f"| {line.python} | {line.package} | {line.versions} | {'yes' if line.demo else 'no'} | {bare} |"
        )
    faults = [f"{line.python} {line.package} {line.versions}: {line.fault}" for line in lines if line.fault]
    print("\n".join(faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or [sys.executable]))
