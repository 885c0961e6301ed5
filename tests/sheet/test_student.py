"""What holds for the Layout of every sheet, whatever the class has set; and for each copy of it.

Practice readings are the same every time, on the scale, and an estimate follows from them.
"""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import book_in, drawn, load_book
from sheetgen.class_folder.records import CaliperCheck, Person
from sheetgen.errors import UsageError
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.names import entry_names, live_names
from sheetgen.protocols.recalculation import Results, recalculate
from sheetgen.protocols.settings import BuiltWith, Caliper, SheetSettings
from sheetgen.sheet.calculator import practice_names
from sheetgen.sheet.heading import COLUMN_HEADINGS, TABS, wrapped_lines
from sheetgen.sheet.student import (
    LAYOUT_VERSION,
    SheetCopy,
    all_protocols,
    careful_protocol,
    counts_as_under_18,
    layout_of,
    practice_values,
    sheet_identity,
    source_of,
)
from sheetgen.texts.templates import read_template
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.cells import column_pixels, text_pixels
from sheetgen.workbook.layout import Cell, Layout, Tab, Value
from sheetgen.workbook.read.guard import read_package
from tests.classes import built_class, changed_setting
from tests.sheets import CALIPERS, SETTINGS, settings_with, sheet_of

REGISTER_OF_40 = tuple(Caliper(f"caliper-{at:02}", "spring caliper", 0.5, 60.0, 0.0) for at in range(40))
VARIANTS = (
    settings_with(),
    settings_with(language="es"),
    settings_with(narrow=True, cover_round_1=True),
    settings_with(site_rule="closest-pair", tolerance_kind="percent", tolerance=7.5, conversion="brozek"),
    settings_with(show_results="always", site_rule="closest-pair"),
    settings_with(show_results="never", calipers=REGISTER_OF_40),
    settings_with(reading_drill=True),
    settings_with(language="es", reading_drill=True),
)
OTHERS = (
    settings_with(under_18=True),
    settings_with(estimates="sums-only"),
    settings_with(protocol_id="three-sites-men"),
    settings_with(protocol_id="four-sites", site_rule="closest-pair"),
    settings_with(protocol_id="folds-only"),
    settings_with(protocol_id="youth-two-sites", under_18=True, youth_estimate="on"),
    settings_with(language="es", under_18=True),
    settings_with(language="es", protocol_id="four-sites", conversion=""),
    settings_with(language="es", protocol_id="folds-only", conversion=""),
)
IDS = [
    "usual",
    "Spanish",
    "narrow and covered",
    "percent",
    "always",
    "register of 40",
    "drill",
    "Spanish drill",
]
OTHER_IDS = [
    "under 18", "sums only", "three sites", "four sites", "folds only", "youth estimate",
    "Spanish under 18", "Spanish four sites", "Spanish folds only",
]  # fmt: skip

# Functions that every program of the first Open XML edition knows, none of them volatile.
KNOWN_FUNCTIONS = frozenset(
    {
        "ABS", "AND", "COUNT", "FALSE", "IF", "INDEX", "INT", "ISBLANK", "ISERROR", "ISNUMBER", "ISTEXT",
        "LEFT", "LOG10", "MATCH", "MAX", "MEDIAN", "MIN", "NOT", "OR", "ROUND", "SUM", "TRIM", "TRUE",
        "VALUE",
    }
)  # fmt: skip

SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")
IDENTITY_NAMES = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
)  # fmt: skip
ENTRY_NAMES = (
    "cautions_confirmed", "participant_agrees", "data_source", "participant_today", "age_years",
    "sex_equation", "mass_kg", "caliper_id", "zero_mm", "side", "length_upper_arm_cm", "length_thigh_cm",
    "caliper_id_2", "zero_2_mm", "changed_from_round", "changed_from_site",
    *(f"reading_{number}_{site}" for number in (1, 2, 3) for site in SITES),
    *(f"not_taken_{site}" for site in SITES),
)  # fmt: skip
OWN_NAMES = (
    "own_midpoint_upper_arm_cm", "own_midpoint_thigh_cm", *(f"own_site_{site}" for site in SITES),
    "own_sum_mm", "own_density_g_ml", "own_fat_percent", "own_fat_mass_kg", "own_fat_free_mass_kg",
)  # fmt: skip
LIVE_NAMES = (
    "midpoint_upper_arm_cm", "midpoint_thigh_cm",
    *(f"{kind}_{site}" for kind in ("site", "third", "again") for site in SITES),
    "sum_mm", "density_g_ml", "fat_percent", "fat_mass_kg", "fat_free_mass_kg", "ready",
)  # fmt: skip


