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
WHEELS = ROOT / ".wheels"
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
    try:
        ENVIRONMENT.mkdir(exist_ok=True)
    except OSError as fault:
        raise SetupError(
            f"{ROOT}: found no right to write here ({fault.strerror}); expected a folder of your own. Copy it"
            f" into your own files and start again there: {copied_command()}"
        ) from fault
    # A moved folder leaves links in .venv that lead nowhere.
    command = [sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)]
    if works(*command) or without_ensurepip():
        return
    if sys.executable.startswith("/usr/bin/") and install_system_packages("python3-venv") and works(*command):
        return
    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    raise SetupError(
        f"{ENVIRONMENT}: {sys.executable} -m venv failed; expected a Python that makes environments. Type:"
        f" sudo apt-get install {package} (Debian, Ubuntu; elsewhere your system's package for it), and start"
        f" again. Without an administrator: start {Path(sys.argv[0]).name} with another Python, such as one"
        " that you installed into your own files."
    )


def copied_command() -> str:
    """What to type to start the same script from a copy of the folder in the home folder."""
    script = Path(sys.argv[0]).resolve()
    inside = script.relative_to(ROOT) if script.is_relative_to(ROOT) else Path("samples", "demo.py")
    if os.name == "nt":
        return f'xcopy /e /i "{ROOT}" "%USERPROFILE%\\sheetgen" && py "%USERPROFILE%\\sheetgen\\{inside}"'
    return f'cp -R "{ROOT}" ~/sheetgen && python3 ~/sheetgen/{inside.as_posix()}'


def without_ensurepip() -> bool:
    """Make .venv by what else this Python may have: virtualenv, or a pip that fills other environments."""
    if works(sys.executable, "-m", "virtualenv", "--clear", ENVIRONMENT):
        return True
    bare = (sys.executable, "-m", "venv", "--clear", "--without-pip", ENVIRONMENT)
    pip = (sys.executable, "-m", "pip", "--python", program("python"), "install", *offline(), "pip")
    return works(sys.executable, "-m", "pip", "--version") and works(*bare) and works(*pip)


def offline() -> list[str]:
    """What pip is told where packages were brought along in .wheels."""
    return ["--no-index", "--find-links", str(WHEELS)] if WHEELS.is_dir() else []


def fingerprint() -> str:
    """Changes when the project's needs or its place change; of an installed copy, when its files do."""
    text = (ROOT / "pyproject.toml").read_bytes() + str(ROOT).encode()
    if not editable():
        folders = (ROOT / "sheetgen", ROOT / "templates")
        paths = sorted(path for folder in folders for path in folder.rglob("*.[ptm]*") if path.is_file())
        text += b"".join(path.read_bytes() for path in paths if path.suffix != ".pyc")
    return hashlib.sha256(text).hexdigest()


def editable() -> list[str]:
    """The option that lets changes of the code take effect; not where the path of the folder has accents,
    which some Pythons read back as other letters."""
    return ["-e"] if str(ROOT).isascii() else []


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
    # Of what is installed a tenth is ever run: what is, is compiled then.
    quiet = ["--quiet", "--disable-pip-version-check", "--no-compile"]
    install = [str(python), "-m", "pip", "install", *quiet, *offline()]
    environment = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore"}
    command = [*install, *editable(), target]
    if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode != 0:
        raise SetupError(
            f"{ENVIRONMENT}: pip could not install {target}; its own words stand above. Without network: on"
            " a computer of the same kind that has one, in a copy of this folder, type:"
            f" {download_command(target)}; copy the folder .wheels from there to here, and start again."
        )
    try:
        stamp.write_text(wanted, encoding="utf-8")
    except OSError as fault:
        raise SetupError(
            f"{stamp}: found no right to write ({fault.strerror}); expected your own .venv. Start again in a"
            f" copy of your own: {copied_command()}"
        ) from fault
    return python


def download_command(target: str) -> str:
    """What to type to bring along everything that pip would fetch."""
    python = "py" if os.name == "nt" else "python3"
    return f'{python} -m pip wheel --wheel-dir .wheels "{target}" pip hatchling editables'
