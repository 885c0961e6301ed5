"""Every shipped language is whole: the same texts as in English, with the same places."""

import re
import tomllib
from pathlib import Path

import pytest
from msgspec.structs import replace

import sheetgen
from sheetgen.class_book.table import ROSTER
from sheetgen.class_book.table import SETTINGS as CLASS_SETTINGS
from sheetgen.class_book.tabs import class_book_layout
from sheetgen.class_folder.decisions import EMPTY_WORD, FILE_WORDS
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import Person
from sheetgen.marking.marks import scheme_of
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.loading import find_protocol, in_language, protocol_texts, shipped_protocols
from sheetgen.review.drawing import TABS, ReviewContents, ReviewRow, review_layout
from sheetgen.sheet.student import source_of, student_layout
from sheetgen.sheet.typing_in import typing_in_layout
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import languages, list_words, load_texts, texts_in
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.layout import Layout
from tests.class_books import default_class_book
from tests.sheet.test_paper import form_of
from tests.sheets import SETTINGS

TEXTS = templates_folder() / "text"
WORKBOOKS = sorted(path.name.removesuffix(".en.toml") for path in TEXTS.glob("*.en.toml"))
OTHERS = [language for language in languages() if language != "en"]
PLACE = re.compile(r"\{[a-z_0-9]*\}")
LANGUAGE_FREE = re.compile(r"[a-z0-9]+-[a-z0-9-]+\.(severity|question)")
"""What becomes of a file stands once, in the English catalogue of findings."""
ENGLISH = re.compile(r"\b[a-z]{2,} [a-z]{2,}\b")
SMALL_WORDS = re.compile(r"\b(the|of|and|is|are|with|that|this|not|was|which|from|by|to|at|each)\b")
MAY_BE_EMPTY = re.compile(r"state\.ok|feedback_finding\..+")


def file_of(workbook: str, language: str) -> str:
    return language if workbook == "sheet" else f"{workbook}.{language}"


def places_of(text: str) -> list[str]:
    return sorted(PLACE.findall(text))


def test_english_comes_first_and_spanish_is_shipped() -> None:
    assert languages() == ("en", "es")


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("workbook", ["sheet", *WORKBOOKS])
def test_texts_of_a_workbook_are_whole(workbook: str, language: str) -> None:
    """The same keys and places, and a text wherever the English one has one."""
    english, other = load_texts(file_of(workbook, "en")), load_texts(file_of(workbook, language))
    english = {key: text for key, text in english.items() if not LANGUAGE_FREE.fullmatch(key)}
    assert sorted(set(english) ^ set(other)) == []
    assert [key for key in english if places_of(english[key]) != places_of(other[key])] == []
    assert [key for key in english if bool(english[key]) != bool(other[key])] == []
    empty = [key for key in english if not english[key] and not MAY_BE_EMPTY.fullmatch(key)]
    assert empty == []


@pytest.mark.parametrize("language", OTHERS)
def test_catalogue_of_findings_is_whole(language: str) -> None:
    tables = tomllib.loads((TEXTS / f"findings.{language}.toml").read_text(encoding="utf-8"))
    english, other = load_catalogue(), load_catalogue(language)
    assert sorted(set(english) ^ (set(tables) - NO_CODES)) == []
    assert [code for code in tables if {"severity", "question"} & set(tables[code])] == []
    texts = (texts_in("en", "findings"), load_texts(f"findings.{language}"))
    said = {key for key, text in texts[0].items() if ENGLISH.search(PLACE.sub("", text))}
    assert sorted(key for key in said & set(texts[1]) if texts[0][key] == texts[1][key]) == []
    assert sorted(key for key, text in texts[1].items() if SMALL_WORDS.search(text)) == []
    assert [code for code in english if english[code].means == other[code].means] == []
    assert [code for code in english if english[code].remedy == other[code].remedy] == []
    assert [code for code in english if english[code].severity != other[code].severity] == []


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("identifier", shipped_protocols())
def test_texts_of_a_protocol_are_whole(identifier: str, language: str) -> None:
    """Every text but names and sources; numbers and code words are the protocol's own."""
    protocol = find_protocol(identifier)
    texts = protocol_texts(language)[identifier]
    assert sorted(texts["sites"]) == sorted(site.word for site in protocol.sites)
    for site in protocol.sites:
        assert sorted(texts["sites"][site.word]) == ["cues", "landmark", "title"]
        assert len(texts["sites"][site.word]["cues"]) == len(site.cues)
    assert {"title", "standard", "notes", "sites"} <= set(texts)
    assert sorted(texts.get("samples", {})) == sorted(one.identifier for one in protocol.equations)
    other = in_language(protocol, language)
    assert [site.word for site in other.sites] == [site.word for site in protocol.sites]
    assert [one.coefficients for one in other.equations] == [one.coefficients for one in protocol.equations]


