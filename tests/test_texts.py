"""The texts: each is used, none is missing, and none is longer than the file format takes."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import book_texts
from sheetgen.class_book.reading_back import BookKnown, class_book_from
from sheetgen.class_book.tabs import class_book_layout
from sheetgen.class_folder.records import Person
from sheetgen.finding import SEVERITIES
from sheetgen.marking.marks import MARK_STATUSES
from sheetgen.protocols.names import FORMER_LEFT_OUT, SIDE_WORDS
from sheetgen.protocols.settings import SheetSettings
from sheetgen.report.tables import (
    ATTEMPTS,
    FILES,
    FINDINGS,
    MARKS,
    MARKS_BY_ITEM,
    PRECISION,
    READINGS,
    SITES,
    SLIPS,
    STATUSES,
)
from sheetgen.sheet.reference_tabs import FIGURES
from sheetgen.sheet.student import SheetCopy, sheet_identity, source_of, student_layout
from sheetgen.statistics.precision import LEFT_OUT_TOLD
from sheetgen.statistics.same_numbers import KINDS
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import load_texts
from sheetgen.workbook.layout import Layout
from sheetgen.workbook.snapshot import Snapshot
from tests.class_books import default_class_book
from tests.sheets import SETTINGS

SOURCES = Path(__file__).resolve().parents[1] / "sheetgen"
VARIANTS = (
    SETTINGS,
    replace(SETTINGS, tolerance_kind="percent", tolerance=10.0, show_results="always", conversion="brozek"),
    replace(SETTINGS, site_rule="closest-pair", show_results="never", reading_drill=True),
)


class Recording(Mapping[str, str]):
    """Texts that remember which of them were asked for."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.texts = texts
        self.asked: set[str] = set()

    def __getitem__(self, key: str) -> str:
        self.asked.add(key)
        return self.texts[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.texts)

    def __len__(self) -> int:
        return len(self.texts)


def student_layouts(texts: Mapping[str, str], settings: SheetSettings) -> list[Layout]:
    """Layouts of a protocol as shipped, and of one with every direction of fold and no range of sums."""
    protocol = source_of(settings).protocol
    first, *rest = protocol.sites
    other = replace(
        protocol,
        sites=(replace(first, direction="horizontal"), *rest),
        equations=tuple(replace(one, sum_minimum=None, sum_maximum=None) for one in protocol.equations),
    )
    sheet_identity(protocol, settings, texts, SheetCopy("2345-6789", "23456A", "S01", "P-2345", 1, "C1"))
    return [student_layout(one, settings, "{}", texts) for one in (protocol, other)]


def book_layouts(texts: Mapping[str, str], settings: SheetSettings) -> list[Layout]:
    protocol = source_of(settings).protocol
    people = [Person("S01", "Ada", "Fen"), Person("S02", "Bo", "Heath")]
    book = default_class_book("23456A", "class", settings, people)
    known = BookKnown(settings, texts, load_catalogue(), [protocol])
    class_book_from(Snapshot((), {}, {}, True), known)
    return [class_book_layout(texts, book, [protocol])]


def in_sources() -> set[str]:
    """Every quoted text in the sources that has the shape of a key."""
    quoted = re.compile(r"""["']([a-z_]+\.[A-Za-z0-9_-]+)["']""")
    return {key for path in SOURCES.rglob("*.py") for key in quoted.findall(path.read_text(encoding="utf-8"))}


def test_every_text_is_used() -> None:
    texts = Recording(book_texts())
    for settings in VARIANTS:
        student_layouts(texts, settings)
        book_layouts(texts, settings)
    # The report takes all of these words at once.
    states = {key for key in texts if key.startswith("state.")}
    captions = {f"figure.{word}" for name, figure in FIGURES.items() for word in (name, figure.view)}
    # Sites of other protocols, and words that stand on sheets handed out earlier.
    elsewhere = {f"site_fault.{word}" for word in FIGURES} | {f"word.{word}" for word in FORMER_LEFT_OUT}
    assert sorted(set(texts) - texts.asked - states - captions - elsewhere - in_sources()) == []


@pytest.mark.parametrize("settings", VARIANTS)
def test_no_text_is_missing(settings: SheetSettings) -> None:
    texts = book_texts()
    layouts = student_layouts(load_texts("en"), settings) + book_layouts(texts, settings)
    assert len(layouts) == 3


@pytest.mark.parametrize("settings", VARIANTS)
def test_no_text_is_longer_than_the_file_format_takes(settings: SheetSettings) -> None:
    """Input and error messages 255 characters, their title 32, a formula 8,192, a text inside one 255.

    Limits of the Open XML spreadsheet format.
    """
    layouts = student_layouts(load_texts("en"), settings) + book_layouts(book_texts(), settings)
    cells = [cell for layout in layouts for tab in layout.tabs for cell in tab.cells]
    rules = [cell.rule for cell in cells if cell.rule is not None]
    assert [rule for rule in rules if len(rule.title) > 32] == []
    assert [rule for rule in rules if max(len(rule.prompt), len(rule.error), len(rule.formula)) > 255] == []
    assert [cell for cell in cells if len(cell.formula) > 8192] == []
    inside = [text for cell in cells for text in re.findall(r'"((?:[^"]|"")*)"', cell.formula)]
    assert [text for text in inside if len(text) > 255] == []


