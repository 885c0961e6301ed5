"""The tabs Today, For the class and Codes and names: what waits for the teacher, what the class may see."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from sheetgen.marking.drill import ScaleRead, drill_result
from sheetgen.report.page import (
    Chart,
    Column,
    Link,
    Page,
    Section,
    SessionResults,
    Texts,
    counted,
    named,
    sentence,
    site_column,
    table,
)
from sheetgen.report.talk import Talk
from sheetgen.report.teaching_page import habits, slip_called
from sheetgen.returned.attempt import UNTOUCHED, Attempt, has_work
from sheetgen.returned.came_back import Unusable, awaited
from sheetgen.statistics.analysis import ClassAnalysis, digit_words, reason_words
from sheetgen.statistics.readings_frame import SMALL_CELL, sheet_count
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.findings import in_short
from sheetgen.texts.languages import shown_number

_WIDTHS = (22, 12, 50)
_MOST = {"missing": 24, "teach": 3, "talk": 8}
"""Rows on the tab Today, so that it stays one page."""
_OF_ALL = ("class-site-stands-out", "class-digit-preference")
"""Findings about the class that are taught again, to everybody."""


def missing_sheets(results: SessionResults, texts: Texts) -> tuple[tuple[str, str, str], ...]:
    """Return (name, student_id, what came back) of the sheets without a file that counts.

    Notes
    -----
    Only people on the roster: a spare sheet is nobody's, and who has left the class is not asked; nor is a
    sheet of a pair that was changed since waited for where there is one of the pair as it is now.
    """
    names = _names(results)
    of_session = (record for record in results.handed_out if record.session == results.session)
    missing = awaited(of_session, results.book, results.attempts, results.unusable)
    return tuple(
        (
            names[one.record.student_id],
            one.record.student_id,
            "; ".join(_came(file, texts) for file in one.came) or texts["report_today.nothing_came"],
        )
        for one in sorted(missing, key=lambda one: (one.record.student_id, one.record.file_name))
        if one.record.student_id in names
    )


def _names(results: SessionResults) -> dict[str, str]:
    return {
        one.student_id: f"{one.given_name} {one.family_name}".strip() or one.student_id
        for one in results.book.people
    }


def _came(file: Unusable, texts: Texts) -> str:
    """What came in place of a sheet, and why it cannot be used."""
    if file.finding.code == UNTOUCHED:
        return texts["report_today.untouched"].format(file=file.file)
    key = "report_today.by_name" if file.by_name else "report_today.unusable"
    return texts[key].format(why=in_short(file.finding, texts), file=file.file)


def came_back(results: SessionResults, texts: Texts) -> tuple[str, ...]:
    """Return in sentences how many files came back and what became of them."""
    records = [record for record in results.handed_out if record.session == results.session]
    on_roster = {person.student_id for person in results.book.people}
    spare = sum(record.student_id not in on_roster for record in records)
    numbers = Counter(attempt.status for attempt in results.attempts)
    parts = [
        part
        for status in ("accepted", "review", "refused", "superseded")
        for part in counted(f"report_today.{status}", numbers[status], texts)
    ]
    files = texts["report_today.files"].format(files=numbers.total(), sheets=len(records) - spare)
    return (
        f"{files} {sentence('; '.join(parts))}." if parts else files,
        *counted("report_today.spare", spare, texts),
        *counted("report_today.strays", results.strays, texts),
    )


def _columns(first: str, second: str, third: str) -> tuple[Column, ...]:
    columns = zip((first, second, third), _WIDTHS, "012", strict=True)
    return tuple(Column(f"report_{key}" if key else "", width, place) for key, width, place in columns)


def today_page(results: SessionResults, talks: Sequence[Talk], not_made: Sequence[str], texts: Texts) -> Page:
    """Return the tab Today: what to do first, on one page.

    not_made : what could not be given, and what it would need.
    """
    missing, names = missing_sheets(results, texts), _names(results)
    people = [
        (" + ".join(names.get(one, one) for one in talk.people), ", ".join(talk.people), talk.line(texts))
        for talk in talks
    ]
    teach = [(str(count), "", f"{what}. {say}") for what, count, say in to_teach(results, texts)]
    parts = (
        ("missing", _columns("heading.student", "heading.student_id", "today.came_back"), missing),
        (
            "waiting",
            _columns("today.what", "today.which", "today.where"),
            _waiting(results, bool(missing), texts),
        ),
        ("teach", _columns("heading.people", "", "today.what_and_say"), teach),
        ("talk", _columns("heading.student", "heading.student_id", "today.ask"), people),
    )
    sections = []
    for word, columns, rows in parts:
        most = _MOST.get(word, len(rows))
        more = (
            () if word == "teach" else counted(f"report_today.more_{word}", max(0, len(rows) - most), texts)
        )
        said = more if rows else (texts[f"report_today.no_{word}"],)
        shown = table(columns if rows else (), rows[:most], texts)
        sections.append(Section(texts[f"report_today.{word}"], said, *shown))
    if not_made:
        sections.append(Section(texts["report_today.not_made"], tuple(not_made)))
    name = named("report_today", texts, session=results.session, title=results.book.title)
    return Page(*name, (" ".join(came_back(results, texts)),), (), (), more=tuple(sections), single=True)


def _waiting(results: SessionResults, missing: bool, texts: Texts) -> list[tuple[str, str, Link]]:
    """What waits for the teacher, which sheets, and where to click."""
    answers = sum(len(marking.to_be_marked) for marking in results.markings.values())
    files = [one for one in results.attempts if one.status == "review"]
    refused = sum(one.status == "refused" for one in results.attempts)
    whose = ", ".join(one.record.student_id if one.record else one.file for one in files)
    review = f"external:../../review/session-{results.session}.xlsx#'{{tab}}'!A1"
    rows = (
        ("answers", answers, "", review.format(tab=texts["review_tab.answers"])),
        ("decisions", len(files), whose, review.format(tab=texts["review_tab.files"])),
        ("refused_files", refused, "", f"internal:'{texts['report_sheets.tab']}'!A1"),
        ("messages", int(missing), "", "external:missing.txt"),
    )
    return [
        (
            texts[f"report_today.{word}"].format(count=count),
            which,
            Link(texts[f"report_today.{word}_at"], target),
        )
        for word, count, which, target in rows
        if count
    ]


def to_teach(results: SessionResults, texts: Texts) -> list[tuple[str, int, str]]:
    """Return (what, how many people, what to say) of all that is worth teaching again, by people."""
    everybody = sheet_count(results.analysis.rounds)
    people = Counter(slip for _, slip in {(one.student_id, one.slip) for one in results.slips})
    found = [(one.found, everybody, one.remedy) for one in results.class_findings if one.code in _OF_ALL]
    found += [
        (called, count, slip_called("slip_redo", word, texts))
        for word, count in sorted(people.items())
        if f"slip.{word}" in texts and (called := slip_called("slip", word, texts))
    ]
    return sorted((*found, *habits(results.attempts, texts)), key=lambda one: (-one[1], one[0]))


def could_not(analysis: ClassAnalysis, texts: Texts) -> tuple[str, ...]:
    """Return the one line on what could not be given, and why; none where nothing is left out."""
    between = {reason_words(one.error, texts) for one in analysis.between if isinstance(one.error, Undefined)}
    whole = {"worst": analysis.worst, "teacher": analysis.criterion, "calipers": analysis.calipers.offsets}
    reasons = {word: reason_words(one, texts) for word, one in whole.items() if isinstance(one, Undefined)}
    if between and not any(one.people for one in analysis.between):
        reasons["between"] = between.pop()
    parts = [f"{texts[f'report_today.not_{word}']} ({reason})" for word, reason in reasons.items()]
    return (f"{sentence('; '.join(parts))}.",) if parts else ()


def names_page(results: SessionResults, texts: Texts) -> Page:
    """Return the tab Codes and names, for the teacher alone: whose the codes of other tabs are."""
    sheets: dict[str, list[str]] = {}
    for record in results.handed_out:
        if record.session == results.session:
            sheets.setdefault(record.student_id, []).append(record.copy_code)
    columns = (
        Column("report_heading.student", 34, lambda one: names[one.student_id], "label"),
        Column("report_heading.student_id", 14, "student_id"),
        Column("report_names.code", 18, "participant_code"),
        Column("report_heading.sheets", 34, lambda one: ", ".join(sheets.get(one.student_id, ()))),
    )
    names = _names(results)
    title = named("report_names", texts, session=results.session)
    shown = table(columns, results.book.people, texts)
    return Page(*title, (texts["report_names.hint"],), *shown, printed=False)


def count_words(count: int, of: int, texts: Texts) -> str:
    """Return a count that gives nobody away, neither those counted nor the rest.

    Examples
    --------
    >>> count_words(12, 30, {})
    '12'
    >>> count_words(3, 30, {"report_summary.fewer_than": "fewer than {least}"})
    'fewer than 5'
    >>> count_words(28, 30, {"report_summary.nearly_all": "nearly all"})
    'nearly all'
    """
    if count < SMALL_CELL:
        return texts["report_summary.fewer_than"].format(least=SMALL_CELL)
    return str(count) if of - count >= SMALL_CELL else texts["report_summary.nearly_all"]


def class_summary_page(
    analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts, attempts: Sequence[Attempt] = ()
) -> Page:
    """Return the tab For the class.

    Parameters
    ----------
    attempts : of the session; the scales of the drill are read by students and teachers alike.

    Notes
    -----
    Students only, without sheets that wait for the teacher. No number of those missing, so that nobody is
    worked out by taking away.
    """
    tab, title = named("report_summary", texts, session=analysis.session)
    rounds, drill = analysis.rounds, drill_sections(attempts, texts)
    of_students = rounds[~rounds["is_teacher"] & ~rounds["in_question"]]
    if of_students["student_id"].nunique() < SMALL_CELL:
        words = texts["report_summary.too_few"].format(least=SMALL_CELL)
        return Page(tab, title, (words,), (), (), more=drill, wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}

    columns = (
        site_column(titles, 34),
        Column("report_summary.error", 38, lambda one: relative.get(one.site), "result_1"),
        Column(
            "report_summary.third_needed_sheets", 38, lambda one: count_words(one.needed, one.sheets, texts)
        ),
    )
    return Page(
        tab,
        title,
        (
            texts["report_summary.sheets"].format(count=sheet_count(of_students)),
            _worst(analysis, titles, texts),
            *_digits(analysis, texts),
        ),
        *table(columns, analysis.thirds, texts),
        charts=(Chart(texts["report_summary.chart"], 0, 1),) if relative else (),
        more=drill,
        wall=True,
    )


def drill_sections(attempts: Sequence[Attempt], texts: Texts) -> tuple[Section, ...]:
    """Return the table of the drawn scales: of each division, with and without a zero to take off, how many
    readings there are, how many are more than half a mark off or between two marks, and what most of those
    are; only of what at least five people read."""
    read: dict[tuple[float, bool], list[tuple[str, ScaleRead]]] = defaultdict(list)
    for attempt in attempts:
        drill = drill_result(attempt) if has_work(attempt) else None
        for scale in drill.scales if drill and attempt.record else ():
            if scale.slip and attempt.record:
                read[scale.division, scale.zero != 0].append((attempt.record.student_id, scale))
    lines = [
        (kind, [scale for _, scale in readings])
        for kind, readings in sorted(read.items())
        if len({student for student, _ in readings}) >= SMALL_CELL
    ]

    def called(line: tuple[tuple[float, bool], list[ScaleRead]]) -> str:
        (division, zeroed), _ = line
        words = texts["report_drill.zeroed" if zeroed else "report_drill.steps"]
        return words.format(division=shown_number(division, texts))

    columns = (
        Column("report_drill.scale", 34, called),
        Column("report_drill.read", 16, lambda line: len(line[1]), "text"),
        Column("report_drill.missed", 16, lambda line: sum(one.slip != "right" for one in line[1]), "text"),
        Column("report_drill.mostly", 44, lambda line: _mostly(line[1], texts)),
    )
    return (Section(texts["report_drill.title"], (), *table(columns, lines, texts)),) if lines else ()


def _mostly(readings: Sequence[ScaleRead], texts: Texts) -> str:
    """The commonest slip, and which way it leans where it leans at all."""
    slips = Counter(scale.slip for scale in readings if scale.slip != "right")
    if not slips:
        return ""
    ((word, _),) = slips.most_common(1)
    off = [scale.off or 0.0 for scale in readings if scale.slip == word]
    way = sum(one > 0 for one in off) - sum(one < 0 for one in off)
    said = sentence(texts[f"drill_slip.{word}"])
    return texts["report_drill.high" if way > 0 else "report_drill.low"].format(slip=said) if way else said


def _worst(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> str:
    worst = analysis.worst
    if isinstance(worst, Undefined):
        return texts["report_summary.no_worst"]
    key = "report_summary.worst_beyond_chance" if worst.stands_out else "report_summary.worst_by_chance"
    return texts[key].format(site=titles.get(worst.site, worst.site))


def _digits(analysis: ClassAnalysis, texts: Texts) -> list[str]:
    said = [
        texts["report_summary.digits"].format(
            division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
        )
        for scale in analysis.digits
        if scale.piles_up and scale.sheets >= SMALL_CELL
    ]
    return said or [texts["report_summary.no_digit"]]
