"""The tabs that a student types into during the lesson: Start, with the cautions beside the first entries,
and Readings, one row a site in circuit order, so that Enter goes down the circuit."""

from collections.abc import Iterator
from dataclasses import replace

from sheetgen.protocols.names import (
    CAUTIONS,
    FILLED_IN,
    NOT_TAKEN_WORDS,
    PRACTISED,
    START_ENTRIES,
    TEXT_ENTRIES,
    change_words,
    listed_words,
    reading_name,
    sex_words,
    start_entries,
)
from sheetgen.protocols.protocol import Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.calculator import WARNINGS
from sheetgen.sheet.live_formulas import difference_text, uncovered
from sheetgen.sheet.reference_tabs import small_image
from sheetgen.sheet.working import head_heights
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import (
    Texts,
    chain,
    column_pixels,
    entry,
    formula,
    heading_row,
    height_for,
    identity,
    label,
    lines_needed,
    list_entry,
    number_rule,
    tab_head,
    text_rule,
    words_rule,
)
from sheetgen.workbook.layout import Cell, Emphasis, Rule, Tab

_INLINE_LIST_LIMIT = 255
_FIRST_ENTRY_ROW = 7
_START_WIDTHS = (26, 18, 40, 1, 96)
_LABEL, _VALUE, _HINT, _, _CAUTION = range(5)

_HEADING_ROW = 6
_FIRST_SITE_ROW = 7
_ROUND_COLUMNS = {1: 1, 2: 2, 3: 5}
_DIFFERENCE, _THIRD, _SITE_VALUE, _NOT_TAKEN, _WHAT_TO_DO = 3, 4, 6, 7, 8
_PRACTICE_COLUMNS = {1: 9, 2: 10, 3: 11}
_COLUMNS = (
    "site", "round_1", "round_2", "difference", "third_needed", "round_3", "site_value", "not_taken",
    "what_to_do", "practice_1", "practice_2", "practice_3",
)  # fmt: skip
_READINGS_WIDTHS = (27, 12, 12, 13, 12, 12, 13, 17, 25, 13, 11, 11)


