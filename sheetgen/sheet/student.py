"""The Layout of a student workbook, from protocol, settings and texts; the careful form of a protocol: what
is left of it under 18, or where nobody gets an estimate; and what each copy carries of its own: identity, and
practice readings made from its copy code."""

import math
import random
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from operator import attrgetter

import msgspec

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import Person
from sheetgen.protocols.loading import find_protocol, in_language, load_protocol, shipped_protocols
from sheetgen.protocols.names import ROUNDS, reading_name, sex_words
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import BuiltWith, Caliper, SheetSettings
from sheetgen.sheet.calculator import calculator_tab, practice_names
from sheetgen.sheet.drill_tab import drill_tab, drill_values
from sheetgen.sheet.readings_tab import readings_tab
from sheetgen.sheet.reference_tabs import about_tab, sites_tab
from sheetgen.sheet.start_tabs import care_tab, start_tab
from sheetgen.sheet.working import results_tab, working_tab
from sheetgen.texts.languages import DEFAULT_LANGUAGE, shown_number, texts_in
from sheetgen.workbook.addresses import resolved
from sheetgen.workbook.layout import Cell, Identity, Layout, Place, Tab, Value

LAYOUT_VERSION = 3
"""Counts up with every change of a sheet's cells. A Layout that is stored stays as it was; this number only
keeps a sheet whose record is lost from being read by the places of another time."""


def student_layout(
    protocol: Protocol, settings: SheetSettings, settings_text: str, texts: Mapping[str, str]
) -> Layout:
    """Return the Layout of a student workbook.
    settings_text : the settings as one line of text, printed on the hidden tab. texts : every text a person
    reads, by key.
    Raises KeyError: a text is missing, or the protocol has no conversion of the name in the settings."""
    visible = [
        care_tab(protocol, settings, texts),
        start_tab(protocol, settings, texts),
        sites_tab(protocol, settings, texts),
        *([drill_tab(protocol, settings.calipers, texts)] if settings.reading_drill else []),
        readings_tab(protocol, settings, texts),
        working_tab(protocol, settings, texts),
        results_tab(protocol, settings, texts),
        about_tab(protocol, settings, texts),
    ]
    tabs = [*visible, calculator_tab(protocol, settings, settings_text, texts, visible)]
    titles = {tab.key: tab.title for tab in tabs}
    title, subject, page = (texts[f"sheet.{name}"] for name in ("title", "subject", "page"))
    layout = Layout(title, subject, settings.language, tuple(tabs), settings_text, page)
    places = layout.places()
    return replace(layout, tabs=tuple(_resolved_tab(tab, places, titles) for tab in tabs))


def counts_as_under_18(person: Person, minors: str) -> bool:
    """Tell whether a person's sheet is made for someone under 18.
    minors : what the class says: `all` everyone; `some` everyone not said to be of age; `none` only those
    said to be under 18.

    >>> counts_as_under_18(Person("1", "A", "B"), "some"), counts_as_under_18(Person("1", "A", "B"), "none")
    (True, False)
    """
    if minors == "all" or person.under_18 == "yes":
        return True
    return minors == "some" and person.under_18 != "no"


def careful_protocol(protocol: Protocol, settings: SheetSettings) -> Protocol:
    """Return the protocol as a sheet may ask for it.
    Under 18 there are no trunk sites, and no estimate unless the class turned it on and the protocol needs no
    trunk site for it. With `sums-only` nobody gets an estimate. Care beats a protocol's own range of ages.
    Where a protocol has trunk sites only, no site is left, and no sheet can be made of it."""
    sites = tuple(site for site in protocol.sites if not (settings.under_18 and site.trunk))
    whole = len(sites) == len(protocol.sites)
    allowed = not settings.under_18 or (settings.youth_estimate == "on" and whole)
    if whole and allowed and settings.estimates == "on":
        return protocol
    return replace(protocol, sites=sites, equations=(), conversions=(), default_conversion="")


def _resolved_tab(tab: Tab, places: Mapping[str, Place], titles: Mapping[str, str]) -> Tab:
    """A tab with addresses in its formulas, its cells by row and column."""

    def address(template: str) -> str:
        return resolved(template, tab.key, places, titles)

    def cell_resolved(cell: Cell) -> Cell:
        if not cell.formula and cell.rule is None:
            return cell
        rule = cell.rule and msgspec.structs.replace(cell.rule, formula=address(cell.rule.formula))
        return msgspec.structs.replace(cell, formula=address(cell.formula), rule=rule)

    cells = sorted(tab.cells, key=attrgetter("row", "column"))
    emphases = (replace(emphasis, formula=address(emphasis.formula)) for emphasis in tab.emphases)
    return replace(tab, cells=tuple(map(cell_resolved, cells)), emphases=tuple(emphases))


@dataclass(frozen=True, slots=True)
class Source:
    """The Layout of a class's sheets, with what it was made from."""

    layout: Layout
    protocol: Protocol
    settings: SheetSettings
    texts: dict[str, str]


def all_protocols(folder: ClassFolder | None = None, language: str = DEFAULT_LANGUAGE) -> dict[str, Protocol]:
    """Return every protocol a class may use, by identifier: the shipped ones, and the class's own.
    language : of the shipped ones; a teacher's own stays as it is written.
    Raises TemplateError: a protocol of the class has faults; every one is named."""
    own = [] if folder is None else sorted(folder.own_protocols.glob("*.toml"))
    protocols = [in_language(find_protocol(identifier), language) for identifier in shipped_protocols()]
    return {protocol.identifier: protocol for protocol in [*protocols, *map(load_protocol, own)]}


