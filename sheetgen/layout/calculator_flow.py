"""How far a sheet is: entries made, own working done, what comes next, ready to hand in."""

from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import own_steps
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["flow_lines"]

_SINGLE_ENTRIES = 7


def flow_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines that say how far the sheet is; `ready` is the last of them."""
    words = [site.word for site in protocol.sites]
    sites = len(words)
    steps = own_steps(protocol)
    singles = "+".join(
        [
            'IF({in_cautions_confirmed}="yes",1,0)',
            'IF(OR({in_sex_equation}="female",{in_sex_equation}="male",{in_sex_equation}="sum-only"),1,0)',
            "IF(ISNUMBER({caliper_row}),1,0)",
            "COUNT({in_age_years},{in_zero_mm},{in_length_upper_arm_cm},{in_length_thigh_cm})",
        ]
    )
    lines = [
        Line(
            f"done_{number}",
            "=" + "+".join(
                f'IF(OR({{in_not_taken_{word}}}<>"",ISNUMBER({{in_reading_{number}_{word}}})),1,0)'
                for word in words
            ),
            0,
        )
        for number in (1, 2)
    ]  # fmt: skip
    thirds_due = "+".join(f'IF({{third_{word}}}="yes",1,0)' for word in words)
    thirds_done = "+".join(
        f'IF(AND({{third_{word}}}="yes",ISNUMBER({{corrected_3_{word}}})),1,0)' for word in words
    )
    values = "+".join(f'IF(OR({{in_not_taken_{word}}}<>"",ISNUMBER({{site_{word}}})),1,0)' for word in words)
    due = _SINGLE_ENTRIES + 2 * sites
    no_age = 'IF(AND({in_sex_equation}="sum-only",NOT(ISNUMBER({in_age_years}))),1,0)'
    own_due = "COUNT(" + ",".join(f"{{{live}}}" for _, live in steps) + ")"
    own_done = "+".join(f"IF(AND(ISNUMBER({{{live}}}),ISNUMBER({{in_{own}}})),1,0)" for own, live in steps)
    return [
        *lines,
        Line("thirds_due", f"={thirds_due}", 0),
        Line("thirds_done", f"={thirds_done}", 0),
        Line("values_done", f"={values}", 0),
        Line("round_1_complete", f'=IF({{done_1}}={sites},"yes","no")', "no"),
        Line("round_2_complete", f'=IF({{done_2}}={sites},"yes","no")', "no"),
        Line("entries_made", f"={singles}+{{done_1}}+{{done_2}}+{{thirds_done}}", 0),
        Line("entries_due", f"={due}+{{thirds_due}}-{no_age}", due),
        Line("own_due", f"={own_due}", 0),
        Line("own_done", f"={own_done}", 0),
        Line("working_complete", '=IF({own_done}>={own_due},"yes","no")', "yes"),
        Line(
            "show_results", _show(settings.show_results), "yes" if settings.show_results == "always" else "no"
        ),
        Line("next_step", _next_step(sites), "cautions"),
        Line("ready", '=IF({next_step}="done","yes","no")', "no"),
    ]


def _show(setting: str) -> str:
    if setting == "always":
        return '="yes"'
    if setting == "never":
        return '="no"'
    return '=IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")'


def _next_step(sites: int) -> str:
    sex = "{in_sex_equation}"
    tests = (
        ('{in_cautions_confirmed}<>"yes"', "cautions"),
        (f'AND({sex}<>"female",{sex}<>"male",{sex}<>"sum-only")', "sex-equation"),
        (f'AND({sex}<>"sum-only",NOT(ISNUMBER({{in_age_years}})))', "age"),
        ("NOT(ISNUMBER({caliper_row}))", "caliper"),
        ("NOT(ISNUMBER({in_zero_mm}))", "zero"),
        ("COUNT({midpoint_upper_arm_cm},{midpoint_thigh_cm})<2", "lengths"),
        ('{round_1_complete}="no"', "round-1"),
        ('{round_2_complete}="no"', "round-2"),
        ("{thirds_done}<{thirds_due}", "third"),
        (f"{{values_done}}<{sites}", "values"),
        ('{working_complete}="no"', "working"),
    )
    text = '"done"'
    for test, word in reversed(tests):
        text = f'IF({test},"{word}",{text})'
    return f"={text}"
