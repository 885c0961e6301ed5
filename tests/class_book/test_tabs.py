"""The Layout of the class book, its rules, and its live formulas worked out by the spreadsheet program."""

from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from sheetgen.class_book.table import FIRST_ROW
from sheetgen.class_book.tabs import class_book_layout
from sheetgen.class_folder.records import Pairing, Person
from sheetgen.workbook.layout import Rule
from tests.class_books import BOOK, DEFAULTS, book_bytes, default_class_book, layout, protocols, texts
from tests.office.client import Office


def test_default_class_book_pairs_in_roster_order() -> None:
    book = default_class_book("CODE23", "Class", DEFAULTS, [Person("a", "A", ""), Person("b", "B", "")])
    assert book.pairings == (Pairing("a", "b", "C1"), Pairing("b", "a", "C1"))
    assert book.settings.calipers[0].division == 0.5
    assert book.settings.calipers[0].opening == 60.0


def test_class_book_layout_has_its_tabs_in_order() -> None:
    assert [tab.title for tab in layout().tabs] == [
        "Class", "Roster", "Calipers", "Pairs", "Stations", "Calculator",
    ]  # fmt: skip
    assert [tab.hidden for tab in layout().tabs] == [False] * 5 + [True]


def test_class_book_layout_has_spare_lines() -> None:
    names = layout().places()
    people, pairs = len(BOOK.people), len(BOOK.pairings)
    assert f"roster_{people + 200}_student_id" in names
    assert f"roster_{people + 201}_student_id" not in names
    assert f"pair_{pairs + 200}_measurer" in names
    assert f"pair_{pairs + 201}_measurer" not in names
    assert f"caliper_{3 + 39}_identifier" in names


def test_class_book_layout_unlocks_entries_alone_and_rules_every_one() -> None:
    for tab in layout().tabs:
        for cell in tab.cells:
            assert (cell.rule is not None) == (cell.role == "entry")


def test_class_book_layout_has_one_cell_a_place_in_order() -> None:
    for tab in layout().tabs:
        places = [(cell.row, cell.column) for cell in tab.cells]
        assert places == sorted(set(places))


def test_class_book_layout_names_every_entry_once() -> None:
    names = [cell.name for tab in layout().tabs for cell in tab.cells if cell.role == "entry"]
    assert len(set(names)) == len(names)
    assert "" not in names


def test_class_book_layout_of_a_class_that_decided_nothing_takes_care() -> None:
    book = default_class_book("CODE23", "", DEFAULTS, [])
    cells = class_book_layout(texts(), book, protocols()).tab("class").cells
    chosen = {cell.name: cell.value for cell in cells}
    assert [chosen[name] for name in ("minors", "estimates", "youth_estimate")] == ["some", "on", "off"]


def test_class_book_layout_of_an_empty_class() -> None:
    empty = class_book_layout(texts(), default_class_book("CODE23", "", DEFAULTS, []), protocols())
    assert "roster_200_role" in empty.places()


def test_texts_of_the_class_book_are_its_own() -> None:
    """Merged with those of the sheets, no text hides another; no two headings of a tab read alike."""
    from sheetgen.texts.languages import load_texts

    own = load_texts("class-book.en")
    assert not set(own) & set(load_texts("en"))
    for section, words in (
        ("book_tab", 6),
        ("book_setting", 33),
        ("book_roster", 14),
        ("book_caliper", 14),
        ("book_pair", 9),
        ("book_station", 8),
    ):
        headings = [
            text
            for key, text in own.items()
            if key.startswith(f"{section}.") and not key.endswith(("_prompt", "_error", "_build"))
        ]
        assert len(set(headings)) == len(headings) == words


def test_tables_print_what_is_filled_and_ten_lines_more() -> None:
    printed = {tab.key: tab.printed_rows for tab in layout().tabs}
    assert (printed["roster"], printed["pairs"]) == (FIRST_ROW + 6 + 10, FIRST_ROW + 5 + 10)
    assert (printed["class"], printed["calipers"]) == (0, FIRST_ROW + 3 + 10)


