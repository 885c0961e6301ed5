"""The reading drill: its scales, what each copy holds of it, how it is drawn, and what it says live."""

import math
import re

import pytest
from lxml import etree

from sheetgen.protocols.names import DRILL
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet.drill_tab import drill_tab, drill_values, scales_of
from sheetgen.sheet.reference_tabs import shipped_figures
from sheetgen.sheet.student import SheetCopy, sheet_identity, source_of
from sheetgen.texts.languages import texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import column_pixels, lines_needed
from sheetgen.workbook.layout import Cell
from sheetgen.workbook.packages import parts_of
from sheetgen.workbook.render import master_of, stamped
from tests.sheet.variants import LANGUAGES
from tests.sheets import CALIPERS, settings_with, sheet_of

SETTINGS = settings_with(reading_drill=True)
CODES = ("7K3F-9QXM", "2B4D-6FGH", "9XYZ-3CDE", "AAAA-2222")
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
TEXTS = texts_in("en", "sheet")
CELLS = {cell.name: cell for cell in source_of(SETTINGS).layout.tab("calculator").cells if cell.name}


def test_scales_of_a_register_with_three_kinds() -> None:
    """The second of the register is built as a dial; the lows are whole numbers of ten marks."""
    scales = scales_of(CALIPERS)
    assert [scale.division for scale in scales] == [0.5, 0.2, 1.0] * 3 + [0.5]
    assert [scale.dial for scale in scales] == [False, True, False] * 3 + [False]
    assert [scale.number for scale in scales if scale.zeroed] == [3, 5, 8, 10]
    assert [scale.low for scale in scales[:3]] == [5.0, 8.0, 10.0]


def test_scales_of_calipers_alike_and_of_one_out_of_service() -> None:
    alike = (Caliper("A", "resorte", 0.1, 60.0, 0.0), Caliper("B", "con reloj", 1.0, 60.0, 0.0, False))
    assert {(scale.division, scale.dial) for scale in scales_of(alike)} == {(0.1, False)}
    assert {(scale.division, scale.dial) for scale in scales_of(alike[1:])} == {(1.0, True)}


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("division", [1.0, 0.5, 0.2, 0.1])
def test_pointer_stands_on_a_mark_of_its_window_and_the_fold_is_thicker_than_nothing(
    code: str, division: float
) -> None:
    calipers = (Caliper("A", "spring caliper", division, 60.0, 0.0),)
    values = drill_values(calipers, code, TEXTS)
    for scale in scales_of(calipers):
        shown, zero = (float(values[f"drill_{what}_{scale.number}"] or 0) for what in ("shown", "zero"))
        marks = (shown - scale.low) / division
        assert math.isclose(marks, round(marks), abs_tol=1e-9)
        assert 2 <= round(marks) % 10 <= 9
        assert 0 < marks < 30
        assert (zero != 0) is scale.zeroed
        assert round(abs(zero) / division, 6) in ((2, 3) if scale.zeroed else (0,))
        assert shown - zero > 0


