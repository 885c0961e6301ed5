"""The tab Readings: one row a site in circuit order, so that Enter goes down the circuit."""

from collections.abc import Mapping
from dataclasses import replace

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import entry, formula, heading_row, identity, label, list_entry
from sheetgen.layout.figures import SMALL_SIZE, small_image
from sheetgen.layout.rules import words_rule
from sheetgen.layout.text_size import column_pixels, height_for, lines_needed
from sheetgen.layout.vocabulary import NOT_TAKEN_WORDS, change_words, reading_name
from sheetgen.model.layout import Cell, Emphasis, Image, Rule, Tab
from sheetgen.model.protocol import Protocol, Site
from sheetgen.model.settings import SheetSettings

__all__ = ["readings_tab"]

HEADING_ROW = 6
FIRST_SITE_ROW = 7
ROUND_COLUMNS = {1: 1, 2: 2, 3: 5}
DIFFERENCE, THIRD, VALUE, NOT_TAKEN, WHAT_TO_DO = 3, 4, 6, 7, 8
PRACTICE_COLUMNS = {1: 9, 2: 10, 3: 11}
COLUMNS = (
    "site", "round_1", "round_2", "difference", "third_needed", "round_3", "site_value", "not_taken",
    "what_to_do", "practice_1", "practice_2", "practice_3",
)  # fmt: skip
TOP_HEIGHTS = ((0, 24.0), *((row, 20.0) for row in range(1, HEADING_ROW)))
WIDTHS = (27, 12, 12, 13, 12, 12, 13, 17, 25, 13, 11, 11)

Texts = Mapping[str, str]


