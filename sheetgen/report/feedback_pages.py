"""What a student's feedback says, as plain rows and sentences. Knows no workbook library."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetgen.finding import SEVERITIES, Finding
from sheetgen.marking.marking import about_title, reason_text
from sheetgen.marking.scheme import ItemMark, Marking, Reason, StepMark
from sheetgen.measurement.numbers import hundredths
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import SiteResult
from sheetgen.report.page import Value, sentence
from sheetgen.returned.attempt import Attempt
from sheetgen.texts.languages import with_decimal_sign

Texts = Mapping[str, str]
Row = tuple[Value, ...]

_MOST_TO_PRACTISE = 3
_MOST_FINDINGS = 8
_MOST_PLACES = 6

_UNITS = {"_mm": "mm", "_cm": "cm", "_g_ml": "g/ml", "_kg": "kg", "_percent": "%"}

_SEVERAL_PEOPLE = "class-"
"""Findings of this family are about more than one student and stay with the teacher."""


def header_line(attempt: Attempt, texts: Texts) -> str:
    """Return which sheet this is, by codes, without a name."""
    record = attempt.record
    unknown = texts["feedback.unknown"]
    return texts["feedback.line"].format(
        student=record.student_id if record else unknown,
        sheet=record.copy_code if record else unknown,
        participant=record.participant_code if record else unknown,
        session=record.session if record else unknown,
    )


def score_lines(marking: Marking, adjusted: float | None, texts: Texts) -> tuple[str, ...]:
    """Return the score so far or the score, and the mark the teacher decided on where there is one."""
    key = {"final": "score_final", "to be marked": "score_so_far", "exempt": "score_exempt"}[marking.status]
    maximum = _points(marking.maximum, texts)
    score = texts[f"feedback.{key}"].format(
        score=_points(marking.score, texts),
        maximum=maximum,
        waits=_points(sum(one.points for one in marking.to_be_marked), texts),
        count=len(marking.to_be_marked),
    )
    if adjusted is None:
        return (score,)
    decided = "adjusted" if marking.maximum else "adjusted_alone"
    mark = texts[f"feedback.{decided}"].format(mark=_points(adjusted, texts), maximum=maximum)
    return (mark, score)


def item_rows(
    marking: Marking, protocol: Protocol, texts: Texts, *, with_body_values: bool
) -> tuple[Row, ...]:
    """Return (item, points, out of, to be marked, why) of every item."""
    rows: list[Row] = []
    for item in marking.items:
        waits = sum(one.points for one in marking.to_be_marked if one.item == item.word)
        why = _why(item, protocol, texts, with_body_values)
        if item.exempt:
            rows.append((item.title, None, None, None, why))
        else:
            rows.append((item.title, item.score, item.maximum, round(waits, 2) or None, why))
    return tuple(rows)


def _why(item: ItemMark, protocol: Protocol, texts: Texts, with_body_values: bool) -> str:
    if item.steps and any(step.state != "right" for step in item.steps):
        counts: dict[str, int] = {}
        for step in item.steps:
            counts[step.state] = counts.get(step.state, 0) + 1
        states = (texts[f"feedback_state.{state}"].format(count=count) for state, count in counts.items())
        return sentence(texts["feedback.see_lines"].format(states=", ".join(states)))
    # Reasons alike are one sentence, but for lapses: each of those has a count of its own.
    alike: dict[Reason, list[str]] = {}
    for reason in item.reasons:
        kind = reason if reason.chances else replace(reason, about="")
        alike.setdefault(kind, []).append(about_title(reason.about, protocol, texts))
    sentences = [
        _reason(replace(reason, about=", ".join(titles)), protocol, texts, with_body_values).rstrip(".")
        for reason, titles in alike.items()
    ]
    return sentence("; ".join(sentences))


def step_rows(
    steps: Sequence[StepMark], protocol: Protocol, texts: Texts, *, with_body_values: bool
) -> tuple[Row, ...]:
    """Return a row for every line of own working.

    Returns
    -------
    (line, yours, from the line above, from the readings, what to redo); without body values
    (line, points, out of, to be marked, what to redo).
    """
    rows: list[Row] = []
    before = ""
    for step in steps:
        line = about_title(step.step, protocol, texts)
        said = _reason(step.reason, protocol, texts, with_body_values).removeprefix(f"{line}: ")
        words = texts["feedback.as_above"] if said == before and step.state == "wrong" else said
        before = said
        title = sentence(f"{line}, {_unit(step.step)}")
        three: Row = (step.yours, step.from_line_above, step.from_readings)
        if not with_body_values:
            three = (round(step.score, 2), round(step.points, 2), round(step.waits, 2) or None)
        rows.append((title, *three, sentence(words)))
    return tuple(rows)


def _reason(reason: Reason, protocol: Protocol, texts: Texts, with_body_values: bool) -> str:
    """A reason in words; without body values no age and no equation is named."""
    if with_body_values:
        return reason_text(reason, protocol, texts)
    sites = {site.word for site in protocol.sites}
    bare = tuple(fit if fit.detail in sites else replace(fit, detail="") for fit in reason.slips)
    return reason_text(replace(reason, slips=bare), protocol, texts).replace(" ()", "")


def _unit(step: str) -> str:
    if step.startswith("site_"):
        return "mm"
    return next(unit for ending, unit in _UNITS.items() if step.endswith(ending))


def finding_lines(findings: Sequence[Finding], texts: Texts) -> tuple[str, ...]:
    """Return what was noticed, each kind once with its places; never what was found there.

    Kinds with an empty text, and those about more than one student, are left out.
    """
    places: dict[str, list[str]] = {}
    for finding in _in_order(findings):
        said = texts.get(f"feedback_finding.{finding.code}", texts["feedback_finding.other"])
        if said and not finding.code.startswith(_SEVERAL_PEOPLE):
            place = f"{finding.tab} {finding.cell}".strip()
            places.setdefault(said, []).append(place)
    lines = [_with_places(said, found, texts) for said, found in places.items()]
    if len(lines) > _MOST_FINDINGS:
        return (*lines[:_MOST_FINDINGS], texts["feedback.more_findings"])
    return tuple(lines)


def _with_places(said: str, places: Sequence[str], texts: Texts) -> str:
    known = [place for place in dict.fromkeys(places) if place]
    if not known:
        return said
    shown = ", ".join(known[:_MOST_PLACES])
    more = len(known) - _MOST_PLACES
    if more > 0:
        shown = f"{shown}, {texts['feedback.more_places'].format(count=more)}"
    return f"{said} ({shown})"


def _in_order(findings: Sequence[Finding]) -> list[Finding]:
    ranks = {severity: rank for rank, severity in enumerate(SEVERITIES)}
    return sorted(findings, key=lambda one: (ranks.get(one.severity, len(ranks)), one.code))


def practise_lines(attempt: Attempt, protocol: Protocol, texts: Texts) -> tuple[str, ...]:
    """Return at most three points to practise: warnings first, then the site that repeats least."""
    warnings_first = sorted(_in_order(attempt.findings), key=lambda one: one.severity != "warning")
    said = [texts.get(f"practise.{finding.code}", "") for finding in warnings_first]
    points = [point for point in dict.fromkeys(said) if point]
    site = _widest(attempt)
    if site is not None:
        points.append(texts["feedback.practise_site"].format(site=_title(site, protocol)))
    return tuple(points[:_MOST_TO_PRACTISE])


def _widest(attempt: Attempt) -> SiteResult | None:
    """The site with the largest repeat difference among those that needed a third reading."""
    sites = () if attempt.results is None else attempt.results.sites
    apart = [(gap, site) for site in sites if site.third_needed == "yes" and (gap := _gap(site)) is not None]
    return max(apart, key=lambda one: one[0])[1] if apart else None


def repeat_rows(attempt: Attempt, protocol: Protocol, texts: Texts) -> tuple[Row, ...]:
    """Return (site, repeat difference [mm], third needed, third taken, in words) in circuit order.

    The difference is |round 1 - round 2| of the corrected readings, worked out on whole hundredths.
    """
    yes_no = {True: texts["feedback.yes"], False: texts["feedback.no"]}
    rows: list[Row] = []
    for site in () if attempt.results is None else attempt.results.sites:
        title, gap = _title(site, protocol), _gap(site)
        if site.not_taken:
            rows.append((title, None, "", "", sentence(texts["feedback.left_out"])))
            continue
        needed = yes_no[site.third_needed == "yes"] if site.third_needed else ""
        taken = "" if gap is None else yes_no[site.corrected[2] is not None]
        words = sentence(texts[f"feedback.{_repeat_word(site, gap)}"])
        rows.append((title, gap, needed, taken, words))
    return tuple(rows)


def _repeat_word(site: SiteResult, gap: float | None) -> str:
    if gap is None:
        return "no_pair"
    if site.measure_again:
        return "again"
    if site.third_needed != "yes":
        return "agree"
    return "third_missing" if site.corrected[2] is None else "third_settled"


def _gap(site: SiteResult) -> float | None:
    first, second, _ = site.corrected
    if site.not_taken or first is None or second is None:
        return None
    return abs(hundredths(first) - hundredths(second)) / 100


def _title(site: SiteResult, protocol: Protocol) -> str:
    return next((one.title for one in protocol.sites if one.word == site.site), site.site)


def _points(value: float, texts: Texts) -> str:
    return with_decimal_sign(f"{round(value, 2):.15g}", texts)
