"""The project's own environment in .venv: made, filled and kept up to date. Standard library only.

Shared by the two scripts that must run before anything is installed: samples/demo.py and tests/run.py.
"""

# An older Python has to get as far as saying that it is too old.
from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ENVIRONMENT = ROOT / ".venv"
OLDEST = (3, 11)


class SetupError(Exception):
    """Something is missing that these scripts cannot bring themselves; the text says what to do."""


def say(text: str) -> None:
    """Print one line of progress on stderr."""
    print(text, file=sys.stderr, flush=True)


def program(name: str) -> Path:
    """Path of a program of the environment."""
    if os.name == "nt":
        return ENVIRONMENT / "Scripts" / f"{name}.exe"
    return ENVIRONMENT / "bin" / name


def works(*command: str | Path) -> bool:
    """Whether a command runs and returns 0; what it prints is dropped."""
    try:
        done = subprocess.run([str(part) for part in command], capture_output=True, check=False)
    except OSError:
        return False
    return done.returncode == 0


def check_version(version: tuple[int, int], place: str) -> None:
    """Raise SetupError where a Python is too old."""
    if version < OLDEST:
        found, needed = (".".join(map(str, number)) for number in (version, OLDEST))
        raise SetupError(
            f"{place}: found Python {found}; expected {needed} or newer. Start again with a newer one."
        )


def install_system_packages(*names: str) -> bool:
    """Install Debian packages where apt-get and the right to use it are there; tell whether that worked."""
    if shutil.which("apt-get") is None:
        return False
    if os.geteuid() == 0:
        leave = ["env"]
    elif shutil.which("sudo") and works("sudo", "-n", "true"):
        leave = ["sudo", "-n", "env"]
    else:
        return False
    apt = [*leave, "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q"]
    say(f"installing {' '.join(names)} by apt-get ...")
    # A stale list of one source alone does no harm: the installation decides.
    subprocess.run([*apt, "update"], stdout=subprocess.DEVNULL, check=False)
    install = [*apt, "install", "-y", "--no-install-recommends", *names]
    return subprocess.run(install, stdout=subprocess.DEVNULL, check=False).returncode == 0


def make_environment() -> None:
    """Make .venv, or mend one that has no pip. Raises SetupError where this Python cannot."""
    say(f"making {ENVIRONMENT} ...")
    command = [sys.executable, "-m", "venv", str(ENVIRONMENT)]
    if works(*command):
        return
    if sys.executable.startswith("/usr/bin/") and install_system_packages("python3-venv") and works(*command):
        return
    raise SetupError(
        f"{ENVIRONMENT}: {sys.executable} -m venv failed; expected a Python that makes environments."
        " Install the system's package for it (Debian: python3-venv) and start again."
    )


def fingerprint() -> str:
    """Changes when the project's needs or its place change."""
    text = (ROOT / "pyproject.toml").read_bytes() + str(ROOT).encode()
    return hashlib.sha256(text).hexdigest()


def ensure_environment(extra: str = "") -> Path:
    """Return the Python of .venv with the project installed from this folder, so that changes take effect.

    `extra` names a group of pyproject.toml's optional dependencies. Nothing is done where pyproject.toml is
    as it was when they were installed. Raises SetupError.
    """
    check_version(sys.version_info[:2], sys.executable)
    python = program("python")
    if not works(python, "-m", "pip", "--version"):
        make_environment()
    asked = "import sys; print(*sys.version_info[:2])"
    answer = subprocess.run([str(python), "-c", asked], capture_output=True, text=True, check=True).stdout
    major, minor = map(int, answer.split())
    check_version((major, minor), f"{ENVIRONMENT} (remove this folder)")
    stamp = ENVIRONMENT / f"installed-{extra or 'plain'}.txt"
    # The extras include the plain installation.
    stamps = [stamp] if extra else sorted(ENVIRONMENT.glob("installed-*.txt"))
    wanted = fingerprint()
    if any(path.is_file() and path.read_text(encoding="utf-8") == wanted for path in stamps):
        return python
    target = f".[{extra}]" if extra else "."
    say(f"installing {target} into {ENVIRONMENT} ...")
    install = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-e", target]
    environment = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore"}
    if subprocess.run(install, cwd=ROOT, env=environment, check=False).returncode != 0:
        raise SetupError(f"{ENVIRONMENT}: pip could not install {target}; its own words stand above.")
    stamp.write_text(wanted, encoding="utf-8")
    return python
