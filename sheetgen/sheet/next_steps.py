"""What a sheet asks for next: one message an entry, in the order of the work; the first that is there is the
next step, and none left is `ready`.

Each message is a line of the hidden tab, empty where its entry is as it should be. Beside it stands its rank.
"""

from collections.abc import Iterator, Mapping

from msgspec import Struct

from sheetgen.protocols.names import (
    ANSWERS,
    FILLED_IN,
    MAJORITY,
    ON_CARE,
    PRACTISED,
    ROUNDS,
    SELDOM,
    START_ENTRIES,
    STEPS,
    change_words,
    listed_words,
    midpoints_of,
    own_steps,
    reading_name,
    start_entries,
)
from sheetgen.protocols.protocol import Protocol, Site
from sheetgen.texts.languages import Texts, shown_number
from sheetgen.workbook.addresses import text_literal as quoted
from sheetgen.workbook.cells import Line, chain

FAR_APART_MM = 5
"""Beyond this a slip of typing is likelier than a hard fold: a hint only, common practice."""

PRACTICE_FROM = 4
"""So many readings, all of them the practice readings of the copy, are no chance."""

_PRACTICE = '{in_data_source}="practice"'


class Message(Struct, frozen=True):
    """What is asked for, or what is wrong, at one entry.
    step : one of STEPS. formula : its text, or empty. first : what it says in a sheet that is handed out."""

    entry: str
    step: str
    formula: str
    first: str = ""


def messages(protocol: Protocol, texts: Texts, cells: Mapping[str, str]) -> list[Message]:
    """Return every message of a sheet, in the order of the work.
    cells : entry name to the formula text that gives the cell as it was typed."""
    care = texts["ask.cautions_confirmed"]
    found = [
        Message("cautions_confirmed", "care", _unless('{in_cautions_confirmed}="yes"', quoted(care)), care)
    ]
    found.append(Message("participant_agrees", "care", _error("participant_agrees", texts, cells)))
    for name in start_entries(protocol):
        if name not in (*ON_CARE, *SELDOM):
            first = "" if name in (*FILLED_IN, "mass_kg", "caliper_id") else texts[f"ask.{name}"]
            first = first and f"{texts[f'entry.{name}']}: {first}"
            found.append(Message(name, "start", _start(name, protocol, texts, cells), first))
        if name in midpoints_of(protocol):
            own = f"own_{midpoints_of(protocol)[name]}"
            title = f"{texts[f'entry.{name}']}, {texts[f'entry.{own}']}"
            found.append(Message(own, "start", _own(own, title, f"ask.{own}", texts, cells)))
    found += _seldom(texts, cells)
    for site in protocol.sites:
        title, name = f"{site.title}, {texts['readings.left_out']}", f"not_taken_{site.word}"
        found.append(Message(name, "round-1", _seldom_listed(name, title, texts, cells)))
    found += [_reading(number, site, protocol, texts, cells) for number in ROUNDS for site in protocol.sites]
    titles = {f"site_{site.word}": texts["working.site"] + site.title for site in protocol.sites}
    for own, live in own_steps(protocol):
        if not live.startswith("midpoint_"):
            title = titles.get(live) or texts[f"results.{live}"]
            found.append(Message(own, "working", _own(own, title, "ask.own", texts, cells)))
    for number, word in enumerate(ANSWERS, start=1):
        text = f"{texts['ask.question'].format(number=number)}: {texts['ask.answer']}"
        test = f'{{in_answer_{word}}}<>""'
        found.append(Message(f"answer_{word}", "working", _unless(test, quoted(text)), text))
    return found


