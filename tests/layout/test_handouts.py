"""Pair slips, run sheet and stations: names here alone, and no readings."""

import re
import tomllib
from collections.abc import Sequence

from sheetgen.layout.class_book_stations import stations_plan
from sheetgen.layout.handouts import Lesson, Meeting, handouts_layout
from sheetgen.layout.paper_form import paper_forms_layout
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Layout, Tab, Value
from sheetgen.model.settings import ClassBook, Pairing, Person
from sheetgen.store.protocols import find_protocol
from sheetgen.store.templates import read_template
from sheetgen.store.texts import load_texts, texts_in
from tests.layout.test_paper_form import form_of
from tests.sheets import SETTINGS, settings_with
from tests.test_texts import Recording

TEXTS = texts_in("en", "sheet", "paper")
PEOPLE = tuple(
    Person(f"S{number:02}", name, "Fen", participant_code=f"P-222{number}")
    for number, name in enumerate(("Ada", "Bo", "=Cy", ""), start=1)
)
PAIRINGS = (
    Pairing("S01", "S02", "C1"), Pairing("S02", "S01", "C1"),
    Pairing("S03", "S04", "C2"), Pairing("S04", "S03", "C2"),
)  # fmt: skip
SPARES = ("spare/spare-1_2222-3333.xlsx",)


def meeting_of(number: int, turn: object) -> Meeting:
    pairing = PAIRINGS[number]
    people = {person.student_id: person for person in PEOPLE}
    code = f"2345-678{number}"
    record = CopyRecord(
        code, 1, pairing.measurer, pairing.participant, people[pairing.participant].participant_code,
        pairing.caliper_id, "", f"{pairing.measurer}_{code}.xlsx", "", {},
    )  # fmt: skip
    return Meeting(people[pairing.measurer], people[pairing.participant], record, turn)  # type: ignore[arg-type]


def layout_of(
    spares: Sequence[str] = SPARES, due_date: str = "2027-03-31", texts: object = TEXTS, times: int = 1
) -> Layout:
    book = ClassBook("23456A", "Lighthouse", SETTINGS, PEOPLE, PAIRINGS, due_date=due_date)
    protocol = find_protocol("seven-sites")
    plan = stations_plan(PAIRINGS, len(protocol.sites), book.seconds_a_reading)
    meetings = [meeting_of(number, line) for number, line in enumerate(plan.lines)] * times
    return handouts_layout(Lesson(1, book, protocol, plan, meetings, spares), texts)  # type: ignore[arg-type]


def texts_on(tab: Tab) -> list[Value]:
    return [cell.value for cell in tab.cells if cell.value not in (None, "")]


def test_a_slip_says_who_measures_whom_where_and_on_which_sheet() -> None:
    slips = layout_of().tab("slips")
    first = [cell.value for cell in slips.cells if cell.column == 0 and cell.format.startswith("slip")]
    assert first[:5] == [
        "Ada (S01)",
        "measures Bo (S02)",
        "Caliper C1, wave 1: minute 0 to 14",
        "Sheet 2345-6780",
        "File S01_2345-6780.xlsx",
    ]
    second = [cell.value for cell in slips.cells if cell.column == 2 and cell.format.startswith("slip")]
    assert second[:3] == ["Bo (S02)", "measures Ada (S01)", "Caliper C1, wave 2: minute 14 to 28"]


def test_a_person_without_a_given_name_is_called_by_the_id() -> None:
    assert "measures S04 (S04)" in texts_on(layout_of().tab("slips"))


def test_slips_that_hold_names_say_so_and_twelve_stand_on_a_page() -> None:
    tab = layout_of(times=7).tab("slips")
    assert "hold names" in str(texts_on(tab)[1])
    starts = [cell.row for cell in tab.cells if cell.format == "slip_first" and cell.column == 0]
    assert tab.page_breaks == (starts[6], starts[12])


def test_a_pair_without_a_turn_gets_a_slip_without_minutes() -> None:
    book = ClassBook("23456A", "Lighthouse", SETTINGS, PEOPLE, PAIRINGS)
    plan = stations_plan(PAIRINGS, 7, 45)
    layout = handouts_layout(
        Lesson(1, book, find_protocol("seven-sites"), plan, [meeting_of(0, None)], ()), TEXTS
    )
    assert "Caliper C1" in texts_on(layout.tab("slips"))
    assert len([cell for cell in layout.tab("stations").cells if cell.format.startswith("station")]) == 0