@pytest.fixture(params=(*VARIANTS, *OTHERS), ids=[*IDS, *OTHER_IDS])
def layout(request: pytest.FixtureRequest) -> Layout:
    settings: SheetSettings = request.param
    return sheet_of(settings, settings.calipers[0].identifier).layout


@pytest.fixture(params=VARIANTS, ids=IDS)
def seven_sites(request: pytest.FixtureRequest) -> Layout:
    settings: SheetSettings = request.param
    return sheet_of(settings, settings.calipers[0].identifier).layout


def _cells(layout: Layout) -> Iterator[tuple[Tab, Cell]]:
    return ((tab, cell) for tab in layout.tabs for cell in tab.cells)


def _formulas(layout: Layout) -> set[str]:
    """Every formula there is: in cells, in rules, in conditional formats."""
    in_cells = {cell.formula for _, cell in _cells(layout)}
    in_rules = {cell.rule.formula for _, cell in _cells(layout) if cell.rule is not None}
    in_formats = {emphasis.formula for tab in layout.tabs for emphasis in tab.emphases}
    return (in_cells | in_rules | in_formats) - {""}


def test_tabs_stand_in_the_order_of_the_work_and_the_calculator_is_hidden(layout: Layout) -> None:
    keys = ["care", "start", "sites", "readings", "working", "results", "about", "calculator"]
    if any(tab.key == "drill" for tab in layout.tabs):
        keys.insert(keys.index("readings"), "drill")
    assert [tab.key for tab in layout.tabs] == keys
    assert [tab.key for tab in layout.tabs if tab.hidden] == ["calculator"]


def test_titles_of_the_tabs() -> None:
    titles = ["Care", "Start", "Sites", "Readings", "Working", "Results", "About", "Calculator"]
    assert [tab.title for tab in sheet_of().layout.tabs] == titles


def test_names_are_those_of_the_contract(seven_sites: Layout) -> None:
    named = {cell.name for _, cell in _cells(seven_sites) if cell.named and not cell.defined}
    defined = {cell.defined_name for _, cell in _cells(seven_sites) if cell.named}
    wanted = {*IDENTITY_NAMES, *ENTRY_NAMES, *OWN_NAMES, *LIVE_NAMES, "class_code", "settings"}
    answers = {"answer_repeat", "answer_zero", "answer_error"}
    if any(tab.key == "drill" for tab in seven_sites.tabs):
        wanted |= {f"drill_{number}" for number in range(1, 11)}
    assert named <= wanted | answers
    assert {name for name in defined if not name.startswith("typed_")} == wanted | answers


def test_name_of_an_entry_belongs_to_the_cell_that_holds_its_code_word(layout: Layout) -> None:
    """Where the list shows other words, that is a cell of the hidden tab."""
    where = {cell.defined_name: (tab.key, cell) for tab, cell in _cells(layout) if cell.named}
    typed = {name.removeprefix("typed_") for name in where if name.startswith("typed_")}
    assert "changed_from_site" in typed
    assert {where[name][0] for name in typed} == {"calculator"}
    assert {where[name][1].name for name in typed} == {f"in_{name}" for name in typed}


