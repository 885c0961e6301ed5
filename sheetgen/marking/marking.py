"""Marking one sheet by a scheme: method and arithmetic, never a value of a body; reasons in words."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.finding import Finding
from sheetgen.marking.carry_forward import Ground, Step, steps_of, typed_number, widened, within
from sheetgen.marking.drill import DrillResult
from sheetgen.marking.scheme import (
    ItemMark,
    Marking,
    MarkingScheme,
    Reason,
    SchemeItem,
    SlipFit,
    StepMark,
    ToBeMarked,
)
from sheetgen.marking.slips import FAMILIES, explained, not_contradicted
from sheetgen.protocols.names import DRILL, ROUNDS, SIDE_WORDS, entry_names, reading_name
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, Results, lacks_zero, number_of, text_of
from sheetgen.protocols.settings import SheetSettings
from sheetgen.texts.languages import Texts

_DRILL_READ = "drill-read"
"""The check that looks at a tab which not every sheet has."""
_NOBODY_CAN_TELL = ("unreadable", "not-assessable")


class Seen(Struct, frozen=True):
    """Everything of a sheet that is looked at.
    entries : as they were meant. results : what follows from them. findings : about this sheet; their codes
    count, not their texts. drill : what was read of its drawn scales; None where nothing was."""

    protocol: Protocol
    settings: SheetSettings
    entries: Entries
    results: Results
    findings: Sequence[Finding]
    drill: DrillResult | None = None

    @property
    def open_sites(self) -> tuple[str, ...]:
        """The sites that were to be measured."""
        return tuple(site.site for site in self.results.sites if not site.not_taken)

    @property
    def readings(self) -> int:
        """How many readings there are in rounds 1 to 3."""
        names = (reading_name(number, site.word) for number in ROUNDS for site in self.protocol.sites)
        return sum(number_of(self.entries, name) is not None for name in names)

    @property
    def thirds(self) -> int:
        """At how many sites it is known whether a third reading is needed."""
        return sum(bool(site.third_needed) for site in self.results.sites)

    @property
    def thirds_unknown(self) -> bool:
        """Whether a missing zero keeps it dark whether both readings of a site disagree."""
        return any(
            lacks_zero(self.protocol, self.entries, site.site)
            for site in self.results.sites
            if not (site.third_needed or site.not_taken)
        )


Count = tuple[int, int]  # Lapses, and how many there could have been.


def _missing(seen: Seen, *names: str) -> Count:
    """Numbers that are asked for and not there."""
    of_sheet = entry_names(seen.protocol)
    asked = [name for name in names if name in of_sheet]
    return sum(number_of(seen.entries, name) is None for name in asked), len(asked)


def _no_word_of(seen: Seen, name: str, words: Sequence[str]) -> Count:
    """A word that is asked for and not there, or none of the list."""
    if name not in entry_names(seen.protocol):
        return 0, 0
    return int(text_of(seen.entries, name) not in {word.casefold() for word in words}), 1


def _found(seen: Seen, chances: int, *codes: str) -> Count:
    """Findings of some codes; none where there was nothing they could have been found in."""
    return min(sum(finding.count for finding in seen.findings if finding.code in codes), chances), chances


CHECKS: Mapping[str, Callable[[Seen], Count]] = {
    "cautions-confirmed": lambda seen: _no_word_of(seen, "cautions_confirmed", ("yes",)),
    "side-recorded": lambda seen: _no_word_of(seen, "side", SIDE_WORDS),
    "caliper-chosen": lambda seen: _no_word_of(
        seen, "caliper_id", [caliper.identifier for caliper in seen.settings.calipers]
    ),
    "caliper-issued": lambda seen: _found(seen, 1, "procedure-other-caliper"),
    "zero-read": lambda seen: _missing(seen, "zero_mm"),
    "zero-as-registered": lambda seen: _found(seen, 1, "procedure-zero-differs"),
    "lengths-typed": lambda seen: _missing(seen, "length_upper_arm_cm", "length_thigh_cm"),
    "readings-complete": lambda seen: _missing(
        seen, *(reading_name(number, site) for number in (1, 2) for site in seen.open_sites)
    ),
    "readings-on-scale": lambda seen: _found(
        seen, seen.readings, "entry-off-scale", "entry-beyond-opening", "entry-not-above-zero"
    ),
    "rounds-in-order": lambda seen: _found(seen, seen.readings, "procedure-round-2-without-round-1"),
    "reason-or-readings": lambda seen: _found(
        seen, min(seen.readings, len(seen.protocol.sites)), "entry-not-taken-with-readings"
    ),
    "change-complete": lambda seen: _found(seen, min(seen.readings, 1), "procedure-change-incomplete"),
    "third-where-needed": lambda seen: _found(seen, seen.thirds, "procedure-third-missing"),
    "third-only-there": lambda seen: _found(seen, seen.thirds, "procedure-third-not-needed"),
    _DRILL_READ: lambda seen: (
        (len(DRILL) - (seen.drill.within if seen.drill else 0), len(DRILL))
        if seen.settings.reading_drill
        else (0, 0)
    ),
}
"""What a procedure item can look at. No check looks at how large a value of a body is."""


def marked(
    scheme: MarkingScheme,
    seen: Seen,
    formula_names: Collection[str] = (),
    criterion: Mapping[str, float] | None = None,
) -> Marking:
    """Return the marks of one sheet.
    formula_names : own lines whose formula takes a result of the sheet. One that gives no value any more
        waits for a person.
    criterion : site values of the teacher for the same participant [mm], where there are any.

    A mistake costs once: what follows is judged from the student's own line, and slips of one family in a
    later item cost nothing more. A line left empty costs its own marks alone. Practice data is marked the
    same, but not for precision."""
    items = [item for item in scheme.items if not item.off]
    lines = _lines(scheme, items, seen, formula_names)
    by_kind: Mapping[str, Callable[[SchemeItem], ItemMark]] = {
        "procedure": lambda item: _procedure(scheme, item, seen),
        "steps": lambda item: _steps(scheme, item, lines[item.word]),
        "answers": lambda item: _answers(item, seen.entries),
        "precision": lambda item: _precision(item, seen, criterion or {}),
    }
    marks = tuple(by_kind[item.kind](item) for item in items)
    score = round(sum(mark.score for mark in marks), 2)
    maximum = round(sum(mark.maximum for mark in marks if not mark.exempt), 2)
    waiting = (_waiting(scheme, item, mark, seen.entries) for item, mark in zip(items, marks, strict=True))
    to_be_marked = chain.from_iterable(map(_to_hundredths, waiting))
    return Marking(scheme.identifier, marks, score, maximum, tuple(to_be_marked))


def _waiting(
    scheme: MarkingScheme, item: SchemeItem, mark: ItemMark, entries: Entries
) -> Iterator[ToBeMarked]:
    """What a person has to mark: answers that stand there, and lines of which nobody can tell."""
    for reason in mark.reasons:
        if reason.code == "to-be-marked":
            name = f"answer_{reason.about}"
            points = mark.maximum / len(mark.reasons)
            model = item.models.get(reason.about, "")
            yield ToBeMarked(mark.word, name, points, str(entries[name]), model=model)
        if reason.code == "thirds-unknown" and scheme.not_assessable == "ask":
            yield ToBeMarked(mark.word, reason.about, mark.maximum, "")
    open_lines = (line for line in mark.steps if line.waits)
    for code, lines in groupby(open_lines, key=lambda line: line.reason.code):
        waiting = [(line, f"own_{line.step}") for line in lines]
        if code == "no-zero":
            # One question, however many sites there are.
            text = "; ".join(_as_typed(entries.get(name)) for _, name in waiting)
            yield ToBeMarked(mark.word, "zero_mm", sum(line.waits for line, _ in waiting), text)
            continue
        for line, name in waiting:
            text = _as_typed(entries.get(name))
            yield ToBeMarked(mark.word, name, line.waits, text, expected=line.from_readings)


def _to_hundredths(waiting: Iterable[ToBeMarked]) -> Iterator[ToBeMarked]:
    """With points in hundredths that never add up to more than they did."""
    whole = 0.0
    for one in waiting:
        before, whole = whole, whole + one.points
        yield replace(one, points=round(round(whole, 2) - round(before, 2), 2))


def _as_typed(value: str | float | None) -> str:
    return f"{value:.15g}" if isinstance(value, float | int) else value or ""


def _lines(
    scheme: MarkingScheme, items: Sequence[SchemeItem], seen: Seen, formula_names: Collection[str]
) -> dict[str, list[StepMark]]:
    """The lines of the own working by item, marked in the order of working."""
    ground, steps = steps_of(seen.protocol, seen.settings, seen.entries, seen.results)
    of_group = {group: item for item in items for group in item.steps}
    asked = [step for step in steps if step.basis != "exempt" and step.group in of_group]
    points = {item.word: _points(item, asked) for item in items}
    lines: dict[str, list[StepMark]] = {item.word: [] for item in items}
    charged: set[tuple[str, str]] = set()
    for step, (state, code, slips) in _all_judged(scheme, of_group, ground, asked, formula_names):
        item, extra = of_group[step.group], scheme.tolerances.get(step.group, 0.0)
        share = 1.0 if state == "right" else 0.0
        if state == "wrong":
            families = {FAMILIES[fit.word] for fit in slips} - {""}
            before = {word for family, word in charged if family in families}
            if before - {item.word} or (before and item.same_slip == "once"):
                state, code, share = "again", "again", 1.0
            else:
                share = max((scheme.slip_shares.get(fit.word, 0.0) for fit in slips), default=0.0)
                charged |= {(family, item.word) for family in families}
        possible = points[item.word][step.group]
        waits = possible if state in _NOBODY_CAN_TELL and scheme.not_assessable == "ask" else 0.0
        # Half a unit of the last decimal, and what allowed rounding of the lines above leads to.
        low, high = next(iter(step.expected), (0.0, 0.0)) if item.carry_forward else step.correct
        lines[item.word].append(
            StepMark(
                step.step, state, typed_number(seen.entries, f"own_{step.step}"),
                step.from_line_above, step.from_readings, step.half_unit + extra + (high - low) / 2,
                slips, possible * share, possible, waits, Reason(code, step.step, slips),
            )
        )  # fmt: skip
    return lines


_Judgement = tuple[str, str, tuple[SlipFit, ...]]
"""State, the code of the reason, and the slips that explain it."""


def _all_judged(
    scheme: MarkingScheme,
    of_group: Mapping[str, SchemeItem],
    ground: Ground,
    asked: Sequence[Step],
    formula_names: Collection[str],
) -> list[tuple[Step, _Judgement]]:
    """Every line with its judgement, of the slips only those that the other lines do not contradict."""
    judged = []
    for group, lines in groupby(asked, key=lambda step: step.group):
        steps, extra = list(lines), scheme.tolerances.get(group, 0.0)
        each = {
            step.step: _judged(of_group[group], ground, step, extra, f"own_{step.step}" in formula_names)
            for step in steps
        }
        fits = {name: slips for name, (_, _, slips) in each.items() if slips}
        for name, slips in not_contradicted(ground, steps, fits, extra).items():
            state, code, _ = each[name]
            if state == "wrong":
                code = ("slip" if len(slips) == 1 else "slip-either") if slips else "not-recognised"
            each[name] = state, code, slips
        judged += [(step, each[step.step]) for step in steps]
    return judged


def _points(item: SchemeItem, asked: Sequence[Step]) -> dict[str, float]:
    """The points of one line, by group: groups that nobody is asked for leave theirs to the others."""
    weights = dict(zip(item.steps, item.weights or (1.0,) * len(item.steps), strict=True))
    counts = {group: sum(step.group == group for step in asked) for group in weights}
    whole = sum(weight for group, weight in weights.items() if counts[group])
    return {group: item.points * weights[group] / whole / count for group, count in counts.items() if count}


def _judged(item: SchemeItem, ground: Ground, step: Step, extra: float, by_formula: bool) -> _Judgement:
    """A line by itself."""
    if by_formula:
        return ("formula", "formula", ()) if step.yours is not None else ("unreadable", "formula-broken", ())
    by_readings_alone = step.from_readings is None and not item.carry_forward
    no_ground = step.basis in ("no-ground", "no-zero") or by_readings_alone
    if step.basis == "kept-back" or (no_ground and step.yours is not None):
        # The participant's choice is no fault of the measurer, whether the line was filled in or not.
        return "not-assessable", "no-zero" if step.basis == "no-zero" else "no-ground", ()
    if step.yours is None:
        return ("unreadable", "unreadable", ()) if step.unreadable else ("blank", "blank", ())
    right, allowed = step.expected if item.carry_forward else (step.correct,), step.half_unit + extra
    if any(within(step.yours, widened(interval, allowed)) for interval in right):
        return "right", "percent-sign" if step.as_fraction else "right", ()
    slips, cannot_tell = explained(ground, step, extra)
    if item.carry_forward and step.from_line_above is None:
        return "not-assessable", "not-assessable", slips
    if not slips:
        return "wrong", "cannot-tell" if cannot_tell else "not-recognised", ()
    return "wrong", "slip" if len(slips) == 1 else "slip-either", slips


def _mark(
    item: SchemeItem,
    maximum: float,
    score: float = 0.0,
    reasons: Sequence[Reason] = (),
    steps: Sequence[StepMark] = (),
) -> ItemMark:
    """The marks of an item; without a maximum it is exempt."""
    why = tuple(reasons) or (Reason("all-right"),)
    return ItemMark(item.word, item.title, round(score, 2), maximum, not maximum, why, tuple(steps))


def _steps(scheme: MarkingScheme, item: SchemeItem, lines: Sequence[StepMark]) -> ItemMark:
    if not lines:
        return _mark(item, 0.0, reasons=[Reason("exempt")])
    unknown = sum(line.points for line in lines if line.state in _NOBODY_CAN_TELL)
    maximum = round(item.points - (unknown if scheme.not_assessable == "leave-out" else 0.0), 2)
    # What a missing zero takes away is said once.
    said = (
        replace(line.reason, about="zero_mm") if line.reason.code == "no-zero" else line.reason
        for line in lines
        if line.reason.code != "right"
    )
    reasons = list(dict.fromkeys(said))
    return _mark(item, max(maximum, 0.0), sum(line.score for line in lines), reasons, lines)


def _procedure(scheme: MarkingScheme, item: SchemeItem, seen: Seen) -> ItemMark:
    counted = [(check, *CHECKS[check](seen)) for check in item.checks]
    if not any(possible for _, _, possible in counted):
        if seen.thirds_unknown and any(check.startswith("third-") for check in item.checks):
            maximum = 0.0 if scheme.not_assessable == "leave-out" else item.points
            return _mark(item, maximum, reasons=[Reason("thirds-unknown", item.checks[0])])
        # Nothing measured because nothing was to be measured costs nothing; nothing recorded gives nothing.
        due = seen.open_sites and item.checks != (_DRILL_READ,)
        maximum, code = (item.points, "nothing-seen") if due else (0.0, "exempt")
        return _mark(item, maximum, reasons=[Reason(code)])
    reasons = [Reason("lapses", check, (), lapses, possible) for check, lapses, possible in counted if lapses]
    share = _share(item, sum(lapses for _, lapses, _ in counted))
    return _mark(item, item.points, item.points * share, reasons)


def _precision(item: SchemeItem, seen: Seen, criterion: Mapping[str, float]) -> ItemMark:
    """How near the site values are to the teacher's own; the limit of a site grows with the fold."""
    both = [
        (site.site, site.value_mm, criterion[site.site])
        for site in seen.results.sites
        if site.value_mm is not None and site.site in criterion
    ]
    if not both or text_of(seen.entries, "data_source") == "practice":
        return _mark(item, 0.0, reasons=[Reason("no-criterion")])
    shares = {}
    for site, value, teachers in both:
        limit = max(item.site_limits_mm.get(site, item.limit_mm), teachers * item.limit_percent / 100)
        shares[site] = _share(item, abs(value - teachers) / limit)
    score = item.points * sum(shares.values()) / len(shares)
    return _mark(
        item, item.points, score, [Reason("apart", site) for site, share in shares.items() if share < 1]
    )


