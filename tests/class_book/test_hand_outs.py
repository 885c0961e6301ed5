"""Pair slips, run sheet and stations: names here alone, and no readings."""

import re
import subprocess
import tomllib
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_book import hand_outs as handouts
from sheetgen.class_book.book import load_book
from sheetgen.class_book.hand_outs import Lesson, Meeting, handouts_layout, write_handouts
from sheetgen.class_book.lesson import Turn, Waiting, lesson_frame, lesson_plan
from sheetgen.class_book.pairing import pairs_for_the_rest
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord, Pairing, Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.errors import FolderError
from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet.paper import paper_forms_layout
from sheetgen.sheet.site_cards import site_cards_layout
from sheetgen.sheet.typing_in import typing_in_layout
from sheetgen.texts.languages import load_texts, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Layout, Tab, Value
from tests.classes import PEOPLE, ROSTER, built_class, changed_setting, record_of, run
from tests.office.client import Office
from tests.office.pictures import printed
from tests.sheet.test_paper import form_of
from tests.sheets import SETTINGS, settings_with
from tests.test_texts import Recording

TEXTS = texts_in("en", "sheet", "paper", "review")
C1 = Caliper("C1", "", 0.5, 60.0, 0.0)
PEOPLE_of_handouts = tuple(
    Person(f"S{number:02}", name, "Fen", participant_code=f"P-222{number}")
    for number, name in enumerate(("Ada", "Bo", "=Cy", ""), start=1)
)
PAIRINGS = (
    Pairing("S01", "S02", "C1"), Pairing("S02", "S01", "C1"),
    Pairing("S03", "S04", "C2"), Pairing("S04", "S03", "C2"),
)  # fmt: skip
SPARES = ("spare/spare-1_2222-3333.xlsx", "spare/spare-limbs-1_2222-4444.xlsx")


def meeting_of(number: int, turn: Turn) -> Meeting:
    pairing = PAIRINGS[number]
    people = {person.student_id: person for person in PEOPLE_of_handouts}
    code = f"2345-678{number}"
    record = CopyRecord(
        code, 1, pairing.measurer, pairing.participant, people[pairing.participant].participant_code,
        pairing.caliper_id, "", f"{pairing.measurer}_{code}.xlsx", "", {},
    )  # fmt: skip
    sites = ("Triceps", "Thigh") if number else ("Chest", "Abdominal", "Thigh")
    recorder = people.get(turn.recorder)
    return Meeting(people[pairing.measurer], people[pairing.participant], record, turn, sites, recorder)


def layout_of(
    spares: Sequence[str] = SPARES,
    due_date: str = "2027-03-31",
    texts: object = TEXTS,
    times: int = 1,
    **settings_of_class: object,
) -> Layout:
    settings = replace(SETTINGS, delete_on=due_date and "2027-07-31")
    book = ClassBook("23456A", "Lighthouse", settings, PEOPLE_of_handouts, PAIRINGS, due_date=due_date)
    book = replace(book, **settings_of_class)  # type: ignore[arg-type]
    protocol = find_protocol("seven-sites")
    plan = lesson_plan(lesson_frame(book, len(protocol.sites)))
    meetings = [meeting_of(number, turn) for number, turn in enumerate(plan.turns)] * times
    return handouts_layout(Lesson(1, book, protocol, plan, meetings, spares), texts)  # type: ignore[arg-type]


def with_two_calipers_and_a_teacher() -> Lesson:
    """The first pair with a second caliper, taken first; and S04 measured by the teacher too."""
    teacher = Person("T1", "Tea", "Cher", role="teacher")
    book = ClassBook("23456A", "Lighthouse", SETTINGS, (*PEOPLE_of_handouts, teacher), PAIRINGS)
    plan = lesson_plan(lesson_frame(book, 7))
    first = meeting_of(0, plan.turns[0])
    second = replace(first.record, caliper_id="C2", file_name="S01_second-caliper_2345-6789.xlsx")
    besides = Meeting(teacher, PEOPLE_of_handouts[3], replace(first.record, copy_code="2345-6799"), None)
    meetings = [replace(first, second=second, second_first=True), besides]
    return Lesson(1, book, find_protocol("seven-sites"), plan, meetings, ())


def test_a_slip_says_in_which_order_two_calipers_are_taken() -> None:
    slips = " ".join(
        map(str, texts_on(handouts_layout(with_two_calipers_and_a_teacher(), TEXTS).tab("slips")))
    )
    assert "Two calipers: first C2, then C1," in slips
    assert "Caliper C1, besides the waves" in slips


