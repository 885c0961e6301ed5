"""Reading the class book back: what the teacher typed, and everything in it that cannot be used."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.checking.class_book_cells import (
    Line,
    faulty_id,
    id_key,
    in_range,
    lines_of,
    number_of,
    problem,
    problem_of_tab,
    tab_titled,
    text_of,
    word_of,
)
from sheetgen.checking.class_book_pairs import pairings_from
from sheetgen.checking.class_book_settings import ClassTab, class_tab_from
from sheetgen.layout.class_book_calculator import CODED_IDS, GIVEN_CODES
from sheetgen.layout.class_book_words import (
    CALIPER_COLUMNS,
    DIVISIONS,
    LONGEST,
    PAIR_COLUMNS,
    ROLES,
    ROSTER_COLUMNS,
    YES_NO,
)
from sheetgen.model.finding import Finding
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, ClassBook, Person, SheetSettings
from sheetgen.model.snapshot import Snapshot

__all__ = ["class_book_from"]

_COLUMNS = {
    "class": ("setting", ("what", "entry")),
    "roster": ("roster", ROSTER_COLUMNS),
    "calipers": ("caliper", CALIPER_COLUMNS),
    "pairs": ("pair", PAIR_COLUMNS),
}
"""Tab key to the section of its headings among the texts, and its columns."""

"""Columns that earlier class books have not got."""

_CALIPER_LABEL = re.compile(r'[^,;"\s]([^,;"]*[^,;"\s])?')

Texts = Mapping[str, str]


def class_book_from(
    snapshot: Snapshot, defaults: SheetSettings, texts: Texts, protocols: Sequence[Protocol]
) -> tuple[ClassBook, tuple[Finding, ...]]:
    """Return what a class book says, and the faults in it.

    Tabs are found by title and columns by heading, so tabs and lines may be moved and sorted. Where the tab
    Pairs does not name a student as a measurer, pairs are made of those left, in roster order. A heading or
    line of care that is not found is a fault, never taken for an empty one.

    Parameters
    ----------
    defaults : settings that hold where a cell is empty.
    texts : those of the class book's language.
    protocols : those that the class may choose from.

    Returns
    -------
    The book, and findings with severity and remedy. With an error among them the book is not to be used.
    """
    lines: dict[str, list[Line]] = {}
    problems: list[Finding] = []
    for key in _COLUMNS:
        lines[key], faults = _lines(snapshot, key, texts)
        problems += faults
    of_class, faults = class_tab_from(lines["class"], defaults, texts, protocols)
    problems += faults
    people, faults = _people(lines["roster"], _codes(snapshot, texts))
    problems += faults
    calipers, faults = _calipers(lines["calipers"])
    problems += faults
    if not problems:
        # A fault above would be told again here, once for every pair it touches.
        protocol_ids = tuple(protocol.identifier for protocol in protocols)
        pairings, faults = pairings_from(lines["pairs"], people, calipers, protocol_ids)
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
    )
    return book, tuple(problems)


def _stray_ids(
    of_class: ClassTab, people: Sequence[tuple[Person, Line]], lines: Sequence[Line]
) -> list[Finding]:
    """Ids of a declared group that are not on the roster."""
    known = {id_key(person.student_id) for person, _ in people}
    stray = [one for group in of_class.declared for one in group if id_key(one) not in known]
    found = [f"the id {one[:40]!r} among those who may hold the same numbers" for one in stray]
    return [
        problem_of_tab("class-book-pair-unknown", lines[0].tab, one, "an id of the roster") for one in found
    ]


def _lines(snapshot: Snapshot, key: str, texts: Texts) -> tuple[list[Line], list[Finding]]:
    title = texts[f"book_tab.{key}"]
    tab = tab_titled(snapshot, title)
    if tab is None:
        there = ", ".join(tab.title for tab in snapshot.tabs)
        return [], [problem_of_tab("class-book-tab-missing", title, f"tabs {there}", f"a tab {title}")]
    section, columns = _COLUMNS[key]
    return lines_of(tab, {word: texts[f"book_{section}.{word}"] for word in columns})


def _codes(snapshot: Snapshot, texts: Texts) -> dict[str, str]:
    """Return the participant codes given out, by id, from the hidden tab: there nothing is moved or typed."""
    tab = tab_titled(snapshot, texts["book_tab.calculator"])
    if tab is None:
        return {}
    codes = ((tab.value(row, CODED_IDS), tab.value(row, GIVEN_CODES)) for row, _ in tab.cells)
    return {id_key(one): code for one, code in codes if isinstance(one, str) and isinstance(code, str)}


def _people(
    lines: Sequence[Line], codes: Mapping[str, str]
) -> tuple[list[tuple[Person, Line]], list[Finding]]:
    people: list[tuple[Person, Line]] = []
    problems: list[Finding] = []
    seen: dict[str, str] = {}
    for line in lines:
        cells = {}
        for column in ROSTER_COLUMNS:
            if column == "role":
                cells[column], faults = word_of(line, column, ROLES, ROLES[0])
            elif column == "under_18":
                cells[column], faults = word_of(line, column, YES_NO, "")
            else:
                cells[column], faults = text_of(line, column, LONGEST[column])
            problems += faults
        if faulty_id(line, "student_id", cells["student_id"], seen, problems):
            continue
        code = codes.get(id_key(cells["student_id"]), "")
        people.append((Person(**cells, participant_code=code), line))
    return people, problems


def _calipers(lines: Sequence[Line]) -> tuple[tuple[Caliper, ...], list[Finding]]:
    calipers: list[Caliper] = []
    problems: list[Finding] = []
    seen: dict[str, str] = {}
    for line in lines:
        identifier, faults = text_of(line, "identifier", LONGEST["identifier"])
        if identifier and not _CALIPER_LABEL.fullmatch(identifier):
            expected = "a label without commas, semicolons and quotes"
            faults.append(problem("class-book-caliper-id", line, "identifier", repr(identifier), expected))
        build, build_faults = text_of(line, "build", LONGEST["build"])
        steps = " or ".join(f"{step:g}" for step in DIVISIONS)
        division, division_faults = number_of(line, "division", lambda number: number in DIVISIONS, steps)
        opening, opening_faults = in_range(line, "opening", "opening")
        zero, zero_faults = in_range(line, "zero", "zero")
        in_service, service_faults = word_of(line, "in_service", YES_NO, YES_NO[0])
        problems += [*faults, *build_faults, *division_faults, *opening_faults, *zero_faults, *service_faults]
        if faulty_id(line, "identifier", identifier, seen, problems):
            continue
        if division is not None and opening is not None and zero is not None:
            usable = in_service == YES_NO[0]
            calipers.append(Caliper(identifier, build, division, opening, zero, usable))
    return tuple(calipers), problems