def test_values_of_one_code_are_the_same_every_time_and_of_others_differ() -> None:
    """The very numbers of one copy: a drill that is out is judged by them."""
    shown = {
        code: [drill_values(CALIPERS, code, TEXTS)[f"drill_shown_{n}"] for n in range(1, 11)]
        for code in CODES
    }
    assert len({tuple(values) for values in shown.values()}) == len(CODES)
    assert drill_values(CALIPERS, CODES[0], TEXTS) == drill_values(CALIPERS, CODES[0], TEXTS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_of_a_pointer_count_marks_and_never_say_the_number(language: str) -> None:
    texts = texts_in(language, "sheet")
    for code in CODES:
        values = drill_values(CALIPERS, code, texts)
        for scale in scales_of(CALIPERS):
            words, shown = (
                str(values[f"drill_words_{scale.number}"]),
                float(values[f"drill_shown_{scale.number}"] or 0),
            )
            numbers = [float(found.replace(",", ".")) for found in re.findall(r"\d+(?:[.,]\d+)?", words)]
            number, first, last, count, past = numbers
            assert (number, first, last) == (scale.number, scale.low, scale.low + 30 * scale.division)
            assert math.isclose(past + count * scale.division, shown)
            assert shown not in (past, first, last)


def test_straight_pointer_is_drawn_at_its_mark() -> None:
    """Thirty marks are drawn from -1 to 1, so the pointer of mark 13 of 30 stands at 2 * 13 / 30 - 1."""
    values = drill_values(CALIPERS[:1], CODES[0], TEXTS)
    for scale in scales_of(CALIPERS[:1]):
        mark = (float(values[f"drill_shown_{scale.number}"] or 0) - scale.low) / scale.division
        for end in ("from", "to"):
            assert values[f"drill_{end}_x_{scale.number}"] == pytest.approx(2 * mark / 30 - 1, abs=1e-4)


def test_dial_pointer_points_to_its_mark_from_the_middle_of_the_arc() -> None:
    """Forty degrees either way, about a point one and a half below the line of the scale."""
    values = drill_values(CALIPERS[1:2], CODES[0], TEXTS)
    for scale in scales_of(CALIPERS[1:2]):
        mark = (float(values[f"drill_shown_{scale.number}"] or 0) - scale.low) / scale.division
        for end in ("from", "to"):
            x, y = (float(values[f"drill_{end}_{axis}_{scale.number}"] or 0) for axis in "xy")
            assert math.degrees(math.atan2(x, y + 1.5)) == pytest.approx(80 * mark / 30 - 40, abs=0.01)


def _charts(data: bytes) -> list[list[list[float]]]:
    """Of every scatter chart the cached numbers of each of its lines, x and y apart."""
    charts = []
    for name, part in parts_of(data).items():
        if name.startswith("xl/charts/") and b"scatterChart" in part:
            caches = etree.fromstring(part).iter(f"{CHART}numCache")
            charts.append(
                [[float(value.text or "nan") for value in cache.iter(f"{CHART}v")] for cache in caches]
            )
    return charts


def test_a_stamped_copy_holds_its_own_numbers_in_charts_and_its_own_words_beside_them() -> None:
    """The master is made of another copy. A preview shows what is cached."""
    other, own = (sheet_of(SETTINGS, copy_code=code) for code in CODES[:2])
    master = master_of(other.layout, other.identity, read_template("style.toml"), shipped_figures())
    data = stamped(master, own.identity)
    assert _charts(data) == _charts(own.data)
    values, charts = own.identity.values, _charts(data)
    assert len(charts) == 10
    for number, lines in enumerate(charts, start=1):
        drawn = [[values[f"drill_{end}_{axis}_{number}"] for end in ("from", "to")] for axis in "xy"]
        assert lines[-2:] == drawn
    drawings = b"".join(part for name, part in parts_of(data).items() if "drawing" in name).decode("utf-8")
    assert all(str(values[f"drill_words_{number}"]) in drawings for number in range(1, 11))
    assert "\x7f" not in drawings


def test_a_copy_says_what_each_closed_caliper_reads() -> None:
    values = sheet_of(SETTINGS).identity.values
    said = [str(values[f"drill_note_{number}"]) for number in range(1, 11)]
    assert [number for number, text in enumerate(said, start=1) if "take it off" in text] == [3, 5, 8, 10]
    assert said[0] == "closed it reads 0"
    assert re.fullmatch("closed it reads [+\N{MINUS SIGN}]\\d: take it off", said[2])
    assert re.fullmatch("closed it reads [+\N{MINUS SIGN}]\\d\\.\\d: take it off", said[4])


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_said_fits_its_row(language: str) -> None:
    """Two lines of the verdict across the tab, two of a note beside its entry, in a wide typeface."""
    texts = texts_in(language, "sheet")
    tab = drill_tab(sheet_of(SETTINGS).source.protocol, CALIPERS, texts)
    lean = max((texts[key] for key in texts if key.startswith("drill.lean_")), key=len)
    assert lines_needed(f"10{texts['drill.within']}{lean}", sum(tab.widths) * 1.18, bold=True, indent=1) <= 2
    for column in (1, 5):
        said = texts["drill.note_zero"].format(zero="\N{MINUS SIGN}0,6")
        assert lines_needed(said, tab.widths[column] * 1.18, indent=1) <= 2


@pytest.mark.parametrize("language", LANGUAGES)
def test_drill_is_one_printed_page_of_10_points(language: str) -> None:
    """Between the margins A4 is 545 points wide and Letter 730 high, the less of both; columns of the widest
    stand-in for the typeface are 8.48 px a digit where they count 7. A drawing has its row."""
    tab = drill_tab(sheet_of(SETTINGS).source.protocol, CALIPERS, texts_in(language, "sheet"))
    wide = sum(map(column_pixels, tab.widths)) * 8.48 / 7 * 0.75
    high = sum(height for row, height in tab.heights if row == 0 or row >= tab.printed_from)
    assert 12 * min(545 / wide, 730 / high) >= 10
    heights = dict(tab.heights)
    for plot in tab.plots:
        assert heights[plot.row] / 0.75 >= plot.height + 8
        assert sum(map(column_pixels, tab.widths[plot.column : plot.column + 3])) >= plot.width + 8


def test_drill_is_never_due() -> None:
    """No message asks for it, and neither the next step nor `ready` looks at it."""
    with_drill = [name for name in CELLS if name.startswith(("message_", "rank_"))]
    without = [cell.name for cell in sheet_of(settings_with()).layout.tab("calculator").cells]
    assert with_drill == [name for name in without if name.startswith(("message_", "rank_"))]
    assert "drill" not in CELLS["ready"].formula + CELLS["next_rank"].formula


def test_entries_of_the_drill_are_named_and_stand_beside_their_scales() -> None:
    tab = sheet_of(SETTINGS).layout.tab("drill")
    entries = {cell.name: cell for cell in tab.cells if cell.role == "entry"}
    assert sorted(entries) == sorted(DRILL)
    beside = [(plot.row - 1, plot.column + 2) for plot in tab.plots]
    assert [(entries[name].row, entries[name].column) for name in DRILL] == beside
    assert tab.pages == 1


def test_sites_leads_on_to_the_drill_where_there_is_one() -> None:
    def link(drill: bool) -> Cell:
        cells = sheet_of(settings_with(reading_drill=drill)).layout.tab("sites").cells
        return next(cell for cell in cells if cell.link)

    assert (link(True).link, link(False).link) == ("drill", "readings")


def test_identity_of_a_copy_without_a_drill_holds_none_of_it() -> None:
    sheet = sheet_of(settings_with())
    copy = SheetCopy("7K3F-9QXM", "CLASS2", "S01", "P-2A3B", 1, "C1")
    values = sheet_identity(sheet.source.protocol, settings_with(), sheet.source.texts, copy).values
    assert [name for name in values if "drill" in name] == []


def test_sheet_of_someone_under_18_has_the_same_drill() -> None:
    adult, young = (
        sheet_of(settings_with(reading_drill=True, under_18=under_18)) for under_18 in (False, True)
    )
    assert young.layout.tab("drill").plots == adult.layout.tab("drill").plots
    shown = [f"drill_shown_{number}" for number in range(1, 11)]
    assert [young.identity.values[name] for name in shown] == [adult.identity.values[name] for name in shown]
