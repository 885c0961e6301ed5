"""Marking one sheet by a scheme: method and arithmetic, never a value of a body; reasons in words."""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.finding import Finding
from sheetgen.marking.carry_forward import Ground, Step, steps_of, widened, within
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
from sheetgen.marking.slips import FAMILIES, explained
from sheetgen.protocols.names import SIDE_WORDS, change_words, reading_name, start_entries
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import Entries, Results, number_of, text_of
from sheetgen.protocols.settings import SheetSettings

_NOBODY_CAN_TELL = ("unreadable", "not-assessable")


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything of a sheet that is looked at.

    entries : as they were meant. results : what follows from them.
    findings : about this sheet; their codes count, not their texts.
    """

    protocol: Protocol
    settings: SheetSettings
    entries: Entries
    results: Results
    findings: Sequence[Finding]

    @property
    def open_sites(self) -> tuple[str, ...]:
        """The sites that were to be measured."""
        return tuple(site.site for site in self.results.sites if not site.not_taken)

    @property
    def readings(self) -> int:
        """How many readings there are in rounds 1 to 3."""
        names = (reading_name(int(word[0]), word[2:]) for word in change_words(self.protocol))
        return sum(number_of(self.entries, name) is not None for name in names)

    @property
    def thirds(self) -> int:
        """At how many sites it is known whether a third reading is needed."""
        return sum(bool(site.third_needed) for site in self.results.sites)


Check = Callable[[Seen], tuple[int, int]]
"""Lapses, and how many there could have been. No check looks at how large a value of a body is."""


def _typed(*names: str) -> Check:
    """Numbers that are asked for are there."""

    def check(seen: Seen) -> tuple[int, int]:
        asked = [name for name in names if name in start_entries(seen.protocol)]
        return sum(number_of(seen.entries, name) is None for name in asked), len(asked)

    return check


def _chosen(name: str, words: Callable[[Seen], Sequence[str]]) -> Check:
    """A word is there, and one of the list."""

    def check(seen: Seen) -> tuple[int, int]:
        if name not in start_entries(seen.protocol):
            return 0, 0
        known = {word.casefold() for word in words(seen)}
        return int(text_of(seen.entries, name) not in known), 1

    return check


def _found(chances: Callable[[Seen], int], *codes: str) -> Check:
    """Findings of some codes; none where there was nothing they could have been found in."""

    def check(seen: Seen) -> tuple[int, int]:
        possible = chances(seen)
        return min(sum(finding.code in codes for finding in seen.findings), possible), possible

    return check


def _once(_seen: Seen) -> int:
    return 1


def _readings_complete(seen: Seen) -> tuple[int, int]:
    names = [reading_name(number, site) for number in (1, 2) for site in seen.open_sites]
    return sum(number_of(seen.entries, name) is None for name in names), len(names)


CHECKS: Mapping[str, Check] = {
    "cautions-confirmed": _chosen("cautions_confirmed", lambda seen: ("yes",)),
    "side-recorded": _chosen("side", lambda seen: SIDE_WORDS),
    "caliper-chosen": _chosen(
        "caliper_id", lambda seen: [caliper.identifier for caliper in seen.settings.calipers]
    ),
    "caliper-issued": _found(_once, "procedure-other-caliper"),
    "zero-read": _typed("zero_mm"),
    "zero-as-registered": _found(_once, "procedure-zero-differs"),
    "lengths-typed": _typed("length_upper_arm_cm", "length_thigh_cm"),
    "readings-complete": _readings_complete,
    "readings-on-scale": _found(
        lambda seen: seen.readings, "entry-off-scale", "entry-beyond-opening", "entry-not-above-zero"
    ),
    "rounds-in-order": _found(lambda seen: seen.readings, "procedure-round-2-without-round-1"),
    "reason-or-readings": _found(lambda seen: len(seen.protocol.sites), "entry-not-taken-with-readings"),
    "change-complete": _found(_once, "procedure-change-incomplete"),
    "third-where-needed": _found(lambda seen: seen.thirds, "procedure-third-missing"),
    "third-only-there": _found(lambda seen: seen.thirds, "procedure-third-not-needed"),
}
"""What a procedure item can look at."""


def marked(
    scheme: MarkingScheme,
    seen: Seen,
    formula_names: Collection[str] = (),
    criterion: Mapping[str, float] | None = None,
) -> Marking:
    """Return the marks of one sheet.

    Parameters
    ----------
    formula_names : own entries that hold a formula which points at a live result, and no number worked out
        by hand. One that gives no value any more waits for a person.
    criterion : site values of the teacher for the same participant [mm], where there are any.

    Notes
    -----
    A mistake costs once: what follows is judged from the student's own line, and slips of one family in a
    later item cost nothing more. A line left empty costs its own marks alone. Practice data is marked the
    same, but not for precision.
    """
    items = [item for item in scheme.items if not item.off]
    lines = _lines(scheme, items, seen, formula_names)
    marks: list[ItemMark] = []
    waiting: list[ToBeMarked] = []
    for item in items:
        if item.kind == "procedure":
            marks.append(_procedure(item, seen))
        elif item.kind == "precision":
            marks.append(_precision(item, seen, criterion or {}))
        elif item.kind == "answers":
            marks.append(_answers(item, seen.entries))
            points = round(item.points / len(item.answers), 2)
            given = [f"answer_{why.about}" for why in marks[-1].reasons if why.code == "to-be-marked"]
            waiting += [ToBeMarked(item.word, name, points, str(seen.entries[name])) for name in given]
        else:
            marks.append(_steps(scheme, item, lines[item.word]))
            waiting += [
                ToBeMarked(item.word, f"own_{line.step}", round(line.waits, 2), _typed_text(seen, line.step))
                for line in lines[item.word]
                if line.waits
            ]
    return Marking(
        scheme.identifier,
        tuple(marks),
        round(sum(mark.score for mark in marks), 2),
        round(sum(mark.maximum for mark in marks if not mark.exempt), 2),
        tuple(waiting),
    )


def _typed_text(seen: Seen, step: str) -> str:
    value = seen.entries.get(f"own_{step}")
    return f"{value:.15g}" if isinstance(value, float | int) else value or ""


def _lines(
    scheme: MarkingScheme, items: Sequence[SchemeItem], seen: Seen, formula_names: Collection[str]
) -> dict[str, list[StepMark]]:
    """The lines of the own working by item, marked in the order of working."""
    protocol, chosen = seen.protocol, seen.settings.conversion
    conversions = {conversion.identifier: conversion for conversion in protocol.conversions}
    ground, steps = steps_of(protocol, conversions.get(chosen), seen.entries, seen.results)
    asked = [step for step in steps if step.basis != "exempt"]
    of_group = {group: item for item in items for group in item.steps}
    points = {item.word: _points(item, asked) for item in items}
    lines: dict[str, list[StepMark]] = {item.word: [] for item in items}
    tolerances, shares = dict(scheme.tolerances), dict(scheme.slip_shares)
    charged: dict[str, set[str]] = defaultdict(set)
    for step in asked:
        item = of_group.get(step.group)
        if item is None:
            continue
        extra = tolerances.get(step.group, 0.0)
        by_formula = f"own_{step.step}" in formula_names
        state, slips, code = _judged(item, ground, step, extra, by_formula)
        share = 1.0 if state == "right" else 0.0
        if state == "wrong":
            families = {FAMILIES[fit.word] for fit in slips} - {""}
            costly = {word for family in families for word in charged[family]}
            if any(word != item.word or item.same_slip == "once" for word in costly):
                state, code, share = "again", "again", 1.0
            else:
                share = max((shares.get(fit.word, 0.0) for fit in slips), default=0.0)
                for family in families:
                    charged[family].add(item.word)
        possible = points[item.word][step.group]
        waits = state in _NOBODY_CAN_TELL and scheme.not_assessable == "ask"
        lines[item.word].append(
            StepMark(
                step=step.step,
                state=state,
                yours=step.yours,
                from_line_above=step.from_line_above,
                from_readings=step.from_readings,
                tolerance=_tolerance(item, step, extra),
                slips=slips,
                score=possible * share,
                points=possible,
                waits=possible if waits else 0.0,
                reason=Reason(code, step.step, slips),
            )
        )
    return lines


def _points(item: SchemeItem, asked: Sequence[Step]) -> dict[str, float]:
    """The points of one line, by group: groups that nobody is asked for leave theirs to the others."""
    weights = dict(zip(item.steps, item.weights or (1.0,) * len(item.steps), strict=True))
    counts = {group: sum(step.group == group for step in asked) for group in weights}
    whole = sum(weight for group, weight in weights.items() if counts[group])
    return {group: item.points * weights[group] / whole / count for group, count in counts.items() if count}


def _judged(
    item: SchemeItem, ground: Ground, step: Step, extra: float, by_formula: bool
) -> tuple[str, tuple[SlipFit, ...], str]:
    """State, slips that explain it, and the code of the reason."""
    if by_formula:
        return ("formula", (), "formula") if step.yours is not None else ("unreadable", (), "formula-broken")
    if step.basis == "kept-back":
        # The participant's choice is no fault of the measurer, whether the line was filled in or not.
        return "not-assessable", (), "no-ground"
    if step.yours is None:
        return ("unreadable", (), "unreadable") if step.unreadable else ("blank", (), "blank")
    if step.basis == "no-ground":
        return "not-assessable", (), "no-ground"
    right = step.expected if item.carry_forward else (step.correct,)
    allowed = step.half_unit + extra
    if any(within(step.yours, widened(interval, allowed)) for interval in right):
        return "right", (), "right"
    slips, cannot_tell = explained(ground, step, extra)
    if item.carry_forward and step.from_line_above is None:
        return "not-assessable", slips, "not-assessable"
    if not slips:
        return "wrong", (), "cannot-tell" if cannot_tell else "not-recognised"
    return "wrong", slips, "slip" if len(slips) == 1 else "slip-either"


def _tolerance(item: SchemeItem, step: Step, extra: float) -> float:
    """Half a unit of the last decimal, and what allowed rounding of the lines above leads to."""
    low, high = next(iter(step.expected), (0.0, 0.0)) if item.carry_forward else step.correct
    return step.half_unit + extra + (high - low) / 2


def _mark(item: SchemeItem, score: float, reasons: Sequence[Reason]) -> ItemMark:
    all_of_them = tuple(reasons) or (Reason("all-right"),)
    return ItemMark(item.word, item.title, round(score, 2), item.points, False, all_of_them)


def _exempt(item: SchemeItem, code: str) -> ItemMark:
    return ItemMark(item.word, item.title, 0.0, 0.0, True, (Reason(code),))


def _steps(scheme: MarkingScheme, item: SchemeItem, lines: Sequence[StepMark]) -> ItemMark:
    unknown = sum(line.points for line in lines if line.state in _NOBODY_CAN_TELL)
    maximum = round(item.points - (unknown if scheme.not_assessable == "leave-out" else 0.0), 2)
    exempt = not lines or maximum <= 0
    reasons = [line.reason for line in lines if line.reason.code != "right"]
    reasons = reasons or [Reason("all-right" if lines else "exempt")]
    score, possible = round(sum(line.score for line in lines), 2), 0.0 if exempt else maximum
    return ItemMark(item.word, item.title, score, possible, exempt, tuple(reasons), tuple(lines))


def _procedure(item: SchemeItem, seen: Seen) -> ItemMark:
    counted = [(check, *CHECKS[check](seen)) for check in item.checks]
    if not any(possible for _, _, possible in counted):
        # Nothing measured because nothing was to be measured costs nothing; nothing recorded gives nothing.
        return _mark(item, 0.0, [Reason("nothing-seen")]) if seen.open_sites else _exempt(item, "exempt")
    reasons = [Reason("lapses", check, (), lapses, possible) for check, lapses, possible in counted if lapses]
    return _mark(item, item.points * _share(item, sum(lapses for _, lapses, _ in counted)), reasons)


def _precision(item: SchemeItem, seen: Seen, criterion: Mapping[str, float]) -> ItemMark:
    """How near the site values are to the teacher's own; the limit of a site grows with the fold."""
    both = [
        (site.site, site.value_mm, criterion[site.site])
        for site in seen.results.sites
        if site.value_mm is not None and site.site in criterion
    ]
    if not both or text_of(seen.entries, "data_source") == "practice":
        return _exempt(item, "no-criterion")
    limits, shares = dict(item.site_limits_mm), {}
    for site, value, teachers in both:
        limit = max(limits.get(site, item.limit_mm), teachers * item.limit_percent / 100)
        shares[site] = _share(item, abs(value - teachers) / limit)
    score = item.points * sum(shares.values()) / len(shares)
    return _mark(item, score, [Reason("apart", site) for site, share in shares.items() if share < 1])


