"""How far a sheet is: entries made, own working done, what comes next, ready to hand in."""

from sheetgen.layout.lines import Line
from sheetgen.layout.vocabulary import SEX_WORDS, own_steps, start_entries
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["entries_due", "flow_lines"]

_LENGTHS = ("upper_arm", "thigh")


def flow_lines(protocol: Protocol, settings: SheetSettings) -> list[Line]:
    """Return the lines that say how far the sheet is; `ready` is the last of them."""
    words = [site.word for site in protocol.sites]
    sites = len(words)
    steps = own_steps(protocol)
    singles = _single_entries(protocol)
    lines = [
        Line(
            f"done_{number}",
            "=" + "+".join(
                f'IF(OR({{left_out_{word}}}="yes",ISNUMBER({{in_reading_{number}_{word}}})),1,0)'
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
    values = "+".join(f'IF(OR({{left_out_{word}}}="yes",ISNUMBER({{site_{word}}})),1,0)' for word in words)
    due = entries_due(protocol)
    no_age = "0"
    if protocol.equations:
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
        Line("entries_made", f"={'+'.join(singles)}+{{done_1}}+{{done_2}}+{{thirds_done}}", 0),
        Line("entries_due", f"={due}+{{thirds_due}}-{no_age}", due),
        Line("own_due", f"={own_due}", 0),
        Line("own_done", f"={own_done}", 0),
        Line("working_complete", '=IF({own_done}>={own_due},"yes","no")', "yes"),
        Line(
            "show_results", _show(settings.show_results), "yes" if settings.show_results == "always" else "no"
        ),
        Line("next_step", _next_step(protocol), "cautions"),
        Line("ready", '=IF({next_step}="done","yes","no")', "no"),
    ]


def entries_due(protocol: Protocol) -> int:
    """Return how many entries a sheet asks for before any third reading."""
    return len(_single_entries(protocol)) + 2 * len(protocol.sites)


def _show(setting: str) -> str:
    if setting == "always":
        return '="yes"'
    if setting == "never":
        return '="no"'
    return '=IF(AND({working_complete}="yes",ISNUMBER({sum_mm})),"yes","no")'


def _single_entries(protocol: Protocol) -> list[str]:
    """One term for each entry on Start that a sheet must have."""
    known = ",".join(f'{{in_sex_equation}}="{word}"' for word in SEX_WORDS)
    terms = {
        "cautions_confirmed": 'IF({in_cautions_confirmed}="yes",1,0)',
        "sex_equation": f"IF(OR({known}),1,0)",
        "caliper_id": "IF(ISNUMBER({caliper_row}),1,0)",
        **{
            name: f"COUNT({{in_{name}}})"
            for name in ("age_years", "zero_mm", "length_upper_arm_cm", "length_thigh_cm")
        },
    }
    return [terms[name] for name in start_entries(protocol) if name in terms]


def _next_step(protocol: Protocol) -> str:
    sex = "{in_sex_equation}"
    sites = len(protocol.sites)
    entries = start_entries(protocol)
    no_age = "NOT(ISNUMBER({in_age_years}))"
    midpoints = [f"{{midpoint_{part}_cm}}" for part in _LENGTHS if f"length_{part}_cm" in entries]
    tests = (
        ('{in_cautions_confirmed}<>"yes"', "cautions"),
        (f'AND({sex}<>"female",{sex}<>"male",{sex}<>"sum-only")', "sex-equation"),
        (f'AND({sex}<>"sum-only",{no_age})' if protocol.equations else no_age, "age"),
        ("NOT(ISNUMBER({caliper_row}))", "caliper"),
        ("NOT(ISNUMBER({in_zero_mm}))", "zero"),
        (f"COUNT({','.join(midpoints)})<{len(midpoints)}", "lengths"),
        ('{round_1_complete}="no"', "round-1"),
        ('{round_2_complete}="no"', "round-2"),
        ("{thirds_done}<{thirds_due}", "third"),
        (f"{{values_done}}<{sites}", "values"),
        ('{working_complete}="no"', "working"),
    )
    asked = {"sex-equation": protocol.equations, "age": "age_years" in entries, "lengths": midpoints}
    text = '"done"'
    for test, word in reversed([pair for pair in tests if asked.get(pair[1], True)]):
        text = f'IF({test},"{word}",{text})'
    return f"={text}"
