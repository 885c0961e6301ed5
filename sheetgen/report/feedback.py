"""One feedback workbook a student, printable on one page."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import product
from textwrap import wrap

from msgspec import Struct, field
from msgspec.structs import replace
from xlsxwriter.workbook import Workbook

from sheetgen.finding import SEVERITIES, Finding
from sheetgen.marking.drill import drill_result
from sheetgen.marking.marking import about_title, reason_text
from sheetgen.marking.scheme import ItemMark, Marking, Reason, StepMark
from sheetgen.protocols.names import ROUNDS, own_decimals, reading_name
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import SiteResult, number_of, repeat_difference, text_of
from sheetgen.protocols.settings import SheetSettings
from sheetgen.report.measurers_page import record_lines, record_rows
from sheetgen.report.page import Heading, Value, at, sentence
from sheetgen.report.working_numbers import working_numbers
from sheetgen.report.writing import Formats, Tab, new_tab, workbook_bytes
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.measurers import MeasurerRecord
from sheetgen.texts.languages import Texts, with_decimal_sign
from sheetgen.workbook.cells import height_for, lines_needed

Row = tuple[Value, ...]

_MOST_TO_PRACTISE = 3
_MOST_FINDINGS = 8
_MOST_PLACES = 6

_UNITS = {"_mm": "mm", "_cm": "cm", "_g_ml": "g/ml", "_kg": "kg", "_percent": "%"}

_TO_REDO = ("wrong", "again", "blank", "formula")

_SEVERAL_PEOPLE = "class-"
"""Findings of this family are about more than one student and stay with the teacher."""

_WIDTHS = (28, 11, 11, 12, 60)
_FORMATS = ("wrap", "text", "text", "text", "wrap")
_LONGEST_PIECE = 900


class Feedback(Struct, frozen=True):
    """All that one page follows from.
    comment : of the teacher, or empty. adjusted : the mark the teacher decided on, or None.
    with_body_values : False leaves out every value that was measured or follows from it: the lines of own
    working show their points, not their numbers. slips : sites where one of the two rounds looks mistyped, as
    the class's own readings tell. settings : of the sheet; without them no numbers stand beside a line to
    redo. total : of the scheme, to which a score is stretched. comments : answer or line to the teacher's
    comment. record : of the measurer, over two sessions or more; else None."""

    attempt: Attempt
    marking: Marking
    protocol: Protocol
    comment: str
    adjusted: float | None
    with_body_values: bool
    slips: tuple[str, ...] = ()
    settings: SheetSettings | None = None
    total: float = 0.0
    comments: Mapping[str, str] = field(default_factory=dict)
    record: MeasurerRecord | None = None

    @property
    def steps(self) -> list[StepMark]:
        """The lines of own working."""
        return [step for item in self.marking.items for step in item.steps]

    @property
    def to_redo(self) -> list[StepMark]:
        """The lines that are not right."""
        return [step for step in self.steps if step.state in _TO_REDO]


def feedback_bytes(feedback: Feedback, texts: Texts, language: str) -> bytes:
    """Return the workbook with the feedback on one sheet, the same bytes for the same inputs. texts : those
    of `feedback.LANGUAGE` and of `marking.LANGUAGE`, by dotted key. language : of the texts, a tag such as
    `en`. Practice readings are shown like any other. Nothing here tells who was measured but a code."""

    def fill(workbook: Workbook, formats: Formats) -> None:
        tab = new_tab(workbook, formats, texts["feedback.tab"], _WIDTHS, texts["feedback.page"])
        tab.sheet.set_portrait()
        tab.sheet.fit_to_pages(1, 1)
        tab.sheet.center_horizontally()
        tab.sheet.protect("", {"select_locked_cells": True})
        last = _written(tab, feedback, texts)
        tab.sheet.print_area(0, 0, last - 1, len(_WIDTHS) - 1)

    return workbook_bytes(texts["feedback.title"], language, fill)


def _written(tab: Tab, feedback: Feedback, texts: Texts) -> int:
    """Write the page, and return the row after it."""
    tab.write(0, 0, texts["feedback.title"], "title")
    tab.sheet.set_row(0, 22)
    tab.write(1, 0, header_line(feedback.attempt, texts), "line")
    scores = score_lines(feedback.marking, feedback.adjusted, texts, feedback.total)
    for row, line in enumerate(scores, start=2):
        tab.write(row, 0, line, "label")
    row = _prose(tab, 2 + len(scores), [texts["feedback.never_marked"]])
    for word, lines, columns, rows in _sections(feedback, texts):
        tab.sheet.set_row(row, 6)
        tab.write(row + 1, 0, texts[f"feedback.{word}"], "label")
        row = _prose(tab, row + 2, lines)
        if columns:
            shapes = zip(columns, _WIDTHS, _FORMATS, strict=True)
            headings = [Heading(texts[f"feedback.{column}"], width, shape) for column, width, shape in shapes]
            first, row = row + 1, 1 + tab.write_table(row, headings, rows)
            if word == "steps" and feedback.with_body_values:
                # What is typed stays as it was typed; what is worked out has the decimals asked for.
                for place, (step, values) in enumerate(zip(feedback.steps, rows, strict=True), first):
                    for column in (2, 3):
                        shape = f"row of result_{own_decimals(step.step)}"
                        tab.write(place, column, values[column], shape)
    return row


def _sections(
    feedback: Feedback, texts: Texts
) -> Iterator[tuple[str, Sequence[str], tuple[str, ...], Sequence[Row]]]:
    """Key of the title, sentences, keys of the headings, and rows of each part of the page that has any."""
    attempt, protocol, steps = feedback.attempt, feedback.protocol, feedback.steps
    if feedback.comment.strip():
        # The longest paragraphs are cut where a word ends: a row is only so tall.
        paragraphs = feedback.comment.splitlines()
        yield "comment", [piece for one in paragraphs for piece in wrap(one, _LONGEST_PIECE)], (), ()
    yield "items", (), ("item", "points", "maximum", "waits", "why"), item_rows(feedback, texts)
    numbers = ("yours", "from_line_above", "from_readings")
    if not feedback.with_body_values:
        numbers = ("points", "maximum", "waits")
    hint, columns = texts["feedback.steps_hint" if steps else "feedback.no_steps"], ("step", *numbers, "redo")
    yield "steps", [hint], columns if steps else (), step_rows(feedback, texts)
    answers = answer_rows(feedback, texts)
    if answers:
        yield "answers", (), ("question", "points", "maximum", "waits", "teacher_says"), answers
    told = finding_lines(_told(attempt, feedback.slips), texts) + practice_lines(attempt, protocol, texts)
    redo = len(feedback.to_redo)
    key = "no_findings" if not redo else "no_findings_one_line" if redo == 1 else "no_findings_lines"
    yield "findings", told or [texts[f"feedback.{key}"].format(count=redo)], (), ()
    to_practise = practise_lines(attempt, protocol, texts, feedback.slips)
    to_practise = (*to_practise[: _MOST_TO_PRACTISE - bool(redo)], *arithmetic_lines(feedback, texts))
    drill = drill_lines(attempt, texts)
    yield "practise", [*(to_practise or [texts["feedback.nothing_to_practise"]]), *drill], (), ()
    repeated = repeat_rows(attempt, protocol, texts, feedback.slips)
    if repeated:
        of_repeat = ("site", "difference", "third_needed", "third_taken", "in_words")
        yield "repeat", [texts["feedback.repeat_hint"]], of_repeat, repeated
    if feedback.record:
        titles = {site.word: site.title for site in protocol.sites}
        of_record = ("session", "repeat_error", "thirds", "scales_right", "in_words")
        rows = tuple(record_rows(feedback.record, titles, texts))
        yield "record", record_lines(feedback.record, titles, texts), of_record, rows


def drill_lines(attempt: Attempt, texts: Texts) -> tuple[str, ...]:
    """Return the one line on the drawn scales of a sheet; none where nothing was read of them."""
    drill = drill_result(attempt)
    if drill is None:
        return ()
    said = texts["feedback.drill_lean" if drill.lean else "feedback.drill"]
    slip = texts[f"drill_slip.{drill.lean}"] if drill.lean else ""
    missed = [str(number) for number, one in enumerate(drill.scales, 1) if one.slip not in ("", "right")]
    again = " " + texts["feedback.drill_again"].format(scales=", ".join(missed)) if missed else ""
    return (said.format(within=drill.within, typed=drill.typed, slip=slip) + again,)


def _prose(tab: Tab, row: int, lines: Sequence[str]) -> int:
    """Write sentences across the page, each in one cell so that it is read as one; return the next row."""
    for line in lines:
        tab.sheet.merge_range(row, 0, row, len(_WIDTHS) - 1, "", tab.formats["wrap"])
        tab.write(row, 0, line, "wrap")
        tab.sheet.set_row(row, height_for(lines_needed(line, sum(_WIDTHS))))
        row += 1
    return row


def header_line(attempt: Attempt, texts: Texts) -> str:
    """Return which sheet this is, by codes, without a name."""
    student, sheet, participant, session = (
        getattr(attempt.record, name, texts["feedback.unknown"])
        for name in ("student_id", "copy_code", "participant_code", "session")
    )
    places = {"student": student, "sheet": sheet, "participant": participant, "session": session}
    return texts["feedback.line"].format(**places)


def score_lines(
    marking: Marking, adjusted: float | None, texts: Texts, total: float = 0.0
) -> tuple[str, ...]:
    """Return the score so far or the score, and the mark the teacher decided on where there is one; where
    the sheet has another maximum than the scheme, both as they are and as they are stretched to its total."""

    def both(line: str, points: float) -> str:
        if not total or not marking.maximum or total == marking.maximum:
            return line
        stretched = {"points": points / marking.maximum * total, "total": total}
        shown = {name: _points(value, texts) for name, value in stretched.items()}
        return f"{line.rstrip('.')}. {texts['feedback.stretched'].format(**shown)}"

    key = {"final": "score_final", "to be marked": "score_so_far", "exempt": "score_exempt"}[marking.status]
    maximum = _points(marking.maximum, texts)
    waits = _points(sum(one.points for one in marking.to_be_marked), texts)
    numbers = {"score": _points(marking.score, texts), "waits": waits, "count": len(marking.to_be_marked)}
    score = both(texts[f"feedback.{key}"].format(maximum=maximum, **numbers), marking.score)
    if adjusted is None:
        return (score,)
    decided = "adjusted" if marking.maximum else "adjusted_alone"
    mark = texts[f"feedback.{decided}"].format(mark=_points(adjusted, texts), maximum=maximum)
    return (both(mark, adjusted), score)


def item_rows(feedback: Feedback, texts: Texts) -> tuple[Row, ...]:
    """Return (item, points, out of, to be marked, why) of every item."""
    rows: list[Row] = []
    for item in feedback.marking.items:
        waits = sum(one.points for one in feedback.marking.to_be_marked if one.item == item.word)
        # Nothing is nought that nobody has marked yet.
        score = None if waits and round(waits, 2) == item.maximum else item.score
        points = (None,) * 3 if item.exempt else (score, item.maximum, round(waits, 2) or None)
        rows.append((item.title, *points, _why(item, feedback, texts)))
    return tuple(rows)


def _why(item: ItemMark, feedback: Feedback, texts: Texts) -> str:
    if any(step.state != "right" for step in item.steps):
        counts = Counter(step.state for step in item.steps)
        states = (texts[f"feedback_state.{state}"].format(count=count) for state, count in counts.items())
        return sentence(texts["feedback.see_lines"].format(states=", ".join(states)))
    # Reasons alike are one sentence, but for lapses: each of those has a count of its own.
    alike: dict[Reason, list[str]] = defaultdict(list)
    for reason in item.reasons:
        kind = reason if reason.chances else replace(reason, about="")
        alike[kind].append(about_title(reason.about, feedback.protocol, texts))
    together = [replace(reason, about=", ".join(titles)) for reason, titles in alike.items()]
    return sentence("; ".join(_reason(reason, feedback, texts).rstrip(".") for reason in together))


def step_rows(feedback: Feedback, texts: Texts) -> tuple[Row, ...]:
    """Return a row for every line of own working: (line, yours, from the line above, from the readings, what
    to redo); without body values (line, points, out of, to be marked, what to redo)."""
    rows: list[Row] = []
    before = ""
    attempt, redo, numbers = feedback.attempt, feedback.to_redo, dict[str, str]()
    if redo and feedback.with_body_values and feedback.settings and attempt.results:
        protocol, settings = feedback.protocol, feedback.settings
        numbers = working_numbers(protocol, settings, attempt.entries, attempt.results, texts)
    for step in feedback.steps:
        line = about_title(step.step, feedback.protocol, texts)
        said = _reason(step.reason, feedback, texts).removeprefix(f"{line}: ")
        words = texts["feedback.as_above"] if said == before and step.slips else said
        before = said
        if step.step in numbers and step in redo:
            words = f"{words.rstrip('.')}. {texts['feedback.numbers'].format(numbers=numbers[step.step])}"
        if feedback.with_body_values and step in redo:
            points = {"points": _points(step.score, texts), "possible": _points(step.points, texts)}
            words = f"{words.rstrip('.')}. {texts['feedback.line_points'].format(**points)}"
        three: Row = (step.yours, step.from_line_above, step.from_readings)
        if not feedback.with_body_values:
            three = (round(step.score, 2), round(step.points, 2), round(step.waits, 2) or None)
        rows.append((sentence(f"{line}, {_unit(step.step)}"), *three, sentence(words)))
    return tuple(rows)


def answer_rows(feedback: Feedback, texts: Texts) -> tuple[Row, ...]:
    """Return (question, points, out of, to be marked, the teacher's comment) of all that a person marks."""
    given = {one.about: points for one, points in feedback.marking.given}
    marks = {one.about: one for one, _ in feedback.marking.given}
    rows = []
    for about, one in sorted(({one.about: one for one in feedback.marking.to_be_marked} | marks).items()):
        title = about.removeprefix("answer_").removeprefix("own_")
        question = texts.get(f"working.question_{title}") or about_title(title, feedback.protocol, texts)
        waits = None if about in given else one.points
        comment = feedback.comments.get(about, "")
        rows.append((sentence(question), given.get(about), one.points, waits, comment))
    return tuple(rows)


def arithmetic_lines(feedback: Feedback, texts: Texts) -> tuple[str, ...]:
    """Return what to practise of the arithmetic: what redoes the commonest slip, else the lines to redo."""
    redo = feedback.to_redo
    slips = Counter(step.slips[0].word for step in redo if step.slips)
    if slips:
        ((word, _),) = slips.most_common(1)
        return (texts["feedback.practise_arithmetic"].format(redo=texts[f"slip_redo.{word}"]),)
    titles = [about_title(step.step, feedback.protocol, texts) for step in redo]
    return (texts["feedback.practise_lines"].format(lines=", ".join(titles)),) if titles else ()


def _reason(reason: Reason, feedback: Feedback, texts: Texts) -> str:
    """A reason in words; without body values no age and no equation is named."""
    if feedback.with_body_values:
        return reason_text(reason, feedback.protocol, texts)
    sites = {site.word for site in feedback.protocol.sites}
    bare = tuple(fit if fit.detail in sites else replace(fit, detail="") for fit in reason.slips)
    return reason_text(replace(reason, slips=bare), feedback.protocol, texts).replace(" ()", "")


def _unit(step: str) -> str:
    by_ending = (unit for ending, unit in _UNITS.items() if step.endswith(ending))
    return "mm" if step.startswith("site_") else next(by_ending)


def finding_lines(findings: Sequence[Finding], texts: Texts) -> tuple[str, ...]:
    """Return what was noticed, each kind once with its places; never what was found there. Kinds with an
    empty text, and those about more than one student, are left out."""
    places: dict[str, list[str]] = defaultdict(list)
    untold: Counter[str] = Counter()
    for finding in _in_order(findings):
        said = texts.get(f"feedback_finding.{finding.code}", texts["feedback_finding.other"])
        if said and not finding.code.startswith(_SEVERAL_PEOPLE):
            entry = texts.get(f"entry.{finding.name}")
            where = [f"{finding.tab} {cell}".strip() for cell in finding.cells or ("",)]
            places[said] += [f"{entry}, {finding.tab}"] if entry else where
            untold[said] += finding.count - len(finding.cells) if finding.cells else 0
    lines = [_with_places(said, found, untold[said], texts) for said, found in places.items()]
    if len(lines) > _MOST_FINDINGS:
        return (*lines[:_MOST_FINDINGS], texts["feedback.more_findings"])
    return tuple(lines)


def _with_places(said: str, places: Sequence[str], untold: int, texts: Texts) -> str:
    shown = [place for place in dict.fromkeys(places) if place]
    more = max(0, len(shown) - _MOST_PLACES) + untold
    if more:
        shown[_MOST_PLACES:] = [texts["feedback.more_places"].format(count=more)]
    return f"{said} ({', '.join(shown)})" if shown else said


def _in_order(findings: Sequence[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda one: (SEVERITIES.index(one.severity), one.code))


def practise_lines(
    attempt: Attempt, protocol: Protocol, texts: Texts, slips: Sequence[str] = ()
) -> tuple[str, ...]:
    """Return at most three points to practise: slips, warnings, then the site that repeats least. Practice
    readings were taken at no body, so only typing is spoken of."""
    warnings_first = sorted(_in_order(_told(attempt, slips)), key=lambda one: one.severity != "warning")
    said = [texts.get(f"practise.{finding.code}", "") for finding in warnings_first]
    if attempt.is_practice:
        kept = ("entry-missing", "procedure-third-missing", "procedure-third-not-needed")
        typing = any(one.code.startswith("entry-") and one.code not in kept for one in warnings_first)
        said = [texts[f"practise.{one.code}"] for one in warnings_first if one.code in kept]
        said += [texts["feedback.practise_typing_list"]] * typing
    elif slips:
        title = about_title(slips[0], protocol, texts)
        said.insert(0, texts["feedback.practise_typing"].format(site=title))
    points = [point for point in dict.fromkeys(said) if point]
    sites = at(attempt, "results.sites") or ()
    apart = [site for site in sites if site.third_needed == "yes" and site.site not in slips]
    if apart and not attempt.is_practice:
        widest = max(apart, key=lambda site: repeat_difference(attempt.entries, site) or 0.0)
        title = about_title(widest.site, protocol, texts)
        points.append(texts["feedback.practise_site"].format(site=title))
    return tuple(points[:_MOST_TO_PRACTISE])


def _told(attempt: Attempt, slips: Sequence[str]) -> Sequence[Finding]:
    """The findings that are told: neither a slip nor a practice reading is a landmark to be marked anew."""
    again = [site.site for site in at(attempt, "results.sites") or () if site.measure_again]
    landmarks = not attempt.is_practice and (not slips or any(site not in slips for site in again))
    return [one for one in attempt.findings if landmarks or one.code != "procedure-measure-again"]


def practice_lines(attempt: Attempt, protocol: Protocol, texts: Texts) -> tuple[str, ...]:
    """Return what was mistyped of a practice list, the one on record for this build of the sheet. Only where
    most readings are those of the list: else somebody changed their mind, which is nobody's business."""
    if attempt.record is None or text_of(attempt.entries, "data_source") != "practice":
        return ()
    both = []
    for number, site in product(ROUNDS, protocol.sites):
        name = reading_name(number, site.word)
        reading, wanted = attempt.entries.get(name), attempt.record.identity.get(f"practice_{name}")
        if isinstance(reading, float | int) and isinstance(wanted, float | int):
            both.append((site.word, abs(reading - wanted) < 0.005))
    other = [about_title(word, protocol, texts) for word, alike in both if not alike]
    if not other or 2 * len(other) >= len(both):
        return ()
    return (texts["feedback.practice_typing"].format(places=", ".join(dict.fromkeys(other))),)


def repeat_rows(
    attempt: Attempt, protocol: Protocol, texts: Texts, slips: Collection[str] = ()
) -> tuple[Row, ...]:
    """Return (site, repeat difference [mm], third needed, third taken, in words) in circuit order. The
    difference is `repeat_difference`. Practice readings were taken at no landmark."""
    yes_no = {True: texts["feedback.yes"], False: texts["feedback.no"]}
    rows: list[Row] = []
    for site in at(attempt, "results.sites") or ():
        third = number_of(attempt.entries, reading_name(3, site.site))
        word = "slip" if site.site in slips else _repeat_word(attempt, site, third)
        words = sentence(texts[f"feedback.{word}"])
        found: Row = (None, "", "")
        if site.third_needed:
            needed, taken = yes_no[site.third_needed == "yes"], yes_no[third is not None]
            found = (repeat_difference(attempt.entries, site), needed, taken)
        rows.append((about_title(site.site, protocol, texts), *found, words))
    return tuple(rows)


def _repeat_word(attempt: Attempt, site: SiteResult, third: float | None) -> str:
    if not site.third_needed:
        return "left_out" if site.not_taken else "no_pair"
    if site.measure_again:
        return "none_agree" if attempt.is_practice else "again"
    if site.third_needed == "no":
        return "agree"
    return "third_missing" if third is None else "third_settled"


def _points(value: float, texts: Texts) -> str:
    return with_decimal_sign(f"{round(value, 2):.15g}", texts)