def test_the_run_sheet_counts_pairs_calipers_waves_and_minutes() -> None:
    """Worked out by hand: two pairs at two calipers, so 4 lines and 2 waves; 14 readings of 45 s are 10.5
    minutes, with third readings 13.65, rounded up 14: 28 minutes; 10 before, 15 and 5 after."""
    run = " ".join(map(str, texts_on(layout_of().tab("run"))))
    assert "Measurements: 4. Calipers: 2 (C1, C2). Waves: 2, of 14 minutes each." in run
    assert "Measuring in all: 28 minutes" in run
    assert "Minute 10 to 38:" in run
    assert "Minute 38 to 53:" in run
    assert "Minute 53 to 58:" in run


def test_the_run_sheet_carries_rules_cautions_spare_files_and_the_due_date() -> None:
    run = texts_on(layout_of().tab("run"))
    cautions = [text for text in run if re.match(r"\d+\. ", str(text))]
    assert len(cautions) == 13
    joined = " ".join(map(str, run))
    assert "Third reading where two differ by more than 2 mm." in joined
    assert "spare/spare-1_2222-3333.xlsx" in joined
    assert "Due on 2027-03-31." in joined
    without = " ".join(map(str, texts_on(layout_of((), "").tab("run"))))
    assert "There is no spare sheet" in without
    assert "Due on" not in without


def test_the_run_sheet_is_one_page() -> None:
    tab = layout_of([f"spare/spare-{number}_2222-3333.xlsx" for number in range(1, 21)]).tab("run")
    height = sum(points for _, points in tab.heights)
    assert height * tab.scale / 100 <= 695
    assert 60 <= tab.scale <= 94


def test_stations_stand_together_by_caliper_and_wave() -> None:
    tab = layout_of().tab("stations")
    assert tab.repeat == 3
    rows: dict[int, list[Value]] = {}
    for cell in tab.cells:
        rows.setdefault(cell.row, []).append(cell.value)
    assert rows[4] == ["C1", 1, 0, 14, "S01", "Ada", "S02", "Bo", "2345-6780"]
    assert [rows[row][:3] for row in (5, 6, 7)] == [["C1", 2, 14], ["C2", 1, 0], ["C2", 2, 14]]


def test_every_tab_has_its_title_in_the_first_cell_and_the_document_has_one() -> None:
    layout = layout_of()
    assert layout.title == "Run sheet for whoever takes the lesson, session 1"
    assert [tab.title for tab in layout.tabs] == ["Pair slips", "Run sheet", "Stations"]
    for tab in layout.tabs:
        assert (tab.cells[0].row, tab.cells[0].column) == (0, 0)
        assert tab.cells[0].value
        assert len({(cell.row, cell.column) for cell in tab.cells}) == len(tab.cells)


def test_format_words_are_those_of_the_style() -> None:
    style = tomllib.loads(read_template("style.toml"))
    used = {cell.format for tab in layout_of().tabs for cell in tab.cells}
    assert used - set(style) == set()


def test_every_text_of_what_is_printed_is_used_and_no_place_is_left_open() -> None:
    texts = Recording(TEXTS)
    zeros = [form_of(caliper_id=caliper) for caliper in ("C1", "C2", "7")]
    forms = paper_forms_layout([*zeros, form_of(settings_with(under_18=True), spare=True)], "en", texts)
    layouts = [forms, layout_of(texts=texts), layout_of((), "", texts)]
    book = ClassBook("23456A", "Lighthouse", SETTINGS, PEOPLE, PAIRINGS)
    plan = stations_plan(PAIRINGS, 7, 45)
    layouts.append(
        handouts_layout(Lesson(1, book, find_protocol("seven-sites"), plan, [meeting_of(0, None)], ()), texts)
    )
    assert sorted(set(load_texts("paper.en")) - texts.asked) == []
    shown = [text for layout in layouts for tab in layout.tabs for text in texts_on(tab)]
    assert [text for text in shown if re.search(r"\{[a-z_]*\}", str(text))] == []