def _seldom(texts: Texts, cells: Mapping[str, str]) -> Iterator[Message]:
    """What is seldom needed is asked for only where it is begun or wrong."""
    yield Message("zero_2_mm", "start", _number_fault("zero_2_mm", texts, cells, '""'))
    names = ("caliper_id_2", "changed_from_round", "changed_from_site")
    words = "&".join(f"{{in_{name}}}" for name in names)
    errors = ",".join(f"ISERROR({cells[name]})" for name in names)
    none = f'AND({words}="",NOT(ISNUMBER({{in_zero_2_mm}})),NOT(OR({errors})))'
    whole = "AND(ISNUMBER({caliper_2_row}),ISNUMBER({in_zero_2_mm}),ISNUMBER({change_row}))"
    second = quoted(f"{texts['entry.caliper_id_2']}: {texts['fault.second']}")
    yield Message("caliper_id_2", "start", _unless(f"OR({none},{whole})", second))
    yield Message("side", "start", _seldom_listed("side", texts["entry.side"], texts, cells))
    yield Message("participant_today", "start", _error("participant_today", texts, cells))


def next_step_lines(found: list[Message], protocol: Protocol, texts: Texts) -> list[Line]:
    """Return the lines that pick the next step, draw the line of steps, and say whether the sheet is
    ready."""
    first, last = found[0].entry, found[-1].entry
    ranks = f"{{rank_{first}}}:{{rank_{last}}}"
    chosen = f"INDEX({{message_{first}}}:{{message_{last}}},{{next_rank}})"
    tab = f"INDEX({{tab_{first}}}:{{tab_{last}}},{{next_rank}})"
    done = quoted(texts["step.done"])
    begun = texts["ask.cautions_confirmed"]
    of, readings = quoted(texts["step.of"]), quoted(texts["step.readings"])
    count = f'"  "&{{readings_made}}&{of}&2*{{sites_open}}&{readings}'
    return [
        Line("next_rank", f"=MIN({ranks})", 1),
        Line("next_tab", f'=IF({{next_rank}}=0,"",{tab})', texts["tab.care"]),
        Line("next_step", f"=IF({{next_rank}}=0,{done},{chosen})", begun),
        Line("step_line", "=" + "&".join(_steps(found, texts)), first_step_line(texts)),
        Line("counted_step_line", f"={{step_line}}&{count}", first_step_line(texts, protocol)),
        Line("ready", '=IF({next_rank}=0,"yes","no")', "no"),
    ]


def first_step_line(texts: Texts, protocol: Protocol | None = None) -> str:
    """Return the line of steps as it stands in a sheet that is handed out.
    protocol : to say how many readings there will be; None: they are not counted."""
    signs = ("▶", *("○" for _ in STEPS[1:]))
    words = "".join(f"{sign} {texts[f'step.{step}']} " for sign, step in zip(signs, STEPS, strict=True))
    if protocol is None:
        return words
    return f"{words}  0{texts['step.of']}{2 * len(protocol.sites)}{texts['step.readings']}"


def _steps(found: list[Message], texts: Texts) -> Iterator[str]:
    for step in STEPS:
        of_step = [(rank, message.entry) for rank, message in enumerate(found, 1) if message.step == step]
        if of_step:
            (first, entry), (last, last_entry) = of_step[0], of_step[-1]
            now = f"AND({{next_rank}}>={first},{{next_rank}}<={last})"
            over = f"COUNT({{rank_{entry}}}:{{rank_{last_entry}}})=0"
            over = f'AND({over},{{round_2_complete}}="yes")' if step == "third" else over
            sign = f'IF({now},"▶",IF({over},"✓","○"))'
        else:
            tests = {"sites": "{readings_made}>0", "hand-in": "{next_rank}=0"}
            sign = f'IF({tests[step]},"{"✓" if step == "sites" else "▶"}","○")'
        yield sign
        yield quoted(f" {texts[f'step.{step}']} ")