def test_named_cells_have_the_role_that_their_name_tells(seven_sites: Layout) -> None:
    roles = {cell.name: (tab.key, cell.role) for tab, cell in _cells(seven_sites) if cell.named}
    assert {roles[name] for name in IDENTITY_NAMES} == {("calculator", "identity")}
    assert {roles[name] for name in LIVE_NAMES} == {("calculator", "formula")}
    assert {roles[name][1] for name in (*ENTRY_NAMES, *OWN_NAMES)} == {"entry"}
    assert {roles[name][0] for name in ("cautions_confirmed", "participant_agrees")} == {"care"}
    assert {roles[name][0] for name in ENTRY_NAMES if "reading_" in name or "taken" in name} == {"readings"}
    others = [name for name in ENTRY_NAMES[2:] if "reading_" not in name and "taken" not in name]
    assert {roles[name][0] for name in (*others, *OWN_NAMES[:2])} == {"start"}
    assert {roles[name][0] for name in OWN_NAMES[2:]} == {"working"}


@pytest.mark.parametrize("settings", OTHERS, ids=OTHER_IDS)
def test_named_cells_follow_the_protocol(settings: SheetSettings) -> None:
    sheet = sheet_of(settings)
    named = {
        cell.name: cell.role
        for _, cell in _cells(sheet.layout)
        if cell.named and not cell.name.startswith("in_")
    }
    entries, live = entry_names(sheet.source.protocol), live_names(sheet.source.protocol)
    assert set(named) == {*IDENTITY_NAMES, *entries, *live, "class_code", "settings"}
    assert {named[name] for name in entries} == {"entry"}
    assert {named[name] for name in live} == {"formula"}


TRUNK_SITES = ("chest", "midaxillary", "subscapular", "abdominal", "suprailiac")
# protocol, limb sites that are left, youth estimate
SHEETS_AT_16 = (
    ("seven-sites", ["triceps", "thigh"], "off"),
    ("seven-sites", ["triceps", "thigh"], "on"),
    ("three-sites-men", ["thigh"], "on"),
    ("three-sites-women", ["triceps", "thigh"], "off"),
    ("four-sites", ["biceps", "triceps"], "on"),
    ("youth-two-sites", ["triceps", "calf"], "off"),
    ("folds-only", ["biceps", "triceps", "thigh", "calf"], "on"),
)


@pytest.mark.parametrize(("protocol_id", "limbs", "youth_estimate"), SHEETS_AT_16)
def test_sheet_of_a_sixteen_year_old_asks_for_limb_sites_and_their_sum(
    protocol_id: str, limbs: list[str], youth_estimate: str
) -> None:
    """By every protocol, and also where the class turned the estimate on but a trunk site would be needed."""
    settings = settings_with(protocol_id=protocol_id, under_18=True, youth_estimate=youth_estimate)
    layout = sheet_of(settings).layout
    first_round = [cell.name for cell in layout.tab("readings").cells if cell.name.startswith("reading_1_")]
    assert first_round == [f"reading_1_{site}" for site in limbs]
    entries = {cell.name for _, cell in _cells(layout) if cell.role == "entry"}
    assert entries & {"sex_equation", "mass_kg", "age_years", "own_density_g_ml", "own_fat_percent"} == set()
    formulas = {cell.name: cell.formula for cell in layout.tab("calculator").cells if cell.name}
    estimate = ("density_g_ml", "fat_percent", "fat_mass_kg", "fat_free_mass_kg")
    assert {formulas[name] for name in estimate} == {'=""'}
    assert '"ok"' not in formulas["estimate_state"]


@pytest.mark.parametrize("protocol_id", ["seven-sites", "three-sites-men", "four-sites"])
def test_sheet_of_a_sixteen_year_old_has_no_trunk_site_on_any_tab(protocol_id: str) -> None:
    """No name, line, rule or formula; About alone names some, to say which description of sites holds."""
    sheet = sheet_of(settings_with(protocol_id=protocol_id, under_18=True))
    standard = sheet.source.protocol.standard
    settings_text = sheet.layout.settings_text
    texts = [
        f"{cell.name} {cell.value} {cell.formula} {cell.rule}".casefold()
        for _, cell in _cells(sheet.layout)
        if cell.value not in (standard, settings_text)
    ]
    assert [text for text in texts for site in TRUNK_SITES if site in text] == []
    assert '"trunk":true' not in settings_text