def test_the_teacher_measures_besides_the_waves() -> None:
    layout = handouts_layout(with_two_calipers_and_a_teacher(), TEXTS)
    rows: dict[int, list[Value]] = {}
    for cell in layout.tab("stations").cells:
        rows.setdefault(cell.row, []).append(cell.value)
    assert rows[5][:7] == ["C1", "besides", "", "", "", "Tea (T1)", "S04"]
    assert "You measure too" in texts_on(layout.tab("run"))
    assert "You measure too" not in texts_on(layout_of().tab("run"))


def texts_on(tab: Tab) -> list[Value]:
    return [cell.value for cell in tab.cells if cell.value not in (None, "")]


def test_a_slip_says_who_measures_whom_where_and_on_which_sheet() -> None:
    slips = layout_of().tab("slips")
    first = [cell.value for cell in slips.cells if cell.column == 0 and cell.format.startswith("slip")]
    assert first[:8] == [
        "Ada (S01)",
        "measures Bo (S02)",
        "Caliper C1, wave 1: minute 0 to 23",
        "Sheet 2345-6780",
        "File S01_2345-6780.xlsx",
        "Sites: Chest, Abdominal, Thigh",
        "You choose who measures you: just tell",
        "your teacher.",
    ]
    second = [cell.value for cell in slips.cells if cell.column == 2 and cell.format.startswith("slip")]
    assert second[:3] == ["Bo (S02)", "measures Ada (S01)", "Caliper C1, wave 2: minute 23 to 46"]


def test_a_person_without_a_given_name_is_called_by_the_id() -> None:
    assert "measures S04" in texts_on(layout_of().tab("slips"))


def test_slips_that_hold_names_say_so_and_eight_stand_on_a_page() -> None:
    tab = layout_of(times=7).tab("slips")
    assert "hold names" in str(texts_on(tab)[1])
    starts = [cell.row for cell in tab.cells if cell.format == "slip_first" and cell.column == 0]
    assert tab.page_breaks == (starts[4], starts[8], starts[12])
    assert tab.scale >= 90


def test_whoever_waits_stands_at_the_foot_of_the_stations_with_something_to_do() -> None:
    """One caliper for four: in wave 1 S01 and S02 stand there, S03 records and S04 waits; in wave 2 S04
    records, and S03 waits for the first time; then S01 and S02 do, after a turn of their own."""
    pairings = tuple(replace(pair, caliper_id="C1") for pair in PAIRINGS)
    layout = layout_of(pairings=pairings, session_names=("week 3",))
    lines = [str(cell.value) for cell in layout.tab("stations").cells if cell.format == "paper_line"]
    marking = "find and mark landmarks on each other, who both agree, and compare tape with eye"
    assert lines == [
        f"Lesson 1, wave 1, {marking}: S04",
        f"Lesson 1, wave 2, {marking}: =Cy (S03)",
        "Lesson 1, wave 3, own working of the turn before: Bo (S02)",
        "Lesson 2, wave 4, own working of the turn before: Ada (S01)",
    ]
    run = " ".join(map(str, texts_on(layout.tab("run"))))
    assert f"What they do: {marking} own working of the turn before" in run
    assert layout.title == "Run sheet for whoever takes the lesson, session 1 (week 3)"


def test_of_more_who_wait_than_are_named_the_stations_say_how_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """All four wait in a wave that the plan is given; of three who may be named, that is one too many."""
    monkeypatch.setattr(handouts, "_WAITING_NAMED", 3)
    lesson = with_two_calipers_and_a_teacher()
    everybody = tuple(person.student_id for person in PEOPLE_of_handouts)
    waiting = (Waiting(2, 5, "drill", everybody), Waiting(2, 6, "questions", everybody[:3]))
    tab = handouts_layout(replace(lesson, plan=replace(lesson.plan, waiting=waiting)), TEXTS).tab("stations")
    drill = "read the drawn scales of the reading drill"
    assert [cell.value for cell in tab.cells if cell.format == "paper_line"] == [
        f"Lesson 2, wave 5, {drill}: 4 people",
        "Lesson 2, wave 6, short questions: Ada (S01), Bo (S02), =Cy (S03)",
    ]


def test_the_run_sheet_is_a_page_of_the_lesson_and_one_of_its_cautions() -> None:
    tab = layout_of([f"spare/spare-{number}_2222-3333.xlsx" for number in range(1, 21)]).tab("run")
    (cautions,) = tab.page_breaks
    for rows in (range(cautions), range(cautions, len(tab.heights))):
        assert sum(points for row, points in tab.heights if row in rows) * tab.scale / 100 <= 695
    assert 75 <= tab.scale <= 94


