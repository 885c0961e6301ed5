"""The whole job in Spanish: the same numbers and the same code words, and nothing left in English."""

import csv
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from tempfile import mkdtemp

import msgspec
import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import load_book
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import sample_entries
from sheetgen.commands.new import new_class, update_class
from sheetgen.commands.read import ReadSummary, read_returned
from sheetgen.protocols.names import listed_words
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.entries import entries_of
from sheetgen.texts.languages import list_words, texts_in
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.packages import filled
from sheetgen.workbook.snapshot import CellState, TabState
from tests.classes import ROSTER, changed_setting, copied, only_line, run
from tests.sheets import SETTINGS, sheet_of

SECRET = "0c" * 32
DAY = "2027-03-01"
FILES = {
    "class": ("sheet", "class-book"),
    "sheet": ("sheet",),
    "review": ("sheet", "marking", "review"),
    "feedback": ("sheet", "marking", "feedback"),
    "report": ("sheet", "report"),
    "paper": ("sheet", "paper"),
    "handouts": ("sheet", "paper", "review"),
}
"""Workbook to the files of texts it is made of."""


def layout_of(folder: ClassFolder, student_id: str) -> tuple[Layout, BuiltWith, str]:
    records = (builds[-1] for builds in keep.load_records(folder).values())
    record = next(one for one in records if one.student_id == student_id)
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    return layout, msgspec.json.decode(layout.settings_text, type=BuiltWith), record.file_name


def hand_in(folder: ClassFolder, student_id: str, changed: Mapping[str, Value]) -> None:
    """Put the sheet of a student, filled in well, then some of it otherwise, into returned/."""
    layout, built_with, name = layout_of(folder, student_id)
    protocol, settings = built_with.protocol, built_with.settings
    entries: dict[str, Value] = {
        **sample_entries(protocol, settings, settings.calipers[0], student_id),
        **changed,
    }
    seen = {"caliper_id": "C1", "data_source": "measured", "side": "right", **entries}
    results = stored_results(protocol, settings, seen)
    data = filled((folder.sheets(1) / name).read_bytes(), layout, entries, results)
    (folder.returned(1) / name).write_bytes(data)


@lru_cache(maxsize=2)
def lesson(language: str) -> tuple[ClassFolder, ReadSummary]:
    """A class of four from set-up to feedback: good sheets, a site left out, a reading off the scale."""
    place = Path(mkdtemp())
    roster = place / "roster.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    folder = new_class(place / "class", roster, secret=SECRET, language=language)
    build_sheets(folder, 1)
    hand_in(folder, "S01", {})
    left_out = {f"reading_{number}_abdominal": None for number in (1, 2, 3)}
    hand_in(folder, "S02", {**left_out, "not_taken_abdominal": "declined"})
    hand_in(folder, "S03", {"reading_1_thigh": 15.3, "data_source": "practice"})
    return folder, read_returned(folder, 1, today=DAY)


def workbooks(folder: ClassFolder) -> Iterator[tuple[str, Path]]:
    yield "class", folder.book
    yield "sheet", sorted(folder.sheets(1).glob("S*.xlsx"))[0]
    yield "review", folder.review(1)
    yield "feedback", sorted(folder.feedback(1).glob("*.xlsx"))[1]
    yield "report", folder.report(1)
    yield "paper", folder.paper_forms(1)
    yield "cards", folder.site_cards(1)
    yield "handouts", folder.handouts(1)


def visible_texts(path: Path) -> set[str]:
    """Tab names, texts in cells, and messages of the tabs that people see."""
    workbook = openpyxl.load_workbook(path)
    found: set[str] = set()
    for sheet in workbook.worksheets:
        if sheet.sheet_state != "visible":
            continue
        found.add(sheet.title)
        for row in sheet.iter_rows(values_only=True):
            found |= {value for value in row if isinstance(value, str) and not value.startswith("=")}
        for rule in sheet.data_validations.dataValidation:
            found |= {text for text in (rule.prompt, rule.promptTitle, rule.error) if text}
    return found


def english_only(*files: str) -> set[str]:
    """Texts that stand in the English files and in no Spanish one."""
    spanish = {text for name in files for text in texts_in("es", name).values()}
    return {text for name in files for text in texts_in("en", name).values()} - spanish


@pytest.mark.parametrize("workbook", FILES)
def test_nothing_is_left_in_english(workbook: str) -> None:
    """No visible text of a Spanish workbook is one of the texts that only the English files have."""
    path = dict(workbooks(lesson("es")[0]))[workbook]
    assert sorted(visible_texts(path) & english_only(*FILES[workbook])) == []


def test_every_sheet_is_accepted_as_in_english() -> None:
    spanish, english = lesson("es")[1], lesson("en")[1]
    assert [one.status for one in spanish.attempts] == ["accepted", "accepted", "accepted"]
    codes = [[finding.code for finding in one.findings] for one in spanish.attempts]
    assert codes == [[finding.code for finding in one.findings] for one in english.attempts]
    assert codes == [[], ["procedure-less-measured"], ["entry-off-scale", "procedure-third-missing"]]


def test_numbers_and_code_words_are_the_same_to_the_last_bit() -> None:
    spanish, english = lesson("es")[1], lesson("en")[1]
    entries = [dict(one.entries) for one in spanish.attempts]
    assert entries == [dict(one.entries) for one in english.attempts]
    assert [one["data_source"] for one in entries] == ["measured", "measured", "practice"]
    assert [one.results for one in spanish.attempts] == [one.results for one in english.attempts]


