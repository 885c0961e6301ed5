"""What was typed, as the sheet saw it and as it was meant; and what it tells about the measuring."""

import re
from collections.abc import Collection, Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.finding import Finding, Values, amount, measured, typed, written
from sheetgen.measurement import readings
from sheetgen.measurement.numbers import fifteen_digits, hundredths, number_in_text, without_invisible
from sheetgen.protocols import names as vocabulary
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import (
    LARGEST_ENTRY,
    Entries,
    Results,
    SiteResult,
    is_under_18,
    number_of,
    reading_faults,
    repeat_difference,
    text_of,
    zero_of,
)
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.returned.attempt import Issued, about_cell, named_cells
from sheetgen.texts.languages import code_word, list_words, shown_word
from sheetgen.workbook.layout import Cell, Layout
from sheetgen.workbook.snapshot import CellState, TabState

_UNITS = {"_cm": "cm", "_kg": "kg", "_years": "years", "_g_ml": "g/ml", "_percent": "%"}
"""By the end of an entry's name; every other number is in mm."""

_TEXT = re.compile(r'"(?:[^"]|"")*"')
_POINTS_AWAY = re.compile(r"\$?[A-Za-z]{1,3}\$?\d+|[A-Za-z_][\w.]*(?![\w.(])")
"""An address, or a name that is no function."""
_BY_TEXT = re.compile(r"\b(INDIRECT|OFFSET|INDEX|ADDRESS|CELL|CHOOSE|[VH]?LOOKUP)\s*\(", re.IGNORECASE)

_NUMBER_FORMATS = ("entry_number", "entry_reading", "entry_whole", "entry_own")

_Entry = str | float | None


class ReadEntries(Struct, frozen=True):
    """seen : as the sheet's formulas saw them. meant : with numbers typed as text understood, and list words
    of every language as their code words. An empty entry is absent. One that holds something of no use is
    None, and has a finding; of a line of own working, for a person to mark, `meant` keeps the text."""

    seen: Entries
    meant: Entries
    findings: tuple[Finding, ...]


def is_number_entry(cell: Cell) -> bool:
    """Tell whether an entry cell takes a number."""
    return cell.format in _NUMBER_FORMATS


def entries_of(layout: Layout, tabs: Mapping[str, TabState], takers: Collection[str] = ()) -> ReadEntries:
    """Return the entries by their fixed places.
    tabs : tab key to the tab as it came back; entries of a tab that is missing are empty. takers : own lines
    whose formula takes a result of the sheet; any other formula there is working."""
    seen: dict[str, _Entry] = {}
    meant: dict[str, _Entry] = {}
    findings: list[Finding] = []
    cells = ((tab, cell) for tab in layout.tabs if tab.key in tabs for cell in tab.cells)
    for tab, cell in cells:
        found = tabs[tab.key].cells.get((cell.row, cell.column))
        if cell.role != "entry" or found is None or (_is_blank(found.value) and not found.formula):
            continue
        saw, understood, trouble, case = _one_entry(cell, found)
        if understood == "":
            continue
        seen[cell.name], meant[cell.name] = _coded(cell, saw, understood, layout.language)
        shown: Values = {"typed": typed(found.formula or str(found.value)), "name": cell.name}
        if case == "unit" and isinstance(understood, float):
            shown = {**shown, "number": measured(understood), "unit": unit_of(cell.name)}
        word = "" if is_number_entry(cell) else "word"
        codes = [(_formula_code(cell, found, takers, saw), word), (trouble, case or word)]
        findings += [about_cell(code, shown, tab, cell, which) for code, which in codes if code]
    return ReadEntries(seen, meant, tuple(findings))


def _points_away(cell: Cell, formula: str) -> bool:
    """Tell whether a formula takes its number from elsewhere; a reading may not by way of a text either."""
    by_text = cell.name.startswith("reading_") and _BY_TEXT.search(formula)
    return bool(by_text or _POINTS_AWAY.search(_TEXT.sub("", formula)))


def _formula_code(cell: Cell, found: CellState, takers: Collection[str], saw: _Entry) -> str:
    """The code of a finding about a formula. A line of own working may hold one that is working; in a reading
    one of constants, such as 12+0.5, is a number."""
    if cell.name.startswith("own_"):
        return "working-takes-result" if cell.name in takers else ""
    if found.formula and cell.name.startswith("reading_"):
        if _points_away(cell, found.formula):
            return "entry-reading-reference"
        return "" if isinstance(saw, float | int) else "entry-formula"
    return "entry-formula" if found.formula else ""


def _one_entry(cell: Cell, found: CellState) -> tuple[_Entry, _Entry, str, str]:
    """(as the sheet saw it, as it was meant, code of a finding, its case); meant is "" where nothing is."""
    value, number = found.value, is_number_entry(cell)
    if number and (found.is_error or isinstance(value, bool | str)):
        return None, *_typed(cell.name, str(value), found.is_error)
    if found.is_error or isinstance(value, bool):
        return None, None, "entry-not-a-text", ""
    if _is_blank(value) or value is None:
        return None, None, "", ""
    if isinstance(value, str):
        return value, without_invisible(value), "", ""
    kept, is_day = fifteen_digits(value) if number else value, found.is_date and number
    return kept, None if is_day else kept, "entry-date" if is_day else "", ""