def test_stations_stand_together_by_caliper_and_wave() -> None:
    tab = layout_of().tab("stations")
    assert tab.repeat == 3
    rows: dict[int, list[Value]] = {}
    for cell in tab.cells:
        rows.setdefault(cell.row, []).append(cell.value)
    assert rows[4] == ["C1", 1, 1, 0, 23, "Ada (S01)", "Bo (S02)", "P-2222", "another adult", "2345-6780"]
    assert [rows[row][:4] for row in (5, 6, 7)] == [["C1", 1, 2, 23], ["C2", 1, 1, 0], ["C2", 1, 2, 23]]


def test_every_tab_has_its_title_in_the_first_cell_and_the_document_has_one() -> None:
    layout = layout_of()
    assert layout.title == "Run sheet for whoever takes the lesson, session 1"
    assert [tab.title for tab in layout.tabs] == ["Pair slips", "Run sheet", "Stations", "Observed"]
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
    typing_in = typing_in_layout([(form_of(), "a1")], "CLASS2", "en", texts)
    one = tuple(replace(pair, caliper_id="C1") for pair in PAIRINGS)
    register = replace(SETTINGS, calipers=(C1, replace(C1, identifier="C2")))
    many = [
        layout_of((), "", texts, 1, pairings=one, settings=register, lesson_minutes=length)
        for length in (30, 50, 70, 120)
    ]
    besides = handouts_layout(with_two_calipers_and_a_teacher(), texts)
    # Sixty-four with one caliper: a second would save waves; people wait several times, first too many.
    people = tuple(Person(f"s{number}", "", "") for number in range(64))
    book = ClassBook(
        "23456A", "Lighthouse", replace(SETTINGS, calipers=(C1,), reading_drill=True), people, ()
    )
    book = replace(book, pairings=pairs_for_the_rest(book).pairings)
    plan = lesson_plan(lesson_frame(book, 7))
    large = handouts_layout(Lesson(1, book, find_protocol("seven-sites"), plan, (), ()), texts)
    layouts = [forms, typing_in, layout_of(texts=texts), layout_of((), "", texts), *many, besides, large]
    layouts.append(site_cards_layout(find_protocol("four-sites"), "en", texts))
    assert sorted(set(load_texts("paper.en")) - texts.asked) == []
    shown = [text for layout in layouts for tab in layout.tabs for text in texts_on(tab)]
    assert [text for text in shown if re.search(r"\{[a-z_]*\}", str(text))] == []


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def values_on(path: Path, tab: str) -> list[str]:
    sheet = openpyxl.load_workbook(path, read_only=True)[tab]
    return [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value is not None]


def codes_on_forms(folder: ClassFolder) -> list[str]:
    shown = values_on(folder.paper_forms(1), "Forms")
    codes = [text.removeprefix("Sheet ") for text in shown if re.fullmatch(r"Sheet \S{4}-\S{4}", text)]
    # Each stands on both pages of its form.
    assert codes[::2] == codes[1::2]
    return codes[::2]


def test_a_form_a_sheet_by_measurer_and_the_spare_ones_last(folder: ClassFolder) -> None:
    students = (*PEOPLE, "spare-1", "spare-2", "spare-3")
    assert codes_on_forms(folder) == [record_of(folder, student).copy_code for student in students]


def test_forms_hold_no_names_and_slips_no_readings(folder: ClassFolder) -> None:
    forms = " ".join(values_on(folder.paper_forms(1), "Forms"))
    assert [name for name in ("Ada", "Fen", "Heath", "Moor", "Wold") if name in forms] == []
    slips = values_on(folder.handouts(1), "Pair slips")
    assert "Ada (S01)" in slips
    assert not [text for text in slips if re.fullmatch(r"-?\d+(\.\d+)?", text)]


def test_practice_readings_on_a_form_are_those_of_its_sheet(folder: ClassFolder) -> None:
    record = record_of(folder, "S01")
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    rows = [row for row in sheet.iter_rows(values_only=True) if row[0] == "Thigh"]
    wanted = [record.identity[f"practice_reading_{number}_thigh"] for number in (1, 2, 3)]
    assert list(rows[0][2:5]) == wanted


def test_one_student_built_alone_leaves_the_forms_of_all(folder: ClassFolder) -> None:
    before = codes_on_forms(folder)
    folder.paper_forms(1).unlink()
    assert run("build", folder.root, "--student", "S04").exit_code == 0
    assert codes_on_forms(folder) == before


