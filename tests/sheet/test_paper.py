"""The paper forms: what stands on each, and that it is enough to fill the sheet from."""

import re
import tomllib

import pytest
from msgspec.structs import replace

from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.paper import (
    FORMS_A_TAB,
    LARGEST_SCALE,
    PAGE_POINTS,
    PAGE_WIDTH,
    SMALLEST_ROW,
    PaperForm,
    Row,
    broken,
    paper_forms_layout,
    printed_tab,
    scale_for,
)
from sheetgen.sheet.student import SheetCopy, sheet_identity, source_of
from sheetgen.texts.languages import languages, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import column_pixels, text_pixels
from sheetgen.workbook.layout import Layout, Value
from tests.sheets import SETTINGS, settings_with

TEXTS = texts_in("en", "sheet", "paper")
PROTOCOLS = (
    "seven-sites", "four-sites", "three-sites-men", "three-sites-women", "folds-only", "youth-two-sites",
)  # fmt: skip


def form_of(
    settings: SheetSettings = SETTINGS, caliper_id: str = "C1", spare: bool = False, code: str = "7K3F-9QXM"
) -> PaperForm:
    source = source_of(settings)
    copy = SheetCopy(code, "CLASS2", "S01", "P-2A3B", 1, caliper_id)
    identity = sheet_identity(source.protocol, source.settings, source.texts, copy)
    return PaperForm(identity.values, source.protocol, source.settings, spare)


def layout_of(*forms: PaperForm) -> Layout:
    return paper_forms_layout(forms or (form_of(),), "en", TEXTS)


def texts_on(layout: Layout, tab: int = 0) -> list[Value]:
    return [cell.value for cell in layout.tabs[tab].cells if cell.value not in (None, "")]


def rows_of(layout: Layout) -> dict[int, dict[int, Value]]:
    rows: dict[int, dict[int, Value]] = {}
    for cell in layout.tabs[0].cells:
        rows.setdefault(cell.row, {})[cell.column] = cell.value
    return rows


def test_a_form_says_whose_sheet_it_is_for() -> None:
    shown = texts_on(layout_of(form_of(caliper_id="C2")))
    assert shown[:5] == [
        "Paper form: fill in by hand, then type it into your sheet",
        "Sheet 7K3F-9QXM",
        "Form 1 of 1",
        "Measurer S01, participant P-2A3B, session 1: Seven sites",
        "Caliper C2: steps of 0.2 mm, opens to 80 mm, registered zero minus 0.4 mm",
    ]


ZEROS = [
    ("C1", "registered zero 0 mm"),
    ("C2", "registered zero minus 0.4 mm"),
    ("7", "registered zero plus 3 mm"),
]


@pytest.mark.parametrize(("caliper_id", "words"), ZEROS)
def test_the_sign_of_a_zero_is_said_in_words(caliper_id: str, words: str) -> None:
    assert any(str(text).endswith(words) for text in texts_on(layout_of(form_of(caliper_id=caliper_id))))


def test_the_grid_has_a_row_a_site_in_circuit_order() -> None:
    layout = layout_of()
    sites = [str(cell.value) for cell in layout.tabs[0].cells if cell.format == "paper_site"]
    assert [site.split("\n") for site in sites] == [
        ["Chest", "diagonal fold"], ["Midaxillary", "vertical fold"], ["Triceps", "vertical fold"],
        ["Subscapular", "diagonal fold"], ["Abdominal", "vertical fold"], ["Suprailiac", "diagonal fold"],
        ["Thigh", "vertical fold"],
    ]  # fmt: skip
    row = next(cell.row for cell in layout.tabs[0].cells if cell.value == sites[0])
    boxes = [cell.column for cell in layout.tabs[0].cells if cell.row == row and cell.format == "paper_box"]
    assert boxes == [1, 2, 3, 4, 6, 7]
    assert rows_of(layout)[row - 1] == {
        0: "Site, fold", 1: "Figure", 2: "Round 1, mm", 3: "Round 2, mm", 4: "They differ by, mm",
        5: "Third needed?", 6: "Round 3, mm", 7: "Left out: tick",
    }  # fmt: skip
    figures = [(image.row, image.column, image.name) for image in layout.tabs[0].images]
    assert figures[0] == (row, 1, "chest-small")
    assert [at for at, _, _ in figures] == list(range(row, row + 7))