def _typed(name: str, text: str, is_error: bool) -> tuple[_Entry, str, str]:
    """What was meant by a text in place of a number, code of a finding, its case."""
    number, unit = None if is_error else number_in_text(text), unit_of(name)
    meant = number.in_unit(unit) if number else None
    if number is not None and meant is not None:
        return meant, "entry-number-as-text", "" if number.unit in ("", unit) else "unit"
    if not without_invisible(text):
        return "", "", ""
    if name.startswith("own_"):
        return text, "working-not-a-number", ""
    return None, "entry-not-a-number" if number is None else "entry-other-unit", ""


def unit_of(name: str) -> str:
    """Return the unit that the number in an entry is in.

    >>> unit_of("mass_kg"), unit_of("own_site_chest"), unit_of("own_density_g_ml")
    ('kg', 'mm', 'g/ml')
    """
    of_site = name.startswith(("reading_", "own_site_"))
    return next((unit for end, unit in _UNITS.items() if name.endswith(end) and not of_site), "mm")


def _coded(cell: Cell, seen: _Entry, meant: _Entry, language: str) -> tuple[_Entry, _Entry]:
    """A word of a list as its code word: as the sheet's own formulas take it, and in any language."""
    codes, words = vocabulary.listed_words(cell.name), list_words("sheet")
    if cell.name == "changed_from_site" and cell.rule is not None and cell.rule.codes:
        codes, words = cell.rule.codes, {language: dict(zip(cell.rule.codes, cell.rule.words, strict=True))}
    if not isinstance(seen, str) or not isinstance(meant, str) or meant.casefold() in codes:
        return seen, meant
    return shown_word(seen, codes, words.get(language, {})), code_word(meant, codes, words) or meant


def _is_blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip(" "))


_Found = tuple[str, str, str, Values]  # Code, case, entry name and values.


def procedure_findings(issued: Issued, entries: Entries, results: Results) -> tuple[Finding, ...]:
    """Return what is missing, off the scale or out of order in the entries of one sheet.
    entries : as they were meant. results : from those entries."""
    protocol = issued.protocol
    calipers = {caliper.identifier.casefold(): caliper for caliper in issued.settings.calipers}
    found = (
        *_missing(protocol, entries, results),
        *_words(issued, entries),
        *_out_of_place(protocol, entries),
        *_ranges(issued.layout, entries),
        *_caliper(calipers, str(issued.values.get("caliper_id", "")), entries),
        *_second_caliper(issued.layout, entries),
        *_readings(issued, entries),
        *_third(entries, results),
    )
    cells = named_cells(issued.layout)
    # A zero far off the one in the register is told once.
    differing = {name for code, _, name, _ in found if code == "procedure-zero-differs"}
    return tuple(
        about_cell(code, values, *cells[name], case)
        for code, case, name, values in found
        if name in cells and not (code == "entry-out-of-range" and name in differing)
    )


def _missing(protocol: Protocol, entries: Entries, results: Results) -> Iterator[_Found]:
    asked = vocabulary.start_entries(protocol)
    needed = ["cautions_confirmed", "sex_equation", "caliper_id", "zero_mm"]
    needed += ["length_upper_arm_cm", "length_thigh_cm"]
    if text_of(entries, "sex_equation") != "sum-only":
        needed.append("age_years")
    for name in needed:
        if name in asked and name not in entries:
            yield "entry-missing", "", name, {"name": name}
    for site in results.sites:
        for name in (vocabulary.reading_name(number, site.site) for number in (1, 2)):
            if name not in entries and not site.not_taken:
                yield "entry-missing", "site", name, {"name": name}


def _words(issued: Issued, entries: Entries) -> Iterator[_Found]:
    calipers = tuple(caliper.identifier for caliper in issued.settings.calipers)
    lists = {
        **{name: entry.words for name, entry in vocabulary.START_ENTRIES.items() if entry.words},
        # A courtesy to the person measured; nobody looks at it.
        "participant_agrees": (),
        "caliper_id": calipers,
        "caliper_id_2": calipers,
        "changed_from": vocabulary.change_words(issued.protocol),
        "changed_from_round": tuple(map(str, vocabulary.ROUNDS)),
        "changed_from_site": tuple(site.word for site in issued.protocol.sites),
        **{name: vocabulary.listed_words(name) for name in vocabulary.not_taken_names(issued.protocol)},
    }
    for name, words in lists.items():
        word = text_of(entries, name)
        if word and words and word not in map(str.casefold, words):
            yield "entry-unknown-word", "", name, {"typed": typed(word, 40), "words": ", ".join(words[:8])}