def test_the_list_for_handing_out_names_student_email_and_file(tmp_path: Path) -> None:
    """What a spreadsheet program would run is made harmless; a claimed spare sheet lies in spare/."""
    roster = tmp_path / "r.csv"
    roster.write_text(
        "student_id,given_name,family_name,email,under_18\nS01,Ada,Fen,ada@school.example,no\n"
        "S02,Bo,Heath,=1+1,no\n",
        encoding="utf-8",
    )
    folder = new_class(tmp_path / "class", roster, secret="0a" * 32)
    build_sheets(folder, 1)
    files = [record_of(folder, student).file_name for student in ("S01", "S02")]
    assert folder.hand_out(1).read_text(encoding="utf-8") == (
        f"student_id,email,file\nS01,ada@school.example,{files[0]}\nS02,'=1+1,{files[1]}\n"
    )
    assert all((folder.sheets(1) / name).is_file() for name in files)
    book, spare = load_book(folder), record_of(folder, "spare-1")
    claimed = replace(book, pairings=(replace(book.pairings[0], spare=spare.copy_code), book.pairings[1]))
    write_handouts(folder, claimed, 1)
    assert f"S01,ada@school.example,spare/{spare.file_name}\n" in folder.hand_out(1).read_text(
        encoding="utf-8"
    )


def test_slips_and_run_sheet_of_a_built_class_name_the_sites_of_each_sheet(tmp_path: Path) -> None:
    """Cy and Di are under 18: their sheets ask for limb sites, and spare sheets of both kinds are there."""
    roster = tmp_path / "r.csv"
    roster.write_text(ROSTER.replace("Moor,no", "Moor,yes").replace("Wold,no", "Wold,yes"), encoding="utf-8")
    folder = new_class(tmp_path / "class", roster, secret="0a" * 32)
    build_sheets(folder, 1)
    every = "Chest, Midaxillary, Triceps, Subscapular, Abdominal, Suprailiac, Thigh"
    run_sheet = values_on(folder.handouts(1), "Run sheet")
    assert f"On 2 of the sheets: {every}." in run_sheet
    assert "On 2 of the sheets: Triceps, Thigh." in run_sheet
    assert values_on(folder.handouts(1), "Pair slips").count("Sites: Triceps, Thigh") == 2
    names = [path.name.rsplit("_", 1)[0] for path in sorted(folder.spare(1).iterdir())]
    assert names == [
        "spare-1_7-sites", "spare-2_7-sites", "spare-3_7-sites",
        *(f"spare-limbs-{number}_triceps-thigh" for number in (1, 2, 3)),
    ]  # fmt: skip


def test_written_again_only_where_something_changed(folder: ClassFolder) -> None:
    paths = (folder.paper_forms(1), folder.site_cards(1), folder.handouts(1))
    before = [(path.read_bytes(), path.stat().st_mtime_ns) for path in paths]
    build_sheets(folder, 1)
    assert [(path.read_bytes(), path.stat().st_mtime_ns) for path in paths] == before
    changed_setting(folder, "Tolerance", 1)
    build_sheets(folder, 1)
    assert any("differ by more than 1 mm" in text for text in values_on(paths[0], "Forms"))


def test_a_session_has_files_of_its_own(folder: ClassFolder) -> None:
    build_sheets(folder, 2)
    assert any("session 2" in text for text in values_on(folder.paper_forms(2), "Forms"))
    assert values_on(folder.handouts(2), "Run sheet")[0].endswith("session 2")


def test_who_left_and_a_pair_no_longer_there_get_no_form(folder: ClassFolder) -> None:
    book = load_book(folder)
    changed = replace(book, pairings=tuple(pair for pair in book.pairings if pair.measurer != "S02"))
    assert write_handouts(folder, changed, 1) == ()
    assert record_of(folder, "S02").copy_code not in codes_on_forms(folder)
    assert "Bo (S02)" not in values_on(folder.handouts(1), "Pair slips")


def test_a_claimed_spare_sheet_is_printed_for_who_has_it(folder: ClassFolder) -> None:
    book, spare = load_book(folder), record_of(folder, "spare-1")
    first, *others = book.pairings
    claimed = replace(book, pairings=(replace(first, spare=spare.copy_code), *others))
    assert write_handouts(folder, claimed, 1) == ()
    codes = codes_on_forms(folder)
    assert spare.copy_code == codes[0]
    assert record_of(folder, "S01").copy_code not in codes