def fault_lines(protocol: Protocol, cells: Mapping[str, str]) -> Iterator[Line]:
    """Give the lines that tell what is wrong with a reading: `text`, `zero`, `opening`, `step`, or nothing.
    Typing is stopped by the rule of the cell; pasting and some devices pass it by."""
    for place, name in enumerate(change_words(protocol), start=1):
        cell, reading, zero = cells[f"reading_{name}"], f"{{in_reading_{name}}}", f"{{zero_{name}}}"
        opening, step = in_hand("opening", place), in_hand("division", place)
        known = f"AND(ISNUMBER({opening}),ISNUMBER({zero}))"
        off_step = f"ABS({reading}/{step}-ROUND({reading}/{step},0))>=0.001"
        above = (f"{reading}>{opening}", '"opening"')
        tests = [(f"{reading}<={zero}", '"zero"'), above, (off_step, '"step"')]
        number = f'IF({known},{chain(tests)},"")'
        fault = chain([(f"ISNUMBER({reading})", number), (_blank(cell), '""')], '"text"')
        yield Line(f"fault_{name}", f"={fault}")


def in_hand(what: str, place: int) -> str:
    """Return a formula text of a thing of the caliper that the reading at a place of the taking was read on.
    what : `opening`, `division` or `identifier`. place : counted from 1."""
    first, second = f"{{caliper_{what}}}", f"{{caliper_2_{what}}}"
    if what == "identifier":
        first, second = "{in_caliper_id}", "{in_caliper_id_2}"
    return f"IF(AND(ISNUMBER({{change_row}}),{{change_row}}<={place}),{second},{first})"


def warning_lines(protocol: Protocol, texts: Texts) -> Iterator[Line]:
    """Give the lines that warn about an entry on Start, where a warning is all: it may well be right."""

    def said(word: str) -> str:
        return quoted(texts["warning.check"] + texts[f"warning.{word}"])

    issued = f'IF({{in_caliper_id}}={{issued_caliper}},"",{said("caliper")}&{{issued_caliper}})'
    yield Line("warning_caliper_id", f'=IF(ISNUMBER({{caliper_row}}),{issued},"")')
    words = f"IF({{in_zero_mm}}=-{{caliper_zero}},{said('zero_sign')},{said('zero_differs')})"
    differs = f'IF({{zero_difference}}=0,"",{words}&{{caliper_zero}})'
    yield Line("warning_zero_mm", f'=IF(ISNUMBER({{zero_difference}}),{differs},"")')
    names = [reading_name(number, site.word) for number in ROUNDS for site in protocol.sites]
    typed = ",".join(f"{{in_{name}}}" for name in names)
    for site in protocol.sites:
        of_site = [reading_name(number, site.word) for number in ROUNDS]
        same = "+".join(f"IF(ISNUMBER({{in_{name}}}),IF({_is_practice(name)},1,0),0)" for name in of_site)
        yield Line(f"practised_{site.word}", f"={same}", 0)
    ends = f"{{practised_{protocol.sites[0].word}}}:{{practised_{protocol.sites[-1].word}}}"
    yield Line("practice_typed", f"=SUM({ends})", 0)
    all_same = f"AND({{practice_typed}}>={PRACTICE_FROM},{{practice_typed}}=COUNT({typed}))"
    yield Line("warning_data_source", f"={chain([(_PRACTICE, quoted('')), (all_same, said('source'))])}")
    if "age_years" in start_entries(protocol):
        young = quoted(texts["warning.check"] + texts["warning.age"].format(age=MAJORITY))
        listed = quoted(texts["warning.check"] + texts["warning.listed"])
        tests = [('{under_18}="yes"', young), (_not_practice("age_years"), listed)]
        if protocol.equations:
            known = '{in_sex_equation}="female",{in_sex_equation}="male"'
            none = f'AND(ISNUMBER({{in_age_years}}),OR({known}),{{equation_row}}="")'
            tests.append((none, quoted(texts["warning.check"] + texts["start.no_equation"])))
        yield Line("warning_age_years", f"={chain(tests)}")


WARNED = {
    "data_source": ("warning.source",),
    "age_years": ("warning.age", "warning.listed", "start.no_equation"),
    "caliper_id": ("warning.caliper",),
    "zero_mm": ("warning.zero_sign", "warning.zero_differs"),
}
"""Entry that a line `warning_ENTRY` may warn about, to the keys of what it says."""


