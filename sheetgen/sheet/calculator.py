"""The hidden tab: identity, the class's register, coefficients, a mirror of every entry, every live result,
and what a sheet can know by itself of slips of typing.

Entries are mirrored by fixed place, INDEX over a whole block, which a cut or drag inside the block does
not move. Column A names a line, column B holds it; tables stand to the right.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from operator import attrgetter

from sheetgen.protocols.names import (
    FILLED_IN,
    MAJORITY,
    PRACTISED,
    ROUNDS,
    STEPS,
    TEXT_ENTRIES,
    change_words,
    entry_names,
    listed_words,
    live_names,
    start_entries,
)
from sheetgen.protocols.protocol import TERMS, Equation, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.live_formulas import EQUATION_FIELDS, result_lines, second_caliper_tests
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import Line, Texts, chain, identity, label
from sheetgen.workbook.layout import Cell, Tab, Value

_IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
    "class_code",
)  # fmt: skip
_FIRST_TABLE_ROW = 2
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

WARNINGS = {
    "data_source": "source_warning", "age_years": "age_warning", "caliper_id": "caliper_warning",
    "zero_mm": "zero_warning", "caliper_id_2": "second_warning",
}  # fmt: skip
"""Entries on Start that a line warns about, each with its name."""

_IS_PRACTICE = "ABS({in_reading_@}-{practice_reading_@})<0.001"
_IS_OTHER = f"IF(ISNUMBER({{in_reading_@}}),IF({_IS_PRACTICE},0,1),0)"
_OTHERS = "+".join(_IS_OTHER.replace("@", f"{number}_@") for number in ROUNDS)
_READINGS = ",".join(f"{{in_reading_{number}_@}}" for number in ROUNDS)
_FAR = f'IF(ABS({{corrected_1_@}}-{{corrected_2_@}})>{_FAR_APART_MM},"third-far","third")'
_NOTE_TESTS = (
    (f'AND({{in_not_taken_@}}<>"",COUNT({_READINGS})>0)', '"left-out-typed"'),
    ('{in_not_taken_@}<>""', '"left-out"'),
    *((f'{{fault_{number}_@}}<>""', f'{{fault_{number}_@}}&"-{number}"') for number in ROUNDS),
    ("AND(ISNUMBER({in_reading_2_@}),NOT(ISNUMBER({in_reading_1_@})))", '"round-1-first"'),
    (f'AND({{in_data_source}}="practice",{_OTHERS}>0)', '"practice"'),
    ('{covered}="yes"', '""'),
    ('{again_@}="yes"', '"again"'),
    ('AND({third_@}="yes",NOT(ISNUMBER({corrected_3_@})))', _FAR),
    ('AND({third_@}="no",ISNUMBER({in_reading_3_@}))', '"third-extra"'),
)
"""Each test of a site's row, `@` for the site, and the word of NOTES it gives."""


def calculator_tab(
    protocol: Protocol, settings: SheetSettings, settings_text: str, texts: Texts, typed: Mapping[str, str]
) -> Tab:
    """Return the hidden tab, its formulas still with names in braces.

    Parameters
    ----------
    settings_text : the settings as one line of text, printed so that a sheet tells what it was built with.
    typed : entry name to the formula text that gives the cell as it was typed.
    """
    cells: list[Cell] = [label(0, 0, texts["calculator.title"], "title")]
    identities = (*_IDENTITY, "issued_caliper", *practice_names(protocol))
    for row, name in enumerate(identities, start=_FIRST_TABLE_ROW):
        cells += [label(row, 0, name), identity(row, 1, name, named=name in _IDENTITY)]
    first = _FIRST_TABLE_ROW + len(identities)
    cells += [label(first, 0, "settings"), label(first, 1, settings_text, name="settings", named=True)]
    mirrors = {name: _mirror(name, typed[name], texts) for name in entry_names(protocol)}
    lines = [Line(f"in_{name}", text, FILLED_IN.get(name, "")) for name, text in mirrors.items()]
    lines += [*result_lines(protocol, settings), *slip_lines(protocol, settings, texts, typed)]
    live = live_names(protocol)
    for row, line in enumerate(lines, start=first + 1):
        mirrored = line.name.removeprefix("in_")
        defined = mirrored if mirrored != line.name and _translated(mirrored, texts) else ""
        role, named = "formula" if line.formula else "label", defined != "" or line.name in live
        value = Cell(row, 1, role, line.first, line.name, line.formula, named=named, defined=defined)
        cells += [label(row, 0, line.name), value]
    tables = (
        ("register", 3, _REGISTER_FIELDS, [*map(attrgetter(*_REGISTER_FIELDS), settings.calipers)]),
        ("change", 8, ("",), [(word,) for word in change_words(protocol)]),
        ("step", 10, ("word", "text"), [(word, texts[f"step.{word}"]) for word in STEPS]),
        ("note", 12, ("word", "text"), [(word, texts[f"note.{word}"]) for word in NOTES]),
        ("equation", 15, EQUATION_FIELDS, [*map(_equation_row, protocol.equations)]),
    )
    for prefix, column, fields, rows in tables:
        cells += _table(prefix, column, fields, rows) if rows else []
    return Tab("calculator", texts["tab.calculator"], tuple(cells), widths=(34, 24), hidden=True)


def practice_names(protocol: Protocol) -> tuple[str, ...]:
    """Return the identity names of the practice set: `practice_` and the entry each stands for."""
    details = [name for name in PRACTISED if name in start_entries(protocol)]
    readings = (f"reading_{word}" for word in change_words(protocol))
    return tuple(f"practice_{name}" for name in (*details, *readings))


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


