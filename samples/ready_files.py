"""Make the sheet and the report that a visitor can open before anything is installed, in samples/:
`python samples/ready_files.py [FOLDER]`."""

import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.demo import run_demo

ROOT = Path(__file__).resolve().parents[1]
NAMES = ("filled-sheet.xlsx", "report.xlsx")
STUDENT = "L01"
"""Typed without a fault."""


def copied(folder: ClassFolder, target: Path) -> None:
    """Copy both files of the sample class, read before."""
    (sheet,) = folder.returned(1).glob(f"{STUDENT}_*.xlsx")
    for source, name in zip((sheet, folder.report(1)), NAMES, strict=True):
        shutil.copyfile(source, target / name)


def main() -> None:
    """Make the class somewhere else and copy."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "samples"
    with tempfile.TemporaryDirectory() as place:
        run_demo(Path(place) / "class")
        copied(ClassFolder(Path(place) / "class"), target)


if __name__ == "__main__":
    main()