def _out_of_place(protocol: Protocol, entries: Entries) -> Iterator[_Found]:
    """Readings at a site that was left out, or is closed."""
    closed = is_under_18(protocol, entries)
    for site in protocol.sites:
        names = [vocabulary.reading_name(number, site.word) for number in vocabulary.ROUNDS]
        taken = [name for name in names if name in entries]
        if taken and text_of(entries, f"not_taken_{site.word}"):
            yield "entry-not-taken-with-readings", "", f"not_taken_{site.word}", {"count": len(taken)}
        if taken and site.trunk and closed:
            yield "procedure-trunk-under-18", "", taken[0], {"count": len(taken)}


def _ranges(layout: Layout, entries: Entries) -> Iterator[_Found]:
    """Entries whose rule gives a least and a largest number."""
    for name, (_, cell) in named_cells(layout).items():
        value, rule = entries.get(name), cell.rule
        if rule is None or rule.kind not in ("whole", "decimal") or not isinstance(value, int | float):
            continue
        low, high, whole = rule.minimum or 0.0, rule.maximum or 0.0, rule.kind == "whole"
        if not low <= value <= high or (whole and value != int(value)):
            values: Values = {"typed": measured(value), "low": low, "high": high}
            yield "entry-out-of-range", "whole" if whole else "", name, values


def _caliper(calipers: Mapping[str, Caliper], given: str, entries: Entries) -> Iterator[_Found]:
    chosen = text_of(entries, "caliper_id")
    if chosen and given and chosen != given.casefold():
        known = chosen if chosen in calipers else written(chosen)
        yield "procedure-other-caliper", "", "caliper_id", {"typed": known, "caliper": given}
    for caliper_name, zero_name in (("caliper_id", "zero_mm"), ("caliper_id_2", "zero_2_mm")):
        caliper, zero = calipers.get(text_of(entries, caliper_name)), number_of(entries, zero_name)
        if caliper is not None and zero is not None and hundredths(zero) != hundredths(caliper.zero):
            values: Values = {"zero": measured(zero), "registered": caliper.zero}
            yield "procedure-zero-differs", "", zero_name, values


def _second_caliper(layout: Layout, entries: Entries) -> Iterator[_Found]:
    former = "changed_from" in layout.places()
    start = ("changed_from",) if former else ("changed_from_round", "changed_from_site")
    second = ("caliper_id_2", "zero_2_mm", *start)
    absent = [name for name in second if name not in entries]
    if len(absent) < len(second):
        yield from (("procedure-change-incomplete", "", name, {}) for name in absent)


_OFF_SCALE = {
    "zero": "entry-not-above-zero", "opening": "entry-beyond-opening", "division": "entry-off-scale"
}  # fmt: skip


def _readings(issued: Issued, entries: Entries) -> Iterator[_Found]:
    protocol = issued.protocol
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
        for limit, size in reading_faults(protocol, issued.settings, entries, number, site).items():
            yield _OFF_SCALE[limit], "", name, {**shown, limit: measured(size) if limit == "zero" else size}


def with_raw_differences(
    protocol: Protocol, settings: SheetSettings, entries: Entries, results: Results
) -> Results:
    """Return results in which a missing zero takes away site values, but not what two readings tell. The zero
    of one caliper cancels in a difference [mm]; in per cent of the fold it does not."""
    if settings.tolerance_kind != "mm":
        return results
    tolerance = readings.Tolerance("mm", hundredths(settings.tolerance))
    told_apart = {**entries, "zero_mm": 1.0, "zero_2_mm": 2.0}

    def judged(site: SiteResult) -> SiteResult:
        calipers = [zero_of(protocol, told_apart, number, site.site) for number in vocabulary.ROUNDS]
        missing = zero_of(protocol, entries, 1, site.site) is None
        if site.not_taken or not missing or calipers[0] != calipers[1]:
            return site
        names = [vocabulary.reading_name(number, site.site) for number in vocabulary.ROUNDS]
        taken = [number_of(entries, name) for name in names[: calipers.count(calipers[0])]]
        raw = [None if reading is None else hundredths(reading) for reading in taken]
        first, second, third = (*raw, None)[:3]
        needed = readings.third_needed(first, second, tolerance)
        again = needed == "yes" and readings.measure_again(first, second, third, tolerance)
        return replace(site, third_needed=needed, measure_again=again)

    return replace(results, sites=tuple(map(judged, results.sites)))


def _third(entries: Entries, results: Results) -> Iterator[_Found]:
    for site in results.sites:
        name = vocabulary.reading_name(3, site.site)
        if site.third_needed == "yes" and name not in entries:
            yield "procedure-third-missing", "", name, {"apart": repeat_difference(entries, site) or 0.0}
        if site.third_needed == "no" and name in entries:
            yield "procedure-third-not-needed", "", name, {}
        # Practice readings were taken at no landmark that could be marked anew.
        if site.measure_again and entries.get("data_source") != "practice":
            yield "procedure-measure-again", "", name, {}
