"""Marking one sheet by a scheme: method and arithmetic, never a value of a body."""

from collections.abc import Collection, Mapping, Sequence

from sheetgen.checking.carry_forward import Ground, Step, steps_of, widened, within
from sheetgen.checking.marking_procedure import CHECKS, Seen
from sheetgen.checking.recalculate import text_of
from sheetgen.checking.slips import explained, slip
from sheetgen.model.attempt import Entries, Results
from sheetgen.model.finding import Finding
from sheetgen.model.marking import (
    ItemMark,
    Marking,
    MarkingScheme,
    Reason,
    SchemeItem,
    SlipFit,
    StepMark,
    ToBeMarked,
)
from sheetgen.model.protocol import Conversion, Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["marked"]

_NOBODY_CAN_TELL = ("unreadable", "not-assessable")


def marked(
    scheme: MarkingScheme,
    protocol: Protocol,
    settings: SheetSettings,
    entries: Entries,
    results: Results,
    findings: Sequence[Finding],
    formula_names: Collection[str] = (),
    criterion: Mapping[str, float] | None = None,
) -> Marking:
    """Return the marks of one sheet.

    Parameters
    ----------
    entries : as they were meant. results : what follows from them.
    findings : about this sheet; their codes count, not their texts.
    formula_names : own entries that hold a formula which points at a live result, and no number worked out
        by hand. One that gives no value any more waits for a person.
    criterion : site values of the teacher for the same participant [mm], where there are any.

    Notes
    -----
    A mistake costs once: what follows is judged from the student's own line, and slips of one family in a
    later item cost nothing more. A line left empty costs its own marks alone. Practice data is marked the
    same, but not for precision.
    """
    seen = Seen(protocol, settings, entries, results, findings)
    conversion = next((one for one in protocol.conversions if one.identifier == settings.conversion), None)
    items = [item for item in scheme.items if not item.off]
    by_step = _step_marks(scheme, items, protocol, conversion, entries, results, frozenset(formula_names))
    marks: list[ItemMark] = []
    waiting: list[ToBeMarked] = []
    for item in items:
        if item.kind == "procedure":
            marks.append(_procedure(item, seen))
        elif item.kind == "precision":
            marks.append(_precision(item, seen, criterion or {}))
        elif item.kind == "answers":
            mark, to_mark = _answers(item, entries)
            marks.append(mark)
            waiting += to_mark
        else:
            lines = by_step[item.word]
            marks.append(_steps(item, lines, _exempt_points(scheme, lines)))
            waiting += [
                ToBeMarked(item.word, f"own_{line.step}", round(line.waits, 2), _typed(entries, line.step))
                for line in lines
                if line.waits
            ]
    return Marking(
        scheme.identifier,
        tuple(marks),
        round(sum(mark.score for mark in marks), 2),
        round(sum(mark.maximum for mark in marks if not mark.exempt), 2),
        tuple(waiting),
    )


def _step_marks(
    scheme: MarkingScheme,
    items: Sequence[SchemeItem],
    protocol: Protocol,
    conversion: Conversion | None,
    entries: Entries,
    results: Results,
    formula_names: frozenset[str],
) -> dict[str, list[StepMark]]:
    """The lines of the own working by item, marked in the order of working."""
    ground, steps = steps_of(protocol, conversion, entries, results)
    asked = [step for step in steps if step.basis != "exempt"]
    of_group = {group: item for item in items for group in item.steps}
    points = {item.word: _points(item, asked) for item in items}
    by_item: dict[str, list[StepMark]] = {item.word: [] for item in items}
    charged: dict[str, set[str]] = {}
    for step in asked:
        item = of_group.get(step.group)
        if item is None:
            continue
        mark = _step_mark(scheme, item, ground, step, points[item.word][step.group], formula_names, charged)
        by_item[item.word].append(mark)
        if mark.state == "wrong":
            for family in _families(step, mark.slips):
                charged.setdefault(family, set()).add(item.word)
    return by_item


def _points(item: SchemeItem, asked: Sequence[Step]) -> dict[str, float]:
    """The points of one line, by group: groups that nobody is asked for leave theirs to the others."""
    weights = dict(zip(item.steps, item.weights or (1.0,) * len(item.steps), strict=True))
    counts = {group: sum(step.group == group for step in asked) for group in weights}
    whole = sum(weight for group, weight in weights.items() if counts[group])
    return {
        group: item.points * weight / whole / counts[group]
        for group, weight in weights.items()
        if counts[group]
    }


