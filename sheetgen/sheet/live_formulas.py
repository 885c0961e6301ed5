"""Everything that follows from the entries, as lines of the hidden tab that every program works out.

Only functions of the first Open XML edition are used. Empty results are the empty text, so every formula
tests its inputs with ISNUMBER before it computes. An `@` stands for the word of a site or a reading
until it is replaced; names in braces become addresses in the end.
"""

from collections.abc import Iterator
from itertools import combinations
from typing import Literal

from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import (
    MAJORITY,
    ROUNDS,
    SEX_WORDS,
    change_words,
    midpoint_names,
    own_steps,
    sex_words,
    start_entries,
)
from sheetgen.protocols.protocol import FORMS, TERMS, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.workbook.cells import Line, chain, counted

EQUATION_FIELDS = ("form", *TERMS, "sum_minimum", "sum_maximum", "standard_error_percent")
"""What the table of equations holds of each; a coefficient that a form does not have is 0."""

_AGE, _SEX = "{in_age_years}", "{in_sex_equation}"
_NO_AGE = f"NOT(ISNUMBER({_AGE}))"
_ESTIMATE = ("density_g_ml", "fat_percent", "fat_low", "fat_high", "fat_mass_kg", "fat_free_mass_kg")
_MIDPOINT = '=IF(ISNUMBER({in_length_@}),IF({in_length_@}>0,{in_length_@}/2,""),"")'
_PERCENT_TESTS = [f'{{equation_form}}="{word}"' for word, form in FORMS.items() if form.gives == "percent"]
_COUNTED = ("age_years", "zero_mm", "length_upper_arm_cm", "length_thigh_cm")
_SINGLE_ENTRIES = {
    "cautions_confirmed": 'IF({in_cautions_confirmed}="yes",1,0)',
    "sex_equation": "IF(OR(" + ",".join(f'{_SEX}="{word}"' for word in SEX_WORDS) + "),1,0)",
    "caliper_id": "IF(ISNUMBER({caliper_row}),1,0)",
    **{name: f"COUNT({{in_{name}}})" for name in _COUNTED},
}
"""The entries on Start that a sheet must have, each with a term that is 1 where it is there."""