def note_lines(protocol: Protocol) -> Iterator[Line]:
    """Give the lines that say, in one code word, what a site's row has to say beside what comes next."""
    for site in protocol.sites:
        word = site.word
        readings = ",".join(f"{{in_{reading_name(number, word)}}}" for number in ROUNDS)
        third = f"{{corrected_3_{word}}}"
        gap = f"ABS({{corrected_1_{word}}}-{{corrected_2_{word}}})"
        far = f'IF({gap}>{FAR_APART_MM},"third-far","third")'
        young = [('{under_18}="yes"', '"under-18"')] if site.trunk else []
        tests = [
            *young,
            (f'AND({{in_not_taken_{word}}}<>"",COUNT({readings})>0)', '"left-out-typed"'),
            (f'{{in_not_taken_{word}}}<>""', '"left-out"'),
            *((f'{{fault_{number}_{word}}}<>""', f'"fault-{number}"') for number in ROUNDS),
            *((_not_practice(reading_name(number, word)), f'"listed-{number}"') for number in ROUNDS),
            ('{covered}="yes"', '""'),
            (f'{{again_{word}}}="yes"', '"again"'),
            (f'AND({{third_{word}}}="yes",NOT(ISNUMBER({third})))', far),
            (f'AND({{third_{word}}}="no",ISNUMBER({{in_{reading_name(3, word)}}}))', '"third-extra"'),
        ]
        yield Line(f"note_{word}", f"={chain(tests)}")


NOTES = (
    "under-18", "left-out-typed", "left-out", "fault-1", "fault-2", "fault-3", "listed-1", "listed-2",
    "listed-3", "again", "third-far", "third", "third-extra",
)  # fmt: skip
"""What a site's row may say; the words are the texts `note.WORD`."""


def _is_practice(name: str) -> str:
    return f"ABS({{in_{name}}}-{{practice_{name}}})<0.001"


def _not_practice(name: str) -> str:
    """A test whether another number stands there than the practice number of the copy, where that is used."""
    return f"IF(AND({_PRACTICE},ISNUMBER({{in_{name}}})),NOT({_is_practice(name)}),FALSE())"


def _unless(test: str, text: str) -> str:
    return f'IF({test},"",{text})'


def _blank(cell: str) -> str:
    """A test whether nothing stands in a cell, spaces aside. An error value is something."""
    return f'IF(ISBLANK({cell}),TRUE(),IF(ISTEXT({cell}),TRIM({cell})="",FALSE()))'


def _error(name: str, texts: Texts, cells: Mapping[str, str]) -> str:
    """For an entry that takes anything or nothing."""
    said = quoted(f"{texts[f'entry.{name}']}: {texts['fault.error']}")
    return f'IF(ISERROR({cells[name]}),{said},"")'


def _wrong(fault: str, title: str, cell: str, texts: Texts) -> str:
    """What is wrong with an entry, `not-a-number` or `not-in-list`, and what stands there."""
    typed = f"IF(ISERROR({cell}),{quoted(texts['fault.error'])},{cell})"
    return f"{quoted(f'{title}: ' + texts[f'fault.{fault}'])}&{typed}"


def _seldom_listed(name: str, title: str, texts: Texts, cells: Mapping[str, str]) -> str:
    """For an entry that takes a word of its list, or nothing."""
    words = ",".join(f'{{in_{name}}}="{word}"' for word in ("", *listed_words(name)))
    known = f"AND(OR({words}),NOT(ISERROR({cells[name]})))"
    return _unless(known, _wrong("not-in-list", title, cells[name], texts))


def practice_shown(name: str, texts: Texts) -> str:
    """Return a formula text of the practice value of an entry on Start, a code word as its word."""
    value = f"{{practice_{name}}}"
    words = [(f'{value}="{code}"', quoted(texts[f"word.{code}"])) for code in listed_words(name)]
    return chain(words, value)


def _asked(title: str, how: str, practice: str, texts: Texts) -> str:
    """What to type: as it is measured, or the practice value. Both read alike from a step away."""
    plain = quoted(f"{title}: {how}")
    if not practice:
        return plain
    return f"IF({_PRACTICE},{quoted(f'{title}: ' + texts['ask.type'])}&{practice},{plain})"


