"""What was typed, as the sheet saw it and as it was meant; and what it tells about the measuring."""

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from sheetgen.finding import Finding, Values, amount, measured, typed, written
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols import names as vocabulary
from sheetgen.protocols.names import listed_words
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import (
    LARGEST_ENTRY,
    Entries,
    Results,
    caliper_of,
    is_under_18,
    number_of,
    text_of,
    zero_of,
)
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.texts.languages import Words, code_word, shown_word
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Cell, Layout, Rule, Value
from sheetgen.workbook.snapshot import CellState, TabState

_NUMBER = re.compile(r"^([+\-−]?\d{1,6}(?:[.,]\d+)?)\s*(mm|cm|kg|g/ml|g/cm3|%|years|y)?$", re.IGNORECASE)

_TEXT = re.compile(r'"(?:[^"]|"")*"')
_POINTS_AWAY = re.compile(r"\$?[A-Za-z]{1,3}\$?\d+|[A-Za-z_][\w.]*(?![\w.(])")
"""An address, or a name that is no function."""

_NUMBER_FORMATS = ("entry_number", "entry_reading", "entry_whole", "entry_own")


@dataclass(frozen=True, slots=True)
class ReadEntries:
    """seen : as the sheet's formulas saw them. meant : with numbers typed as text understood, and list words
    of every language as their code words.

    formula_names : entries whose formula points at another cell; 12+0.5 is no such formula.

    An empty entry is absent. One that holds something of no use is None, and has a finding.
    """

    seen: Entries
    meant: Entries
    findings: tuple[Finding, ...]
    formula_names: tuple[str, ...]


def is_number_entry(cell: Cell) -> bool:
    """Tell whether an entry cell takes a number."""
    return cell.format in _NUMBER_FORMATS


def entries_of(layout: Layout, tabs: Mapping[str, TabState], words: Words | None = None) -> ReadEntries:
    """Return the entries by their fixed places.

    Parameters
    ----------
    tabs : tab key to the tab as it came back; entries of a tab that is missing are empty.
    words : of the lists, in every language; None: code words only.
    """
    seen: dict[str, str | float | None] = {}
    meant: dict[str, str | float | None] = {}
    findings: list[Finding] = []
    formula_names: list[str] = []
    entry_cells = ((tab, cell) for tab in layout.tabs for cell in tab.cells if cell.role == "entry")
    for tab, cell in entry_cells:
        state = tabs.get(tab.key)
        if state is None:
            continue
        found = state.cells.get((cell.row, cell.column))
        if found is None or (_is_blank(found.value) and not found.formula):
            continue
        if found.formula and _POINTS_AWAY.search(_TEXT.sub("", found.formula)):
            formula_names.append(cell.name)
        typed, understood, trouble = _one_entry(cell, found)
        seen[cell.name], meant[cell.name] = _coded(cell, typed, understood, layout.language, words)
        if trouble:
            place = (tab.title, absolute(cell.row, cell.column).replace("$", ""))
            findings += [_finding(code, found, cell, place) for code in trouble]
    return ReadEntries(seen, meant, tuple(findings), tuple(formula_names))


def _one_entry(cell: Cell, found: CellState) -> tuple[str | float | None, str | float | None, list[str]]:
    """(as the sheet saw it, as it was meant, codes of findings)."""
    value = found.value
    trouble = ["entry-formula"] if found.formula else []
    if found.is_error or isinstance(value, bool):
        return None, None, [*trouble, "entry-not-a-number" if is_number_entry(cell) else "entry-not-a-text"]
    if _is_blank(value):
        return None, None, trouble
    if not is_number_entry(cell):
        return value, value.strip() if isinstance(value, str) else value, trouble
    if isinstance(value, str):
        match = _NUMBER.match(value.strip())
        if match is None:
            return None, None, [*trouble, "entry-not-a-number"]
        number = float(match.group(1).replace(",", ".").replace("−", "-"))
        return None, number, [*trouble, "entry-number-as-text"]
    if found.is_date:
        return value, None, [*trouble, "entry-date"]
    return value, value, trouble


