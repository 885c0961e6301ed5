"""The hidden tab: identity, the class's register, coefficients, a mirror of every entry, every live result,
and what a sheet can know by itself of slips of typing.

Entries are mirrored by fixed place, INDEX over a whole block, which a cut or drag inside the block does
not move. Column A names a line, column B holds it; tables stand to the right.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from sheetgen.protocols.names import (
    FILLED_IN,
    MAJORITY,
    ROUNDS,
    STEPS,
    TEXT_ENTRIES,
    change_words,
    entry_names,
    listed_words,
    live_names,
    reading_name,
    start_entries,
)
from sheetgen.protocols.protocol import TERMS, Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.live_formulas import EQUATION_FIELDS, result_lines
from sheetgen.sheet.sheet_copy import practice_names
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import Line, chain, formula, identity, label
from sheetgen.workbook.layout import Cell, Place, Tab, Value

_IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
    "class_code",
)  # fmt: skip
_FIRST_TABLE_ROW = 2
_TABLE_COLUMNS = {"register": 3, "change": 8, "step": 10, "note": 12, "equation": 15}
_REGISTER_FIELDS = ("identifier", "division", "opening", "zero")

NOTES = (
    "under-18", "left-out-typed", "left-out", "text-1", "text-2", "text-3", "scale-1", "scale-2", "scale-3",
    "round-1-first", "practice", "again", "third-far", "third", "third-extra",
)  # fmt: skip
"""What a site's row may say, the most pressing first; the words are the texts `note.WORD`."""

_FAR_APART_MM = 5
"""Beyond this a slip of typing is likelier than a hard fold: a hint only, common practice."""

_PRACTICE_FROM = 4
"""So many readings, all of them the practice readings of the copy, are no chance."""

_WARNED = {
    "data_source": "source_warning",
    "age_years": "age_warning",
    "caliper_id": "caliper_warning",
    "zero_mm": "zero_warning",
    "caliper_id_2": "second_warning",
}

Texts = Mapping[str, str]


def calculator_tab(
    protocol: Protocol,
    settings: SheetSettings,
    settings_text: str,
    texts: Texts,
    blocks: Mapping[str, str],
    entries: Mapping[str, Place],
) -> Tab:
    """Return the hidden tab, its formulas still with names in braces.

    Parameters
    ----------
    settings_text : the settings as one line of text, printed so that a sheet tells what it was built with.
    blocks : tab key to the address of the block that holds its entries.
    entries : entry name to its place on a visible tab.
    """
    cells: list[Cell] = [label(0, 0, texts["calculator.title"], "title")]
    row = _FIRST_TABLE_ROW
    for name in (*_IDENTITY, "issued_caliper", *practice_names(protocol)):
        cells += [label(row, 0, name), identity(row, 1, name, named=name in _IDENTITY)]
        row += 1
    cells += [label(row, 0, "settings"), label(row, 1, settings_text, name="settings", named=True)]
    typed = {name: _typed(name, blocks, entries) for name in entry_names(protocol)}
    lines = [
        *(
            Line(f"in_{name}", _mirror(name, cell, texts), FILLED_IN.get(name, ""))
            for name, cell in typed.items()
        ),
        *result_lines(protocol, settings),
        *slip_lines(protocol, settings, texts, typed),
    ]
    named = set(live_names(protocol))
    first = row + 1
    for row, line in enumerate(lines, start=first):
        if line.formula:
            value = formula(row, 1, line.formula, line.first, name=line.name, named=line.name in named)
        else:
            value = label(row, 1, line.first, name=line.name)
        mirrored = line.name.removeprefix("in_")
        if mirrored != line.name and _translated(mirrored, texts):
            value = replace(value, named=True, defined=mirrored)
        cells += [label(row, 0, line.name), value]
    register = [[getattr(caliper, field) for field in _REGISTER_FIELDS] for caliper in settings.calipers]
    cells += _table("register", _REGISTER_FIELDS, register)
    cells += _table("change", ("",), [[word] for word in change_words(protocol)])
    for prefix, words in (("step", STEPS), ("note", NOTES)):
        cells += _table(prefix, ("word", "text"), [[word, texts[f"{prefix}.{word}"]] for word in words])
    if protocol.equations:
        cells += _table("equation", EQUATION_FIELDS, [_equation_row(each) for each in protocol.equations])
    return Tab("calculator", texts["tab.calculator"], tuple(cells), widths=(34, 24), hidden=True)


def _typed(name: str, blocks: Mapping[str, str], entries: Mapping[str, Place]) -> str:
    """The cell of an entry, by its place in a block."""
    tab, row, column = entries[name]
    return f"INDEX({blocks[tab]},{row + 1},{column + 1})"