def readings_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Readings.

    Notes
    -----
    Where the class covers round 1, its readings, and all that would tell how close round 2 comes, are not
    shown from the end of round 1 to the end of round 2. A limit: the input line still shows a reading whose
    own cell is chosen. Nothing that is worked out changes.
    """
    headings = [texts[f"readings.{name}"] for name in COLUMNS]
    cells = [
        label(0, 0, texts["readings.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        _instruction(settings, texts),
        label(2, 0, texts["readings.next_step"], "label"),
        formula(2, 1, "={shown_next_step}", texts["step.cautions"], "step"),
        *_status(texts),
        *_second_caliper(texts),
        *heading_row(HEADING_ROW, headings[: PRACTICE_COLUMNS[1]]),
        *_practice_headings(texts),
    ]
    for offset, site in enumerate(protocol.sites):
        cells += _site_row(FIRST_SITE_ROW + offset, site, protocol, settings, texts)
    last = FIRST_SITE_ROW + len(protocol.sites) - 1
    site_rows = range(FIRST_SITE_ROW, last + 1)
    lines = max(lines_needed(text, width, bold=True) for text, width in zip(headings, WIDTHS, strict=True))
    images = (_figure(site, row, texts) for row, site in zip(site_rows, protocol.sites, strict=True))
    return Tab(
        "readings",
        texts["tab.readings"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=WIDTHS,
        heights=(
            *TOP_HEIGHTS,
            (HEADING_ROW, height_for(lines)),
            *((row, height_for(2)) for row in site_rows),
        ),
        emphases=tuple(_emphases(last, settings, texts)),
        freeze=(FIRST_SITE_ROW, 1),
        landscape=True,
        first_entry=(FIRST_SITE_ROW, ROUND_COLUMNS[1]),
        images=tuple(image for image in images if image is not None),
    )


def _instruction(settings: SheetSettings, texts: Texts) -> Cell:
    usual = texts["readings.instruction"]
    if not settings.cover_round_1:
        return label(1, 0, usual, "step")
    shown = f'=IF({{covered}}="yes",{quoted(texts["readings.covered"])},{quoted(usual)})'
    return formula(1, 0, shown, usual, "step", "shown_instruction")


def _practice_headings(texts: Texts) -> list[Cell]:
    """Nothing stands above the columns of practice readings where nobody chose practice."""
    return [
        formula(
            HEADING_ROW, column,
            f'=IF({{in_data_source}}="practice",{quoted(texts[f"readings.practice_{number}"])},"")',
            "", "heading",
        )
        for number, column in PRACTICE_COLUMNS.items()
    ]  # fmt: skip


def _emphases(last: int, settings: SheetSettings, texts: Texts) -> list[Emphasis]:
    first = FIRST_SITE_ROW
    emphases = [
        Emphasis(first, THIRD, last, THIRD, f"=$E{first + 1}={quoted(texts['readings.yes'])}", "wanted"),
        Emphasis(first, WHAT_TO_DO, last, WHAT_TO_DO, f'=$I{first + 1}<>""', "wanted"),
    ]
    if settings.cover_round_1:
        covered = f"={{shown_instruction}}={quoted(texts['readings.covered'])}"
        column = ROUND_COLUMNS[1]
        emphases.append(Emphasis(first, column, last, column, covered, "covered"))
    return emphases


def _figure(site: Site, row: int, texts: Texts) -> Image | None:
    """The small drawing, at the right edge of the cell with the name of its site."""
    image = small_image(site, row, 0, texts)
    return image and replace(image, x_offset=column_pixels(WIDTHS[0]) - SMALL_SIZE[0] - 2, y_offset=6)


def _status(texts: Texts) -> list[Cell]:
    """The caliper in hand. The rules of the readings look at these cells: a rule looks at its own tab."""
    choose = texts["readings.choose_caliper"]
    shown = f'=IF({{caliper_row}}="",{quoted(choose)},{{in_caliper_id}})'
    yes, no = texts["readings.yes"], texts["readings.no"]
    complete = f'=IF({{round_1_complete}}="yes",{quoted(yes)},{quoted(no)})'
    # Two at most have room on a small screen; Start says each beside its entry.
    second = 'IF({zero_warning}="",{second_warning},{zero_warning})'
    warnings = f'={{caliper_warning}}&IF(AND({{caliper_warning}}<>"",{second}<>""),"; ","")&{second}'
    return [
        label(3, 0, texts["readings.caliper"], "label"),
        formula(3, 1, shown, choose, "words", "shown_caliper"),
        label(3, 3, texts["readings.division"], "label"),
        formula(3, 5, "={caliper_division}", "", "status", "shown_division"),
        label(3, 6, texts["readings.opening"], "label"),
        formula(3, 8, "={caliper_opening}", "", "status", "shown_opening"),
        label(3, 9, texts["readings.zero"], "label"),
        formula(3, 10, f"={_once_agreed('in_zero_mm')}", "", "status", "shown_zero"),
        label(5, 0, texts["readings.round_1_complete"], "label"),
        formula(5, 1, complete, no, "words", "shown_round_1_complete"),
        formula(5, 2, warnings, "", "wanted_words"),
    ]


def _once_agreed(name: str) -> str:
    """A zero, once the cautions are agreed to: every reading must be above it, and none is above a text."""
    return f'IF({{in_cautions_confirmed}}="yes",{{{name}}},"")'


def _second_caliper(texts: Texts) -> list[Cell]:
    """The caliper that took over on the way; empty where none did."""

    def shown(column: int, text: str, format: str = "label", name: str = "") -> Cell:
        return formula(4, column, f'=IF(ISNUMBER({{change_row}}),{text},"")', "", format, name)

    return [
        shown(0, quoted(texts["entry.caliper_id_2"])),
        shown(1, "{in_caliper_id_2}", "words"),
        shown(3, quoted(texts["readings.division"])),
        shown(5, "{caliper_2_division}", "status", "shown_division_2"),
        shown(6, quoted(texts["readings.opening"])),
        shown(8, "{caliper_2_opening}", "status", "shown_opening_2"),
        shown(9, quoted(texts["readings.zero"])),
        shown(10, _once_agreed("in_zero_2_mm"), "status", "shown_zero_2"),
        shown(11, "{change_row}", "unseen", "shown_change"),
    ]


def _site_row(row: int, site: Site, protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[Cell]:
    word = site.word
    first, second = f"{{corrected_1_{word}}}", f"{{corrected_2_{word}}}"
    both = f"AND(ISNUMBER({first}),ISNUMBER({second}))"
    yes, no = quoted(texts["readings.yes"]), quoted(texts["readings.no"])
    third = f'IF({{third_{word}}}="yes",{yes},IF({{third_{word}}}="no",{no},""))'
    found = f"MATCH({{note_{word}}},{{note_word_first}}:{{note_word_last}},0)"
    note = f'=IF({{note_{word}}}="","",INDEX({{note_text_first}}:{{note_text_last}},{found}))'

    def uncovered(text: str) -> str:
        return f'=IF({{covered}}="yes","",{text})' if settings.cover_round_1 else f"={text}"

    cells = [
        label(row, 0, site.title, "label"),
        *(
            entry(
                row, column, reading_name(number, word),
                _reading_rule(number, site, protocol, texts), "entry_number",
            )
            for number, column in ROUND_COLUMNS.items()
        ),
        formula(
            row, DIFFERENCE, uncovered(f'IF({both},ROUND(ABS({first}-{second}),2),"")'), "", "result_2",
        ),
        formula(row, THIRD, uncovered(third), "", "words", f"shown_third_{word}"),
        formula(row, VALUE, uncovered(f"{{site_{word}}}"), "", "result_2"),
        list_entry(
            row, NOT_TAKEN, f"not_taken_{word}",
            words_rule(
                texts, NOT_TAKEN_WORDS, texts["rule.not_taken_title"], texts["rule.not_taken"], "word"
            ),
        ),
        formula(row, WHAT_TO_DO, note, "", "words_wrapped", f"shown_to_do_{word}"),
    ]  # fmt: skip
    for number, column in PRACTICE_COLUMNS.items():
        value = f"{{practice_{reading_name(number, word)}}}"
        if number == 3:
            value = f'IF({{third_{word}}}="yes",{value},"")'
        cells.append(formula(row, column, f'=IF({{in_data_source}}="practice",{value},"")', "", "practice"))
    return cells


def _reading_rule(number: int, site: Site, protocol: Protocol, texts: Texts) -> Rule:
    """On the scale of the caliper in hand, and in the order of the circuit."""
    cell = f"{{{reading_name(number, site.word)}}}"
    order = {
        1: "",
        2: f",{{shown_round_1_complete}}={quoted(texts['readings.yes'])}",
        3: f",{{shown_third_{site.word}}}={quoted(texts['readings.yes'])}",
    }[number]
    if site.trunk:
        order += f",{{shown_to_do_{site.word}}}<>{quoted(texts['note.under-18'])}"
    taken = change_words(protocol).index(f"{number}_{site.word}") + 1

    def in_hand(what: str) -> str:
        # Without a second caliper shown_change holds the empty text, which is more than any number.
        return f"IF({{shown_change}}<={taken},{{shown_{what}_2}},{{shown_{what}}})"

    count = f"{cell}/{in_hand('division')}"
    steps = f"ABS({count}-ROUND({count},0))<0.001"
    limits = f"{cell}>{in_hand('zero')},{cell}<={in_hand('opening')}"
    test = f"=AND(ISNUMBER({cell}),{limits},{steps}{order})"
    title = texts["rule.reading_title"].format(round=number, site=site.title)
    prompt = texts["rule.reading_3"] if number == 3 else texts["rule.reading"]
    return Rule("custom", title[:32], prompt, texts[f"rule.reading_{number}_error"], formula=test)
