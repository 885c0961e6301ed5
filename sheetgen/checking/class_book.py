"""Reading the class book back: what the teacher typed, and everything in it that cannot be used."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.checking.class_book_calipers import calipers_from
from sheetgen.checking.class_book_cells import Line, id_key, lines_of, problem, problem_of_tab, tab_titled
from sheetgen.checking.class_book_pairs import pairings_from
from sheetgen.checking.class_book_people import people_from
from sheetgen.checking.class_book_settings import ClassTab, class_tab_from
from sheetgen.checking.list_words import Words
from sheetgen.layout.class_book_calculator import CODED_IDS, GIVEN_CODES
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    CHECK_COLUMNS,
    LATER_COLUMNS,
    LEFT,
    PAIR_COLUMNS,
    ROSTER_COLUMNS,
    TAKES_PART,
    WISH_COLUMNS,
)
from sheetgen.model.finding import Finding, quoted
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook, Person, SheetSettings
from sheetgen.model.snapshot import Snapshot

__all__ = ["class_book_from"]

_COLUMNS = {
    "class": ("setting", ("what", "entry")),
    "roster": ("roster", (*ROSTER_COLUMNS, *WISH_COLUMNS)),
    "calipers": ("caliper", (*CALIPER_COLUMNS, *CHECK_COLUMNS)),
    "pairs": ("pair", PAIR_COLUMNS),
}
"""Tab key to the section of its headings among the texts, and its columns."""

Texts = Mapping[str, str]


def class_book_from(
    snapshot: Snapshot,
    defaults: SheetSettings,
    texts: Texts,
    protocols: Sequence[Protocol],
    today: str = "",
    words: Words | None = None,
) -> tuple[ClassBook, tuple[Finding, ...]]:
    """Return what a class book says, and the faults in it.

    Tabs are found by title and columns by heading, so tabs and lines may be moved and sorted. Where the tab
    Pairs does not name a student as a measurer, pairs are made of those left, in roster order. A heading or
    line of care that is not found is a fault, never taken for an empty one; only a class book made before
    there was a tab Stations may lack the columns that came with it.

    Parameters
    ----------
    defaults : settings that hold where a cell is empty; their language is the one the book is drawn in.
    texts : those of the class book's language.
    protocols : those that the class may choose from.
    today : the day as YYYY-MM-DD; empty: nothing is said of caliper checks that are old or missing.
    words : of the lists, in every language that may be chosen; None: code words, and no other language.

    Returns
    -------
    The book, and findings with severity and remedy. With an error among them the book is not to be used.
    Its pairings are those typed, in their order, then those made.
    """
    lines: dict[str, list[Line]] = {}
    problems: list[Finding] = []
    for key in _COLUMNS:
        lines[key], faults = _lines(snapshot, key, texts, words, defaults.language)
        problems += faults
    languages = tuple(words or (defaults.language,))
    of_class, faults = class_tab_from(lines["class"], defaults, texts, protocols, languages)
    problems += faults
    people, faults = people_from(lines["roster"], _codes(snapshot, texts))
    problems += faults
    calipers, checks, faults = calipers_from(lines["calipers"], today)
    problems += faults
    demonstration, faults = _demonstration(of_class, people)
    problems += faults
    if not any(each.severity == "error" for each in problems):
        # A fault above would be told again here, once for every pair it touches.
        protocol_ids = tuple(protocol.identifier for protocol in protocols)
        pairings, faults = pairings_from(
            lines["pairs"], people, calipers, protocol_ids, of_class.group_size, demonstration
        )
        problems += [*faults, *_stray_ids(of_class, people, lines["class"])]
    else:
        pairings = ()
    roster = tuple(person for person, _ in people)
    settings = replace(of_class.settings, calipers=calipers)
    book = ClassBook(
        class_code=of_class.class_code,
        title=of_class.title,
        settings=settings,
        people=roster,
        pairings=pairings,
        minors=of_class.minors,
        due_date=of_class.due_date,
        feedback_given=of_class.feedback_given,
        declared=of_class.declared,
        checks=checks,
        group_size=of_class.group_size,
        demonstration=demonstration,
        seconds_a_reading=of_class.seconds_a_reading,
        spare_sheets=of_class.spare_sheets,
    )
    return book, tuple(problems)


def _demonstration(of_class: ClassTab, people: Sequence[tuple[Person, Line]]) -> tuple[str, list[Finding]]:
    """The id as the roster writes it; nobody who left or only measures is measured by everybody."""
    typed = of_class.demonstration
    if not typed:
        return "", []
    person = next((each for each, _ in people if id_key(each.student_id) == id_key(typed)), None)
    if person is None:
        case = "unknown"
    elif person.status == LEFT:
        case = "left"
    elif person.takes_part == TAKES_PART[1]:
        case = "measures-only"
    else:
        return person.student_id, []
    line = of_class.lines["demonstration"]
    return "", [problem("class-book-demonstration", line, "entry", {"id": quoted(typed)}, case)]


def _stray_ids(
    of_class: ClassTab, people: Sequence[tuple[Person, Line]], lines: Sequence[Line]
) -> list[Finding]:
    """Ids of a declared group that are not on the roster."""
    known = {id_key(person.student_id) for person, _ in people}
    stray = [one for group in of_class.declared for one in group if id_key(one) not in known]
    return [
        problem_of_tab("class-book-pair-unknown", lines[0].tab, {"id": quoted(one[:40])}, "declared")
        for one in stray
    ]


def _lines(
    snapshot: Snapshot, key: str, texts: Texts, words: Words | None = None, language: str = ""
) -> tuple[list[Line], list[Finding]]:
    title = texts[f"book_tab.{key}"]
    tab = tab_titled(snapshot, title)
    if tab is None:
        values = {"titles": ", ".join(tab.title for tab in snapshot.tabs), "title": title}
        return [], [problem_of_tab("class-book-tab-missing", title, values)]
    section, columns = _COLUMNS[key]
    may_lack = () if tab_titled(snapshot, texts["book_tab.stations"]) is not None else LATER_COLUMNS
    headings = {word: texts[f"book_{section}.{word}"] for word in columns}
    return lines_of(tab, headings, may_lack, words, language)


def _codes(snapshot: Snapshot, texts: Texts) -> dict[str, str]:
    """Return the participant codes given out, by id, from the hidden tab: there nothing is moved or typed."""
    tab = tab_titled(snapshot, texts["book_tab.calculator"])
    if tab is None:
        return {}
    codes = ((tab.value(row, CODED_IDS), tab.value(row, GIVEN_CODES)) for row, _ in tab.cells)
    return {id_key(one): code for one, code in codes if isinstance(one, str) and isinstance(code, str)}