def _coded(
    cell: Cell, seen: str | float | None, meant: str | float | None, language: str, words: Words | None
) -> tuple[str | float | None, str | float | None]:
    """A word of a list as its code word: as the sheet's own formulas take it, and in any language."""
    codes = listed_words(cell.name) if words else ()
    if cell.name == "changed_from_site" and cell.rule is not None and cell.rule.codes:
        codes, words = cell.rule.codes, {language: dict(zip(cell.rule.codes, cell.rule.words, strict=True))}
    if not codes or not isinstance(seen, str) or not isinstance(meant, str) or meant.casefold() in codes:
        return seen, meant
    of_sheet = shown_word(seen, codes, (words or {}).get(language, {}))
    return of_sheet, code_word(meant, codes, words or {}) or meant


def _is_blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip(" "))


def _finding(code: str, found: CellState, cell: Cell, place: tuple[str, str]) -> Finding:
    values: Values = {"typed": typed(found.formula or str(found.value)), "name": cell.name}
    return Finding(code, values, *place, case="" if is_number_entry(cell) else "word")


Found = tuple[str, str, str, Values]
"""Code, case, entry name and values."""


def procedure_findings(
    layout: Layout,
    protocol: Protocol,
    settings: SheetSettings,
    issued: Mapping[str, Value],
    entries: Entries,
    results: Results,
) -> tuple[Finding, ...]:
    """Return what is missing, off the scale or out of order in the entries of one sheet.

    Parameters
    ----------
    issued : what this copy carried, by cell name: the caliper issued and its registered zero.
    """
    places = layout.places()
    found = [
        *_missing(protocol, entries),
        *_words(protocol, settings, entries),
        *_ranges(layout, entries),
        *_caliper(settings, issued, entries, places),
        *_readings(protocol, settings, entries),
        *_third(entries, results),
    ]
    findings = []
    for code, case, name, values in found:
        key, row, column = places[name]
        cell = absolute(row, column).replace("$", "")
        findings.append(Finding(code, values, layout.tab(key).title, cell, case))
    return tuple(findings)


def _missing(protocol: Protocol, entries: Entries) -> Iterator[Found]:
    needed = [
        "cautions_confirmed",
        "sex_equation",
        "caliper_id",
        "zero_mm",
        "length_upper_arm_cm",
        "length_thigh_cm",
    ]
    if text_of(entries, "sex_equation") != "sum-only":
        needed.append("age_years")
    asked = vocabulary.start_entries(protocol)
    for name in needed:
        if name in asked and name not in entries:
            yield "entry-missing", "", name, {"name": name}
    closed = is_under_18(protocol, entries)
    for site in protocol.sites:
        if text_of(entries, f"not_taken_{site.word}") or (closed and site.trunk):
            continue
        for number in (1, 2):
            name = vocabulary.reading_name(number, site.word)
            if name not in entries:
                yield "entry-missing", "site", name, {"name": name}


def _words(protocol: Protocol, settings: SheetSettings, entries: Entries) -> Iterator[Found]:
    calipers = tuple(caliper.identifier for caliper in settings.calipers)
    lists = {
        "cautions_confirmed": vocabulary.CONFIRM_WORDS,
        "data_source": vocabulary.DATA_SOURCE_WORDS,
        "sex_equation": vocabulary.SEX_WORDS,
        "side": vocabulary.SIDE_WORDS,
        "caliper_id": calipers,
        "caliper_id_2": calipers,
        "changed_from": vocabulary.change_words(protocol),
        "changed_from_round": tuple(map(str, vocabulary.ROUNDS)),
        "changed_from_site": tuple(site.word for site in protocol.sites),
        **{f"not_taken_{site.word}": listed_words(f"not_taken_{site.word}") for site in protocol.sites},
    }
    for name, words in lists.items():
        word = text_of(entries, name)
        if word and word not in {known.casefold() for known in words}:
            values: Values = {"typed": typed(word, 40), "words": ", ".join(words[:8])}
            yield "entry-unknown-word", "", name, values
    for site in protocol.sites:
        taken = [
            number for number in vocabulary.ROUNDS if vocabulary.reading_name(number, site.word) in entries
        ]
        if taken and text_of(entries, f"not_taken_{site.word}"):
            yield "entry-not-taken-with-readings", "", f"not_taken_{site.word}", {"count": len(taken)}
        if taken and site.trunk and is_under_18(protocol, entries):
            name = vocabulary.reading_name(taken[0], site.word)
            yield "procedure-trunk-under-18", "", name, {"count": len(taken)}