def result_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return every line from the caliper in hand to `ready`, in the order of working."""
    sites, parts = protocol.sites, [name.removeprefix("midpoint_") for name in midpoint_names(protocol)]
    values = ",".join(f"{{site_{site.word}}}" for site in sites)
    under_18 = f'=IF(ISNUMBER({_AGE}),IF({_AGE}<{MAJORITY},"yes","no"),"no")'
    return [
        *_caliper_lines(),
        *(Line(f"midpoint_{part}", _MIDPOINT.replace("@", part)) for part in parts),
        Line("under_18", under_18 if "age_years" in start_entries(protocol) else '="no"', "no"),
        *map(_left_out_line, sites),
        *(line for word, test in second_caliper_tests(protocol) for line in _corrected_lines(word, test)),
        *(line for site in sites for line in _site_lines(site.word, settings)),
        Line("sum_mm", f'=IF(COUNT({values})={len(sites)},SUM({values}),"")'),
        *estimate_lines(protocol, settings),
        *progress_lines(protocol, settings),
    ]


def second_caliper_tests(protocol: Protocol) -> Iterator[tuple[str, str]]:
    """Yield the word of every reading (`1_chest`), site by site, and a test whether the second caliper took
    it."""
    words, sites = change_words(protocol), len(protocol.sites)
    for order in sorted(range(len(words)), key=lambda order: order % sites):
        yield words[order], f"AND(ISNUMBER({{change_row}}),{{change_row}}<={order + 1})"


def _range(prefix: str) -> str:
    return f"{{{prefix}_first}}:{{{prefix}_last}}"


def _caliper_lines() -> Iterator[Line]:
    for caliper, entry in (("caliper", "in_caliper_id"), ("caliper_2", "in_caliper_id_2")):
        yield _lookup_line(f"{caliper}_row", entry, "register_identifier")
        for field in ("division", "opening", "zero"):
            text = f"INDEX({_range(f'register_{field}')},{{{caliper}_row}})"
            yield Line(f"{caliper}_{field}", f'=IF({{{caliper}_row}}="","",{text})')
    yield _lookup_line("change_row", "in_changed_from", "change")
    both = "AND(ISNUMBER({in_zero_mm}),ISNUMBER({caliper_zero}))"
    yield Line("zero_difference", f'=IF({both},ROUND({{in_zero_mm}}-{{caliper_zero}},2),"")')


def _lookup_line(name: str, entry: str, table: str) -> Line:
    """The row of a word in a table; MATCH takes * and ? for any text, so what it found is compared."""
    found = f"MATCH({{{entry}}},{_range(table)},0)"
    same = f"INDEX({_range(table)},{found})={{{entry}}}"
    return Line(name, f'=IF({{{entry}}}="","",IF(ISNUMBER({found}),IF({same},{found},""),""))')


def _left_out_line(site: Site) -> Line:
    """A reason why it was not taken; a trunk site is left out for anyone under 18 as well."""
    reason = f'{{in_not_taken_{site.word}}}<>""'
    test = f'OR({reason},{{under_18}}="yes")' if site.trunk else reason
    return Line(f"left_out_{site.word}", f'=IF({test},"yes","no")', "no")


def _corrected_lines(word: str, second: str) -> Iterator[Line]:
    """A reading less the zero of the caliper it was taken with; 0 or less gives nothing."""
    yield Line(f"zero_{word}", f"=IF({second},{{in_zero_2_mm}},{{in_zero_mm}})")
    site = word.partition("_")[2]
    present = f'{{left_out_{site}}}="no",ISNUMBER({{in_reading_{word}}}),ISNUMBER({{zero_{word}}})'
    value = f"ROUND({{in_reading_{word}}}-{{zero_{word}}},2)"
    yield Line(f"corrected_{word}", f'=IF(AND({present}),IF({value}>0,{value},""),"")')


def _exceeds(first: str, second: str, settings: SheetSettings) -> str:
    """A test on whole hundredths, as the core makes it."""
    limit = hundredths(settings.tolerance)
    gap = f"ROUND(ABS({first}-{second})*100,0)"
    if settings.tolerance_kind == "mm":
        return f"{gap}>{limit}"
    return f"{gap}*20000>{limit}*ROUND(({first}+{second})*100,0)"


def _site_lines(site: str, settings: SheetSettings) -> Iterator[Line]:
    corrected = one, two, three = [f"{{corrected_{number}_{site}}}" for number in ROUNDS]
    both = f"AND(ISNUMBER({one}),ISNUMBER({two}))"
    mean = f"({one}+{two})/2"
    odd_one_out = f"MEDIAN({one},{two},{three})"
    yield Line(f"third_{site}", f'=IF({both},IF({_exceeds(one, two, settings)},"yes","no"),"")')
    counts = f'AND({{third_{site}}}="yes",ISNUMBER({three}))'
    if settings.site_rule == "closest-pair":
        gaps = [f"gap_{pair}_{site}" for pair in ("12", "13", "23")]
        for gap, (first, second) in zip(gaps, combinations(corrected, 2), strict=True):
            yield Line(gap, f'=IF({counts},ROUND(ABS({first}-{second})*100,0),"")')
        smallest = "MIN({" + "},{".join(gaps) + "})"
        yield Line(f"smallest_gap_{site}", f'=IF({counts},{smallest},"")')
        is_smallest = [f"{{{gap}}}={{smallest_gap_{site}}}" for gap in gaps]
        means = [(is_smallest[0], mean), (is_smallest[1], f"({one}+{three})/2")]
        odd_one_out = chain([(f"{counted(is_smallest)}>1", odd_one_out), *means], f"({two}+{three})/2")
    yield Line(f"site_{site}", f'=IF({both},IF({counts},{odd_one_out},{mean}),"")')
    apart = ",".join(_exceeds(first, second, settings) for first, second in combinations(corrected, 2))
    yield Line(f"again_{site}", f'=IF({counts},IF(AND({apart}),"yes","no"),"no")', "no")


def estimate_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines from the equation that fits to fat-free mass."""
    if not protocol.equations:
        word = "under-18" if settings.under_18 else "no-equation"
        state = f'=IF({{sum_mm}}="","sum-missing",IF({{under_18}}="yes","under-18","{word}"))'
        return [Line("estimate_state", state, "sum-missing"), *(Line(name, '=""') for name in _ESTIMATE)]
    density = chain([(test, '""') for test in _PERCENT_TESTS], _terms("density"))
    error, mass = "{equation_standard_error_percent}", "{in_mass_kg}*{fat_percent}/100"
    formulas = (
        f'=IF({{estimate_state}}<>"ok","",{density})',
        _percent(protocol),
        f'=IF(ISNUMBER({{fat_percent}}),{{fat_percent}}-{error},"")',
        f'=IF(ISNUMBER({{fat_percent}}),{{fat_percent}}+{error},"")',
        f'=IF(AND(ISNUMBER({{fat_percent}}),ISNUMBER({{in_mass_kg}})),IF({{in_mass_kg}}>0,{mass},""),"")',
        '=IF(ISNUMBER({fat_mass_kg}),{in_mass_kg}-{fat_mass_kg},"")',
    )
    lines = [Line(name, text) for name, text in zip(_ESTIMATE, formulas, strict=True)]
    if protocol.conversions:
        conversion = protocol.conversion(settings.conversion)
        numbers = {name: getattr(conversion, name) for name in ("numerator", "offset")}
        lines[1:1] = [Line(f"conversion_{name}", "", value) for name, value in numbers.items()]
    reason = Line("estimate_state", f"={_state(protocol, settings)}", "sum-missing")
    return [*_equation_lines(protocol), reason, *lines]