def test_no_row_of_a_table_is_hidden_and_the_grid_follows_what_is_typed() -> None:
    for tab in layout().tabs[1:4]:
        assert not tab.bare
        assert 0.0 not in dict(tab.heights).values()
        shapes = {cell.row: cell.format for cell in tab.cells if cell.role == "entry" and cell.column == 0}
        lined = [row for row, shape in shapes.items() if shape.startswith("entry_line")]
        assert lined == list(range(FIRST_ROW, tab.printed_rows))
        (grid,) = (emphasis for emphasis in tab.emphases if emphasis.format == "grid")
        first, last = tab.printed_rows, max(shapes)
        assert (grid.first_row, grid.last_row) == (first, last)
        assert grid.formula == f"=COUNTA($A{first - 9}:$A${last + 1})>0"


def test_people_and_calipers_of_a_pair_are_chosen_from_lists() -> None:
    rules = {cell.name: cell.rule for tab in layout().tabs for cell in tab.cells if cell.rule is not None}
    people, calipers = "=Calculator!$A$6:$A$211", "=Calculator!$F$6:$F$47"
    lists = {
        "pair_1_measurer": people, "pair_9_participant": people, "pair_1_instead": people,
        "roster_2_partner": people, "pair_1_caliper": calipers,
    }  # fmt: skip
    assert {name: (rules[name].kind, rules[name].formula) for name in lists} == {
        name: ("list", source) for name, source in lists.items()
    }
    assert not rules["roster_2_partner"].refuses


def test_rules_keep_the_limits_of_the_file_format() -> None:
    for tab in layout().tabs:
        for cell in tab.cells:
            if cell.rule is not None:
                sizes = (cell.rule.title, cell.rule.prompt, cell.rule.error, cell.rule.formula)
                assert all(map(len, sizes[:3]))
                assert len(cell.rule.title) <= 32
                assert max(map(len, sizes)) <= 255
                assert len(",".join(cell.rule.words)) <= 255


def rule_of(name: str) -> Rule:
    """The rule of a line of the tab Class."""
    (rule,) = (cell.rule for cell in layout().tab("class").cells if cell.name == name)
    assert rule is not None
    return rule


@pytest.mark.parametrize(
    ("name", "kind", "words"),
    [
        ("class_title", "length", ()),
        ("protocol", "list", tuple(protocol.identifier for protocol in protocols())),
        ("site_rule", "list", ("median", "closest-pair")),
        ("tolerance_kind", "list", ("mm", "percent")),
        ("tolerance", "decimal", ()),
        ("conversion", "list", ("siri", "brozek")),
        ("show_results", "list", ("always", "after-working", "never")),
        ("minors", "list", ("some", "none", "all")),
        ("estimates", "list", ("on", "sums-only")),
        ("youth_estimate", "list", ("off", "on")),
        ("due_date", "length", ()),
        ("delete_on", "length", ()),
        ("feedback_given", "length", ()),
        ("declared", "length", ()),
        ("group_size", "whole", ()),
        ("demonstration", "length", ()),
        ("seconds_a_reading", "decimal", ()),
        ("spare_sheets", "whole", ()),
        ("cover_round_1", "list", ("no", "yes")),
        ("narrow", "list", ("no", "yes")),
        ("lesson_minutes", "whole", ()),
        ("marking_minutes", "decimal", ()),
        ("changing_minutes", "decimal", ()),
        ("teacher_measures", "length", ()),
        ("circuit", "list", ("protocol", "fewest-turns")),
        ("session_names", "length", ()),
        ("make_ups", "length", ()),
    ],
)
def test_setting_rule(name: str, kind: str, words: tuple[str, ...]) -> None:
    rule = rule_of(name)
    assert rule.kind == kind
    assert rule.words[: len(words)] == words