def test_tables_have_the_same_columns_and_values() -> None:
    """But for what is meant to be read: found, expected, remedy; and the digest of the file."""
    folders = [lesson(language)[0] for language in ("en", "es")]
    for name in ("attempts", "sites", "readings", "findings", "marks"):
        tables = []
        for folder in folders:
            with getattr(folder, name)(1).open(encoding="utf-8", newline="") as stream:
                rows = list(csv.DictReader(stream))
            words = ("found", "expected", "remedy", "sha256", "tab")
            tables.append([{key: cell for key, cell in row.items() if key not in words} for row in rows])
        assert tables[0] == tables[1]
        assert len(tables[0]) > 0


def test_lists_show_translated_words_and_names_hold_code_words() -> None:
    sheet = sheet_of(replace(SETTINGS, language="es"))
    workbook = openpyxl.load_workbook(sorted(lesson("es")[0].sheets(1).glob("S*.xlsx"))[0])
    assert workbook.defined_names["data_source"].attr_text.startswith("Calculadora!")
    assert workbook.defined_names["typed_data_source"].attr_text.startswith("Inicio!")
    key, row, column = sheet.layout.places()["data_source"]
    cell = next(one for one in sheet.layout.tab(key).cells if (one.row, one.column) == (row, column))
    assert cell.value == "medido"
    assert cell.rule is not None and cell.rule.words == ("medido", "práctica")
    mirror = next(one for one in sheet.layout.tab("calculator").cells if one.name == "in_data_source")
    assert mirror.value == "measured"
    assert mirror.formula.count('"práctica","practice"') == 1


def test_english_sheets_have_no_other_names_and_no_translation() -> None:
    cells = [cell for tab in sheet_of().layout.tabs for cell in tab.cells]
    other = [cell for cell in cells if cell.defined or (cell.rule is not None and cell.rule.codes)]
    # The list of sites shows their titles, in English too.
    assert {cell.name for cell in other} == {"changed_from_site", "in_changed_from_site"}


@pytest.mark.parametrize(
    ("typed", "seen", "meant"),
    [
        ("práctica", "practice", "practice"),
        (" PRÁCTICA ", "practice", "practice"),
        ("practica", "practice", "practice"),
        ("practice", "practice", "practice"),
        ("Medido", "measured", "measured"),
        ("something", "something", "something"),
    ],
)
def test_word_of_a_list_in_any_language_and_without_its_accent(typed: str, seen: str, meant: str) -> None:
    """As the formulas of the sheet take it, and as it is meant."""
    layout = sheet_of(replace(SETTINGS, language="es")).layout
    key, row, column = layout.places()["data_source"]
    tab = TabState(layout.tab(key).title, {(row, column): CellState(typed, locked=False)}, True, "visible")
    entries = entries_of(layout, {key: tab})
    assert (entries.seen["data_source"], entries.meant["data_source"]) == (seen, meant)


def test_words_of_a_list_are_distinct_in_every_language() -> None:
    lists = [listed_words(name) for name in ("data_source", "sex_equation", "side", "not_taken_chest")]
    for words in list_words("sheet").values():
        for codes in lists:
            assert len({words[code].casefold() for code in codes}) == len(codes)


def test_class_book_in_spanish_reads_back_with_its_code_words() -> None:
    folder, _ = lesson("es")
    workbook = openpyxl.load_workbook(folder.book)
    assert workbook.sheetnames == ["Clase", "Lista", "Plicómetros", "Parejas", "Estaciones", "Calculadora"]
    book = load_book(folder)
    assert (book.settings.language, book.settings.show_results) == ("es", "after-working")
    assert {person.role for person in book.people} == {"student"}
    assert book.settings.calipers[0].in_service


def test_language_changed_in_the_class_book_holds_from_the_next_build_on(tmp_path: Path) -> None:
    """Sheets that are out are read in their own language; the class book is drawn in the new one."""
    roster = tmp_path / "roster.csv"
    folder = copied(lesson("en")[0], tmp_path / "class")
    changed_setting(folder, "Language", "es")
    roster.write_text(ROSTER + "S05,Ed,Tarn,no\n", encoding="utf-8")
    update_class(folder, roster)
    assert openpyxl.load_workbook(folder.book).sheetnames[0] == "Clase"
    build_sheets(folder, 1)
    summary = read_returned(folder, 1, today=DAY)
    assert [one.status for one in summary.attempts] == ["accepted"] * 3
    tabs = openpyxl.load_workbook(folder.report(1)).sheetnames
    assert tabs[0] == texts_in("es", "report")["report_today.tab"]


def test_review_typed_in_spanish_is_taken_over_as_code_words(tmp_path: Path) -> None:
    folder = copied(lesson("es")[0], tmp_path / "class")
    workbook = openpyxl.load_workbook(folder.review(1))
    sheet = workbook["Correcciones"]
    code = keep.copy_code(SECRET, "S01", load_book(folder).pairings[0].participant, 1)
    for column, value in enumerate((code, "data_source", None, "Practica", "dicho en clase"), start=1):
        sheet.cell(5, column, value)
    for column, value in enumerate((code, "mass_kg", None, "Vacía", "no se pidió"), start=1):
        sheet.cell(6, column, value)
    workbook.save(folder.review(1))
    attempts = read_returned(folder, 1, today=DAY).attempts
    (attempt,) = (one for one in attempts if one.record is not None and one.record.copy_code == code)
    assert attempt.entries["data_source"] == "practice"
    assert "mass_kg" not in attempt.entries


def test_language_that_is_not_shipped(tmp_path: Path) -> None:
    told = only_line(run("new", tmp_path / "class", "--language", "xx"))
    assert "--language: the language 'xx'; expected one of en, es." in told