def _terms(gives: Literal["density", "percent"]) -> str:
    """What an equation comes to, added up term by term; a coefficient it does not have is 0."""
    used = {name for form in FORMS.values() if form.gives == gives for name in form.coefficients}
    return "+".join(f"{{equation_{name}}}{term.formula}" for name, term in TERMS.items() if name in used)


def _percent(protocol: Protocol) -> str:
    if not protocol.conversions:
        return f'=IF({{estimate_state}}="ok",{_terms("percent")},"")'
    converted = "{conversion_numerator}/{density_g_ml}-{conversion_offset}"
    tests = [('{estimate_state}<>"ok"', '""'), *((test, _terms("percent")) for test in _PERCENT_TESTS)]
    return "=" + chain(tests, f'IF(ISNUMBER({{density_g_ml}}),IF({{density_g_ml}}>0,{converted},""),"")')


def _equation_lines(protocol: Protocol) -> Iterator[Line]:
    for index, equation in enumerate(protocol.equations, start=1):
        low, high = (f"{age:g}" for age in (equation.age_minimum, equation.age_maximum))
        band = f"IF(AND({_AGE}>={low},{_AGE}<={high}),1,0)"
        yield Line(f"fits_{index}", f'=IF(AND({_SEX}="{equation.sex}",ISNUMBER({_AGE})),{band},0)', 0)
    rows = range(1, len(protocol.equations) + 1)
    yield Line("equation_row", "=" + chain([(f"{{fits_{index}}}=1", str(index)) for index in rows]))
    for field in EQUATION_FIELDS:
        text = f"INDEX({_range(f'equation_{field}')},{{equation_row}})"
        yield Line(f"equation_{field}", f'=IF({{equation_row}}="","",{text})')


def _state(protocol: Protocol, settings: SheetSettings) -> str:
    """`ok`, or the first reason against an estimate."""
    youth = settings.under_18 and settings.youth_estimate == "on"
    outside = [word for word in ("male", "female") if word not in sex_words(protocol)]
    tests = [
        *([] if youth else [('{under_18}="yes"', "under-18")]),
        ('{sum_mm}=""', "sum-missing"),
        (f'{_SEX}="sum-only"', "sum-only"),
        (f'AND({_SEX}<>"female",{_SEX}<>"male")', "sex-missing"),
        *((f'{_SEX}="{word}"', "sex-outside") for word in outside),
        (_NO_AGE, "age-missing"),
        ('{equation_row}=""', "age-outside"),
        ("AND(ISNUMBER({equation_sum_minimum}),ROUND({sum_mm},3)<{equation_sum_minimum})", "sum-below"),
        ("AND(ISNUMBER({equation_sum_maximum}),ROUND({sum_mm},3)>{equation_sum_maximum})", "sum-above"),
    ]
    return chain([(test, f'"{word}"') for test, word in tests], '"ok"')