def test_sheet_of_a_sixteen_year_old_may_have_the_youth_estimate_turned_on() -> None:
    settings = settings_with(protocol_id="youth-two-sites", under_18=True, youth_estimate="on")
    layout = sheet_of(settings).layout
    entries = {cell.name for _, cell in _cells(layout) if cell.role == "entry"}
    assert {"sex_equation", "mass_kg", "age_years", "own_fat_percent"} - entries == set()
    formulas = {cell.name: cell.formula for cell in layout.tab("calculator").cells if cell.name}
    assert '"ok"' in formulas["estimate_state"]
    assert "under-18" not in formulas["estimate_state"]


def test_named_cells_are_named_once(layout: Layout) -> None:
    names = [cell.name for _, cell in _cells(layout) if cell.name and cell.name != "sheet_line"]
    assert len(names) == len(set(names))
    defined = [cell.defined_name for _, cell in _cells(layout) if cell.named]
    assert len(defined) == len(set(defined))


def test_every_entry_has_a_place(layout: Layout) -> None:
    """On a visible tab, in a row and a column that are shown."""
    built = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    tabs = {tab.key: tab for tab in layout.tabs}
    places = layout.places()
    for name in entry_names(built.protocol):
        key, row, column = places[name]
        assert not tabs[key].hidden
        assert tabs[key].widths[column] > 0
        assert dict(tabs[key].heights)[row] >= 24


def test_places_hold_at_most_one_cell_and_stand_in_order(layout: Layout) -> None:
    for tab in layout.tabs:
        places = [(cell.row, cell.column) for cell in tab.cells]
        assert places == sorted(set(places))


def test_entries_alone_have_rules_and_every_entry_has_one(layout: Layout) -> None:
    assert {cell.role for _, cell in _cells(layout) if cell.rule is not None} == {"entry"}
    assert [cell.name for _, cell in _cells(layout) if cell.role == "entry" and cell.rule is None] == []


def test_rules_keep_within_the_file_format(layout: Layout) -> None:
    for _, cell in _cells(layout):
        if cell.rule is None:
            continue
        assert 0 < len(cell.rule.title) <= 32
        assert 0 < len(cell.rule.error) <= 255
        assert len(cell.rule.formula) <= 255
        assert len(",".join(cell.rule.words)) <= 255


def test_formulas_keep_within_the_file_format(layout: Layout) -> None:
    """A program older than the format's own limit takes 2,000 characters."""
    assert max(len(formula) for formula in _formulas(layout)) <= 2000


def test_rules_and_conditional_formats_look_at_their_own_tab_only(layout: Layout) -> None:
    """The first edition of the file format takes no other tab in them."""
    lists = [
        cell.rule.formula
        for _, cell in _cells(layout)
        if cell.rule is not None and not cell.name.startswith("caliper_id")
    ]
    formats = [emphasis.formula for tab in layout.tabs for emphasis in tab.emphases]
    assert [text for text in (*lists, *formats) if "!" in text] == []
    assert len(formats) > 10


def test_input_messages_never_lie_over_the_hint_that_they_would_repeat(layout: Layout) -> None:
    assert {cell.rule.prompt for _, cell in _cells(layout) if cell.rule is not None} == {""}


def test_texts_inside_formulas_keep_within_the_file_format(layout: Layout) -> None:
    texts = [text for formula in _formulas(layout) for text in re.findall(r'"((?:[^"]|"")*)"', formula)]
    assert 20 < max(map(len, texts)) <= 255


def test_texts_in_cells_keep_within_the_file_format(layout: Layout) -> None:
    texts = [cell.value for _, cell in _cells(layout) if isinstance(cell.value, str)]
    assert max(map(len, texts)) <= 32_767


def test_formulas_use_functions_of_the_first_edition_only(layout: Layout) -> None:
    used = set()
    for formula in _formulas(layout):
        used |= set(re.findall(r"([A-Za-z_][\w.]*)\(", re.sub(r'"(?:[^"]|"")*"', '""', formula)))
    assert used - KNOWN_FUNCTIONS == set()
    assert used >= {"IF", "INDEX", "MEDIAN", "ROUND"}


def test_formulas_are_resolved(layout: Layout) -> None:
    assert [formula for formula in _formulas(layout) if "{" in formula or not formula.startswith("=")] == []


