"""The hidden tab's lines that notice slips of typing: what a sheet can know by itself."""

from collections.abc import Mapping

from sheetgen.layout.address import text_literal as quoted
from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import MAJORITY, ROUNDS, reading_name, start_entries
from sheetgen.model.protocol import Protocol, Site
from sheetgen.model.settings import SheetSettings

__all__ = ["NOTES", "slip_lines", "warning_of"]

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
    sites = protocol.sites
    faults = [
        Line(f"fault_{number}_{site.word}", _fault(number, place, protocol, cells))
        for place, site in enumerate(sites)
        for number in ROUNDS
    ]
    covered = '="no"'
    if settings.cover_round_1:
        covered = '=IF(AND({round_1_complete}="yes",{round_2_complete}="no"),"yes","no")'
    notes = [Line(f"note_{site.word}", _note(site)) for site in sites]
    practice = _practice_lines(protocol, texts)
    return [*_warnings(protocol, texts), *practice, *faults, Line("covered", covered, "no"), *notes]


def _warnings(protocol: Protocol, texts: Texts) -> list[Line]:
    check = texts["warning.check"]
    zero, register = "{in_zero_mm}", "{caliper_zero}"
    sign, differs = (quoted(check + texts[f"warning.{word}"]) for word in ("zero_sign", "zero_differs"))
    asked = 'AND({in_caliper_id_2}="",NOT(ISNUMBER({in_zero_2_mm})),{in_changed_from}="")'
    whole = "AND(ISNUMBER({caliper_2_row}),ISNUMBER({in_zero_2_mm}),ISNUMBER({change_row}))"
    lines = [
        Line(
            "caliper_warning",
            "=IF(ISNUMBER({caliper_row}),IF({in_caliper_id}={issued_caliper},"
            f'"",{quoted(check + texts["warning.caliper"])}&{{issued_caliper}}),"")',
        ),
        Line(
            "zero_warning",
            "=IF(ISNUMBER({zero_difference}),IF({zero_difference}=0,"
            f'"",IF({zero}=-{register},{sign},{differs})&{register}),"")',
        ),
        Line("second_warning", f'=IF(OR({asked},{whole}),"",{quoted(check + texts["warning.second"])})'),
    ]
    if "age_years" in start_entries(protocol):
        young = quoted(check + texts["warning.age"].format(age=MAJORITY))
        lines.append(Line("age_warning", f'=IF({{under_18}}="yes",{young},"")'))
    return lines


def _practice_lines(protocol: Protocol, texts: Texts) -> list[Line]:
    """Practice readings typed though `measured` is chosen. The other way round each site's row says it."""
    names = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    typed = ",".join(f"{{in_{name}}}" for name in names)
    same = "+".join(f"IF(ISNUMBER({{in_{name}}}),IF({_is_practice(name)},1,0),0)" for name in names)
    all_same = f"AND({{practice_typed}}>={_PRACTICE_FROM},{{practice_typed}}=COUNT({typed}))"
    warning = quoted(texts["warning.check"] + texts["warning.source"])
    return [
        Line("practice_typed", f"={same}", 0),
        Line("source_warning", f'=IF({{in_data_source}}="practice","",IF({all_same},{warning},""))'),
    ]


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
    on_scale = (
        f"AND({reading}>{zero},{reading}<={opening},ABS({reading}/{step}-ROUND({reading}/{step},0))<0.001)"
    )
    number_test = f'IF(ISNUMBER({reading}),IF({known},IF({on_scale},"","scale"),""),"scale")'
    typed = f'IF(ISTEXT({cell}),IF(TRIM({cell})="","","text"),"text")'
    return f'=IF(ISBLANK({cell}),"",IF(ISNUMBER({cell}),{number_test},{typed}))'


def _note(site: Site) -> str:
    word = site.word
    first, second, third = (f"{{corrected_{number}_{word}}}" for number in ROUNDS)
    readings = [f"{{in_{reading_name(number, word)}}}" for number in ROUNDS]
    others = "+".join(
        f"IF(ISNUMBER({{in_{name}}}),IF({_is_practice(name)},0,1),0)"
        for name in (reading_name(number, word) for number in ROUNDS)
    )
    far = f"ABS({first}-{second})>{_FAR_APART_MM}"
    tests = [
        (f'AND({{in_not_taken_{word}}}<>"",COUNT({",".join(readings)})>0)', '"left-out-typed"'),
        (f'{{in_not_taken_{word}}}<>""', '"left-out"'),
        *((f'{{fault_{number}_{word}}}<>""', f'{{fault_{number}_{word}}}&"-{number}"') for number in ROUNDS),
        (f"AND(ISNUMBER({readings[1]}),NOT(ISNUMBER({readings[0]})))", '"round-1-first"'),
        (f'AND({{in_data_source}}="practice",{others}>0)', '"practice"'),
        ('{covered}="yes"', '""'),
        (f'{{again_{word}}}="yes"', '"again"'),
        (f'AND({{third_{word}}}="yes",NOT(ISNUMBER({third})))', f'IF({far},"third-far","third")'),
        (f'AND({{third_{word}}}="no",ISNUMBER({readings[2]}))', '"third-extra"'),
    ]
    if site.trunk:
        # First of all: the rules of the readings look for these words, and a reason typed must not lift them.
        tests.insert(0, ('{under_18}="yes"', '"under-18"'))
    text = '""'
    for test, then in reversed(tests):
        text = f"IF({test},{then},{text})"
    return f"={text}"