def test_a_file_that_cannot_be_written_is_named_and_the_build_goes_on(
    folder: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder.paper_forms(1).unlink()

    def refuse(path: Path, data: bytes, **options: object) -> None:
        raise FolderError(path, "it cannot be written: in use", "a place to write to", "Close it there.")

    monkeypatch.setattr(handouts, "write_beside", refuse)
    summary = build_sheets(folder, 1)
    assert summary.notes == (
        f"{folder.paper_forms(1)}: it cannot be written: in use; expected a place to write to."
        " Close it there. The sheets are built; only this file is as it was.",
    )


def test_a_sheet_whose_layout_is_gone_is_named(folder: ClassFolder) -> None:
    digest = record_of(folder, "S01").layout_digest
    (folder.layouts / f"{digest}.json").unlink()
    notes = write_handouts(folder, load_book(folder), 1)
    assert record_of(folder, "S01").copy_code in notes[0]
    assert "It gets no paper form" in notes[0]


def test_pages_of_the_forms_have_a_scale_and_breaks_of_their_own(folder: ClassFolder) -> None:
    """Fitted to the width of a page, a program may leave the breaks out."""
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    assert not sheet.sheet_properties.pageSetUpPr.fitToPage
    assert 88 <= sheet.page_setup.scale <= 94
    # A break stands below the row of its number, counted from 1.
    starts = [row[0].row for row in sheet.iter_rows() if re.match(r"Sheet \S{4}-", str(row[0].value))]
    assert [one.id for one in sheet.row_breaks.brk] == [row - 1 for row in starts[1:]]
    assert {(block.size["rows"], block.size["columns"]) for block in sheet.merged_cells.ranges} == {(1, 2)}


def test_texts_of_what_is_printed_follow_the_language_of_the_class(folder: ClassFolder) -> None:
    book = load_book(folder)
    spanish = replace(book, settings=replace(book.settings, language="es"))
    assert write_handouts(folder, spanish, 1) == ()
    assert openpyxl.load_workbook(folder.handouts(1)).properties.language == "es"


def pages_of(pdf: Path) -> list[str]:
    """The text of each page; spaces as they fall."""
    done = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return done.stdout.split("\f")[:-1]


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.office
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_forms_print_two_pages_each_and_no_word_is_cut(
    folder: ClassFolder, office: Office, tmp_path: Path, paper: str
) -> None:
    pages = pages_of(printed(folder.paper_forms(1), tmp_path / "forms.pdf", office, paper))
    records = [builds[-1] for builds in keep.load_records(folder).values()]
    assert len(records) == 7
    codes = [code for code in codes_on_forms(folder) for _ in range(2)]
    for number, (page, code) in enumerate(zip(pages, codes, strict=True), start=1):
        assert f"Sheet {code}" in page
        assert f"Page {number} of 14" in page
    sheet = openpyxl.load_workbook(folder.paper_forms(1))["Forms"]
    on_paper = squeezed("".join(pages))
    lines = {str(cell.value) for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)}
    # A heading of two lines stands beside those of other columns.
    whole = [line for line in lines if not line.startswith(("They differ", "Third needed", "Left out: t"))]
    whole = [line for line in whole if not line.startswith(("If replaced", "Its zero", "Round "))]
    assert [line for line in whole if squeezed(line) not in on_paper] == []


@pytest.mark.office
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_slips_run_sheet_cautions_and_stations_print_one_page_each(
    folder: ClassFolder, office: Office, tmp_path: Path, paper: str
) -> None:
    pages = pages_of(printed(folder.handouts(1), tmp_path / "handouts.pdf", office, paper))
    assert len(pages) == 5
    on_each = ("Pair slips", "Run sheet", "13. Local law", "Stations", "What you saw")
    for words, page in zip(on_each, pages, strict=True):
        assert words in " ".join(page.split())


@pytest.mark.parametrize(("minors", "tabs"), [("none", 8), ("all", 3)])
def test_site_cards_show_what_the_class_measures(tmp_path: Path, minors: str, tabs: int) -> None:
    """The seven sites and the fold; where all count as under 18 the two limb sites."""
    folder = built_class(tmp_path / "class")
    changed_setting(folder, "People under 18", minors)
    build_sheets(folder, 1)
    workbook = openpyxl.load_workbook(folder.site_cards(1))
    assert len(workbook.sheetnames) == tabs
    assert workbook.sheetnames[0] == "The fold"
    assert all(len(sheet._images) == (6 if sheet.title == "The fold" else 1) for sheet in workbook.worksheets)