def test_formula_cells_alone_hold_formulas(layout: Layout) -> None:
    assert {cell.role for _, cell in _cells(layout) if cell.formula} == {"formula"}
    assert [cell for _, cell in _cells(layout) if cell.role == "formula" and not cell.formula] == []


def test_format_words_are_those_of_the_style(layout: Layout) -> None:
    style = tomllib.loads(read_template("style.toml"))
    used = {cell.format for _, cell in _cells(layout)}
    used |= {emphasis.format for tab in layout.tabs for emphasis in tab.emphases}
    assert used - set(style) == set()


def test_entries_alone_look_open(layout: Layout) -> None:
    style = tomllib.loads(read_template("style.toml"))
    open_words = {word for word, table in style.items() if table.get("locked") is False}
    assert {cell.role for _, cell in _cells(layout) if cell.format in open_words} == {"entry"}
    assert {cell.format for _, cell in _cells(layout) if cell.role == "entry"} <= open_words


def test_visible_formulas_point_at_no_entry(layout: Layout) -> None:
    """A cut carries references to a cell along; only the mirror, by place over a whole block, may look."""
    for tab in layout.tabs:
        entries = {absolute(cell.row, cell.column) for cell in tab.cells if cell.role == "entry"}
        own = [cell.formula for cell in tab.cells if cell.role == "formula" and not tab.hidden]
        pointing = [text for text in own if entries & set(re.findall(r"(?<!!)\$[A-Z]+\$\d+", text))]
        assert pointing == []


def test_first_line_of_every_visible_tab_tells_whose_copy_it_is(layout: Layout) -> None:
    rows = {tab.key: cell.row for tab, cell in _cells(layout) if cell.name == "sheet_line"}
    drill = msgspec.json.decode(layout.settings_text, type=BuiltWith).settings.reading_drill
    assert rows == dict.fromkeys([tab for tab in TABS if drill or tab != "drill"], 0)


def test_tabs_are_shown_without_rulers_and_fit_a_window_of_1366_pixels(layout: Layout) -> None:
    """The program takes 60 px at the edges, and some draw a column an eighth wider than its pixels say."""
    shown = [tab for tab in layout.tabs if not tab.hidden]
    assert {tab.bare for tab in shown} == {True}
    wide = {tab.key: sum(column_pixels(width) for width in tab.widths if width) for tab in shown}
    assert max(wide.values()) <= 1160
    assert [tab.key for tab in shown if max(cell.column for cell in tab.cells) >= len(tab.widths)] == []


def test_no_fixed_text_is_cut_in_a_wide_typeface(layout: Layout) -> None:
    """A wrapped text has its lines; another runs over empty cells to the right of it, and no further."""
    style = tomllib.loads(read_template("style.toml"))
    cut = []
    for tab in layout.tabs[:-1]:
        heights = dict(tab.heights)
        held = {(cell.row, cell.column) for cell in tab.cells if cell.value not in (None, "") or cell.name}
        for cell in tab.cells:
            look = {**style["base"], **style[cell.format]}
            if not isinstance(cell.value, str) or not cell.value or cell.row < COLUMN_HEADINGS:
                continue
            bold, indent, points = look.get("bold", False), look.get("indent", 0), look["font_size"]
            if look.get("text_wrap"):
                columns = tab.widths[cell.column : cell.column + cell.across]
                across = (sum(map(column_pixels, columns)) - 5) / 7
                lines = wrapped_lines(cell.value, across, bold, indent, points)
                fits = lines * points * 1.25 <= heights[cell.row]
            else:
                end = cell.column + 1
                while end < len(tab.widths) and (cell.row, end) not in held:
                    end += 1
                # In the wide typeface a column that counts 7 pixels a digit has 8.48.
                room = (
                    8.48 / 7 * sum(column_pixels(width) for width in tab.widths[cell.column : end] if width)
                )
                # What is aligned to the right runs over the empty cell before it.
                fits = (
                    look.get("align") == "right"
                    or text_pixels(cell.value, bold, points) + 9 * indent + 6 <= room
                )
            if not fits:
                cut.append((tab.key, cell.row, cell.column, cell.value))
    assert cut == []


