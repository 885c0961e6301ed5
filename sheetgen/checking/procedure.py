"""What the entries tell about the measuring: scale, order, third readings, caliper and zero."""

from collections.abc import Iterator, Mapping

from sheetgen.checking.recalculate import LARGEST_ENTRY, is_under_18, number_of, text_of, zero_of
from sheetgen.core.number_policy import hundredths
from sheetgen.layout import vocabulary
from sheetgen.layout.address import absolute
from sheetgen.model.attempt import Entries, Results
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Layout, Rule, Value
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import Caliper, SheetSettings

__all__ = ["procedure_findings"]

Found = tuple[str, str, str, str]
"""Code, entry name, what was found, what was expected."""


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
        *_caliper(settings, issued, entries),
        *_readings(protocol, settings, entries),
        *_third(entries, results),
    ]
    findings = []
    for code, name, shown, expected in found:
        key, row, column = places[name]
        cell = absolute(row, column).replace("$", "")
        findings.append(Finding(code, "", shown, expected, "", layout.tab(key).title, cell))
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
            yield "entry-missing", name, "nothing", name
    closed = is_under_18(protocol, entries)
    for site in protocol.sites:
        if text_of(entries, f"not_taken_{site.word}") or (closed and site.trunk):
            continue
        for number in (1, 2):
            name = vocabulary.reading_name(number, site.word)
            if name not in entries:
                yield "entry-missing", name, "nothing", f"{name}, or a reason why the site was not taken"


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
        **{f"not_taken_{site.word}": vocabulary.NOT_TAKEN_WORDS for site in protocol.sites},
    }
    for name, words in lists.items():
        word = text_of(entries, name)
        if word and word not in {known.casefold() for known in words}:
            yield "entry-unknown-word", name, repr(word[:40]), "one of " + ", ".join(words[:8])
    for site in protocol.sites:
        typed = [
            number for number in vocabulary.ROUNDS if vocabulary.reading_name(number, site.word) in entries
        ]
        if typed and text_of(entries, f"not_taken_{site.word}"):
            name = f"not_taken_{site.word}"
            found = f"a reason and {len(typed)} readings"
            yield "entry-not-taken-with-readings", name, found, "one or the other"
        if typed and site.trunk and is_under_18(protocol, entries):
            name = vocabulary.reading_name(typed[0], site.word)
            yield "procedure-trunk-under-18", name, f"{len(typed)} readings at a trunk site", "none under 18"


def _ranges(layout: Layout, entries: Entries) -> Iterator[Found]:
    for name, rule in _limits(layout):
        value = entries.get(name)
        if not isinstance(value, int | float):
            continue
        low, high = rule.minimum or 0.0, rule.maximum or 0.0
        if not low <= value <= high or (rule.kind == "whole" and value != int(value)):
            kind = "a whole number" if rule.kind == "whole" else "a number"
            yield "entry-out-of-range", name, f"{value:.15g}", f"{kind} from {low:g} to {high:g}"


def _limits(layout: Layout) -> tuple[tuple[str, Rule], ...]:
    """The names of entries whose rule gives a least and a largest number, with the rule."""
    return tuple(
        (cell.name, cell.rule)
        for tab in layout.tabs
        for cell in tab.cells
        if cell.role == "entry" and cell.rule is not None and cell.rule.kind in ("whole", "decimal")
    )


def _caliper(settings: SheetSettings, issued: Mapping[str, Value], entries: Entries) -> Iterator[Found]:
    chosen, given = text_of(entries, "caliper_id"), str(issued.get("caliper_id", ""))
    if chosen and given and chosen != given.casefold():
        yield "procedure-other-caliper", "caliper_id", chosen, f"the caliper issued, {given}"
    for caliper_name, zero_name in (("caliper_id", "zero_mm"), ("caliper_id_2", "zero_2_mm")):
        caliper, zero = _by_id(settings, text_of(entries, caliper_name)), number_of(entries, zero_name)
        if caliper is not None and zero is not None and hundredths(zero) != hundredths(caliper.zero):
            yield "procedure-zero-differs", zero_name, f"{zero:g} mm", f"{caliper.zero:g} mm as registered"
    second = ("caliper_id_2", "zero_2_mm", "changed_from")
    if any(name in entries for name in second):
        for name in second:
            if name not in entries:
                expected = "caliper, zero and first reading, all three"
                yield "procedure-change-incomplete", name, "nothing", expected


def _readings(protocol: Protocol, settings: SheetSettings, entries: Entries) -> Iterator[Found]:
    order = vocabulary.change_words(protocol)
    changed = text_of(entries, "changed_from")
    change_at = order.index(changed) if changed in order else len(order)
    for at, word in enumerate(order):
        number, site = int(word[0]), word[2:]
        name = vocabulary.reading_name(number, site)
        typed, reading = entries.get(name), number_of(entries, name)
        if reading is None:
            if isinstance(typed, int | float):
                yield "entry-out-of-range", name, f"{typed:.15g}", f"a number below {LARGEST_ENTRY:,}"
            continue
        if number == 2 and vocabulary.reading_name(1, site) not in entries:
            yield "procedure-round-2-without-round-1", name, f"{reading:g} mm in round 2", "round 1 first"
        zero = zero_of(protocol, entries, number, site)
        if zero is not None and hundredths(reading) <= hundredths(zero):
            yield "entry-not-above-zero", name, f"{reading:g} mm", f"more than the zero of {zero:g} mm"
        caliper = _by_id(settings, text_of(entries, "caliper_id" if at < change_at else "caliper_id_2"))
        if caliper is None:
            continue
        step = hundredths(caliper.division)
        if hundredths(reading) > hundredths(caliper.opening):
            yield "entry-beyond-opening", name, f"{reading:g} mm", f"at most {caliper.opening:g} mm"
        elif step > 0 and hundredths(reading) % step:
            yield "entry-off-scale", name, f"{reading:g} mm", f"steps of {caliper.division:g} mm"


def _third(entries: Entries, results: Results) -> Iterator[Found]:
    for site in results.sites:
        name = vocabulary.reading_name(3, site.site)
        if site.third_needed == "yes" and name not in entries:
            expected = "a third, since rounds 1 and 2 disagree"
            yield "procedure-third-missing", name, "no third reading", expected
        if site.third_needed == "no" and name in entries:
            yield "procedure-third-not-needed", name, "a third reading", "none, since rounds 1 and 2 agree"
        if site.measure_again:
            expected = "two readings within the tolerance"
            yield "procedure-measure-again", name, "no two readings agree", expected


def _by_id(settings: SheetSettings, identifier: str) -> Caliper | None:
    return next(
        (caliper for caliper in settings.calipers if caliper.identifier.casefold() == identifier), None
    )
