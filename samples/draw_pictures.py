"""Draw the pictures of the README into samples/pictures: `python samples/draw_pictures.py [FOLDER]`.

From two invented classes, one in English and one in Spanish, printed through the test spreadsheet program and
cropped. Printed with the font of the tests (tests/office/fonts.conf), so that they come out alike everywhere.
"""

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace
from PIL import Image, ImageChops

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import DEMO_CALIPERS, fill_sheets, run_demo, run_term
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned
from sheetgen.texts.templates import templates_folder
from tests.office.client import Office
from tests.office.pictures import printed

ROOT = Path(__file__).resolve().parents[1]
WIDEST = 1200
"""Pixels across, as a README shows them at most."""
GREYS_AND_COLOURS = 64
DOTS_PER_INCH = 150
MARGIN = 16
STUDENT = "L10"
"""Has a site that needed a third reading."""
_SPANISH_BUILDS = (
    "plicómetro de resorte, ramas de metal", "plicómetro de resorte, ramas de plástico",
    "plicómetro de reloj, ramas de metal", "plicómetro deslizante, plástico",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture. workbook : of which class and file. page : of the print, from 1.

    share : of the height that is shown, from the top.
    """

    name: str
    workbook: str
    page: int
    share: float = 1.0


PICTURES = (
    Picture("paper-form", "paper", 1),
    Picture("report", "report", 1),
    Picture("class-book", "book", 1),
    Picture("readings-es", "filled-es", 6),
    Picture("steps", "cards", 1),
    Picture("site-card", "cards", 4),
    Picture("run-sheet", "teacher", 6),
    Picture("two-calipers", "term", 6),
    Picture("measurers", "term", 11),
)


def main(arguments: list[str]) -> int:
    """Command line: [FOLDER]."""
    target = Path(arguments[0]) if arguments else ROOT / "samples" / "pictures"
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as work, Office.start() as office:
        workbooks = _workbooks(Path(work))
        for picture in PICTURES:
            pdf = printed(workbooks[picture.workbook], Path(work) / f"{picture.name}.pdf", office)
            path = target / f"{picture.name}.png"
            cropped(_page(pdf, picture.page), picture.share).save(path, optimize=True)
            print(path)
    return 0


def _workbooks(work: Path) -> Mapping[str, Path]:
    """The classes are made, and their workbooks found."""
    english, spanish = ClassFolder(work / "evening school"), work / "escuela nocturna"
    run_demo(english.root)
    run_term(english)
    calipers = tuple(
        replace(one, build=build) for one, build in zip(DEMO_CALIPERS, _SPANISH_BUILDS, strict=True)
    )
    roster = templates_folder() / "demo" / "roster.csv"
    folder = new_class(spanish, roster, calipers=calipers, secret="1d" * 32, language="es")
    build_sheets(folder, 1)
    fill_sheets(folder, 1)
    read_returned(folder, 1, today="2027-01-15")
    return {
        "paper": english.paper_forms(1),
        "report": english.report(1),
        "book": english.book,
        "cards": english.site_cards(3),
        "teacher": english.handouts(3),
        "term": english.report(3),
        "filled-es": _one(folder.returned(1)),
    }


def _one(folder: Path) -> Path:
    return next(iter(sorted(folder.glob(f"{STUDENT}_*.xlsx"))))


def _page(pdf: Path, number: int) -> Image.Image:
    painter = shutil.which("pdftoppm")
    if painter is None:
        raise SystemExit("pdftoppm is not installed: install poppler-utils")
    options = ["-r", str(DOTS_PER_INCH), "-f", str(number), "-l", str(number), "-png", "-singlefile"]
    subprocess.run([painter, *options, str(pdf), str(pdf.with_suffix(""))], check=True)
    with Image.open(pdf.with_suffix(".png")) as page:
        return page.convert("RGB")


def cropped(page: Image.Image, share: float = 1.0) -> Image.Image:
    """Return what stands on a page without its empty edges and its number, at most WIDEST across."""
    above_number = page.crop((0, 0, page.width, int(page.height * 0.92)))
    box = ImageChops.invert(above_number).getbbox()
    if box is None:
        raise SystemExit("the page is empty")
    left, top, right, bottom = box
    bottom = top + int((bottom - top) * share)
    edges = (max(left - MARGIN, 0), max(top - MARGIN, 0), right + MARGIN, bottom + MARGIN)
    shown = page.crop(edges)
    if shown.width > WIDEST:
        shown = shown.resize((WIDEST, round(shown.height * WIDEST / shown.width)), Image.Resampling.LANCZOS)
    return shown.quantize(GREYS_AND_COLOURS)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