def test_layout_as_json_and_back_is_equal(layout: Layout) -> None:
    text = msgspec.json.encode(layout)
    again = msgspec.json.decode(text, type=Layout)
    assert again == layout


def test_layout_of_the_same_settings_is_equal() -> None:
    first = sheet_of(settings_with(), "C1").layout
    second = sheet_of(settings_with(), "C2", "AAAA-2222").layout
    assert msgspec.json.encode(first) == msgspec.json.encode(second)


def test_identity_of_a_copy() -> None:
    values = sheet_of(settings_with(), "C2").identity.values
    wanted = (
        "copy_code",
        "student_id",
        "participant_code",
        "protocol_id",
        "session_number",
        "caliper_zero_mm",
    )
    assert [values[name] for name in wanted] == ["7K3F-9QXM", "S01", "P-2A3B", "seven-sites", 1, -0.4]
    assert values["sheet_line"] == "Sheet 7K3F-9QXM   Measurer S01   Participant P-2A3B   Session 1"
    assert values["today_line"] == "You measure P-2A3B."
    assert (values["caliper_id"], values["in_caliper_id"], values["caliper_row"]) == ("C2", "C2", 2)
    assert (values["caliper_opening"], values["shown_opening"], values["shown_division"]) == (80.0, 80.0, 0.2)
    assert values["shown_scale"] == "C2: steps of 0.2 mm, up to 80 mm. A number looks like 12.5 here."


def test_identity_in_spanish_has_the_decimal_sign_of_the_language() -> None:
    values = sheet_of(settings_with(language="es"), "C2").identity.values
    assert "0,2 mm" in str(values["shown_scale"])
    assert "12,5" in str(values["shown_scale"])


def test_identity_names_cells_of_the_layout() -> None:
    sheet = sheet_of()
    assert set(sheet.identity.values) - {cell.name for _, cell in _cells(sheet.layout)} == set()
    identity_cells = {cell.name for _, cell in _cells(sheet.layout) if cell.role == "identity"}
    assert identity_cells - set(sheet.identity.values) == set()


def test_identity_with_a_caliper_that_is_not_in_the_register() -> None:
    source = sheet_of().source
    with pytest.raises(KeyError, match="C9"):
        copy = SheetCopy("7K3F-9QXM", "CLASS2", "S01", "P-2A3B", 1, "C9")
        sheet_identity(source.protocol, source.settings, source.texts, copy)


# under_18 on the roster, minors in the class, whether the sheet is made for someone under 18
PEOPLE = (
    ("yes", "none", True),
    ("yes", "some", True),
    ("yes", "all", True),
    ("no", "none", False),
    ("no", "some", False),
    ("no", "all", True),
    ("", "none", False),
    ("", "some", True),
    ("", "all", True),
)


@pytest.mark.parametrize(("under_18", "minors", "expected"), PEOPLE)
def test_who_counts_as_under_18(under_18: str, minors: str, expected: bool) -> None:
    assert counts_as_under_18(Person("S01", "Ada", "Fen", under_18=under_18), minors) == expected


# protocol, under 18, youth estimate, estimates, sites left, equations left
CAREFUL = (
    ("seven-sites", False, "off", "on", 7, 2),
    ("seven-sites", False, "on", "on", 7, 2),
    ("seven-sites", False, "off", "sums-only", 7, 0),
    ("seven-sites", True, "off", "on", 2, 0),
    ("seven-sites", True, "on", "on", 2, 0),
    ("three-sites-men", True, "on", "on", 1, 0),
    ("three-sites-women", True, "on", "on", 2, 0),
    ("four-sites", False, "off", "on", 4, 10),
    ("four-sites", True, "on", "on", 2, 0),
    ("youth-two-sites", True, "off", "on", 2, 0),
    ("youth-two-sites", True, "on", "on", 2, 2),
    ("youth-two-sites", True, "on", "sums-only", 2, 0),
    ("youth-two-sites", False, "off", "on", 2, 2),
    ("folds-only", True, "on", "on", 4, 0),
)


