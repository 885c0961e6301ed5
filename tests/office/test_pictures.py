"""What is printed: every tab one page wide on A4 and on Letter, with no label cut off, at a size to read."""

import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from sheetgen.commands.demo import sample_entries
from sheetgen.commands.read import ReadSummary
from sheetgen.protocols.names import entry_names
from sheetgen.texts.languages import languages
from tests.office.client import Office
from tests.office.pictures import PAPERS, on_paper, printed
from tests.sheets import CALIPERS, Sheet, settings_with, sheet_of

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
    """What stands on each tab as it is handed out, but for the way to the next tab, which is of use on a
    screen alone, and the lines of steps of a tab that leaves them out on paper."""
    return {
        tab.title: [
            cell.value
            for cell in tab.cells
            if cell.role in ("label", "formula") and isinstance(cell.value, str) and cell.value
            if cell.name not in sheet.identity.values
            if not cell.link and (cell.row == 0 or cell.row >= tab.printed_from)
        ]
        for tab in sheet.layout.tabs
        if not tab.hidden
    }


def _points(pdf: Path) -> list[float]:
    """The size of most letters of each page [points]."""
    program = shutil.which("pdftotext")
    assert program is not None, "pdftotext is not installed: install poppler-utils"
    said = subprocess.run([program, "-bbox", str(pdf), "-"], capture_output=True, check=True).stdout.decode()
    pages = []
    for page in said.split("<page ")[1:]:
        words = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)"', page)
        # A box of a word is 1.3 times as high as its letters are large.
        heights = Counter(round((float(low) - float(high)) / 1.3, 1) for high, low in words)
        pages.append(heights.most_common(1)[0][0])
    return pages


def _with_drill(protocol_id: str) -> Sheet:
    return sheet_of(settings_with(protocol_id=protocol_id, reading_drill=True))


@pytest.fixture(scope="module")
def print_of(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], Path]:
    """Prints the sheet of a protocol, with a drill and as it is handed out, on a paper, each once."""

    @cache
    def pdf_of(protocol_id: str, paper: str) -> Path:
        folder = tmp_path_factory.mktemp("print")
        (folder / "sheet.xlsx").write_bytes(_with_drill(protocol_id).data)
        return printed(folder / "sheet.xlsx", folder / "sheet.pdf", office, paper)

    return pdf_of


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("protocol_id", PROTOCOLS)
def test_every_label_of_every_tab_is_printed_whole_and_one_page_wide(
    print_of: Callable[[str, str], Path], protocol_id: str, paper: str
) -> None:
    sheet, pdf = _with_drill(protocol_id), print_of(protocol_id, paper)
    pages = _pdf_text(pdf)
    # A tab wider than its page would start more pages than its length asks for, each without a title.
    titles = [page.split("\n", 1)[0].strip() for page in pages]
    assert list(dict.fromkeys(titles)) == [tab.title for tab in sheet.layout.tabs if not tab.hidden]
    # Sites has a page for the steps of a fold. About begins one for the cautions, and takes one more where
    # the equations are many.
    sites, about = (sheet.layout.tab(key).title for key in ("sites", "about"))
    several = {title: times for title, times in Counter(titles).items() if times > 1}
    assert several == {sites: 2, about: 3 if protocol_id == "four-sites" else 2}
    assert "###" not in " ".join(pages)
    for title, labels in _labels(sheet).items():
        # Word by word: texts side by side come out of the file line by line.
        printed_words = Counter(word for page, of in zip(pages, titles, strict=True) if of == title
                                for word in page.split())  # fmt: skip
        wanted = Counter(word for label in labels for word in label.split())
        assert wanted - printed_words == Counter(), title
    assert _sizes(pdf) == {SIZES[paper]}


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("language", languages())
def test_filled_sheet_is_printed_at_10_points_and_tables_at_9(
    office: Office, tmp_path: Path, language: str, paper: str
) -> None:
    sheet = sheet_of(settings_with(language=language, reading_drill=True))
    path, pdf = tmp_path / "sheet.xlsx", tmp_path / "sheet.pdf"
    path.write_bytes(sheet.data)
    entries = sample_entries(sheet.source.protocol, sheet.source.settings, CALIPERS[0], "S01")
    rules = {cell.name: cell.rule for tab in sheet.layout.tabs for cell in tab.cells if cell.rule is not None}
    words = {name: dict(zip(rule.codes, rule.words, strict=False)) for name, rule in rules.items()}
    with office.workbook(on_paper(path, paper, tmp_path / "on-paper.xlsx")) as handle:
        said = {**entries, "data_source": "measured"}.items()
        office.set(handle, [[*sheet.place(name), words[name].get(value, value)] for name, value in said])
        office.to_pdf(handle, pdf)
    tables = {sheet.layout.tab(key).title for key in ("readings", "working", "results")}
    titles = [page.split("\n", 1)[0].strip() for page in _pdf_text(pdf)]
    small = {
        (title, points)
        for title, points in zip(titles, _points(pdf), strict=True)
        if points < (9 if title in tables else 10)
    }
    assert small == set()
    assert titles.count(sheet.layout.tab("sites").title) == 2
    assert titles.count(sheet.layout.tab("drill").title) == 1


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_every_page_carries_the_copy_code_and_its_number(
    print_of: Callable[[str, str], Path], paper: str
) -> None:
    pages = _pdf_text(print_of("seven-sites", paper))
    assert len(pages) > 8
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
    assert len(entry_names(sheet.source.protocol)) == 61


def test_report_of_the_demo_is_eight_printed_pages_at_most_each_to_be_read(
    office: Office, demo: ReadSummary, tmp_path: Path
) -> None:
    pdf = printed(Path(demo.results) / "report.xlsx", tmp_path / "report.pdf", office)
    pages = _pdf_text(pdf)
    assert len(pages) <= 8
    titles = [page.split("\n", 1)[0].strip() for page in pages]
    assert titles[:3] == [
        "Today: session 1, demo-class",
        "Marks, session 1",
        "What to teach again, session 1",
    ]
    assert not any(page.startswith(("Details", "Codes and names")) for page in pages)
    # Whole names: none is cut by a column.
    marks = " ".join(pages[1].split())
    assert [person for person in ("Ignác Šedivý-Loft", "Hana Brightwater") if person not in marks] == []
    assert [points for points in _points(pdf) if points < 9] == []
