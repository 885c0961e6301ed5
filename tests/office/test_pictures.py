"""What is printed: every tab one page wide on A4 and on Letter, with no label cut off."""

import re
import shutil
import subprocess
from collections import Counter
from pathlib import Path

import pytest

from sheetgen.protocols.names import entry_names
from tests.office.client import Office
from tests.office.pictures import PAPERS, on_paper, printed
from tests.sheets import Sheet, settings_with, sheet_of

# Width and height of a page in points, portrait.
SIZES = {"A4": (595, 842), "Letter": (612, 792)}
PROTOCOLS = ("seven-sites", "four-sites", "youth-two-sites")


def _pdf_text(pdf: Path) -> list[str]:
    """The words of each page, in the order of reading and without line breaks."""
    program = shutil.which("pdftotext")
    assert program is not None, "pdftotext is not installed: install poppler-utils"
    text = subprocess.run([program, str(pdf), "-"], capture_output=True, check=True).stdout.decode("utf-8")
    return text.split("\f")[:-1]


def _sizes(pdf: Path) -> set[tuple[int, int]]:
    program = shutil.which("pdfinfo")
    assert program is not None, "pdfinfo is not installed: install poppler-utils"
    said = subprocess.run([program, "-l", "99", str(pdf)], capture_output=True, check=True).stdout.decode()
    found = re.findall(r"size:\s+([\d.]+) x ([\d.]+) pts", said)
    return {(min(pair), max(pair)) for pair in ((round(float(a)), round(float(b))) for a, b in found)}


def _labels(sheet: Sheet) -> dict[str, list[str]]:
    """What stands on each tab as it is handed out."""
    return {
        tab.title: [
            cell.value
            for cell in tab.cells
            if cell.role in ("label", "formula") and isinstance(cell.value, str) and cell.value
            if cell.name not in sheet.identity.values
        ]
        for tab in sheet.layout.tabs
        if not tab.hidden
    }


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("protocol_id", PROTOCOLS)
def test_every_label_of_every_tab_is_printed_whole_and_one_page_wide(
    office: Office, tmp_path: Path, protocol_id: str, paper: str
) -> None:
    sheet = sheet_of(settings_with(protocol_id=protocol_id))
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    pdf = printed(path, tmp_path / "sheet.pdf", office, paper)
    pages = _pdf_text(pdf)
    # A tab wider than its page would start more pages than its length asks for, each without a title.
    titles = [page.split("\n", 1)[0].strip() for page in pages]
    assert list(dict.fromkeys(titles)) == [tab.title for tab in sheet.layout.tabs if not tab.hidden]
    assert len(pages) <= 7
    for title, labels in _labels(sheet).items():
        # Word by word: texts side by side come out of the file line by line.
        printed_words = Counter(word for page, of in zip(pages, titles, strict=True) if of == title
                                for word in page.split())  # fmt: skip
        wanted = Counter(word for label in labels for word in label.split())
        assert wanted - printed_words == Counter(), title
    assert _sizes(pdf) == {SIZES[paper]}


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_every_page_carries_the_copy_code_and_its_number(office: Office, tmp_path: Path, paper: str) -> None:
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet_of().data)
    pages = _pdf_text(printed(path, tmp_path / "sheet.pdf", office, paper))
    for number, page in enumerate(pages, start=1):
        assert "Sheet 7K3F-9QXM" in page
        assert f"Page {number} of {len(pages)}" in page


def test_copy_on_another_paper_differs_in_the_paper_only(tmp_path: Path) -> None:
    sheet = sheet_of()
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    same = on_paper(path, "A4", tmp_path / "same.xlsx").read_bytes()
    other = on_paper(path, "Letter", tmp_path / "other.xlsx").read_bytes()
    assert same != other
    assert len(entry_names(sheet.source.protocol)) == 59