@pytest.mark.parametrize(("protocol_id", "under_18", "youth", "estimates", "sites", "equations"), CAREFUL)
def test_what_is_left_of_a_protocol(
    protocol_id: str, under_18: bool, youth: str, estimates: str, sites: int, equations: int
) -> None:
    settings = settings_with(
        protocol_id=protocol_id, under_18=under_18, youth_estimate=youth, estimates=estimates
    )
    left = careful_protocol(find_protocol(protocol_id), settings)
    assert (len(left.sites), len(left.equations)) == (sites, equations)
    assert not (under_18 and any(site.trunk for site in left.sites))
    assert equations > 0 or (left.conversions, left.default_conversion) == ((), "")


def test_protocol_of_an_adult_is_left_as_it_is() -> None:
    protocol = find_protocol("seven-sites")
    assert careful_protocol(protocol, settings_with()) == protocol


def test_sites_that_are_left_keep_their_order_and_the_rest_of_the_protocol_stays() -> None:
    protocol = find_protocol("seven-sites")
    left = careful_protocol(protocol, settings_with(under_18=True))
    assert [site.word for site in left.sites] == ["triceps", "thigh"]
    assert (left.identifier, left.standard, left.notes) == (
        "seven-sites",
        protocol.standard,
        protocol.notes,
    )


def test_care_beats_a_range_of_ages_that_the_protocol_gives() -> None:
    """An equation for people of 16 is published; it needs trunk sites, so nobody of 16 is asked for them."""
    protocol = find_protocol("four-sites")
    assert min(equation.age_minimum for equation in protocol.equations) == 16
    left = careful_protocol(protocol, settings_with(under_18=True, youth_estimate="on"))
    assert (len(left.sites), left.equations) == (2, ())


def test_protocol_of_trunk_sites_only_has_no_site_left() -> None:
    protocol = find_protocol("seven-sites")
    trunk = replace(protocol, sites=tuple(site for site in protocol.sites if site.trunk))
    assert careful_protocol(trunk, settings_with(under_18=True)).sites == ()


def test_the_same_settings_give_the_same_layout() -> None:
    assert source_of(SETTINGS).layout == source_of(SETTINGS).layout


def test_a_layout_tells_what_it_was_built_with() -> None:
    source = source_of(SETTINGS)
    told = msgspec.json.decode(source.layout.settings_text, type=BuiltWith)
    assert told == BuiltWith(SETTINGS, source.protocol, LAYOUT_VERSION)
    assert layout_of(told).layout == source.layout


def test_an_unknown_protocol_in_the_settings_is_named() -> None:
    with pytest.raises(UsageError, match="eight-sites"):
        source_of(replace(SETTINGS, protocol_id="eight-sites"))


def test_every_shipped_protocol_is_there_by_its_identifier() -> None:
    protocols = all_protocols()
    assert "seven-sites" in protocols
    assert [protocol.identifier for protocol in protocols.values()] == list(protocols)