def _translated(name: str, texts: Texts) -> dict[str, str]:
    """The words of an entry's list that are not code words, each with the code word it stands for."""
    shown = {texts[f"word.{code}"]: code for code in listed_words(name)}
    return {word: code for word, code in shown.items() if word != code}


def _mirror(name: str, cell: str, texts: Texts) -> str:
    """An entry as it counts: a text trimmed, and as its code word; a number to hundredths."""
    if name in TEXT_ENTRIES or name.startswith(("not_taken_", "answer_")):
        found = f'TRIM({cell}&"")'
        words = [(f"{found}={quoted(word)}", f'"{code}"') for word, code in _translated(name, texts).items()]
        return f'=IF(OR(ISTEXT({cell}),ISNUMBER({cell})),{chain(words[::-1], found)},"")'
    if name.startswith("own_"):
        return f'=IF(ISNUMBER({cell}),{cell},"")'
    # In whole years, as people count an age: 17.996 is 17.
    counts = f"INT({cell})" if name == "age_years" else f"ROUND({cell},2)"
    # No entry of this trade reaches a million; the recalculation leaves such numbers out as well.
    return f'=IF(ISNUMBER({cell}),IF(ABS({cell})<1000000,{counts},""),"")'


def _table(prefix: str, fields: Sequence[str], rows: Sequence[Sequence[Value]]) -> list[Cell]:
    """A table; names PREFIX_FIELD_first and _last bound each column, an empty row the one of a single row."""
    cells = []
    for column, field in enumerate(fields, start=_TABLE_COLUMNS[prefix]):
        name = f"{prefix}_{field}" if field else prefix
        if prefix not in ("step", "note"):
            cells.append(label(1, column, field or "changed_from", "heading"))
        values = [row[column - _TABLE_COLUMNS[prefix]] for row in rows]
        ends = {0: f"{name}_first", max(len(values), 2) - 1: f"{name}_last"}
        for at, value in enumerate([*values, None] if len(values) == 1 else values):
            cells.append(label(_FIRST_TABLE_ROW + at, column, value, name=ends.get(at, "")))
    return cells


def _equation_row(equation: Equation) -> list[Value]:
    coefficients = dict(equation.coefficients)
    values = [
        coefficients.get(field, 0.0) if field in TERMS else getattr(equation, field)
        for field in EQUATION_FIELDS
    ]
    # A blank cell would come out of INDEX as 0, and a limit of 0 shuts out every sum.
    return ["none" if value is None else value for value in values]


def warning_of(entry: str) -> str:
    """Return the name of the line that warns about an entry on Start, the empty text where none does.

    Examples
    --------
    >>> warning_of("zero_mm"), warning_of("side")
    ('zero_warning', '')
    """
    return _WARNED.get(entry, "")


def slip_lines(
    protocol: Protocol, settings: SheetSettings, texts: Texts, cells: Mapping[str, str]
) -> list[Line]:
    """Return the lines that notice slips.

    Parameters
    ----------
    cells : entry name to the formula text that gives the cell as it was typed.
    """
    faults = [
        Line(f"fault_{number}_{site.word}", f"={_fault(number, place, protocol, cells)}")
        for place, site in enumerate(protocol.sites)
        for number in ROUNDS
    ]
    covered = '="no"'
    if settings.cover_round_1:
        covered = '=IF(AND({round_1_complete}="yes",{round_2_complete}="no"),"yes","no")'
    notes = [Line(f"note_{site.word}", f"={_note(site)}") for site in protocol.sites]
    warnings = [*_warnings(protocol, texts), *_practice_lines(protocol, texts)]
    return [*warnings, *faults, Line("covered", covered, "no"), *notes]


def _warnings(protocol: Protocol, texts: Texts) -> Iterator[Line]:
    def said(word: str) -> str:
        return quoted(texts["warning.check"] + texts[f"warning.{word}"])

    issued = f'IF({{in_caliper_id}}={{issued_caliper}},"",{said("caliper")}&{{issued_caliper}})'
    yield Line("caliper_warning", f'=IF(ISNUMBER({{caliper_row}}),{issued},"")')
    words = (
        f"IF({{in_zero_mm}}=-{{caliper_zero}},{said('zero_sign')},{said('zero_differs')})&{{caliper_zero}}"
    )
    differs = f'IF({{zero_difference}}=0,"",{words})'
    yield Line("zero_warning", f'=IF(ISNUMBER({{zero_difference}}),{differs},"")')
    none = 'AND({in_caliper_id_2}="",NOT(ISNUMBER({in_zero_2_mm})),{in_changed_from}="")'
    whole = "AND(ISNUMBER({caliper_2_row}),ISNUMBER({in_zero_2_mm}),ISNUMBER({change_row}))"
    yield Line("second_warning", f'=IF(OR({none},{whole}),"",{said("second")})')
    if "age_years" in start_entries(protocol):
        young = quoted(texts["warning.check"] + texts["warning.age"].format(age=MAJORITY))
        yield Line("age_warning", f'=IF({{under_18}}="yes",{young},"")')