def _share(item: SchemeItem, amount: float) -> float:
    return next((share for limit, share in item.bands if amount <= limit + 1e-9), 0.0)


def _answers(item: SchemeItem, entries: Entries) -> ItemMark:
    given = {word: text_of(entries, f"answer_{word}").strip() for word in item.answers}
    reasons = [Reason("to-be-marked" if text else "no-answer", word) for word, text in given.items()]
    return _mark(item, item.points, reasons=reasons)


def reason_text(reason: Reason, protocol: Protocol, texts: Texts) -> str:
    """Return a reason as a sentence; texts : those of `marking.LANGUAGE`, by dotted key."""
    titles = {site.word: site.title for site in protocol.sites}
    titles |= {conversion.identifier: conversion.title for conversion in protocol.conversions}
    slips = (
        texts[f"slip.{fit.word}"].format(detail=titles.get(fit.detail, fit.detail)) for fit in reason.slips
    )
    redo = dict.fromkeys(texts[f"slip_redo.{fit.word}"] for fit in reason.slips)
    return texts[f"mark_reason.{reason.code}"].format(
        about=about_title(reason.about, protocol, texts),
        slip="; ".join(slips),
        redo=" ".join(redo),
        count=reason.count,
        chances=reason.chances,
    )


def about_title(about: str, protocol: Protocol, texts: Texts) -> str:
    """Return what a line, a check, a question or a site is called."""
    titles = {site.word: site.title for site in protocol.sites}
    site = about.removeprefix("site_")
    if about.startswith("site_") and site in titles:
        return texts["mark_about.site"].format(site=titles[site])
    return titles.get(about) or texts.get(f"mark_about.{about}", about)
