"""The tab Class of the class book: one setting a line, found by its label."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sheetgen.checking.class_book_cells import (
    Line,
    day_of,
    in_range,
    number_of,
    plain,
    problem_of_tab,
    text_of,
    word_of,
)
from sheetgen.layout.class_book_words import (
    DATE_SETTINGS,
    LATER_SETTINGS,
    LONGEST,
    MINORS,
    RANGES,
    SECONDS_A_READING,
    SETTING_WORDS,
    SETTINGS,
    YES_NO,
)
from sheetgen.model.finding import Finding, term
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["ClassTab", "class_tab_from"]

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class ClassTab:
    """What the tab Class says; the calipers of its settings stand on another tab.

    demonstration : as typed. lines : by setting, for faults that show later.
    """

    title: str
    class_code: str
    settings: SheetSettings
    minors: str
    due_date: str
    feedback_given: str
    declared: tuple[tuple[str, ...], ...]
    group_size: int
    demonstration: str
    seconds_a_reading: float
    spare_sheets: int
    lines: Mapping[str, Line]


@dataclass(frozen=True, slots=True)
class _Entries:
    """The lines by setting, and the faults found while they are read."""

    lines: Mapping[str, Line]
    problems: list[Finding] = field(default_factory=list)

    def text(self, name: str, longest: int) -> str:
        if name not in self.lines:
            return ""
        value, faults = text_of(self.lines[name], "entry", longest)
        self.problems.extend(faults)
        return value

    def word(self, name: str, words: Sequence[str], default: str) -> str:
        if name not in self.lines:
            return default
        value, faults = word_of(self.lines[name], "entry", words, default)
        self.problems.extend(faults)
        return value

    def number(self, name: str, default: float) -> float:
        if name not in self.lines or self.lines[name].cells["entry"].value is None:
            return default
        value, faults = in_range(self.lines[name], "entry", name)
        self.problems.extend(faults)
        return default if value is None else value

    def whole(self, name: str, default: int) -> int:
        if name not in self.lines or self.lines[name].cells["entry"].value is None:
            return default
        low, high = RANGES[name]
        wanted = term("whole-number-between", low=low, high=high)

        def right(number: float) -> bool:
            return low <= number <= high and number == int(number)

        value, faults = number_of(self.lines[name], "entry", right, wanted)
        self.problems.extend(faults)
        return default if value is None else int(value)

    def day(self, name: str) -> str:
        if name not in self.lines:
            return ""
        value, faults = day_of(self.lines[name], "entry")
        self.problems.extend(faults)
        return value


def class_tab_from(
    lines: Sequence[Line],
    defaults: SheetSettings,
    texts: Texts,
    protocols: Sequence[Protocol],
    languages: Sequence[str] = ("en",),
) -> tuple[ClassTab, list[Finding]]:
    """Return what the tab Class says, and the faults in it.

    Parameters
    ----------
    defaults : settings that hold where a cell is empty.
    languages : those that may be chosen.
    """
    by_label = {plain(texts[f"book_setting.{name}"]): name for name in (*SETTINGS, "class_code")}
    labelled = {plain(str(line.cells["what"].value)): line for line in reversed(lines)}
    entries = _Entries({by_label[label]: line for label, line in labelled.items() if label in by_label})
    asked = [name for name in SETTINGS if name not in LATER_SETTINGS]
    missing = [texts[f"book_setting.{name}"] for name in asked if name not in entries.lines]
    if lines and missing:
        values = {"settings": ", ".join(missing)}
        entries.problems.append(problem_of_tab("class-book-column-missing", lines[0].tab, values, "setting"))
    protocol_id = entries.word("protocol", [each.identifier for each in protocols], defaults.protocol_id)
    conversions, conversion = _conversions(protocol_id, defaults, protocols)
    covered = YES_NO[0] if defaults.cover_round_1 else YES_NO[1]
    settings = replace(
        defaults,
        protocol_id=protocol_id,
        tolerance=entries.number("tolerance", defaults.tolerance),
        conversion=entries.word("conversion", conversions, conversion) if conversions else conversion,
        site_rule=entries.word("site_rule", SETTING_WORDS["site_rule"], defaults.site_rule),
        tolerance_kind=entries.word(
            "tolerance_kind", SETTING_WORDS["tolerance_kind"], defaults.tolerance_kind
        ),
        show_results=entries.word("show_results", SETTING_WORDS["show_results"], defaults.show_results),
        estimates=entries.word("estimates", SETTING_WORDS["estimates"], defaults.estimates),
        youth_estimate=entries.word(
            "youth_estimate", SETTING_WORDS["youth_estimate"], defaults.youth_estimate
        ),
        cover_round_1=entries.word("cover_round_1", YES_NO, covered) == YES_NO[0],
        language=entries.word("language", languages, defaults.language),
    )
    minors = entries.word("minors", MINORS, MINORS[0])
    title = entries.text("class_title", LONGEST["class_title"])
    code = entries.text("class_code", 20)
    due_date, feedback_given = (entries.day(name) for name in DATE_SETTINGS)
    declared = _groups(entries.text("declared", LONGEST["declared"]))
    book = ClassTab(
        title,
        code,
        settings,
        minors,
        due_date,
        feedback_given,
        declared,
        group_size=entries.whole("group_size", 2),
        demonstration=entries.text("demonstration", LONGEST["demonstration"]),
        seconds_a_reading=entries.number("seconds_a_reading", SECONDS_A_READING),
        spare_sheets=entries.whole("spare_sheets", 3),
        lines=entries.lines,
    )
    return book, entries.problems


def _groups(text: str) -> tuple[tuple[str, ...], ...]:
    """Groups of student_ids: commas within a group, semicolons between."""
    groups = (tuple(one.strip() for one in group.split(",") if one.strip()) for group in text.split(";"))
    return tuple(group for group in groups if group)


def _conversions(
    protocol_id: str, defaults: SheetSettings, protocols: Sequence[Protocol]
) -> tuple[tuple[str, ...], str]:
    """Return the conversions that may be chosen with a protocol, and the one that an empty cell stands for.

    With a protocol that has none, any conversion of another may stay: nothing on a sheet follows from it, and
    a pair with a protocol of its own may need it.
    """
    own = next((each for each in protocols if each.identifier == protocol_id), None)
    if own is None or not own.conversions:
        return tuple({each.identifier: None for one in protocols for each in one.conversions}), ""
    known = tuple(each.identifier for each in own.conversions)
    return known, defaults.conversion if defaults.conversion in known else own.default_conversion