def test_no_text_has_a_place_left_open() -> None:
    """A `{name}` that nothing filled in would stand in the sheet."""
    for settings in VARIANTS:
        for layout in student_layouts(load_texts("en"), settings) + book_layouts(book_texts(), settings):
            cells = [cell for tab in layout.tabs for cell in tab.cells]
            open_places = [
                cell.value
                for cell in cells
                if isinstance(cell.value, str)
                and re.search(r"\{[a-z_]*\}", cell.value)
                and cell.value != "{}"
            ]
            assert open_places == []
            assert [cell.formula for cell in cells if re.search(r"\{[a-z_]+\}", cell.formula)] == []


REPORT = load_texts("report.en")
WORDS_OF = {
    "report_status.": set(STATUSES),
    "report_severity.": set(SEVERITIES),
    "report_mark_status.": {status.replace(" ", "-") for status in MARK_STATUSES},
    "report_side.": set(SIDE_WORDS),
    "report_judgement.": {
        "skilled", "close-skilled", "beginner", "close-beginner", "above", "few-people"
    },
    "report_left_out.": set(LEFT_OUT_TOLD),
    "report_retest.band_": {"class", "published", "both"},
    "report_today.": {
        *STATUSES, "missing", "no_missing", "more_missing", "waiting", "no_waiting", "teach", "no_teach",
        "talk", "no_talk", "more_talk", "came_back", "what", "which", "where", "ask", "what_and_say",
        "answers", "answers_at", "decisions", "decisions_at", "refused_files", "refused_files_at",
        "messages", "messages_at",
        *(f"not_{word}" for word in ("worst", "between", "teacher", "calipers")),
    },
    "report_data.": {
        f"{word}{ending}"
        for word in ("tem", "limits", "icc", "agreement", "change", "tests", "counts")
        for ending in ("", "_source")
    },
    "report_same_numbers.cause_": {"1", "2", "3", "4", "5", "6", "7", "8"},
    "report_same.": {"equal", "swapped", "shifted", "swapped-shifted", "practice", "again"},
    "report_same_kind.": set(KINDS),
    "report_same_numbers.": {"different_people", "same_person", "no_pair", "one_pair", "pairs"},
    "report_words.caliper_": {"high", "high_zero", "low", "low_zero", "not_told", "one_measurer"},
    "report_agreement.": {"between", "total", "icc"},
    "report_calipers.left_out_": {"unclear", "far", "same"},
    "report_pile_up.": {"thinner", "expected_thinner", "identical", "expected_identical"},
    "report_reason.": {"another-caliper", "another-protocol", "other-side"},
}  # fmt: skip
"""Code words that the report looks up a text for, by the beginning of its key."""


def sections_in_sources() -> set[str]:
    """Every section of the texts that a tab of the report has its name and its title from."""
    quoted = re.compile(r'"(report_[a-z_]+)"')
    sources = [path.read_text(encoding="utf-8") for path in SOURCES.rglob("*.py")]
    return {section for source in sources for section in quoted.findall(source)}


def reasons_in_sources() -> set[str]:
    """Every code word of why a statistic cannot be given. `no-change-score` is worded by its own reasons."""
    code = re.compile(r"""(?:Undefined|_then)\(\s*"([a-z0-9-]+)\"""")
    sources = [path.read_text(encoding="utf-8") for path in SOURCES.rglob("*.py")]
    return {word for source in sources for word in code.findall(source)} - {"no-change-score"}


def test_every_text_of_the_report_is_used_and_none_is_missing() -> None:
    asked = {key for key in in_sources() if key.startswith("report_")}
    shapes = (ATTEMPTS, SITES, READINGS, PRECISION, FILES, FINDINGS, MARKS, MARKS_BY_ITEM, SLIPS)
    asked |= {f"{section}.{part}" for section in sections_in_sources() for part in ("tab", "title")}
    asked |= {field.text for shape in shapes for field in shape.fields}
    asked |= {f"report_table.{shape.name}{ending}" for shape in shapes for ending in ("", "_holds")}
    asked |= {beginning + word for beginning, words in WORDS_OF.items() for word in words}
    asked |= {f"report_reason.{reason}" for reason in reasons_in_sources()}
    assert sorted(asked - set(REPORT)) == []
    assert sorted(set(REPORT) - asked) == []


def test_tabs_of_the_report_have_names_that_the_file_format_takes() -> None:
    names = [text for key, text in REPORT.items() if re.fullmatch(r"report_[a-z_]+\.tab", key)]
    tabs = [name for name in names if name != REPORT["report_column.tab"]]
    assert [tab for tab in tabs if len(tab) > 31 or re.search(r"[\[\]:*?/\\\\]", tab)] == []
    assert len({tab.casefold() for tab in tabs}) == len(tabs) == 10


def test_a_text_stands_in_one_file() -> None:
    files = [
        set(load_texts(name)) for name in ("en", "class-book.en", "report.en", "marking.en", "feedback.en")
    ]
    assert sum(map(len, files)) == len(set().union(*files))