@lru_cache(maxsize=64)
def source_of(settings: SheetSettings, protocol: Protocol | None = None) -> Source:
    """Return the Layout that follows from settings: by their protocol, careful where they ask for it.
    protocol : that of the settings; None: the shipped one of its name.
    Raises UsageError: the protocol is not known. TemplateError: a template has a fault."""
    whole = find_protocol(settings.protocol_id) if protocol is None else protocol
    whole = in_language(whole, settings.language)
    if settings.conversion not in {conversion.identifier for conversion in whole.conversions}:
        settings = replace(settings, conversion=whole.default_conversion)
    return layout_of(BuiltWith(settings, careful_protocol(whole, settings), LAYOUT_VERSION))


def layout_of(built_with: BuiltWith) -> Source:
    """Return the Layout that follows from protocol and settings."""
    settings, protocol = built_with.settings, built_with.protocol
    texts = texts_in(settings.language, "sheet")
    text = msgspec.json.encode(built_with).decode("utf-8")
    return Source(student_layout(protocol, settings, text, texts), protocol, settings, texts)


@dataclass(frozen=True, slots=True)
class SheetCopy:
    """One sheet to hand out: its code, who measures whom in which session, in words too, which caliper."""

    copy_code: str
    class_code: str
    student_id: str
    participant_code: str
    session_number: int
    issued_caliper: str
    session_words: str = ""


def sheet_identity(
    protocol: Protocol, settings: SheetSettings, texts: Mapping[str, str], copy: SheetCopy
) -> Identity:
    """Return what one copy carries: its identity, its practice readings, and the caliper issued.
    Raises KeyError: the caliper is not in the register."""
    register = {caliper.identifier: (at, caliper) for at, caliper in enumerate(settings.calipers, start=1)}
    row, caliper = register[copy.issued_caliper]
    codes = {**asdict(copy), "protocol_id": protocol.identifier, "caliper_zero_mm": caliper.zero}
    session = codes.pop("session_words") or copy.session_number
    said = {key: texts[f"readings.scale_{key}"] for key in ("steps", "opening", "example", "end")}
    division, opening, example = (shown_number(n, texts) for n in (caliper.division, caliper.opening, 12.5))
    scale = f"{caliper.identifier}{said['steps']}{division}{said['opening']}{opening}"
    # First results of the formulas that follow from the caliper issued.
    from_caliper: dict[str, Value] = {
        **dict.fromkeys(("caliper_id", "in_caliper_id"), caliper.identifier),
        "caliper_row": row,
        **{f"caliper_{name}": getattr(caliper, name) for name in ("division", "opening", "zero")},
        **{f"shown_{name}": getattr(caliper, name) for name in ("division", "opening")},
        "shown_scale": f"{scale}{said['example']}{example}{said['end']}",
    }
    lines = {"sheet_line": texts["sheet.line"], "today_line": texts["start.today_whom"]}
    printed = {name: text.format(**{**codes, "session_number": session}) for name, text in lines.items()}
    drill = drill_values(settings.calipers, copy.copy_code, texts) if settings.reading_drill else {}
    practice = practice_values(protocol, caliper, copy.copy_code)
    return Identity({**codes, **from_caliper, **printed, **practice, **drill})


def practice_values(protocol: Protocol, caliper: Caliper, copy_code: str) -> dict[str, Value]:
    """Return an invented set of entries on the scale of a caliper, the same for the same copy code.
    Ages 19 to 50, folds 8 to 28 mm: inside the range of the adult equations. Where no equation takes the age
    drawn, it becomes the nearest age that one takes. Two sites have readings more than 3 mm apart. Every site
    has a third reading, for a class with a narrow tolerance. The seed is a text, so the numbers are the same
    on every machine."""
    dice = random.Random(f"practice {copy_code}")
    step = caliper.division
    age = dice.randint(19, 50)
    sex = dice.choice(sex_words(protocol)[:-1] or ("sum-only",))
    of_sex = [equation for equation in protocol.equations if equation.sex == sex]
    taken = [min(max(age, math.ceil(one.age_minimum)), math.floor(one.age_maximum)) for one in of_sex]
    values: dict[str, Value] = {
        "age_years": min(taken, key=lambda other: abs(other - age), default=age),
        "sex_equation": sex,
        "mass_kg": dice.randint(560, 860) / 10,
        "zero_mm": caliper.zero,
        "length_upper_arm_cm": dice.randint(30, 38),
        "length_thigh_cm": dice.randint(40, 50),
    }
    apart = set(dice.sample([site.word for site in protocol.sites], k=min(2, len(protocol.sites))))
    for site in protocol.sites:
        fold = dice.uniform(8, 28)
        gap = 3.0 + step if site.word in apart else dice.choice((0.0, step, -step))
        for number, reading in zip(ROUNDS, (fold, fold + gap, fold + gap - step), strict=True):
            on_scale = round(round((reading + caliper.zero) / step) * step, 2)
            values[reading_name(number, site.word)] = on_scale
    of_use = practice_names(protocol)
    return {f"practice_{name}": value for name, value in values.items() if f"practice_{name}" in of_use}