def test_rules_of_under_18_and_of_a_protocol_for_a_pair_are_lists() -> None:
    words = {
        cell.name: cell.rule.words for tab in layout().tabs for cell in tab.cells if cell.rule is not None
    }
    assert words["roster_1_under_18"] == ("yes", "no")
    assert words["roster_1_takes_part"] == ("both", "measures-only")
    assert words["roster_1_status"] == ("left",)
    assert words["pair_1_protocol"] == tuple(protocol.identifier for protocol in protocols())


def test_setting_rule_of_the_youth_estimate_says_what_it_means() -> None:
    prompt = rule_of("youth_estimate").prompt
    assert "the school's and the parents' agreement" in prompt


def test_caliper_rule_of_the_scale_step_is_no_list() -> None:
    """Where a comma is the decimal sign, choosing 0.5 from a list would enter a text."""
    cell = next(cell for cell in layout().tab("calipers").cells if cell.name == "caliper_1_division")
    assert cell.rule is not None
    assert cell.rule.formula == "=OR($C$6=1,$C$6=0.5,$C$6=0.2,$C$6=0.1)"


ROSTER_CODE, ROSTER_CHECK, PAIR_CHECK, CALIPER_AGAIN, CALIPER_CHECK = 12, 13, 8, 12, 13


@pytest.fixture(scope="module")
def book(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    path = Path(tmp_path_factory.mktemp("book")) / "book.xlsx"
    path.write_bytes(book_bytes())
    with office.workbook(path) as handle:
        yield handle


def after(
    office: Office, book: int, changes: Mapping[str, str | float | None], places: list[list[object]]
) -> list[object]:
    """What stands at some places once cells, by name, were typed into."""
    titles = {tab.key: tab.title for tab in layout().tabs}
    at = {name: [titles[key], row, column] for name, (key, row, column) in layout().places().items()}
    case = [[*at[name], value] for name, value in changes.items()]
    before = {cell.name: cell.value for tab in layout().tabs for cell in tab.cells if cell.role == "entry"}
    result = office.cases(book, places, [case])[0]
    office.set(book, [[*at[name], before[name]] for name in changes])
    return list(result)


@pytest.mark.office
def test_first_results_are_what_the_program_works_out(office: Office, book: int) -> None:
    for tab in layout().tabs:
        cells = [cell for cell in tab.cells if cell.role == "formula"]
        worked_out = office.get(book, [[tab.title, cell.row, cell.column] for cell in cells])
        assert worked_out == [cell.value for cell in cells]


ROSTER_CASES = [
    # what is typed, (line, check) that follow, ids used twice
    ({"roster_7_student_id": "s08"}, {2: "id used twice", 7: "id used twice"}, 2),
    ({"roster_7_student_id": "S08 "}, {2: "id used twice", 7: "id used twice"}, 2),
    ({"roster_7_student_id": 7, "roster_8_student_id": "7"}, {7: "id used twice", 8: "id used twice"}, 2),
    ({"roster_7_student_id": 7}, {1: "", 7: "measures nobody yet"}, 0),
    ({"roster_206_student_id": "*"}, {206: "measures nobody yet"}, 0),
    ({"roster_7_given_name": "Bo"}, {7: "id missing"}, 0),
    ({"roster_2_partner": "s99"}, {1: "", 2: "partner not on the roster"}, 0),
    ({"roster_2_partner": "S08"}, {2: "partner not on the roster"}, 0),
    ({"roster_2_partner": "S12"}, {2: ""}, 0),
]


@pytest.mark.office
@pytest.mark.parametrize(("changes", "checks", "twice"), ROSTER_CASES)
def test_roster_tab_checks_ids(
    office: Office, book: int, changes: dict[str, str | float], checks: dict[int, str], twice: int
) -> None:
    places = [["Roster", FIRST_ROW + line - 1, ROSTER_CHECK] for line in checks]
    found = after(office, book, changes, [["Roster", 3, 1], *places])
    assert found == [twice, *checks.values()]


@pytest.mark.office
def test_who_is_measured_by_nobody_or_in_two_places_at_once_is_told(office: Office, book: int) -> None:
    """The fifth pair measures the third person no more; the sixth has the fifth's measurer in its wave."""
    changes = {
        "pair_5_participant": "S11", "pair_6_measurer": "s12", "pair_6_participant": "007",
        "pair_6_caliper": "C1",
    }  # fmt: skip
    places: list[list[object]] = [["Roster", FIRST_ROW + 2, ROSTER_CHECK]]
    places += [["Pairs", FIRST_ROW + line, PAIR_CHECK] for line in (3, 4, 5)]
    elsewhere = "one of the two is elsewhere in this wave"
    assert after(office, book, changes, places) == ["measured by nobody yet", "", elsewhere, elsewhere]


@pytest.mark.office
def test_roster_tab_carries_the_code_along_with_the_id(office: Office, book: int) -> None:
    """Sorting a list moves the entries, not what is locked beside them."""
    changes = {"roster_1_student_id": "s08", "roster_2_student_id": "007", "roster_3_student_id": "new"}
    places: list[list[object]] = [["Roster", FIRST_ROW + line, ROSTER_CODE] for line in range(3)]
    assert after(office, book, changes, places) == ["P-9H64", "P-2345", ""]


PAIR_CASES = [
    # what is typed into line 6, check, the two names
    ({}, "", "", ""),
    ({"measurer": "s08", "participant": "t1"}, "", "Bo", "Tea Cher"),
    ({"measurer": "S08", "participant": "s11", "caliper": "C1"}, "", "Bo", "New Comer"),
    ({"measurer": "s99", "participant": "t1"}, "measurer not on the roster", "", "Tea Cher"),
    ({"measurer": "s08"}, "participant not on the roster", "Bo", ""),
    ({"caliper": "C1"}, "measurer not on the roster", "", ""),
    ({"measurer": "s08", "participant": "S08"}, "measures themselves", "Bo", "Bo"),
    ({"measurer": "007", "participant": "s08"}, "this pair stands above already", "Zoë Müller", "Bo"),
    ({"measurer": "t1", "participant": "s08", "caliper": "C3"}, "caliper not in service", "Tea Cher", "Bo"),
    ({"measurer": "t1", "participant": "s08", "caliper": "C9"}, "caliper not in service", "Tea Cher", "Bo"),
    ({"measurer": "t1", "participant": "s08", "protocol": "Two-Folds"}, "", "Tea Cher", "Bo"),
    ({"measurer": "t1", "participant": "s08", "protocol": "two"}, "no such protocol", "Tea Cher", "Bo"),
    ({"protocol": "two-folds"}, "measurer not on the roster", "", ""),
    ({"spare": "2345-6789"}, "measurer not on the roster", "", ""),
    ({"measurer": "t1", "participant": "s08", "spare": "abcd efgh"}, "", "Tea Cher", "Bo"),
    (
        {"measurer": "t1", "participant": "s08", "spare": "2345-678"},
        "copy code has eight signs", "Tea Cher", "Bo",
    ),
    ({"measurer": "s11", "participant": "007"}, "these two are to be kept apart", "New Comer", "Zoë Müller"),
    ({"measurer": "007", "participant": "S11"}, "these two are to be kept apart", "Zoë Müller", "New Comer"),
]  # fmt: skip


@pytest.mark.office
@pytest.mark.parametrize(("line", "check", "measurer", "participant"), PAIR_CASES)
def test_pairs_tab_shows_who_and_what_is_wrong(
    office: Office, book: int, line: dict[str, str], check: str, measurer: str, participant: str
) -> None:
    assert len(BOOK.pairings) == 5
    changes = {f"pair_6_{name}": value for name, value in line.items()}
    row = FIRST_ROW + 5
    places: list[list[object]] = [["Pairs", row, column] for column in (PAIR_CHECK, 1, 3)]
    assert after(office, book, changes, places) == [check, measurer, participant]


STATE_CASES = [
    # what is typed on the tab Roster, checks of lines 1 and 2
    ({"roster_2_status": "left"}, ["left the class: this line is left out"] * 2),
    ({"roster_2_takes_part": "Measures-only"}, ["", ""]),
    ({"roster_2_apart": "t1; 007"}, ["these two are to be kept apart"] * 2),
    ({"roster_2_apart": "t1,S12"}, ["", ""]),
]


@pytest.mark.office
@pytest.mark.parametrize(("changes", "checks"), STATE_CASES)
def test_pairs_tab_knows_who_left_who_only_measures_and_who_is_kept_apart(
    office: Office, book: int, changes: dict[str, str], checks: list[str]
) -> None:
    places: list[list[object]] = [["Pairs", FIRST_ROW + line, PAIR_CHECK] for line in range(2)]
    assert after(office, book, changes, places) == checks


@pytest.mark.office
def test_pairs_tab_finds_a_number_typed_for_an_id(office: Office, book: int) -> None:
    changes = {"roster_7_student_id": "12", "roster_7_given_name": "Twelve", "pair_6_measurer": 12}
    assert after(office, book, changes, [["Pairs", FIRST_ROW + 5, 1]]) == ["Twelve"]


@pytest.mark.office
def test_calipers_tab_counts_those_in_service(office: Office, book: int) -> None:
    changes = {"caliper_1_in_service": "no", "caliper_4_identifier": "C4"}
    assert after(office, book, changes, [["Calipers", 2, 1]]) == [2]


CALIPER_CASES = [
    # what is typed of caliper 1 (0.5 mm steps, zero 0, blocks right), check, again by
    ({}, "", "2028-01-15"),
    ({"zero": -1.0, "block_10": 9.0, "block_20": 19.0, "block_40": 39.0}, "", "2028-01-15"),
    ({"zero": 1.01}, "use for practice only or have it adjusted", "2028-01-15"),
    ({"block_30": 30.5}, "", "2028-01-15"),
    ({"block_30": 30.6}, "off on a block by more than one step", "2028-01-15"),
    ({"zero": 0.1, "block_30": 30.6, "block_40": 40}, "", "2028-01-15"),
    ({"block_30": 30.6, "division": 1}, "", "2028-01-15"),
    ({"checked_on": None}, "no check on record", ""),
    ({"checked_on": "31/03/2027"}, "", ""),
    ({"zero": 3, "in_service": "no"}, "", "2028-01-15"),
    ({"checked_on": None, "identifier": None}, "", ""),
]


@pytest.mark.office
@pytest.mark.parametrize(("line", "check", "again"), CALIPER_CASES)
def test_calipers_tab_says_what_the_last_check_means(
    office: Office, book: int, line: dict[str, str | float | None], check: str, again: str
) -> None:
    places: list[list[object]] = [["Calipers", FIRST_ROW, at] for at in (CALIPER_CHECK, CALIPER_AGAIN)]
    changes = {f"caliper_1_{name}": value for name, value in line.items()}
    assert after(office, book, changes, places) == [check, again]


@pytest.mark.office
def test_formulas_outlive_a_cut(office: Office, tmp_path: Path) -> None:
    """An id dragged onto another place takes neither lookups nor checks along."""
    path = tmp_path / "book.xlsx"
    path.write_bytes(book_bytes())
    with office.workbook(path) as handle:
        office.move(handle, "Roster", [FIRST_ROW + 1, 0], [FIRST_ROW + 6, 0])
        office.set(handle, [["Roster", FIRST_ROW + 1, 0, "new"]])
        places = [["Roster", FIRST_ROW + line, ROSTER_CODE] for line in (1, 6)]
        assert office.get(handle, places) == ["", "P-9H64"]