def test_own_protocol_of_a_teacher_stays_as_it_is_written() -> None:
    own = replace(find_protocol("seven-sites"), title="Mine")
    assert in_language(own, "es") is own


def layouts(language: str) -> list[Layout]:
    """A sheet, a class book, a review and a workbook for forms in a language."""
    settings = replace(SETTINGS, language=language)
    source = source_of(settings)
    people = [Person("S01", "Ada", "Fen"), Person("S02", "Bo", "Heath")]
    book = default_class_book("23456A", "class", settings, people)
    texts = texts_in(language, "sheet", "class-book")
    review = texts_in(language, "sheet", "marking", "review")
    paper = texts_in(language, "sheet", "paper")
    rows = {key: [ReviewRow({"possible": 5.0})] for key in TABS}
    return [
        student_layout(source.protocol, settings, "{}", texts),
        class_book_layout(texts, book, [source.protocol], languages()),
        review_layout(review, ReviewContents("23456A", 1, 0, rows), language),
        typing_in_layout([(form_of(settings), "a1")], "23456A", language, paper),
    ]


@pytest.mark.parametrize("language", languages())
def test_no_text_is_longer_than_the_file_format_takes(language: str) -> None:
    """Formulas of rules 255 characters, messages 225 since some dialogs show no more, titles 32, tab names 31
    and without some signs."""
    for layout in layouts(language):
        titles = [tab.title for tab in layout.tabs]
        assert [title for title in titles if len(title) > 31 or re.search(r"[\[\]:*?/\\]", title)] == []
        assert len({title.casefold() for title in titles}) == len(titles)
        cells = [cell for tab in layout.tabs for cell in tab.cells]
        rules = [cell.rule for cell in cells if cell.rule is not None]
        assert sorted({rule.title for rule in rules if len(rule.title) > 32}) == []
        long = (
            rule for rule in rules if max(len(rule.prompt), len(rule.error)) > 225 or len(rule.formula) > 255
        )
        assert sorted({(rule.title, rule.prompt, rule.error) for rule in long}) == []
        assert [rule.words for rule in rules if len(",".join(rule.words)) > 255] == []
        assert [cell.name for cell in cells if len(cell.formula) > 8192] == []
        inside = {text for cell in cells for text in re.findall(r'"((?:[^"]|"")*)"', cell.formula)}
        assert sorted(text for text in inside if len(text) > 255) == []


@pytest.mark.parametrize("language", languages())
def test_words_of_a_list_are_distinct(language: str) -> None:
    book, review = list_words("class-book")[language], list_words("review")[language]
    lists = [entry.words for entry in (*CLASS_SETTINGS, *ROSTER.entries)]
    shown = [[book[word].casefold() for word in words] for words in lists]
    shown.append([review[word].casefold() for word in (*FILE_WORDS, EMPTY_WORD)])
    assert [words for words in shown if len(set(words)) < len(words)] == []


@pytest.mark.parametrize("language", languages())
def test_headings_of_a_tab_are_distinct(language: str) -> None:
    """The class book is read back by them."""
    texts = load_texts(f"class-book.{language}")
    for section, last in (("book_setting", ""), ("book_roster", ""), ("book_caliper", ""), ("book_pair", "")):
        ends = ("_prompt", "_error", "default_build", last or "\0")
        headings = [
            text.casefold()
            for key, text in texts.items()
            if key.startswith(f"{section}.") and not key.endswith(ends)
        ]
        assert sorted(headings) == sorted(set(headings))


def test_titles_of_the_usual_scheme_are_those_that_are_translated(tmp_path: Path) -> None:
    english = load_texts("marking.en")
    usual = {f"mark_item.{item.word}": item.title for item in find_scheme("usual").items}
    assert usual == {key: text for key, text in english.items() if key.startswith("mark_item.")}
    spanish = scheme_of(ClassFolder(tmp_path), "es")
    assert spanish.items[-2].title == "Cuidado de la persona"
    assert scheme_of(ClassFolder(tmp_path)) == find_scheme("usual")


# What findings say.

SOURCES = Path(sheetgen.__file__).parent
NO_CODES = {"term", "file"}
"""Sections of words in values, and of what is expected of every file."""


def test_every_template_of_a_case_is_used_by_the_sources() -> None:
    """By its word, as the sources write it; the other templates go with their code."""
    sources = "\n".join(path.read_text(encoding="utf-8") for path in SOURCES.rglob("*.py"))
    keys = [key for key in load_texts("findings.en") if re.search(r"\.(found|expected)-|^term\.", key)]
    words = {key: re.sub(r".*\.((found|expected)-)?", "", key) for key in keys}
    assert [key for key, word in words.items() if f'"{word}"' not in sources] == []
