"""The live results of the hidden tab, as formulas that every spreadsheet program works out.

Only functions of the first Open XML edition are used. Empty results are the empty text, so every formula
tests its inputs with ISNUMBER before it computes.
"""

from sheetgen.core.number_policy import hundredths
from sheetgen.layout.calculator_estimate import estimate_lines
from sheetgen.layout.calculator_flow import flow_lines
from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import MAJORITY, ROUNDS, start_entries
from sheetgen.model.protocol import Protocol, Site
from sheetgen.model.settings import SheetSettings

__all__ = ["result_lines"]


def result_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return every line from the caliper in hand to `ready`, in the order of working."""
    words = [site.word for site in protocol.sites]
    return [
        *_caliper_lines(),
        *_midpoint_lines(protocol),
        _under_18_line(protocol),
        *(_left_out_line(site) for site in protocol.sites),
        *(line for place, word in enumerate(words) for line in _corrected_lines(word, place, len(words))),
        *(line for word in words for line in _site_lines(word, settings)),
        *_sum_lines(words),
        *estimate_lines(protocol, settings),
        *flow_lines(protocol, settings),
    ]


def _range(prefix: str) -> str:
    return f"{{{prefix}_first}}:{{{prefix}_last}}"


def _caliper_lines() -> list[Line]:
    lines = []
    for caliper, entry in (("caliper", "in_caliper_id"), ("caliper_2", "in_caliper_id_2")):
        lines.append(_lookup_line(f"{caliper}_row", entry, "register_identifier"))
        for field in ("division", "opening", "zero"):
            text = f"INDEX({_range(f'register_{field}')},{{{caliper}_row}})"
            lines.append(Line(f"{caliper}_{field}", f'=IF({{{caliper}_row}}="","",{text})'))
    lines.append(_lookup_line("change_row", "in_changed_from", "change"))
    lines.append(
        Line(
            "zero_difference",
            '=IF(AND(ISNUMBER({in_zero_mm}),ISNUMBER({caliper_zero})),ROUND({in_zero_mm}-{caliper_zero},2),"")',
        )
    )
    return lines


def _lookup_line(name: str, entry: str, table: str) -> Line:
    """The row of a word in a table; MATCH takes * and ? for any text, so what it found is compared."""
    found = f"MATCH({{{entry}}},{_range(table)},0)"
    same = f"INDEX({_range(table)},{found})={{{entry}}}"
    return Line(name, f'=IF({{{entry}}}="","",IF(ISNUMBER({found}),IF({same},{found},""),""))')


def _midpoint_lines(protocol: Protocol) -> list[Line]:
    lines = []
    for name in start_entries(protocol):
        if name.startswith("length_"):
            length = f"{{in_{name}}}"
            text = f'=IF(ISNUMBER({length}),IF({length}>0,{length}/2,""),"")'
            lines.append(Line(name.replace("length_", "midpoint_"), text))
    return lines


def _under_18_line(protocol: Protocol) -> Line:
    if "age_years" not in start_entries(protocol):
        return Line("under_18", '="no"', "no")
    young = f'IF({{in_age_years}}<{MAJORITY},"yes","no")'
    return Line("under_18", f'=IF(ISNUMBER({{in_age_years}}),{young},"no")', "no")


def _left_out_line(site: Site) -> Line:
    """A reason why it was not taken; a trunk site is left out for anyone under 18 as well."""
    reason = f'{{in_not_taken_{site.word}}}<>""'
    test = f'OR({reason},{{under_18}}="yes")' if site.trunk else reason
    return Line(f"left_out_{site.word}", f'=IF({test},"yes","no")', "no")


def _corrected_lines(site: str, place: int, sites: int) -> list[Line]:
    """A reading less the zero of the caliper it was taken with; 0 or less gives nothing."""
    lines = []
    for number in ROUNDS:
        order = (number - 1) * sites + place + 1
        zero = f"zero_{number}_{site}"
        changed = f"AND(ISNUMBER({{change_row}}),{{change_row}}<={order})"
        lines.append(Line(zero, f"=IF({changed},{{in_zero_2_mm}},{{in_zero_mm}})"))
        reading = f"{{in_reading_{number}_{site}}}"
        value = f"ROUND({reading}-{{{zero}}},2)"
        present = f'AND({{left_out_{site}}}="no",ISNUMBER({reading}),ISNUMBER({{{zero}}}))'
        lines.append(Line(f"corrected_{number}_{site}", f'=IF({present},IF({value}>0,{value},""),"")'))
    return lines


def _exceeds(first: str, second: str, settings: SheetSettings) -> str:
    """A test on whole hundredths, as the core makes it."""
    limit = hundredths(settings.tolerance)
    gap = f"ROUND(ABS({first}-{second})*100,0)"
    if settings.tolerance_kind == "mm":
        return f"{gap}>{limit}"
    return f"{gap}*20000>{limit}*ROUND(({first}+{second})*100,0)"


def _site_lines(site: str, settings: SheetSettings) -> list[Line]:
    one, two, three = (f"{{corrected_{number}_{site}}}" for number in ROUNDS)
    both = f"AND(ISNUMBER({one}),ISNUMBER({two}))"
    mean = f"({one}+{two})/2"
    odd_one_out = f"MEDIAN({one},{two},{three})"
    lines = [Line(f"third_{site}", f'=IF({both},IF({_exceeds(one, two, settings)},"yes","no"),"")')]
    counts = f'AND({{third_{site}}}="yes",ISNUMBER({three}))'
    if settings.site_rule == "closest-pair":
        gaps = [f"gap_{pair}_{site}" for pair in ("12", "13", "23")]
        for gap, (first, second) in zip(gaps, ((one, two), (one, three), (two, three)), strict=True):
            lines.append(Line(gap, f'=IF({counts},ROUND(ABS({first}-{second})*100,0),"")'))
        smallest = "MIN({" + "},{".join(gaps) + "})"
        lines.append(Line(f"smallest_gap_{site}", f'=IF({counts},{smallest},"")'))
        is_smallest = [f"{{{gap}}}={{smallest_gap_{site}}}" for gap in gaps]
        ties = "+".join(f"IF({test},1,0)" for test in is_smallest)
        odd_one_out = (
            f"IF({ties}>1,{odd_one_out},IF({is_smallest[0]},{mean},"
            f"IF({is_smallest[1]},({one}+{three})/2,({two}+{three})/2)))"
        )
    lines.append(Line(f"site_{site}", f'=IF({both},IF({counts},{odd_one_out},{mean}),"")'))
    apart = ",".join(
        _exceeds(first, second, settings) for first, second in ((one, two), (one, three), (two, three))
    )
    lines.append(Line(f"again_{site}", f'=IF({counts},IF(AND({apart}),"yes","no"),"no")', "no"))
    return lines


def _sum_lines(words: list[str]) -> list[Line]:
    values = ",".join(f"{{site_{word}}}" for word in words)
    return [Line("sum_mm", f'=IF(COUNT({values})={len(words)},SUM({values}),"")')]
