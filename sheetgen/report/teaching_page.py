"""The tab Teach again: what the class gets wrong, without names, and an example to put on the board."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from sheetgen.class_folder.scores import NONE_FITS
from sheetgen.marking.marking import about_title
from sheetgen.marking.scheme import Marking
from sheetgen.protocols.names import own_decimals, reading_name
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, live_values, recalculate
from sheetgen.protocols.settings import SheetSettings
from sheetgen.report.page import Column, Page, Section, SessionResults, named, sentence, table
from sheetgen.report.working_numbers import working_numbers
from sheetgen.returned.attempt import Attempt, has_work
from sheetgen.texts.languages import Texts, shown_number


def teaching_page(results: SessionResults, protocol: Protocol | None, texts: Texts) -> Page | None:
    """Return the tab: slips by kind with how many people made them, where most points were lost, the line
    most often left empty, the commonest slip's line worked out from an invented sheet, and habits of
    measuring; None where there is nothing to teach again."""
    slips = results.slips
    people = Counter(slip for _, slip in {(one.student_id, one.slip) for one in slips})
    lines = Counter(one.slip for one in slips)
    commonest = [word for word, _ in people.most_common() if word != NONE_FITS]
    of_slip = Counter(one.line for one in slips if one.slip == (commonest or [NONE_FITS])[0])
    said = [*_lost(results.markings, texts), *_left_empty(results.markings, protocol, texts)]
    if of_slip and protocol:
        said += _example(protocol, results.book.settings, of_slip.most_common(1)[0][0], texts)
    columns = (
        Column("report_teach.slip", 34, lambda word: slip_called("slip", word, texts)),
        Column("report_heading.people", 8, lambda word: people[word], "text"),
        Column("report_teach.redo", 34, lambda word: slip_called("slip_redo", word, texts)),
        Column("report_teach.lines", 8, lambda word: lines[word], "text"),
    )
    ordered = sorted(people, key=lambda word: (word == NONE_FITS, -people[word], word))
    noted = habits(results.attempts, texts)
    of_habits = (
        Column("report_teach.slip", 34, "0"),
        Column("report_heading.people", 8, "1", "text"),
        Column("report_teach.redo", 34, "2"),
    )
    more = (Section(texts["report_teach.habits"], (), *table(of_habits, noted, texts)),) if noted else ()
    if not (said or slips or noted):
        return None
    shown = table(columns if slips else (), ordered, texts)
    return Page(*named("report_teach", texts, session=results.called), tuple(said), *shown, more=more)


def habits(attempts: Iterable[Attempt], texts: Texts) -> list[tuple[str, int, str]]:
    """Return (what, how many people, what to say) of what sheets that count show of measuring and typing."""
    people: dict[str, set[str]] = defaultdict(set)
    for attempt in attempts:
        for finding in attempt.findings if attempt.record and has_work(attempt) else ():
            if f"practise.{finding.code}" in texts and attempt.record:
                people[finding.code].add(attempt.record.student_id)
    ordered = sorted(people, key=lambda code: (-len(people[code]), code))
    return [(_habit(code, texts), len(people[code]), texts[f"practise.{code}"]) for code in ordered]


def _habit(code: str, texts: Texts) -> str:
    """What a finding says of any sheet: its few words where they name no place and no number."""
    said = texts.get(f"{code}.said", "{")
    return sentence(said) if "{" not in said else texts[f"{code}.means"].partition(". ")[0].rstrip(".")


def slip_called(section: str, word: str, texts: Texts) -> str:
    """Return what a slip is called, or what redoes it; section : `slip` or `slip_redo`."""
    if word == NONE_FITS:
        return texts["report_teach.none_fits" if section == "slip" else "report_teach.none_fits_redo"]
    return sentence(texts[f"{section}.{word}"].replace(" ({detail})", ""))


def _lost(markings: Mapping[str, Marking], texts: Texts) -> list[str]:
    """What waits for a person is not lost."""
    lost, possible = defaultdict[str, float](float), defaultdict[str, float](float)
    for marking in markings.values():
        for item in marking.items:
            waits = sum(one.points for one in marking.to_be_marked if one.item == item.word)
            lost[item.title] += item.maximum - item.score - waits
            possible[item.title] += item.maximum
    most = max(lost, key=lambda title: lost[title], default="")
    points = round(lost[most], 2)
    if points <= 0:
        return []
    numbers = {"lost": shown_number(points, texts), "possible": shown_number(possible[most], texts)}
    return [texts["report_teach.lost"].format(item=most, **numbers)]


def _left_empty(markings: Mapping[str, Marking], protocol: Protocol | None, texts: Texts) -> list[str]:
    steps = (step for marking in markings.values() for item in marking.items for step in item.steps)
    empty = Counter(step.step for step in steps if step.state == "blank")
    return [
        texts["report_teach.left_empty"].format(
            line=about_title(line, protocol, texts) if protocol else line, count=count
        )
        for line, count in empty.most_common(1)
    ]


def _example(protocol: Protocol, settings: SheetSettings, line: str, texts: Texts) -> list[str]:
    """A line worked out from an invented sheet: nobody's readings, round numbers."""
    entries: dict[str, float | str] = {"zero_mm": 0.5, "mass_kg": 70.0}
    entries |= {"length_upper_arm_cm": 34.0, "length_thigh_cm": 44.0}
    for equation in protocol.equations[:1]:
        age = min(max(equation.age_minimum, 20), equation.age_maximum)
        entries |= {"sex_equation": equation.sex, "age_years": float(age)}
    for place, site in enumerate(protocol.sites):
        entries |= {reading_name(number, site.word): 9.5 + 2 * place + number for number in (1, 2)}
    sheet: Entries = entries
    results = recalculate(protocol, settings, sheet)
    numbers = working_numbers(protocol, settings, sheet, results, texts)
    value = live_values(results)[line]
    if line not in numbers or isinstance(value, str):
        return []
    shown = shown_number(round(value, own_decimals(line)), texts)
    title = sentence(about_title(line, protocol, texts))
    return [texts["report_teach.example"].format(line=title, numbers=numbers[line], value=shown)]