def _table(prefix: str, first: int, fields: Sequence[str], rows: Sequence[Sequence[Value]]) -> list[Cell]:
    """A table; names PREFIX_FIELD_first and _last bound each column, an empty row the one of a single row."""
    cells = []
    for column, (field, values) in enumerate(zip(fields, zip(*rows, strict=True), strict=True), start=first):
        name = f"{prefix}_{field}" if field else prefix
        if prefix not in ("step", "note"):
            cells.append(label(1, column, field or "changed_from", "heading"))
        shown = [*values, None] if len(values) == 1 else values
        ends = {0: f"{name}_first", len(shown) - 1: f"{name}_last"}
        for at, value in enumerate(shown):
            cells.append(label(_FIRST_TABLE_ROW + at, column, value, name=ends.get(at, "")))
    return cells


def _equation_row(equation: Equation) -> list[Value]:
    values = {**dict.fromkeys(TERMS, 0.0), **asdict(equation), **dict(equation.coefficients)}
    # A blank cell would come out of INDEX as 0, and a limit of 0 shuts out every sum.
    return ["none" if values[field] is None else values[field] for field in EQUATION_FIELDS]


def slip_lines(
    protocol: Protocol, settings: SheetSettings, texts: Texts, typed: Mapping[str, str]
) -> list[Line]:
    """Return the lines that notice slips.

    Parameters
    ----------
    typed : entry name to the formula text that gives the cell as it was typed.
    """
    covered = '="no"'
    if settings.cover_round_1:
        covered = '=IF(AND({round_1_complete}="yes",{round_2_complete}="no"),"yes","no")'
    return [
        *_warnings(protocol, texts),
        *(
            Line(f"fault_{word}", f"={_fault(word, second, typed[f'reading_{word}'])}")
            for word, second in second_caliper_tests(protocol)
        ),
        Line("covered", covered, "no"),
        *(Line(f"note_{site.word}", f"={_note(site)}") for site in protocol.sites),
    ]


def _note(site: Site) -> str:
    # First of all under 18: the rules of the readings look for these words, and a reason typed must not
    # lift them.
    young = [('{under_18}="yes"', '"under-18"')] if site.trunk else []
    return chain([*young, *_NOTE_TESTS]).replace("@", site.word)


def _warnings(protocol: Protocol, texts: Texts) -> Iterator[Line]:
    def said(word: str) -> str:
        return quoted(texts["warning.check"] + texts[f"warning.{word}"].replace("{age}", str(MAJORITY)))

    issued = 'IF({in_caliper_id}={issued_caliper},"",' + said("caliper") + "&{issued_caliper})"
    yield Line("caliper_warning", f'=IF(ISNUMBER({{caliper_row}}),{issued},"")')
    words = f"IF({{in_zero_mm}}=-{{caliper_zero}},{said('zero_sign')},{said('zero_differs')})"
    differs = f'IF({{zero_difference}}=0,"",{words}&{{caliper_zero}})'
    yield Line("zero_warning", f'=IF(ISNUMBER({{zero_difference}}),{differs},"")')
    none = 'AND({in_caliper_id_2}="",NOT(ISNUMBER({in_zero_2_mm})),{in_changed_from}="")'
    whole = "AND(ISNUMBER({caliper_2_row}),ISNUMBER({in_zero_2_mm}),ISNUMBER({change_row}))"
    yield Line("second_warning", f'=IF(OR({none},{whole}),"",{said("second")})')
    if "age_years" in start_entries(protocol):
        yield Line("age_warning", f'=IF({{under_18}}="yes",{said("age")},"")')
    # Practice readings typed though `measured` is chosen. The other way round each site's row says it.
    readings = change_words(protocol)
    same = f"IF(ISNUMBER({{in_reading_@}}),IF({_IS_PRACTICE},1,0),0)"
    yield Line("practice_typed", "=" + "+".join(same.replace("@", word) for word in readings), 0)
    typed = ",".join(f"{{in_reading_{word}}}" for word in readings)
    all_same = f"AND({{practice_typed}}>={_PRACTICE_FROM},{{practice_typed}}=COUNT({typed}))"
    tests = [('{in_data_source}="practice"', '""'), (all_same, said("source"))]
    yield Line("source_warning", f"={chain(tests)}")


def _fault(word: str, second: str, cell: str) -> str:
    """`text`: typed, but no number. `scale`: not above the zero, beyond the opening, or between two steps.

    Typing is stopped by the rule of the cell; pasting and some devices pass it by.
    """
    reading, zero = f"{{in_reading_{word}}}", f"{{zero_{word}}}"
    opening = f"IF({second},{{caliper_2_opening}},{{caliper_opening}})"
    step = f"IF({second},{{caliper_2_division}},{{caliper_division}})"
    on_step = f"ABS({reading}/{step}-ROUND({reading}/{step},0))<0.001"
    on_scale = f'IF(AND({reading}>{zero},{reading}<={opening},{on_step}),"","scale")'
    known = f"AND(ISNUMBER({opening}),ISNUMBER({zero}))"
    number_test = f'IF(ISNUMBER({reading}),IF({known},{on_scale},""),"scale")'
    typed = f'IF(ISTEXT({cell}),IF(TRIM({cell})="","","text"),"text")'
    return chain([(f"ISBLANK({cell})", '""'), (f"ISNUMBER({cell})", number_test)], typed)