def test_what_the_teacher_changes_in_the_class_book_is_read(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    for label, value in (("Site value", "closest-pair"), ("Tolerance", 1.5), ("Density to fat", "brozek")):
        changed_setting(folder, label, value)
    settings = load_book(folder).settings
    assert (settings.site_rule, settings.tolerance, settings.conversion) == ("closest-pair", 1.5, "brozek")


def test_a_check_that_is_old_is_said_only_where_the_day_is_known(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    book = load_book(folder)
    checked = replace(book, checks=(CaliperCheck("C1", (), "2027-01-10", "the keeper"),))
    folder.book.write_bytes(drawn(folder, checked)[1])
    package = read_package(folder.book)
    assert book_in(folder, package).notes == ()
    assert [note.code for note in book_in(folder, package, "2029-01-10").notes] == ["class-book-check-old"]
    assert book_in(folder, package, "2027-01-11").notes == ()


PROTOCOL = sheet_of().source.protocol
CODES = ("7K3F-9QXM", "AAAA-2222", "ZZ99-WXYZ", "2345-6789", "HJKM-NPQR")


def _entries(caliper: Caliper, code: str) -> dict[str, Value]:
    values = practice_values(PROTOCOL, caliper, code)
    return {name.removeprefix("practice_"): value for name, value in values.items()}


def _results(caliper: Caliper, code: str) -> Results:
    return recalculate(PROTOCOL, SETTINGS, _entries(caliper, code))


def test_values_of_one_code_are_the_same_every_time() -> None:
    first = practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")
    assert first == practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")
    assert (first["practice_age_years"], first["practice_sex_equation"]) == (24, "male")
    assert first["practice_reading_1_chest"] == 9.5


def test_values_of_different_codes_differ() -> None:
    sets = {tuple(practice_values(PROTOCOL, CALIPERS[0], code).items()) for code in CODES}
    assert len(sets) == len(CODES)


def test_names_are_those_of_the_values() -> None:
    assert set(practice_values(PROTOCOL, CALIPERS[0], "7K3F-9QXM")) == set(practice_names(PROTOCOL))
    assert len(practice_names(PROTOCOL)) == 6 + 21


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("code", CODES)
def test_readings_stand_on_the_scale_above_the_zero_and_inside_the_opening(
    caliper: Caliper, code: str
) -> None:
    readings = [value for name, value in _entries(caliper, code).items() if name.startswith("reading_")]
    assert len(readings) == 21
    for reading in readings:
        assert isinstance(reading, float)
        assert hundredths(reading) % hundredths(caliper.division) == 0
        assert caliper.zero < reading <= caliper.opening


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("code", CODES)
def test_two_sites_call_for_a_third_reading_and_an_estimate_follows(caliper: Caliper, code: str) -> None:
    results = _results(caliper, code)
    assert [site.third_needed for site in results.sites].count("yes") == 2
    assert [site.measure_again for site in results.sites].count(True) == 0
    assert results.estimate_state == "ok"
    assert results.fat_mass_kg is not None


# settings, details of the practice set
DETAILS: tuple[tuple[dict[str, object], set[str]], ...] = (
    ({"under_18": True}, {"zero_mm", "length_upper_arm_cm", "length_thigh_cm"}),
    (
        {"protocol_id": "three-sites-men"},
        {"age_years", "sex_equation", "mass_kg", "zero_mm", "length_thigh_cm"},
    ),
    ({"protocol_id": "folds-only"}, {"zero_mm", "length_upper_arm_cm", "length_thigh_cm"}),
)


@pytest.mark.parametrize(("changes", "details"), DETAILS)
def test_set_holds_only_what_the_sheet_asks_for(changes: dict[str, object], details: set[str]) -> None:
    protocol = sheet_of(settings_with(**changes)).source.protocol
    names = {name.removeprefix("practice_") for name in practice_values(protocol, CALIPERS[0], "7K3F-9QXM")}
    readings = {f"reading_{number}_{site.word}" for number in (1, 2, 3) for site in protocol.sites}
    assert names == details | readings


PROTOCOLS = ("three-sites-men", "three-sites-women", "four-sites", "youth-two-sites")


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("protocol_id", PROTOCOLS)
def test_estimate_follows_by_every_protocol_that_makes_one(protocol_id: str, code: str) -> None:
    """The age is one that an equation takes: 17 at most where the equations are for young people."""
    youth = protocol_id == "youth-two-sites"
    sheet = sheet_of(settings_with(protocol_id=protocol_id, under_18=youth, youth_estimate="on"))
    values = practice_values(sheet.source.protocol, CALIPERS[0], code)
    entries = {name.removeprefix("practice_"): value for name, value in values.items()}
    results = recalculate(sheet.source.protocol, sheet.source.settings, entries)
    assert results.estimate_state == "ok"
    assert results.fat_percent is not None


def test_zero_is_that_of_the_caliper() -> None:
    assert _entries(CALIPERS[1], "7K3F-9QXM")["zero_mm"] == -0.4


def test_third_reading_is_there_for_a_class_with_a_narrow_tolerance() -> None:
    results = recalculate(PROTOCOL, settings_with(tolerance=0.1), _entries(CALIPERS[0], "7K3F-9QXM"))
    assert all(site.corrected[2] is not None for site in results.sites)