def start_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Start."""
    first, names = _FIRST_ENTRY_ROW, start_entries(protocol)
    cells = [
        label(0, 0, texts["start.title"], "title"),
        identity(0, 1, "sheet_line", "line"),
        label(1, 0, texts["start.first_words"], "step"),
        *_progress(texts),
        *heading_row(first - 1, [texts[f"start.column_{name}"] for name in ("entry", "value", "hint")]),
        label(first - 1, _CAUTION, texts["start.column_caution"], "heading"),
        *(label(first + at, _CAUTION, texts[key], "wrap") for at, key in enumerate(CAUTIONS)),
    ]
    for row, name in enumerate(names, start=first):
        cells += [label(row, _LABEL, texts[f"entry.{name}"], "label_wrapped"), _hint(row, name, texts)]
        rule = start_rule(name, protocol, settings, texts)
        if name in TEXT_ENTRIES:
            cells.append(list_entry(row, _VALUE, name, rule, FILLED_IN.get(name, "")))
        else:
            cells.append(entry(row, _VALUE, name, rule, "entry_number"))
    heights = dict(head_heights(first))
    for cell in cells:
        if cell.row >= first and cell.role != "entry":
            # Each row is as tall as its tallest text. A hint turns bold where it becomes a warning.
            bold, width = cell.column != _CAUTION, _START_WIDTHS[cell.column]
            lines = max(2, lines_needed(str(cell.value), width, bold, indent=1))
            heights[cell.row] = max(heights.get(cell.row, 0), height_for(lines))
    check = texts["warning.check"]
    warned = f"=LEFT($C{first + 1},{len(check)})={quoted(check)}"
    to_do = f"={{shown_next_step}}<>{quoted(texts['step.done'])}"
    emphases = (
        Emphasis(2, _VALUE, 2, _CAUTION, to_do, "wanted"),
        Emphasis(first, _HINT, first + len(names) - 1, _HINT, warned, "wanted"),
    )
    rows = tuple(sorted(heights.items()))
    tab = Tab("start", texts["tab.start"], tuple(cells), _START_WIDTHS, rows, emphases, landscape=True)
    return replace(tab, freeze=(first, 0), first_entry=(first, 1))


def start_rule(name: str, protocol: Protocol, settings: SheetSettings, texts: Texts) -> Rule:
    """Return the rule of an entry on the tab Start.

    Raises
    ------
    KeyError : there is no such entry.
    """
    title, prompt, known = texts[f"entry.{name}"], texts[f"hint.{name}"], START_ENTRIES[name]
    if known.words:
        words = sex_words(protocol) if name == "sex_equation" else known.words
        return words_rule(texts, words, title, prompt, "word")
    if known.limits is not None:
        return number_rule(texts, *known.limits, title, prompt)
    if name == "participant_today":
        return text_rule(texts, 12, title, prompt)
    table, error = "register_identifier", prompt
    words = tuple(caliper.identifier for caliper in settings.calipers)
    if name == "changed_from":
        table, prompt, error = "change", texts["rule.changed_from"], texts["rule.changed_from_error"]
    # A list in a rule is one text with commas between the words, of at most 255 characters; other words are
    # looked up in the register.
    elif not {",", '"'} & set("".join(words)) and len(",".join(words)) <= _INLINE_LIST_LIMIT:
        return words_rule(texts, words, title, prompt)
    match = f'MATCH({{{name}}}&"",{{{table}_first}}:{{{table}_last}},0)'
    return Rule("custom", title, prompt, error, formula=f"=ISNUMBER({match})")


def _progress(texts: Texts) -> Iterator[Cell]:
    of, made, own_made = (texts[f"start.{name}"] for name in ("entries_of", "entries_made", "own_made"))
    step = "INDEX({step_text_first}:{step_text_last},MATCH({next_step},{step_word_first}:{step_word_last},0))"
    not_yet, first_step = texts["start.ready_no"], texts["step.cautions"]
    ready = f'IF({{ready}}="yes",{quoted(texts["start.ready_yes"])},{quoted(not_yet)}&{{shown_next_step}})'
    entries = f"{{entries_made}}&{quoted(of)}&{{entries_due}}&{quoted(made)}"
    own = f"{{own_done}}&{quoted(of)}&{{own_due}}&{quoted(own_made)}"
    rows = (
        ("next_step", step, first_step, "step", "shown_next_step"),
        ("entries", entries, "", "words", "shown_entries"),
        ("own", own, f"0{of}0{own_made}", "words", ""),
        ("ready", ready, not_yet + first_step, "words", ""),
    )
    for row, (title, text, first, format, name) in enumerate(rows, start=2):
        yield label(row, _LABEL, texts[f"start.{title}"], "label")
        yield formula(row, _VALUE, f"={text}", first, format, name)


def _hint(row: int, name: str, texts: Texts) -> Cell:
    """The unit and how; the midpoint once a length is there; the practice value where practice is chosen."""
    hint = texts[f"hint.{name}"]
    shown = quoted(hint)
    if name.startswith("length_"):
        midpoint = name.replace("length_", "midpoint_")
        before, after = map(quoted, texts["start.midpoint"].split("{}"))
        shown = f"IF(ISNUMBER({{{midpoint}}}),{before}&ROUND({{{midpoint}}},2)&{after},{shown})"
    if name in PRACTISED:
        typed, right = f"{{in_{name}}}", f"{{practice_{name}}}"
        words = [(code, word) for code in listed_words(name) if (word := texts[f"word.{code}"]) != code]
        value = chain([(f'{right}="{code}"', quoted(word)) for code, word in reversed(words)], right)
        check = f'IF(OR({typed}="",{typed}={right}),"",{quoted(texts["warning.check"])})'
        practice = f"{check}&{quoted(texts['start.practice'])}&{value}"
        shown = f'IF({{in_data_source}}="practice",{practice},{shown})'
    if warning := WARNINGS.get(name):
        shown = f'IF({{{warning}}}<>"",{{{warning}}},{shown})'
    if shown == quoted(hint):
        return label(row, _HINT, hint, "hint")
    return formula(row, _HINT, f"={shown}", hint, "hint")


def readings_tab(protocol: Protocol, settings: SheetSettings, texts: Texts) -> Tab:
    """Return the tab Readings.

    Notes
    -----
    Where the class covers round 1, its readings, and all that would tell how close round 2 comes, are not
    shown from the end of round 1 to the end of round 2. A limit: the input line still shows a reading whose
    own cell is chosen. Nothing that is worked out changes.
    """
    headings = [texts[f"readings.{name}"] for name in _COLUMNS]
    first, last = _FIRST_SITE_ROW, _FIRST_SITE_ROW + len(protocol.sites) - 1
    head = tab_head("readings", 2, texts)
    emphases = [
        Emphasis(first, _THIRD, last, _THIRD, f"=$E{first + 1}={quoted(texts['readings.yes'])}", "wanted"),
        Emphasis(first, _WHAT_TO_DO, last, _WHAT_TO_DO, f'=$I{first + 1}<>""', "wanted"),
    ]
    if settings.cover_round_1:
        usual, said = texts["readings.instruction"], quoted(texts["readings.covered"])
        shown = f'=IF({{covered}}="yes",{said},{quoted(usual)})'
        head[-1] = formula(1, 0, shown, usual, "step", "shown_instruction")
        column = _ROUND_COLUMNS[1]
        emphases.append(Emphasis(first, column, last, column, f"={{shown_instruction}}={said}", "covered"))
    cells = [*head, *_status(texts), *heading_row(_HEADING_ROW, headings[: _PRACTICE_COLUMNS[1]])]
    for column in _PRACTICE_COLUMNS.values():
        # Nothing stands above the columns of practice readings where nobody chose practice.
        cells.append(formula(_HEADING_ROW, column, _in_practice(quoted(headings[column])), "", "heading"))
    heights, images = head_heights(_HEADING_ROW, headings, _READINGS_WIDTHS), []
    for row, site in enumerate(protocol.sites, start=first):
        cells += _site_row(row, site, protocol, settings, texts)
        heights.append((row, height_for(2)))
        if image := small_image(site, row, 0, texts):
            # At the right edge of the cell with the name of the site.
            x_offset = column_pixels(_READINGS_WIDTHS[0]) - image.width - 2
            images.append(replace(image, x_offset=x_offset, y_offset=6))
    rows, look = tuple(heights), tuple(emphases)
    tab = Tab("readings", texts["tab.readings"], tuple(cells), _READINGS_WIDTHS, rows, look, landscape=True)
    return replace(tab, freeze=(first, 1), first_entry=(first, _ROUND_COLUMNS[1]), images=tuple(images))


def _in_practice(text: str) -> str:
    return f'=IF({{in_data_source}}="practice",{text},"")'


def _status(texts: Texts) -> list[Cell]:
    """The caliper in hand, and below it the one that took over on the way; empty where none did. The rules of
    the readings look at these cells: a rule looks at its own tab."""
    choose, yes, no = (texts[f"readings.{name}"] for name in ("choose_caliper", "yes", "no"))
    chosen = f'=IF({{caliper_row}}="",{quoted(choose)},{{in_caliper_id}})'
    complete = f'=IF({{round_1_complete}}="yes",{quoted(yes)},{quoted(no)})'
    # Two at most have room on a small screen; Start says each beside its entry.
    second = 'IF({zero_warning}="",{second_warning},{zero_warning})'
    warnings = f'={{caliper_warning}}&IF(AND({{caliper_warning}}<>"",{second}<>""),"; ","")&{second}'
    zero = 'IF({in_cautions_confirmed}="yes",{in_zero_mm},"")'
    scale = (
        ("division", 3, 5, "{caliper_division}", "{caliper_2_division}"),
        ("opening", 6, 8, "{caliper_opening}", "{caliper_2_opening}"),
        # Once the cautions are agreed to: every reading must be above the zero, and none is above a text.
        ("zero", 9, 10, zero, zero.replace("zero", "zero_2")),
    )
    cells = [
        label(3, 0, texts["readings.caliper"], "label"),
        formula(3, 1, chosen, choose, "words", "shown_caliper"),
        label(5, 0, texts["readings.round_1_complete"], "label"),
        formula(5, 1, complete, no, "words", "shown_round_1_complete"),
        formula(5, 2, warnings, "", "wanted_words"),
        _if_changed(0, quoted(texts["entry.caliper_id_2"]), "label"),
        _if_changed(1, "{in_caliper_id_2}", "words"),
        _if_changed(11, "{change_row}", "unseen", "shown_change"),
    ]
    for what, column, beside, first, other in scale:
        title = texts[f"readings.{what}"]
        cells += [
            label(3, column, title, "label"),
            formula(3, beside, f"={first}", "", "status", f"shown_{what}"),
            _if_changed(column, quoted(title), "label"),
            _if_changed(beside, other, "status", f"shown_{what}_2"),
        ]
    return cells


def _if_changed(column: int, text: str, format: str, name: str = "") -> Cell:
    return formula(4, column, f'=IF(ISNUMBER({{change_row}}),{text},"")', "", format, name)


def _site_row(
    row: int, site: Site, protocol: Protocol, settings: SheetSettings, texts: Texts
) -> Iterator[Cell]:
    word = site.word
    answers = [(f'{{third_{word}}}="{each}"', quoted(texts[f"readings.{each}"])) for each in ("yes", "no")]
    found = f"MATCH({{note_{word}}},{{note_word_first}}:{{note_word_last}},0)"
    note = f'=IF({{note_{word}}}="","",INDEX({{note_text_first}}:{{note_text_last}},{found}))'
    title, prompt = texts["rule.not_taken_title"], texts["rule.not_taken"]
    reasons = words_rule(texts, NOT_TAKEN_WORDS, title, prompt, "word")
    yield label(row, 0, site.title, "label")
    yield formula(row, _DIFFERENCE, uncovered(settings, difference_text(word)), "", "result_2")
    yield formula(row, _THIRD, uncovered(settings, chain(answers)), "", "words", f"shown_third_{word}")
    yield formula(row, _SITE_VALUE, uncovered(settings, f"{{site_{word}}}"), "", "result_2")
    yield list_entry(row, _NOT_TAKEN, f"not_taken_{word}", reasons)
    yield formula(row, _WHAT_TO_DO, note, "", "words_wrapped", f"shown_to_do_{word}")
    for number, column in _ROUND_COLUMNS.items():
        name, rule = reading_name(number, word), _reading_rule(number, site, protocol, texts)
        yield entry(row, column, name, rule, "entry_number")
        value = f"{{practice_{name}}}"
        value = f'IF({{third_{word}}}="yes",{value},"")' if number == 3 else value
        yield formula(row, _PRACTICE_COLUMNS[number], _in_practice(value), "", "practice")


def _reading_rule(number: int, site: Site, protocol: Protocol, texts: Texts) -> Rule:
    """On the scale of the caliper in hand, and in the order of the circuit."""
    cell, yes = f"{{{reading_name(number, site.word)}}}", quoted(texts["readings.yes"])
    before = {2: "shown_round_1_complete", 3: f"shown_third_{site.word}"}
    order = f",{{{before[number]}}}={yes}" if number in before else ""
    if site.trunk:
        order += f",{{shown_to_do_{site.word}}}<>{quoted(texts['note.under-18'])}"
    taken = change_words(protocol).index(f"{number}_{site.word}") + 1
    # Without a second caliper shown_change holds the empty text, which is more than any number.
    division, zero, opening = (
        f"IF({{shown_change}}<={taken},{{shown_{what}_2}},{{shown_{what}}})"
        for what in ("division", "zero", "opening")
    )
    on_step = f"ABS({cell}/{division}-ROUND({cell}/{division},0))<0.001"
    test = f"=AND(ISNUMBER({cell}),{cell}>{zero},{cell}<={opening},{on_step}{order})"
    title = texts["rule.reading_title"].format(round=number, site=site.title)
    prompt = texts["rule.reading_3" if number == 3 else "rule.reading"]
    return Rule("custom", title[:32], prompt, texts[f"rule.reading_{number}_error"], formula=test)