def _number_fault(name: str, texts: Texts, cells: Mapping[str, str], empty: str) -> str:
    """A number entry on Start: out of its range, no number, or what to say of an empty one."""
    title, typed = texts[f"entry.{name}"], f"{{in_{name}}}"
    limits = START_ENTRIES[name].limits
    assert limits is not None
    low, high = limits[1:]
    shown = texts["fault.range"].format(minimum=shown_number(low, texts), maximum=shown_number(high, texts))
    outside = f'IF(OR({typed}<{low:g},{typed}>{high:g}),{quoted(f"{title}: {shown}")}&{typed},"")'
    tests = [(f"ISNUMBER({typed})", outside), (_blank(cells[name]), empty)]
    return chain(tests, _wrong("not-a-number", title, cells[name], texts))


def _start(name: str, protocol: Protocol, texts: Texts, cells: Mapping[str, str]) -> str:
    title, typed = texts[f"entry.{name}"], f"{{in_{name}}}"
    practice = practice_shown(name, texts) if name in PRACTISED else ""
    ask = "" if name == "mass_kg" else _asked(title, texts[f"ask.{name}"], practice, texts)
    if START_ENTRIES[name].limits is not None:
        empty = ask or '""'
        if name == "age_years" and protocol.equations:
            empty = f'IF({{in_sex_equation}}="sum-only","",{empty})'
        return _number_fault(name, texts, cells, empty)
    known = "ISNUMBER({caliper_row})"
    if name != "caliper_id":
        known = "OR({})".format(",".join(f'{typed}="{word}"' for word in listed_words(name)))
    wrong = _wrong("not-in-list", title, cells[name], texts)
    return chain([(known, '""'), (f'{typed}=""', ask)], wrong)


def _reading(number: int, site: Site, protocol: Protocol, texts: Texts, cells: Mapping[str, str]) -> Message:
    word = f"{number}_{site.word}"
    name, place = f"reading_{word}", change_words(protocol).index(word) + 1
    title = texts["ask.round"].format(round=number, site=site.title)
    reading, fault = f"{{in_{name}}}", f"{{fault_{word}}}"

    def said(*parts: str) -> str:
        """Texts by their key, and formula texts as they are."""
        joined = (part if part.startswith(("{", "IF(")) else quoted(texts[f"fault.{part}"]) for part in parts)
        return f"{quoted(title + ': ')}&{reading}&{'&'.join(joined)}"

    caliper = in_hand("identifier", place)
    opening, step = in_hand("opening", place), in_hand("division", place)
    ask = _asked(title, texts["ask.reading"], f"{{practice_{name}}}", texts)
    if number == 3:
        ask = f'IF({{third_{site.word}}}="yes",{ask},"")'
    tests = [
        (f'{{left_out_{site.word}}}="yes"', '""'),
        (f'{fault}="text"', _wrong("not-a-number", title, cells[name], texts)),
        (f'{fault}="zero"', said("zero")),
        (f'{fault}="opening"', said("opening", caliper, "opening_to", opening, "opening_end")),
        (f'{fault}="step"', said("step", caliper, "step_of", step, "step_end")),
        (f"ISNUMBER({reading})", '""'),
    ]
    first = "" if number == 3 else f"{title}: {texts['ask.reading']}"
    return Message(name, ("round-1", "round-2", "third")[number - 1], chain(tests, ask), first)


def _own(own: str, title: str, ask: str, texts: Texts, cells: Mapping[str, str]) -> str:
    """A line of own working: asked for where the sheet has the value, and no text."""
    live = own.removeprefix("own_")
    asked = f'IF(ISNUMBER({{{live}}}),{quoted(f"{title}: {texts[ask]}")},"")'
    tests = [(f"ISNUMBER({{in_{own}}})", '""'), (_blank(cells[own]), asked)]
    return chain(tests, _wrong("not-a-number", title, cells[own], texts))