def progress_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines that say how far the sheet is; `ready` is the last of them."""

    def sites_with(test: str) -> str:
        return "=" + counted(test.replace("@", site.word) for site in protocol.sites)

    sites, due, steps = len(protocol.sites), entries_due(protocol), own_steps(protocol)
    singles = "+".join(_single_entries(protocol))
    no_age = f'IF(AND({_SEX}="sum-only",{_NO_AGE}),1,0)' if protocol.equations else "0"
    own_due = ",".join(f"{{{live}}}" for _, live in steps)
    own_done = counted(f"AND(ISNUMBER({{{live}}}),ISNUMBER({{in_{own}}}))" for own, live in steps)
    after_working = 'IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")'
    show = {"always": '"yes"', "never": '"no"'}.get(settings.show_results, after_working)
    return [
        Line("done_1", sites_with('OR({left_out_@}="yes",ISNUMBER({in_reading_1_@}))'), 0),
        Line("done_2", sites_with('OR({left_out_@}="yes",ISNUMBER({in_reading_2_@}))'), 0),
        Line("thirds_due", sites_with('{third_@}="yes"'), 0),
        Line("thirds_done", sites_with('AND({third_@}="yes",ISNUMBER({corrected_3_@}))'), 0),
        Line("values_done", sites_with('OR({left_out_@}="yes",ISNUMBER({site_@}))'), 0),
        Line("round_1_complete", f'=IF({{done_1}}={sites},"yes","no")', "no"),
        Line("round_2_complete", f'=IF({{done_2}}={sites},"yes","no")', "no"),
        Line("entries_made", f"={singles}+{{done_1}}+{{done_2}}+{{thirds_done}}", 0),
        Line("entries_due", f"={due}+{{thirds_due}}-{no_age}", due),
        Line("own_due", f"=COUNT({own_due})", 0),
        Line("own_done", f"={own_done}", 0),
        Line("working_complete", '=IF({own_done}>={own_due},"yes","no")', "yes"),
        Line("show_results", f"={show}", "yes" if settings.show_results == "always" else "no"),
        Line("next_step", f"={_next_step(protocol)}", "cautions"),
        Line("ready", '=IF({next_step}="done","yes","no")', "no"),
    ]


def difference_text(site: str) -> str:
    """Return a formula text of how far the first two readings of a site lie apart [mm]."""
    first, second = f"{{corrected_1_{site}}}", f"{{corrected_2_{site}}}"
    return f'IF(AND(ISNUMBER({first}),ISNUMBER({second})),ROUND(ABS({first}-{second}),2),"")'


def uncovered(settings: SheetSettings, text: str, instead: str = '""') -> str:
    """Return a formula that shows what another text stands for while round 1 is covered."""
    return f'=IF({{covered}}="yes",{instead},{text})' if settings.cover_round_1 else f"={text}"


def entries_due(protocol: Protocol) -> int:
    """Return how many entries a sheet asks for before any third reading."""
    return len(_single_entries(protocol)) + 2 * len(protocol.sites)


def _single_entries(protocol: Protocol) -> list[str]:
    return [_SINGLE_ENTRIES[name] for name in start_entries(protocol) if name in _SINGLE_ENTRIES]


def _next_step(protocol: Protocol) -> str:
    entries, midpoints = start_entries(protocol), midpoint_names(protocol)
    present = ",".join(f"{{{name}}}" for name in midpoints)
    tests = {
        "cautions": '{in_cautions_confirmed}<>"yes"',
        "sex-equation": f'AND({_SEX}<>"female",{_SEX}<>"male",{_SEX}<>"sum-only")',
        "age": f'AND({_SEX}<>"sum-only",{_NO_AGE})' if protocol.equations else _NO_AGE,
        "caliper": "NOT(ISNUMBER({caliper_row}))",
        "zero": "NOT(ISNUMBER({in_zero_mm}))",
        "lengths": f"COUNT({present})<{len(midpoints)}",
        "round-1": '{round_1_complete}="no"',
        "round-2": '{round_2_complete}="no"',
        "third": "{thirds_done}<{thirds_due}",
        "values": f"{{values_done}}<{len(protocol.sites)}",
        "working": '{working_complete}="no"',
    }
    asked = {"sex-equation": protocol.equations, "age": "age_years" in entries, "lengths": midpoints}
    return chain([(test, f'"{word}"') for word, test in tests.items() if asked.get(word, True)], '"done"')
