"""Everything that follows from the entries, as lines of the hidden tab that every program works out.

Only functions of the first Open XML edition are used. Empty results are the empty text, so every formula
tests its inputs with ISNUMBER before it computes.
"""

from collections.abc import Iterator
from itertools import combinations
from typing import Literal

from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.names import MAJORITY, ROUNDS, midpoints_of, own_steps, sex_words, start_entries
from sheetgen.protocols.protocol import FORMS, TERMS, Protocol, Site
from sheetgen.protocols.settings import SheetSettings
from sheetgen.workbook.cells import Line, chain, counted

EQUATION_FIELDS = ("form", *TERMS, "sum_minimum", "sum_maximum", "standard_error_percent")
"""What the table of equations holds of each; a coefficient that a form does not have is 0."""

_AGE, _SEX = "{in_age_years}", "{in_sex_equation}"

_ESTIMATE = ("density_g_ml", "fat_percent", "fat_low", "fat_high", "fat_mass_kg", "fat_free_mass_kg")


def result_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return every line from the caliper in hand to `ready`, in the order of working."""
    words = [site.word for site in protocol.sites]
    values = ",".join(f"{{site_{word}}}" for word in words)
    lengths = [(f"{{in_{name}}}", midpoint) for name, midpoint in midpoints_of(protocol).items()]
    young = f'=IF(ISNUMBER({_AGE}),IF({_AGE}<{MAJORITY},"yes","no"),"no")'
    return [
        *_caliper_lines(len(words)),
        *(Line(half, f'=IF(ISNUMBER({whole}),IF({whole}>0,{whole}/2,""),"")') for whole, half in lengths),
        Line("under_18", young if "age_years" in start_entries(protocol) else '="no"', "no"),
        *map(_left_out_line, protocol.sites),
        *(line for place, word in enumerate(words) for line in _corrected_lines(word, place, len(words))),
        *(line for word in words for line in _site_lines(word, settings)),
        Line("sum_mm", f'=IF(COUNT({values})={len(words)},SUM({values}),"")'),
        *estimate_lines(protocol, settings),
        *progress_lines(protocol, settings),
    ]


def _range(prefix: str) -> str:
    return f"{{{prefix}_first}}:{{{prefix}_last}}"


def _caliper_lines(sites: int) -> Iterator[Line]:
    for caliper, entry in (("caliper", "in_caliper_id"), ("caliper_2", "in_caliper_id_2")):
        yield _lookup_line(f"{caliper}_row", entry, "register_identifier")
        for field in ("division", "opening", "zero"):
            text = f"INDEX({_range(f'register_{field}')},{{{caliper}_row}})"
            yield Line(f"{caliper}_{field}", f'=IF({{{caliper}_row}}="","",{text})')
    round_at, site_at = "{in_changed_from_round}", f"MATCH({{in_changed_from_site}},{_range('change')},0)"
    counts = f'IF(ISNUMBER({site_at}),(VALUE({round_at})-1)*{sites}+{site_at},"")'
    known = ",".join(f'{round_at}="{number}"' for number in ROUNDS)
    yield Line("change_row", f'=IF(OR({known}),{counts},"")')
    both = "AND(ISNUMBER({in_zero_mm}),ISNUMBER({caliper_zero}))"
    yield Line("zero_difference", f'=IF({both},ROUND({{in_zero_mm}}-{{caliper_zero}},2),"")')


def _lookup_line(name: str, entry: str, table: str) -> Line:
    """The row of a word in a table; MATCH takes * and ? for any text, so what it found is compared."""
    found = f"MATCH({{{entry}}},{_range(table)},0)"
    same = f"INDEX({_range(table)},{found})={{{entry}}}"
    return Line(name, f'=IF({{{entry}}}="","",IF(ISNUMBER({found}),IF({same},{found},""),""))')


def _left_out_line(site: Site) -> Line:
    """Left out; a trunk site is so for anyone under 18."""
    reason = f'{{in_not_taken_{site.word}}}<>""'
    test = f'OR({reason},{{under_18}}="yes")' if site.trunk else reason
    return Line(f"left_out_{site.word}", f'=IF({test},"yes","no")', "no")


def _corrected_lines(site: str, place: int, sites: int) -> Iterator[Line]:
    """A reading less the zero of the caliper it was taken with; 0 or less gives nothing."""
    for number in ROUNDS:
        zero = f"zero_{number}_{site}"
        changed = f"AND(ISNUMBER({{change_row}}),{{change_row}}<={(number - 1) * sites + place + 1})"
        yield Line(zero, f"=IF({changed},{{in_zero_2_mm}},{{in_zero_mm}})")
        reading = f"{{in_reading_{number}_{site}}}"
        value = f"ROUND({reading}-{{{zero}}},2)"
        present = f'AND({{left_out_{site}}}="no",ISNUMBER({reading}),ISNUMBER({{{zero}}}))'
        yield Line(f"corrected_{number}_{site}", f'=IF({present},IF({value}>0,{value},""),"")')


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
    low, high = protocol.fat_minimum, protocol.fat_maximum
    percent, error = "{fat_percent}", "{equation_standard_error_percent}"
    mass = f'IF({{in_mass_kg}}>0,{{in_mass_kg}}*{percent}/100,"")'
    formulas = (
        f'=IF({{estimate_state}}="ok",IF({_gives("percent")},"",{{raw_density}}),"")',
        '=IF({estimate_state}="ok",{raw_percent},"")',
        f'=IF(ISNUMBER({percent}),MAX({percent}-{error},0),"")',
        f'=IF(ISNUMBER({percent}),{percent}+{error},"")',
        f'=IF(AND(ISNUMBER({percent}),ISNUMBER({{in_mass_kg}})),{mass},"")',
        '=IF(ISNUMBER({fat_mass_kg}),{in_mass_kg}-{fat_mass_kg},"")',
    )
    lines = [Line(name, text) for name, text in zip(_ESTIMATE, formulas, strict=True)]
    density = f'IF({_gives("percent")},"",{_terms("density")})'
    raw = [Line("raw_density", f'=IF({{equation_state}}<>"ok","",{density})')]
    if protocol.conversions:
        conversion = protocol.conversion(settings.conversion)
        numbers = {name: getattr(conversion, name) for name in ("numerator", "offset")}
        raw += [Line(f"conversion_{name}", "", number) for name, number in numbers.items()]
    raw.append(Line("raw_percent", _percent(protocol)))
    within = f"AND({{raw_percent}}>={low:g},{{raw_percent}}<={high:g})"
    state = f'IF(ISNUMBER({{raw_percent}}),IF({within},"ok","percent-outside"),"percent-outside")'
    reasons = [
        Line("equation_state", f"={_state(protocol, settings)}", "sum-missing"),
        *raw,
        Line("estimate_state", f'=IF({{equation_state}}="ok",{state},{{equation_state}})', "sum-missing"),
    ]
    return [*_equation_lines(protocol), *reasons, *lines]


def _gives(what: Literal["density", "percent"]) -> str:
    """A test whether the equation that fits is of a form that gives this."""
    tests = [f'{{equation_form}}="{word}"' for word, form in FORMS.items() if form.gives == what]
    return tests[0] if len(tests) == 1 else f"OR({','.join(tests)})"


def _terms(gives: Literal["density", "percent"]) -> str:
    """What an equation comes to, added up term by term; a coefficient it does not have is 0."""
    used = {name for form in FORMS.values() if form.gives == gives for name in form.coefficients}
    return "+".join(f"{{equation_{name}}}{term.formula}" for name, term in TERMS.items() if name in used)


def _percent(protocol: Protocol) -> str:
    if not protocol.conversions:
        return f'=IF({{equation_state}}="ok",{_terms("percent")},"")'
    density = "{raw_density}"
    converted = f'IF({density}>0,{{conversion_numerator}}/{density}-{{conversion_offset}},"")'
    tests = [('{equation_state}<>"ok"', '""'), (_gives("percent"), _terms("percent"))]
    return "=" + chain(tests, f'IF(ISNUMBER({density}),{converted},"")')


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
    rounded_sum = "ROUND({sum_mm},3)"
    outside = [word for word in ("male", "female") if word not in sex_words(protocol)]
    youth = settings.under_18 and settings.youth_estimate == "on"
    tests = [
        *([] if youth else [('{under_18}="yes"', "under-18")]),
        ('{sum_mm}=""', "sum-missing"),
        (f'{_SEX}="sum-only"', "sum-only"),
        (f'AND({_SEX}<>"female",{_SEX}<>"male")', "sex-missing"),
        *((f'{_SEX}="{word}"', "sex-outside") for word in outside),
        (f"NOT(ISNUMBER({_AGE}))", "age-missing"),
        ('{equation_row}=""', "age-outside"),
        (f"AND(ISNUMBER({{equation_sum_minimum}}),{rounded_sum}<{{equation_sum_minimum}})", "sum-below"),
        (f"AND(ISNUMBER({{equation_sum_maximum}}),{rounded_sum}>{{equation_sum_maximum}})", "sum-above"),
    ]
    return chain([(test, f'"{word}"') for test, word in tests], '"ok"')


def progress_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines that say how far the readings and the own working are."""
    words = [site.word for site in protocol.sites]
    done = [
        counted(f'OR({{left_out_{word}}}="yes",ISNUMBER({{in_reading_{number}_{word}}}))' for word in words)
        for number in (1, 2)
    ]
    left_out = counted(f'{{left_out_{word}}}="yes"' for word in words)
    taken = ",".join(f"{{in_reading_{number}_{word}}}" for number in (1, 2) for word in words)
    steps = own_steps(protocol)
    own_due = ",".join(f"{{{live}}}" for _, live in steps)
    own_done = counted(f"AND(ISNUMBER({{{live}}}),ISNUMBER({{in_{own}}}))" for own, live in steps)
    after_working = 'IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")'
    show = {"always": '"yes"', "never": '"no"'}.get(settings.show_results, after_working)
    first = "yes" if settings.show_results == "always" else "no"
    return [
        Line("round_1_complete", f'=IF({done[0]}={len(words)},"yes","no")', "no"),
        Line("round_2_complete", f'=IF({done[1]}={len(words)},"yes","no")', "no"),
        Line("sites_open", f"={len(words)}-({left_out})", len(words)),
        Line("readings_made", f"=COUNT({taken})", 0),
        Line("own_due", f"=COUNT({own_due})", 0),
        Line("own_done", f"={own_done}", 0),
        Line("working_complete", '=IF({own_done}>={own_due},"yes","no")', "yes"),
        Line("show_results", f"={show}", first),
    ]


def difference_text(site: str) -> str:
    """Return a formula text of how far the first two readings of a site lie apart [mm]."""
    first, second = f"{{corrected_1_{site}}}", f"{{corrected_2_{site}}}"
    return f'IF(AND(ISNUMBER({first}),ISNUMBER({second})),ROUND(ABS({first}-{second}),2),"")'


def shown_site(site: str, settings: SheetSettings) -> str:
    """Return a formula text of a site value where it may be seen: once the own one is typed."""
    if settings.show_results == "always":
        return f"{{site_{site}}}"
    return f'IF(ISNUMBER({{in_own_site_{site}}}),{{site_{site}}},"")'


def uncovered(settings: SheetSettings, text: str, instead: str = '""') -> str:
    """Return a formula that shows what another text stands for while round 1 is covered."""
    return f'=IF({{covered}}="yes",{instead},{text})' if settings.cover_round_1 else f"={text}"