def _ranges(layout: Layout, entries: Entries) -> Iterator[Found]:
    for name, rule in _limits(layout):
        value = entries.get(name)
        if not isinstance(value, int | float):
            continue
        low, high = rule.minimum or 0.0, rule.maximum or 0.0
        if not low <= value <= high or (rule.kind == "whole" and value != int(value)):
            values: Values = {"typed": measured(value), "low": low, "high": high}
            yield "entry-out-of-range", "whole" if rule.kind == "whole" else "", name, values


def _limits(layout: Layout) -> tuple[tuple[str, Rule], ...]:
    """The names of entries whose rule gives a least and a largest number, with the rule."""
    return tuple(
        (cell.name, cell.rule)
        for tab in layout.tabs
        for cell in tab.cells
        if cell.role == "entry" and cell.rule is not None and cell.rule.kind in ("whole", "decimal")
    )


def _caliper(
    settings: SheetSettings, issued: Mapping[str, Value], entries: Entries, places: Collection[str]
) -> Iterator[Found]:
    chosen, given = text_of(entries, "caliper_id"), str(issued.get("caliper_id", ""))
    if chosen and given and chosen != given.casefold():
        known = chosen if _by_id(settings, chosen) else written(chosen)
        yield "procedure-other-caliper", "", "caliper_id", {"typed": known, "caliper": given}
    for caliper_name, zero_name in (("caliper_id", "zero_mm"), ("caliper_id_2", "zero_2_mm")):
        caliper, zero = _by_id(settings, text_of(entries, caliper_name)), number_of(entries, zero_name)
        if caliper is not None and zero is not None and hundredths(zero) != hundredths(caliper.zero):
            yield "procedure-zero-differs", "", zero_name, {"zero": zero, "registered": caliper.zero}
    start = ("changed_from",) if "changed_from" in places else ("changed_from_round", "changed_from_site")
    second = ("caliper_id_2", "zero_2_mm", *start)
    if any(name in entries for name in second):
        for name in second:
            if name not in entries:
                yield "procedure-change-incomplete", "", name, {}


def _readings(protocol: Protocol, settings: SheetSettings, entries: Entries) -> Iterator[Found]:
    for word in vocabulary.change_words(protocol):
        number, site = int(word[0]), word[2:]
        name = vocabulary.reading_name(number, site)
        entry, reading = entries.get(name), number_of(entries, name)
        if reading is None:
            if isinstance(entry, int | float):
                values: Values = {"typed": measured(entry), "limit": amount(LARGEST_ENTRY)}
                yield "entry-out-of-range", "large", name, values
            continue
        shown: Values = {"reading": measured(reading)}
        if number == 2 and vocabulary.reading_name(1, site) not in entries:
            yield "procedure-round-2-without-round-1", "", name, shown
        caliper, zero = (
            caliper_of(protocol, settings, entries, number, site),
            zero_of(protocol, entries, number, site),
        )
        if zero is not None and hundredths(reading) <= hundredths(zero):
            yield "entry-not-above-zero", "", name, {**shown, "zero": zero}
        if caliper is None:
            continue
        step = hundredths(caliper.division)
        if hundredths(reading) > hundredths(caliper.opening):
            yield "entry-beyond-opening", "", name, {**shown, "opening": caliper.opening}
        elif step > 0 and hundredths(reading) % step:
            yield "entry-off-scale", "", name, {**shown, "division": caliper.division}


def _third(entries: Entries, results: Results) -> Iterator[Found]:
    for site in results.sites:
        name = vocabulary.reading_name(3, site.site)
        if site.third_needed == "yes" and name not in entries:
            yield "procedure-third-missing", "", name, {}
        if site.third_needed == "no" and name in entries:
            yield "procedure-third-not-needed", "", name, {}
        if site.measure_again:
            yield "procedure-measure-again", "", name, {}


def _by_id(settings: SheetSettings, identifier: str) -> Caliper | None:
    return next(
        (caliper for caliper in settings.calipers if caliper.identifier.casefold() == identifier), None
    )