def test_only_what_the_sheet_asks_for_is_asked_for() -> None:
    adult = texts_on(layout_of(form_of()))
    minor = texts_on(layout_of(form_of(settings_with(under_18=True))))
    for what in ("Age, years", "Equation", "Body mass, kg"):
        assert what in adult
        assert what not in minor
    for what in ("Date", "Zero today, mm", "Recorder's initials", "Upper arm, cm", "Thigh, cm"):
        assert what in adult
        assert what in minor


def test_only_a_label_too_long_for_its_two_columns_is_one_cell_with_the_next_and_made_smaller() -> None:
    """In the wide typeface `Recorder's initials` takes 154 of the 132 pixels on the right side of the page,
    `Date` 40 of 182 on the left."""
    (tab,) = paper_forms_layout([form_of()], "en", TEXTS).tabs
    labels = {cell.value: (cell.format, cell.across) for cell in tab.cells}
    assert labels["Recorder's initials"] == ("paper_field", 2)
    assert labels["Date"] == ("paper_label", 1)


def test_a_form_for_someone_under_18_has_limb_sites_only() -> None:
    layout = layout_of(form_of(settings_with(under_18=True)))
    assert [cell.value for cell in layout.tabs[0].cells if cell.format == "paper_site"] == [
        "Triceps\nvertical fold",
        "Thigh\nvertical fold",
    ]


def test_practice_readings_stand_on_every_form_with_a_third_at_every_site() -> None:
    """A third at the sites alone that need one would give the answer away."""
    form = form_of()
    layout = layout_of(form)
    chest = [values for values in rows_of(layout).values() if values.get(0) == "Chest"][-1]
    wanted = [form.identity[f"practice_reading_{number}_chest"] for number in (1, 2, 3)]
    assert [chest[number + 1] for number in (1, 2, 3)] == wanted
    readings = [cell for cell in layout.tabs[0].cells if cell.format == "paper_number"]
    assert len(readings) == 3 * len(form.protocol.sites)


def test_practice_stands_on_the_second_page_of_every_form_alike_and_no_box_tells_it_apart() -> None:
    layout = layout_of(form_of(), form_of(spare=True))
    _, second, third, fourth = 0, *layout.tabs[0].page_breaks
    rows = {cell.row for cell in layout.tabs[0].cells if cell.format == "paper_number"}
    assert rows
    assert all(second < row < third or row > fourth for row in rows)
    shown = [str(text) for text in texts_on(layout)]
    assert not [text for text in shown if "measured" in text.casefold() and "practice" in text.casefold()]
    shapes = {cell.format for cell in layout.tabs[0].cells if second <= cell.row < third}
    assert shapes.isdisjoint({"paper_box", "paper_choice", "paper_circle"})


@pytest.mark.parametrize("language", languages())
def test_text_is_10_points_on_paper_and_9_in_tables(language: str) -> None:
    texts = texts_in(language, "sheet", "paper")
    form = form_of(settings_with(language=language), spare=True)
    tab = paper_forms_layout([form], language, texts).tabs[0]
    style = tomllib.loads(read_template("style.toml"))
    tables = {"paper_heading", "paper_site", "paper_circle", "paper_wrapped", "paper_practice_heading"}
    sizes = {
        word: style[word].get("font_size", 12) * tab.scale / 100
        for word in {cell.format for cell in tab.cells}
    }
    assert min(size for word, size in sizes.items() if word not in tables) >= 10
    assert min(size for word, size in sizes.items() if word in tables) >= 9


def test_a_form_tells_the_tolerance_of_its_class() -> None:
    for settings, words in (
        (SETTINGS, "differ by more than 2 mm:"),
        (settings_with(tolerance_kind="percent", tolerance=10.0), "differ by more than 10 % of their mean:"),
    ):
        assert any(words in str(text) for text in texts_on(layout_of(form_of(settings))))


def test_a_spare_form_asks_for_both_ids() -> None:
    assert "Your student id" not in texts_on(layout_of(form_of()))
    shown = texts_on(layout_of(form_of(spare=True)))
    assert "Your student id" in shown
    assert "Participant's id" in shown


def test_each_form_begins_a_page() -> None:
    layout = layout_of(form_of(code="2345-6789"), form_of(settings_with(under_18=True)), form_of(spare=True))
    starts = [cell.row for cell in layout.tabs[0].cells if cell.format == "paper_code"]
    assert layout.tabs[0].page_breaks == tuple(starts[1:])
    assert starts[0] == 1
    assert "Form 2 of 3" in texts_on(layout)


@pytest.mark.parametrize("protocol_id", PROTOCOLS)
@pytest.mark.parametrize("spare", [False, True])
def test_rows_to_write_in_are_8_mm_high_on_paper(protocol_id: str, spare: bool) -> None:
    layout = layout_of(form_of(settings_with(protocol_id=protocol_id, conversion=""), spare=spare))
    assert SMALLEST_ROW * layout.tabs[0].scale / 100 / 72 * 25.4 >= 8.0


