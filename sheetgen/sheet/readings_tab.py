"""The tab Readings: a row a site in the order of the circuit, a column a round, so that Enter follows the
circuit."""

from msgspec.structs import replace

from sheetgen.protocols.names import LEFT_OUT, ROUNDS, change_words, reading_name
from sheetgen.protocols.protocol import Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.heading import (
    COLUMN_HEADINGS,
    HEADING_HEIGHT,
    column_headings,
    head,
    sheet_tab,
    words_entry,
)
from sheetgen.sheet.live_formulas import difference_text, shown_site, uncovered
from sheetgen.sheet.reference_tabs import small_image
from sheetgen.texts.languages import Texts
from sheetgen.workbook.addresses import column_letters
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import chain, entry, formula, label
from sheetgen.workbook.layout import Cell, Emphasis, Rule, Tab

_FIRST_ROW = COLUMN_HEADINGS + 1
_COLUMNS = (
    "site", "figure", "round_1", "round_2", "round_3", "difference", "site_value", "what_to_do", "left_out",
)  # fmt: skip
_SITE, _FIGURE, _ROUND_1, _, _, _DIFFERENCE, _VALUE, _TO_DO, _LEFT_OUT, _, _NEXT, _OPEN, _SHOWN = range(13)
_WIDTHS = (19, 9, 12, 12, 12, 12, 12, 44, 16, 1, 0, 0, 0)
_NARROW_WIDTHS = (20, 0, 12, 12, 12, 12, 12, 36, 18, 1, 0, 0, 0)
"""A thin empty column stands between what shows and what is hidden: a program prints signs of a column too
narrow where a hidden number is next to what is printed."""
_ROW = 31.5
_LOOKED_AT = {
    "division": "caliper_division", "opening": "caliper_opening", "zero": "in_zero_mm",
    "division_2": "caliper_2_division", "opening_2": "caliper_2_opening", "zero_2": "in_zero_2_mm",
    "change": "change_row",
}  # fmt: skip
"""What the rules of the readings look at, and the line that tells it: a rule looks at its own tab."""


def readings_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Readings.
    Where the class covers round 1, its readings, and all that would tell how close round 2 comes, are not
    shown from the end of round 1 to the end of round 2. A limit: the input line still shows a reading whose
    own cell is chosen. Nothing that is worked out changes."""
    rows = dict(enumerate(protocol.sites, start=_FIRST_ROW))
    last = max(rows)
    codes_at = _ROUND_1 + 1 if settings.narrow else _ROUND_1
    own = "" if settings.show_results == "always" else texts["readings.own_values"]
    scale_line = f"={_scale_line(settings, texts)}"
    cells = [
        *head("readings", _LEFT_OUT + 1, codes_at, protocol, texts, counted=not settings.narrow),
        *column_headings([texts[f"readings.{name}"] for name in _COLUMNS]),
        formula(last + 1, 0, scale_line, texts["readings.choose_caliper"], "below", "shown_scale"),
        label(last + 2, 0, texts["readings.grey"] + own, "below"),
    ]
    for row, site in rows.items():
        cells += _site_row(row, site, protocol, settings, texts)
    for row, (what, line) in enumerate(_LOOKED_AT.items(), start=_FIRST_ROW):
        cells.append(formula(row, _SHOWN, f"={{{line}}}", "", "unseen", f"shown_{what}"))
    if settings.cover_round_1:
        shown = '=IF({covered}="yes",1,0)'
        cells.append(formula(_FIRST_ROW + len(_LOOKED_AT), _SHOWN, shown, 0, "unseen", "shown_covered"))
    heights = {COLUMN_HEADINGS: HEADING_HEIGHT, **dict.fromkeys(rows, _ROW), last + 1: 24.0, last + 2: 20.0}
    return sheet_tab(
        "readings",
        cells,
        _NARROW_WIDTHS if settings.narrow else _WIDTHS,
        heights.items(),
        texts,
        emphases=tuple(_emphases(last, settings)),
        freeze=(_FIRST_ROW, 1 if settings.narrow else 0),
        landscape=True,
        first_entry=(_FIRST_ROW, _ROUND_1),
        images=tuple(
            replace(image, x_offset=8, y_offset=5)
            for row, site in rows.items()
            if not settings.narrow and (image := small_image(site, row, _FIGURE, texts))
        ),
    )


def _emphases(last: int, settings: SheetSettings) -> list[Emphasis]:
    """Grey where a box is not open yet; lit where the next reading goes; covered where the class asks."""
    next_at, open_at = (f"${column_letters(column)}{_FIRST_ROW + 1}" for column in (_NEXT, _OPEN))
    emphases = []
    if settings.cover_round_1:
        emphases.append(Emphasis(_FIRST_ROW, _ROUND_1, last, _ROUND_1, "={shown_covered}=1", "covered"))
    for number in ROUNDS:
        column = _ROUND_1 + number - 1
        emphases += [
            Emphasis(_FIRST_ROW, column, last, column, f"={next_at}={number}", "lit_entry"),
            Emphasis(_FIRST_ROW, column, last, column, f"={open_at}<{number}", "not_open"),
        ]
    for first, end in ((_SITE, _FIGURE), (_DIFFERENCE, _TO_DO)):
        emphases.append(Emphasis(_FIRST_ROW, first, last, end, f"={next_at}>0", "lit"))
    return emphases


def _scale_line(settings: SheetSettings, texts: Texts) -> str:
    """What the caliper in hand can show, in the program's own decimal sign."""
    keys = ("steps", "opening", "zero", "example", "end")
    steps, opening, zero, example, end = (quoted(texts[f"readings.scale_{key}"]) for key in keys)
    caliper = ("{in_caliper_id}", steps, "{caliper_division}", opening, "{caliper_opening}")
    typed = f'IF(ISNUMBER({{in_zero_mm}}),{zero}&{{in_zero_mm}},"")'
    choose = quoted(texts["readings.choose_caliper"])
    line = f'IF({{caliper_row}}="",{choose},{"&".join((*caliper, typed, example, "12.5", end))})'
    if settings.cover_round_1:
        line = f'IF({{covered}}="yes",{quoted(texts["readings.covered"] + " ")},"")&{line}'
    return line