def _step_mark(
    scheme: MarkingScheme,
    item: SchemeItem,
    ground: Ground,
    step: Step,
    points: float,
    formula_names: frozenset[str],
    charged: Mapping[str, set[str]],
) -> StepMark:
    extra = dict(scheme.tolerances).get(step.group, 0.0)
    by_formula = f"own_{step.step}" in formula_names
    state, slips, code = _judged(item, ground, step, extra, by_formula)
    share = 1.0 if state == "right" else 0.0
    if state == "wrong":
        families = _families(step, slips)
        if any(_has_cost(item, charged.get(family, set())) for family in families):
            state, code, share = "again", "again", 1.0
        else:
            shares = dict(scheme.slip_shares)
            share = max((shares.get(fit.word, 0.0) for fit in slips), default=0.0)
    waits = points if state in _NOBODY_CAN_TELL and scheme.not_assessable == "ask" else 0.0
    return StepMark(
        step=step.step,
        state=state,
        yours=step.yours,
        from_line_above=step.from_line_above,
        from_readings=step.from_readings,
        tolerance=_tolerance(item, step, extra),
        slips=slips,
        score=points * share,
        points=points,
        waits=waits,
        reason=Reason(code, step.step, slips),
    )


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
    right = step.expected if item.carry_forward else (step.correct,) if step.correct is not None else ()
    allowed = step.half_unit + extra
    if any(within(step.yours, widened(one, allowed)) for one in right):
        return "right", (), "right"
    slips, cannot_tell = explained(ground, step, extra)
    if item.carry_forward and step.above_blank:
        return "not-assessable", slips, "not-assessable"
    if not slips:
        return "wrong", (), "cannot-tell" if cannot_tell else "not-recognised"
    return "wrong", slips, "slip" if len(slips) == 1 else "slip-either"


def _families(step: Step, slips: Sequence[SlipFit]) -> set[str]:
    return {family for fit in slips if (family := slip(fit.word, step.group).family)}


def _has_cost(item: SchemeItem, words: Collection[str]) -> bool:
    return any(word != item.word or item.same_slip == "once" for word in words)


def _tolerance(item: SchemeItem, step: Step, extra: float) -> float:
    """Half a unit of the last decimal, and what allowed rounding of the lines above leads to."""
    spread = step.correct
    if item.carry_forward:
        spread = next(iter(step.expected), None)
    return step.half_unit + extra + (0.0 if spread is None else (spread[1] - spread[0]) / 2)


def _exempt_points(scheme: MarkingScheme, lines: Sequence[StepMark]) -> float:
    if scheme.not_assessable != "leave-out":
        return 0.0
    return sum(line.points for line in lines if line.state in _NOBODY_CAN_TELL)


def _steps(item: SchemeItem, lines: Sequence[StepMark], left_out: float) -> ItemMark:
    maximum = round(item.points - left_out, 2)
    exempt = not lines or maximum <= 0
    reasons = [line.reason for line in lines if line.reason.code != "right"]
    if not lines:
        reasons = [Reason("exempt")]
    elif not reasons:
        reasons = [Reason("all-right")]
    score = round(sum(line.score for line in lines), 2)
    return ItemMark(
        item.word, item.title, score, 0.0 if exempt else maximum, exempt, tuple(reasons), tuple(lines)
    )


def _procedure(item: SchemeItem, seen: Seen) -> ItemMark:
    counted = [(check, *CHECKS[check](seen)) for check in item.checks]
    chances = sum(possible for _, _, possible in counted)
    if not chances:
        # Nothing measured because nothing was to be measured costs nothing; nothing recorded gives nothing.
        exempt = not seen.open_sites
        reason = Reason("exempt" if exempt else "nothing-seen")
        return ItemMark(item.word, item.title, 0.0, 0.0 if exempt else item.points, exempt, (reason,))
    reasons = [Reason("lapses", check, (), lapses, possible) for check, lapses, possible in counted if lapses]
    share = _share(item, sum(lapses for _, lapses, _ in counted))
    return ItemMark(
        item.word,
        item.title,
        round(item.points * share, 2),
        item.points,
        False,
        tuple(reasons) or (Reason("all-right"),),
    )


def _precision(item: SchemeItem, seen: Seen, criterion: Mapping[str, float]) -> ItemMark:
    """How near the site values are to the teacher's own; the limit of a site grows with the fold."""
    exempt = ItemMark(item.word, item.title, 0.0, 0.0, True, (Reason("no-criterion"),))
    if text_of(seen.entries, "data_source") == "practice":
        return exempt
    both = [
        (site.site, site.value_mm, criterion[site.site])
        for site in seen.results.sites
        if site.value_mm is not None and site.site in criterion
    ]
    if not both:
        return exempt
    shares, reasons = [], []
    for site, value, teachers in both:
        limit = dict(item.site_limits_mm).get(site, item.limit_mm)
        limit = max(limit, teachers * item.limit_percent / 100)
        share = _share(item, abs(value - teachers) / limit)
        shares.append(share)
        if share < 1:
            reasons.append(Reason("apart", site))
    score = round(item.points * sum(shares) / len(shares), 2)
    return ItemMark(
        item.word, item.title, score, item.points, False, tuple(reasons) or (Reason("all-right"),)
    )


def _share(item: SchemeItem, amount: float) -> float:
    return next((share for limit, share in item.bands if amount <= limit + 1e-9), 0.0)


def _answers(item: SchemeItem, entries: Entries) -> tuple[ItemMark, list[ToBeMarked]]:
    points = round(item.points / len(item.answers), 2)
    waiting, reasons = [], []
    for word in item.answers:
        text = entries.get(f"answer_{word}")
        if text is None or not str(text).strip():
            reasons.append(Reason("no-answer", word))
        else:
            reasons.append(Reason("to-be-marked", word))
            waiting.append(ToBeMarked(item.word, f"answer_{word}", points, str(text)))
    return ItemMark(item.word, item.title, 0.0, item.points, False, tuple(reasons)), waiting


def _typed(entries: Entries, step: str) -> str:
    value = entries.get(f"own_{step}")
    return "" if value is None else f"{value:.15g}" if not isinstance(value, str) else value