def _practice_lines(protocol: Protocol, texts: Texts) -> Iterator[Line]:
    """Practice readings typed though `measured` is chosen. The other way round each site's row says it."""
    names = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    typed = ",".join(f"{{in_{name}}}" for name in names)
    same = "+".join(f"IF(ISNUMBER({{in_{name}}}),IF({_is_practice(name)},1,0),0)" for name in names)
    yield Line("practice_typed", f"={same}", 0)
    all_same = f"AND({{practice_typed}}>={_PRACTICE_FROM},{{practice_typed}}=COUNT({typed}))"
    warning = quoted(texts["warning.check"] + texts["warning.source"])
    tests = [('{in_data_source}="practice"', '""'), (all_same, warning)]
    yield Line("source_warning", f"={chain(tests)}")


def _is_practice(name: str) -> str:
    return f"ABS({{in_{name}}}-{{practice_{name}}})<0.001"


def _fault(number: int, place: int, protocol: Protocol, cells: Mapping[str, str]) -> str:
    """`text`: typed, but no number. `scale`: not above the zero, beyond the opening, or between two steps.

    Typing is stopped by the rule of the cell; pasting and some devices pass it by.
    """
    site = protocol.sites[place].word
    cell, reading = cells[reading_name(number, site)], f"{{in_{reading_name(number, site)}}}"
    order = (number - 1) * len(protocol.sites) + place + 1
    changed = f"AND(ISNUMBER({{change_row}}),{{change_row}}<={order})"
    opening, step = (
        f"IF({changed},{{caliper_2_{what}}},{{caliper_{what}}})" for what in ("opening", "division")
    )
    zero = f"{{zero_{number}_{site}}}"
    known = f"AND(ISNUMBER({opening}),ISNUMBER({zero}))"
    on_step = f"ABS({reading}/{step}-ROUND({reading}/{step},0))<0.001"
    on_scale = f'IF(AND({reading}>{zero},{reading}<={opening},{on_step}),"","scale")'
    number_test = f'IF(ISNUMBER({reading}),IF({known},{on_scale},""),"scale")'
    typed = f'IF(ISTEXT({cell}),IF(TRIM({cell})="","","text"),"text")'
    return chain([(f"ISBLANK({cell})", '""'), (f"ISNUMBER({cell})", number_test)], typed)


def _note(site: Site) -> str:
    word = site.word
    names = [reading_name(number, word) for number in ROUNDS]
    first, second, third = (f"{{corrected_{number}_{word}}}" for number in ROUNDS)
    typed_1, typed_2, typed_3 = readings = [f"{{in_{name}}}" for name in names]
    others = "+".join(f"IF(ISNUMBER({{in_{name}}}),IF({_is_practice(name)},0,1),0)" for name in names)
    far = f'IF(ABS({first}-{second})>{_FAR_APART_MM},"third-far","third")'
    # First of all under 18: the rules of the readings look for these words, and a reason typed must not
    # lift them.
    young = [('{under_18}="yes"', '"under-18"')] if site.trunk else []
    return chain(
        [
            *young,
            (f'AND({{in_not_taken_{word}}}<>"",COUNT({",".join(readings)})>0)', '"left-out-typed"'),
            (f'{{in_not_taken_{word}}}<>""', '"left-out"'),
            *((f'{{fault_{at}_{word}}}<>""', f'{{fault_{at}_{word}}}&"-{at}"') for at in ROUNDS),
            (f"AND(ISNUMBER({typed_2}),NOT(ISNUMBER({typed_1})))", '"round-1-first"'),
            (f'AND({{in_data_source}}="practice",{others}>0)', '"practice"'),
            ('{covered}="yes"', '""'),
            (f'{{again_{word}}}="yes"', '"again"'),
            (f'AND({{third_{word}}}="yes",NOT(ISNUMBER({third})))', far),
            (f'AND({{third_{word}}}="no",ISNUMBER({typed_3}))', '"third-extra"'),
        ]
    )