def test_many_forms_are_split_over_tabs() -> None:
    """The file format takes about a thousand page breaks a tab."""
    layout = layout_of(*([form_of(settings_with(under_18=True))] * (FORMS_A_TAB + 1)))
    assert [tab.title for tab in layout.tabs] == ["Forms", "Forms 2"]
    assert len(layout.tabs[0].page_breaks) == 2 * FORMS_A_TAB - 1
    assert len(layout.tabs[1].page_breaks) == 1
    assert "Form 501 of 501" in texts_on(layout, 1)


def test_forms_have_a_title_in_the_first_cell_a_document_title_and_no_names() -> None:
    layout = layout_of()
    first = layout.tabs[0].cells[0]
    assert (first.row, first.column, first.value) == (0, 0, layout.title)
    assert (layout.language, layout.tabs[0].repeat) == ("en", 0)
    assert len({(cell.row, cell.column) for cell in layout.tabs[0].cells}) == len(layout.tabs[0].cells)


def test_format_words_are_those_of_the_style_and_no_place_is_left_open() -> None:
    layout = layout_of(form_of(), form_of(spare=True))
    style = tomllib.loads(read_template("style.toml"))
    assert {cell.format for cell in layout.tabs[0].cells} - set(style) == set()
    assert [text for text in texts_on(layout) if re.search(r"\{[a-z_]*\}", str(text))] == []


def test_no_forms_are_refused() -> None:
    with pytest.raises(ValueError, match="no form to print"):
        paper_forms_layout([], "en", TEXTS)


def test_a_long_student_id_takes_another_line() -> None:
    form = form_of()
    long = replace(form, identity={**form.identity, "student_id": "0123456789 " * 4})
    assert len(layout_of(long).tabs[0].heights) == len(layout_of(form).tabs[0].heights) + 1


ROWS = (Row(20.0, ((0, "one", "text"), (2, 3.5, "paper_number"))), Row(5.0))


def test_rows_stand_one_below_the_other() -> None:
    tab = printed_tab("key", "Title", (*ROWS, *ROWS), (75, 82), 94, (2,))
    found = [(cell.row, cell.column, cell.value, cell.format) for cell in tab.cells]
    assert found == [
        (0, 0, "one", "text"),
        (0, 2, 3.5, "paper_number"),
        (2, 0, "one", "text"),
        (2, 2, 3.5, "paper_number"),
    ]
    assert tab.heights == ((0, 20.0), (1, 5.0), (2, 20.0), (3, 5.0))
    assert tab.page_breaks == (2,)


def test_broken_lines_hold_every_word_and_fit() -> None:
    text = "Say numbers quietly, to the recorder only: no calling out, no list, no ranking."
    lines = broken(text, 200, 9.0)
    assert " ".join(lines) == text
    assert len(lines) == 3
    assert max(text_pixels(line, points=9.0) for line in lines) <= 200


def test_broken_keeps_a_word_wider_than_the_line_whole() -> None:
    assert broken("a incomprehensibilities b", 60, 9.0) == ("a", "incomprehensibilities", "b")
    assert broken("", 60, 9.0) == ()


SCALES = [
    # height in points, per cent
    (0.0, 94),
    (100.0, 94),
    (739.0, 94),  # 695 / 739 = 0.9405
    (740.0, 93),  # 695 / 740 = 0.9392
    (1390.0, 50),
    (100_000.0, 10),
]


@pytest.mark.parametrize(("height", "scale"), SCALES)
def test_scale_for(height: float, scale: int) -> None:
    assert scale_for((height / 2, height / 2)) == scale


def test_a_page_fits_on_a4_and_letter_even_in_a_wide_typeface() -> None:
    """Between margins of 0.5 and 0.6 inch A4 leaves 523 points across and Letter 705.6 down. A digit of Arial
    at 10 points counts as 7 px, that of the widest stand-in, DejaVu Sans, is 8.48 px wide."""
    assert PAGE_WIDTH * 8.48 / 7 * 0.75 * LARGEST_SCALE / 100 < 523
    assert PAGE_POINTS < 705.6


@pytest.mark.parametrize("pixels", [75, 82, 130, 590])
def test_widths_of_a_printed_tab_undo_column_pixels(pixels: int) -> None:
    assert abs(column_pixels(printed_tab("key", "Title", ROWS, (pixels,), 94).widths[0]) - pixels) <= 1
