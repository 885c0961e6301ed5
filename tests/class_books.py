"""An invented class and its class book, for tests: rendered once, then typed into."""

from collections.abc import Mapping, Sequence
from functools import cache

from msgspec.structs import replace

from sheetgen.class_book.pairing import pairs_for_the_rest
from sheetgen.class_book.reading_back import BookKnown, class_book_from
from sheetgen.class_book.table import SETTINGS, TABLES
from sheetgen.class_book.tabs import class_book_layout, default_settings
from sheetgen.class_folder.records import CaliperCheck, ClassBook, Person
from sheetgen.finding import Worded
from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import load_texts
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity, Layout
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import CellState, Snapshot
from tests.wording import in_english


@cache
def protocols() -> tuple[Protocol, ...]:
    """Every shipped protocol, and an invented one that gives no estimate."""
    return (*map(find_protocol, shipped_protocols()), FOLDS_ONLY)


@cache
def texts() -> Mapping[str, str]:
    """Every text that a class book is made from."""
    return {**load_texts("en"), **load_texts("class-book.en")}


FOLDS_ONLY: Protocol = replace(
    find_protocol("seven-sites"),
    identifier="two-folds",
    title="Two folds, no estimate",
    sites=find_protocol("seven-sites").sites[:2],
    equations=(),
    conversions=(),
    default_conversion="",
)
DEFAULTS: SheetSettings = default_settings(find_protocol("seven-sites"), "en", "spring caliper")


def default_class_book(
    class_code: str, title: str, settings: SheetSettings, people: Sequence[Person]
) -> ClassBook:
    """The book of a new class, with pairs in roster order."""
    book = ClassBook(class_code, title, settings, tuple(people), ())
    return replace(book, pairings=pairs_for_the_rest(book).pairings)


_PAIRED: ClassBook = default_class_book(
    "7H33NK",
    "Harbour school, evening class",
    replace(
        DEFAULTS,
        site_rule="closest-pair",
        tolerance_kind="percent",
        tolerance=7.5,
        conversion="brozek",
        show_results="never",
        estimates="sums-only",
        youth_estimate="on",
        cover_round_1=True,
        calipers=(
            Caliper("C1", "spring caliper, plastic", 0.5, 60.0, 0.0),
            Caliper("C 2", "sliding caliper", 0.2, 80.0, -0.4),
            Caliper("C3", "dial caliper", 1.0, 45.5, 1.0, in_service=False),
        ),
    ),
    [
        Person(
            "007",
            "Zoë",
            "Müller",
            "zoe@school.example",
            "a",
            "student",
            "P-2345",
            "no",
            partner="s08",
            apart=("S11", "s12"),
        ),
        Person("s08", "Bo", "", "", "", "student", "P-9H64", "yes", due_date="2027-04-01"),
        Person("=1+1", "<Ada & Co>", 'says "hi"', "", "b", "student", "P-8Q22"),
        Person("t1", "Tea", "Cher", "", "", "teacher", "P-FT8S"),
        Person("S11", "New", "Comer"),
        Person("s12", "Last", "One", "", "", "student", "P-K673"),
    ],
)
_MADE = pairs_for_the_rest(replace(_PAIRED, pairings=(), minors="all", group_size=2)).pairings
_PAIRS = tuple(
    replace(pair, caliper_id=caliper) for pair, caliper in zip(_MADE, ["C1"] * 2 + ["C 2"] * 3, strict=True)
)
BOOK: ClassBook = replace(
    _PAIRED,
    pairings=(*_PAIRS[:-1], replace(_PAIRS[-1], protocol_id="two-folds", spare="2345-6789")),
    minors="all",
    due_date="2027-03-31",
    feedback_given="2027-04-02",
    declared=(("007", "s08"), ("S11", "s12")),
    checks=(
        CaliperCheck("C1", ((10.0, 10.0), (20.0, 20.5), (40.0, 39.5)), "2027-01-15", "T. Cher"),
        CaliperCheck("C 2", checked_on="2027-01-16"),
    ),
    seconds_a_reading=40.0,
    spare_sheets=5,
    group_size=2,
    lesson_minutes=60,
    marking_minutes=5.5,
    changing_minutes=2.0,
    circuit="fewest-turns",
    session_names=("week 3", "week 9"),
    make_ups=("2=1",),
)
"""Five students and a teacher, three calipers with one out of service, the last pair with a protocol and a
spare sheet of its own. Settings are not at their defaults, but that the teacher measures nobody."""


@cache
def known() -> BookKnown:
    """What it is read by."""
    return BookKnown(DEFAULTS, texts(), load_catalogue(), protocols())


@cache
def layout() -> Layout:
    """The Layout of BOOK."""
    return class_book_layout(texts(), BOOK, protocols())


@cache
def book_bytes() -> bytes:
    """BOOK as a workbook."""
    return rendered(layout(), Identity({}), read_template("style.toml"))


def snapshot_of(data: bytes) -> Snapshot:
    """What a workbook holds."""
    package = read_package_bytes(data)
    assert isinstance(package, Package)
    state = snapshot(package)
    assert isinstance(state, Snapshot)
    return state


@cache
def _book_snapshot() -> Snapshot:
    return snapshot_of(book_bytes())


def without_later_columns(state: Snapshot) -> Snapshot:
    """A class book as it was made before there was a tab Stations, with the columns and lines of its time."""
    gone = {texts()[f"book_{word}"] for word in _LATER}
    tabs = []
    for tab in state.tabs:
        if tab.title == texts()["book_tab.stations"]:
            continue
        headings = {place: cell.value for place, cell in tab.cells.items() if cell.value in gone}
        rows = {row for row, column in headings if tab.title == texts()["book_tab.class"]}
        columns = {column for row, column in headings if tab.title != texts()["book_tab.class"]}
        cells = {
            (row, column): cell
            for (row, column), cell in tab.cells.items()
            if row not in rows and column not in columns
        }
        tabs.append(replace(tab, cells=cells))
    return replace(state, tabs=tuple(tabs))


_LATER = (
    *(f"{table.line}.{entry.key}" for table in TABLES.values() for entry in table.entries if entry.later),
    *(f"setting.{setting.key}" for setting in SETTINGS if setting.later),
)


def typed(changes: Mapping[str, str | float | bool | CellState | None]) -> Snapshot:
    """BOOK as it is after someone typed: cell name to what stands there now."""
    state = _book_snapshot()
    places = layout().places()
    titles = {tab.key: tab.title for tab in layout().tabs}
    tabs = []
    for tab in state.tabs:
        cells = dict(tab.cells)
        for name, value in changes.items():
            key, row, column = places[name]
            if titles[key] == tab.title:
                cells[row, column] = value if isinstance(value, CellState) else CellState(value, locked=False)
        tabs.append(replace(tab, cells=cells))
    return replace(state, tabs=tuple(tabs))


def read_back(state: Snapshot, today: str = "") -> tuple[ClassBook, tuple[Worded, ...]]:
    """What the class book says then."""
    read = class_book_from(state, known(), today)
    return read.book, in_english(read.findings)
