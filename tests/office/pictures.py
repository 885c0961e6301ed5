"""Pictures of a workbook's printed pages, to look at: `python tests/office/pictures.py FILE FOLDER`."""

import contextlib
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.office.client import Office, OfficeError

__all__ = ["main", "render"]

DOTS_PER_INCH = 70


def render(workbook: Path, folder: Path, office: Office | None = None) -> list[Path]:
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
        with running.workbook(workbook) as handle:
            running.to_pdf(handle, work / "pages.pdf")
        subprocess.run(
            [painter, "-r", str(DOTS_PER_INCH), "-png", str(work / "pages.pdf"), str(work / workbook.stem)],
            check=True,
        )
        return [Path(shutil.move(page, folder / page.name)) for page in sorted(work.glob("*.png"))]


def main(arguments: list[str]) -> int:
    """Command line: FILE FOLDER."""
    if len(arguments) != 2:
        print("usage: python tests/office/pictures.py FILE FOLDER", file=sys.stderr)
        return 2
    for page in render(Path(arguments[0]), Path(arguments[1])):
        print(page)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