def _site_row(row: int, site: Site, protocol: Protocol, settings: SheetSettings, texts: Texts) -> list[Cell]:
    word, value = site.word, f"shown_site_{site.word}"
    left_out = {LEFT_OUT: texts[f"word.{LEFT_OUT}"]}
    tests = [(f"{{rank_{reading_name(number, word)}}}={{next_rank}}", str(number)) for number in ROUNDS]
    next_round = f"={chain([('{next_rank}=0', '0'), *tests], '0')}"
    third = f'IF({{third_{word}}}="yes",3,2)'
    begun = '{in_cautions_confirmed}="yes",ISNUMBER({caliper_row}),ISNUMBER({in_zero_mm})'
    is_open = f'=IF({{left_out_{word}}}="yes",0,IF(AND({begun}),IF({{round_1_complete}}="yes",{third},1),0))'
    cells = [
        label(row, _SITE, site.title, "site"),
        label(row, _FIGURE, None, "site"),
        formula(row, _DIFFERENCE, uncovered(settings, difference_text(word)), "", "site_result"),
        formula(row, _VALUE, uncovered(settings, shown_site(word, settings)), "", "site_result", value),
        formula(row, _TO_DO, f"={_to_do(row, word, texts)}", "", "to_do", f"shown_to_do_{word}"),
        words_entry(row, _LEFT_OUT, f"not_taken_{word}", texts["rule.left_out_title"], left_out, texts),
        formula(row, _NEXT, next_round, 0, "unseen", f"next_round_{word}"),
        formula(row, _OPEN, is_open, 0, "unseen", f"open_round_{word}"),
    ]
    for number in ROUNDS:
        name, rule = reading_name(number, word), _rule(number, site, protocol, texts)
        cells.append(entry(row, _ROUND_1 + number - 1, name, rule, "entry_reading"))
    return cells


def _to_do(row: int, word: str, texts: Texts) -> str:
    """What is wrong or asked for in a row, else what to type where it comes next: with practice readings the
    same words, with the number at the end."""
    found = f"MATCH({{note_{word}}},{{note_word_first}}:{{note_word_last}},0)"
    note = f"INDEX({{note_text_first}}:{{note_text_last}},{found})"
    at = f"{{next_round_{word}}}"
    last = ROUNDS[-1]
    practice = {number: f"{{practice_{reading_name(number, word)}}}" for number in ROUNDS}
    titles = {number: quoted(texts[f"readings.round_{number}"]) for number in ROUNDS}
    value, rounds = (
        chain([(f"{at}={number}", said[number]) for number in ROUNDS[:-1]], said[last])
        for said in (practice, titles)
    )
    typed = f"{quoted(texts['readings.here_type'])}&{value}"
    how = f'IF({{in_data_source}}="practice",{typed},{quoted(texts["readings.here_measure"])})'
    here = f"{quoted(texts['readings.here'])}&{rounds}&{how}"
    fault = f'LEFT({{note_{word}}},5)="fault"'
    return f'IF({fault},{note},IF({at}>0,{here},IF({{note_{word}}}="","",{note})))'


def _rule(number: int, site: Site, protocol: Protocol, texts: Texts) -> Rule:
    """On the scale of the caliper in hand, and in a box that is open."""
    cell = f"{{{reading_name(number, site.word)}}}"
    taken = change_words(protocol).index(f"{number}_{site.word}") + 1

    def in_hand(what: str) -> str:
        # Without a second caliper shown_change holds the empty text, which is more than any number.
        return f"IF({{shown_change}}<={taken},{{shown_{what}_2}},{{shown_{what}}})"

    count = f"{cell}/{in_hand('division')}"
    steps = f"ABS({count}-ROUND({count},0))<0.001"
    limits = f"{cell}>{in_hand('zero')},{cell}<={in_hand('opening')}"
    test = f"=AND(ISNUMBER({cell}),{limits},{steps},{{open_round_{site.word}}}>={number})"
    title = texts["rule.reading_title"].format(round=number, site=site.title)
    return Rule("custom", title[:32], "", texts["rule.reading"], formula=test)
