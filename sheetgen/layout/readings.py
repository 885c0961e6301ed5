"""The tab Readings: one row a site in circuit order, so that Enter goes down the circuit."""

from collections.abc import Mapping

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.cells import entry, formula, heading_row, identity, label
from sheetgen.layout.rules import words_rule
from sheetgen.layout.vocabulary import NOT_TAKEN_WORDS, change_words, reading_name
from sheetgen.model.layout import Cell, Emphasis, Rule, Tab
from sheetgen.model.protocol import Protocol, Site

__all__ = ["readings_tab"]

HEADING_ROW = 5
FIRST_SITE_ROW = 6
ROUND_COLUMNS = {1: 1, 2: 2, 3: 5}
DIFFERENCE, THIRD, VALUE, NOT_TAKEN, WHAT_TO_DO = 3, 4, 6, 7, 8
PRACTICE_COLUMNS = {1: 9, 2: 10, 3: 11}
COLUMNS = (
    "site", "round_1", "round_2", "difference", "third_needed", "round_3", "site_value", "not_taken",
    "what_to_do", "practice_1", "practice_2", "practice_3",
)  # fmt: skip

Texts = Mapping[str, str]


def readings_tab(protocol: Protocol, texts: Texts) -> Tab:
    """Return the tab Readings."""
    cells = [
        label(0, 0, texts["readings.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["readings.instruction"], "step"),
        *_status(texts),
        *_second_caliper(texts),
        *heading_row(HEADING_ROW, [texts[f"readings.{name}"] for name in COLUMNS]),
    ]
    for offset, site in enumerate(protocol.sites):
        cells += _site_row(FIRST_SITE_ROW + offset, site, protocol, texts)
    last = FIRST_SITE_ROW + len(protocol.sites) - 1
    wanted = Emphasis(
        FIRST_SITE_ROW,
        THIRD,
        last,
        THIRD,
        f"=$I{FIRST_SITE_ROW + 1}={quoted(texts['readings.third'])}",
        "wanted",
    )
    todo = Emphasis(FIRST_SITE_ROW, WHAT_TO_DO, last, WHAT_TO_DO, f'=$I{FIRST_SITE_ROW + 1}<>""', "wanted")
    return Tab(
        "readings",
        texts["tab.readings"],
        tuple(sorted(cells, key=lambda cell: (cell.row, cell.column))),
        widths=(16, 12, 12, 12, 22, 12, 12, 13, 27, 11, 11, 11),
        heights=((HEADING_ROW, 32.0), *((row, 26.0) for row in range(FIRST_SITE_ROW, last + 1))),
        emphases=(wanted, todo),
        freeze=(FIRST_SITE_ROW, 1),
        landscape=True,
        first_entry=(FIRST_SITE_ROW, ROUND_COLUMNS[1]),
    )


def _status(texts: Texts) -> list[Cell]:
    """The caliper in hand. The rules of the readings look at these cells: a rule looks at its own tab."""
    choose = texts["readings.choose_caliper"]
    shown = f'=IF({{caliper_row}}="",{quoted(choose)},{{in_caliper_id}})'
    warning = (
        "=IF(ISNUMBER({zero_difference}),IF({zero_difference}<>0,"
        f'{quoted(texts["readings.zero_differs"])}&{{caliper_zero}},""),"")'
    )
    yes, no = texts["readings.yes"], texts["readings.no"]
    complete = f'=IF({{round_1_complete}}="yes",{quoted(yes)},{quoted(no)})'
    return [
        label(2, 0, texts["readings.caliper"], "label"),
        formula(2, 1, shown, choose, "words", "shown_caliper"),
        label(2, 3, texts["readings.division"], "label"),
        formula(2, 4, "={caliper_division}", "", "status", "shown_division"),
        label(2, 5, texts["readings.opening"], "label"),
        formula(2, 6, "={caliper_opening}", "", "status", "shown_opening"),
        label(2, 7, texts["readings.zero"], "label"),
        formula(2, 8, f"={_once_agreed('in_zero_mm')}", "", "status", "shown_zero"),
        formula(2, 9, warning, "", "wanted_words"),
        label(3, 0, texts["readings.round_1_complete"], "label"),
        formula(3, 1, complete, no, "words", "shown_round_1_complete"),
        label(3, 3, texts["readings.next_step"], "label"),
        formula(3, 4, "={shown_next_step}", texts["step.cautions"], "words"),
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
        shown(4, "{caliper_2_division}", "status", "shown_division_2"),
        shown(5, quoted(texts["readings.opening"])),
        shown(6, "{caliper_2_opening}", "status", "shown_opening_2"),
        shown(7, quoted(texts["readings.zero"])),
        shown(8, _once_agreed("in_zero_2_mm"), "status", "shown_zero_2"),
        shown(9, quoted(texts["readings.second_from"])),
        shown(11, "{change_row}", "words", "shown_change"),
    ]


def _site_row(row: int, site: Site, protocol: Protocol, texts: Texts) -> list[Cell]:
    word = site.word
    third, again = quoted(texts["readings.third"]), quoted(texts["readings.again"])
    first, second = f"{{corrected_1_{word}}}", f"{{corrected_2_{word}}}"
    both = f"AND(ISNUMBER({first}),ISNUMBER({second}))"
    needed = f'IF({{third_{word}}}="no",{quoted(texts["readings.no_third"])},"")'
    left_out = quoted(texts["readings.left_out"])
    to_do = (
        f'IF({{in_not_taken_{word}}}<>"",{left_out},IF({{again_{word}}}="yes",{again},'
        f'IF({{third_{word}}}="yes",IF(ISNUMBER({{corrected_3_{word}}}),"",{third}),"")))'
    )
    if site.trunk:
        # First of all: the rules of the readings look for these words, and a reason typed must not lift them.
        to_do = f'IF({{under_18}}="yes",{quoted(texts["readings.under_18"])},{to_do})'
    cells = [
        label(row, 0, site.title, "label"),
        *(
            entry(
                row, column, reading_name(number, word),
                _reading_rule(number, site, protocol, texts), "entry_number",
            )
            for number, column in ROUND_COLUMNS.items()
        ),
        formula(row, DIFFERENCE, f'=IF({both},ROUND(ABS({first}-{second}),2),"")', "", "result_2"),
        formula(
            row, THIRD, f'=IF({{third_{word}}}="yes",{third},{needed})', "", "words", f"shown_third_{word}"
        ),
        formula(row, VALUE, f"={{site_{word}}}", "", "result_2"),
        entry(
            row, NOT_TAKEN, f"not_taken_{word}",
            words_rule(texts, NOT_TAKEN_WORDS, texts["rule.not_taken_title"], texts["rule.not_taken"]),
            "entry_text",
        ),
        formula(row, WHAT_TO_DO, f"={to_do}", "", "words", f"shown_to_do_{word}"),
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
        3: f",{{shown_third_{site.word}}}={quoted(texts['readings.third'])}",
    }[number]
    if site.trunk:
        order += f",{{shown_to_do_{site.word}}}<>{quoted(texts['readings.under_18'])}"
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