def _share(item: SchemeItem, amount: float) -> float:
    return next((share for limit, share in item.bands if amount <= limit + 1e-9), 0.0)


def _answers(item: SchemeItem, entries: Entries) -> ItemMark:
    def reason(word: str) -> Reason:
        text = entries.get(f"answer_{word}")
        return Reason("no-answer" if text is None or not str(text).strip() else "to-be-marked", word)

    return _mark(item, 0.0, [reason(word) for word in item.answers])


Texts = Mapping[str, str]


def reason_text(reason: Reason, protocol: Protocol, texts: Texts) -> str:
    """Return a reason as a sentence; texts : those of `marking.LANGUAGE`, by dotted key."""
    return texts[f"mark_reason.{reason.code}"].format(
        about=about_title(reason.about, protocol, texts),
        slip="; ".join(slip_title(fit, protocol, texts) for fit in reason.slips),
        redo=redo_text(reason.slips, texts),
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


def slip_title(fit: SlipFit, protocol: Protocol, texts: Texts) -> str:
    """Return what happened."""
    titles = {site.word: site.title for site in protocol.sites}
    titles |= {conversion.identifier: conversion.title for conversion in protocol.conversions}
    return texts[f"slip.{fit.word}"].format(detail=titles.get(fit.detail, fit.detail))


def redo_text(fits: tuple[SlipFit, ...], texts: Texts) -> str:
    """Return what to redo, each sentence once."""
    return " ".join(dict.fromkeys(texts[f"slip_redo.{fit.word}"] for fit in fits))
