"""Pictures of a workbook's printed pages, to look at: `python tests/office/pictures.py FILE FOLDER PAPER`."""

import contextlib
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.office.client import Office, OfficeError

DOTS_PER_INCH = 70
PAPERS = {"A4": 9, "Letter": 1}
"""The numbers that the file format has for sizes of paper."""


def on_paper(workbook: Path, paper: str, copy: Path) -> Path:
    """Write a copy of a workbook whose tabs ask for a paper, one of PAPERS, and return its path."""
    with zipfile.ZipFile(workbook) as source, zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            part = source.read(name)
            if name.startswith("xl/worksheets/sheet"):
                part = re.sub(rb'paperSize="\d+"', f'paperSize="{PAPERS[paper]}"'.encode(), part)
            target.writestr(name, part)
    return copy


def printed(workbook: Path, pdf: Path, office: Office, paper: str = "A4") -> Path:
    """Print a workbook into a PDF file and return its path."""
    with tempfile.TemporaryDirectory() as work:
        copy = on_paper(workbook, paper, Path(work) / workbook.name)
        with office.workbook(copy) as handle:
            office.to_pdf(handle, pdf)
    return pdf


def render(workbook: Path, folder: Path, office: Office | None = None, paper: str = "A4") -> list[Path]:
    """Print a workbook and return one PNG a page, as FOLDER/NAME-PAGE.png, in the order of the pages.

    An office that already runs saves the time of starting one. Raises OfficeError where a program is missing.
    """
    painter = shutil.which("pdftoppm")
    if painter is None:
        raise OfficeError("pdftoppm is not installed: install poppler-utils")
    folder.mkdir(parents=True, exist_ok=True)
    with contextlib.ExitStack() as stack:
        running = office or stack.enter_context(Office.start())
        work = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        printed(workbook, work / "pages.pdf", running, paper)
        subprocess.run(
            [painter, "-r", str(DOTS_PER_INCH), "-png", str(work / "pages.pdf"), str(work / workbook.stem)],
            check=True,
        )
        return [Path(shutil.move(page, folder / page.name)) for page in sorted(work.glob("*.png"))]


def main(arguments: list[str]) -> int:
    """Command line: FILE FOLDER [PAPER]."""
    if len(arguments) not in (2, 3) or arguments[2:] not in ([], *([paper] for paper in PAPERS)):
        print("usage: python tests/office/pictures.py FILE FOLDER [A4 | Letter]", file=sys.stderr)
        return 2
    for page in render(Path(arguments[0]), Path(arguments[1]), paper=(*arguments[2:], "A4")[0]):
        print(page)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
