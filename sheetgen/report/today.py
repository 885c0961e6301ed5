"""The tabs Today, For the class and Codes and names: what waits for the teacher, whom to talk to, what the
class may see. Nothing that was measured stands in what is said of one person."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from sheetgen.finding import SEVERITIES, Finding
from sheetgen.marking.drill import ScaleRead, drill_result
from sheetgen.marking.marking import about_title
from sheetgen.report.page import (
    Chart,
    Column,
    Link,
    Page,
    Section,
    SessionResults,
    counted,
    named,
    sentence,
    site_column,
    table,
)
from sheetgen.report.teaching_page import habits, slip_called
from sheetgen.returned.attempt import STATUSES, UNTOUCHED, Attempt, has_work
from sheetgen.returned.came_back import Unusable, awaited
from sheetgen.statistics.analysis import (
    ClassAnalysis,
    digit_words,
    identical_words,
    reason_words,
    thinner_words,
)
from sheetgen.statistics.precision import third_readings
from sheetgen.statistics.readings_frame import SMALL_CELL, sheet_count
from sheetgen.statistics.repeatability import Undefined
from sheetgen.texts.findings import in_short
from sheetgen.texts.languages import Texts, shown_number, with_decimal_sign

_WIDTHS = (22, 12, 50)
_MOST = {"missing": 24, "teach": 3, "talk": 8}
"""Rows on the tab Today, so that it stays one page."""
_OF_ALL = ("class-site-stands-out", "class-digit-preference")
"""Findings about the class that are taught again, to everybody."""
NOTHING_TO_ASK = "procedure-less-measured"
"""A warning that is nobody's fault and needs no answer."""


class Talk(Struct, frozen=True):
    """What to ask one person, or two whose sheets hold the same numbers. people : student_ids. place : site
    or entry, empty: the whole sheet. words : begin small. more : further things to ask that person."""

    people: tuple[str, ...]
    place: str
    words: str
    more: int = 0

    def line(self, texts: Texts, who: str = "") -> str:
        """Return the whole line; who : what stands for the people, else nothing does."""
        more = f" {texts['report_talk.more'].format(count=self.more)}" if self.more else ""
        said = self.words if self.words.endswith("?") else f"{self.words}."
        return sentence(f"{', '.join(filter(None, (who, self.place)))}: {said}{more}".removeprefix(": "))


def in_the_middle(text: str) -> str:
    """Return a text as it stands in the middle of a sentence.

    >>> in_the_middle("Thigh")
    'thigh'
    """
    return text[:1].lower() + text[1:]


def place_of(attempt: Attempt, finding: Finding, texts: Texts) -> str:
    """Return the site or the entry that a finding is about, else its tab; empty: it is the whole file."""
    name, protocol = finding.name, attempt.built_with.protocol if attempt.built_with else None
    site = name.split("_", 2)[-1] if name.startswith(("reading_", "not_taken_")) else ""
    if site and protocol:
        return in_the_middle(about_title(site, protocol, texts))
    tab = texts["report_talk.on_tab"].format(tab=finding.tab) if finding.tab else ""
    if f"entry.{name}" in texts:
        return f"{in_the_middle(texts[f'entry.{name}'])} ({tab})"
    return tab


def to_talk_to(attempts: Sequence[Attempt], analysis: ClassAnalysis, texts: Texts) -> tuple[Talk, ...]:
    """Return a line a person: sheets with the same numbers first, then by how grave the first thing is. Only
    about sheets that count or wait: to whom nothing usable came from, the message is in missing.txt."""
    whole = texts["report_talk.same_numbers"]
    pairs = [
        Talk(tuple(dict.fromkeys((pair.first_student, pair.second_student))), "",
             whole.format(sites=pair.equal_sites))
        for pair in analysis.same.pairs
    ]  # fmt: skip
    asked: dict[str, list[tuple[int, str, str]]] = defaultdict(list)
    for student, rank, place, words in (*_of_files(attempts, texts), *_of_class(attempts, analysis, texts)):
        if (place, student) not in {(known, student) for _, known, _ in asked[student] if known}:
            asked[student].append((rank, place, words))
    lines = []
    for student, things in asked.items():
        rank, place, words = min(things, key=lambda thing: thing[0])
        lines.append((rank, student, Talk((student,), place, words, len(things) - 1)))
    return (*pairs, *(talk for _, _, talk in sorted(lines, key=lambda line: line[:2])))


def _of_files(attempts: Sequence[Attempt], texts: Texts) -> Iterator[tuple[str, int, str, str]]:
    for attempt in attempts:
        if attempt.record is None or not has_work(attempt):
            continue
        for finding in attempt.findings:
            if finding.severity in SEVERITIES[:2] and finding.code != NOTHING_TO_ASK:
                rank, place = SEVERITIES.index(finding.severity), place_of(attempt, finding, texts)
                yield attempt.record.student_id, rank, place, in_short(finding, texts)


def _of_class(
    attempts: Sequence[Attempt], analysis: ClassAnalysis, texts: Texts
) -> Iterator[tuple[str, int, str, str]]:
    sheets = {one.record.copy_code: one for one in attempts if one.record is not None and has_work(one)}
    for slip in analysis.slips:
        if (attempt := sheets.get(slip.copy_code)) and attempt.record:
            finding = Finding("class-far-apart", name=f"reading_1_{slip.site}")
            words = texts["report_talk.far_apart"].format(apart=with_decimal_sign(f"{slip.apart:g}", texts))
            yield attempt.record.student_id, 1, place_of(attempt, finding, texts), words
    for record in analysis.identical.records:
        yield record.student_id, 2, "", identical_words(record, texts)
    for student in analysis.compression.students:
        yield student.student_id, 2, "", thinner_words(student, texts)


def missing_sheets(results: SessionResults, texts: Texts) -> tuple[tuple[str, str, str], ...]:
    """Return (name, student_id, what came back) of the sheets without a file that counts. Only people on the
    roster: a spare sheet is nobody's, and who has left the class is not asked; nor is a sheet of a pair that
    was changed since waited for where there is one of the pair as it is now."""
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
    return {one.student_id: one.full_name or one.student_id for one in results.book.people}


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
    parts = [part for word in STATUSES for part in counted(f"report_today.{word}", numbers[word], texts)]
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
    """Return the tab Today: what to do first, on one page. not_made : what could not be given, and why."""
    missing, names = missing_sheets(results, texts), _names(results)
    people = [
        (" + ".join(names.get(one, one) for one in talk.people), ", ".join(talk.people), talk.line(texts))
        for talk in talks
    ]
    teach = [(str(count), "", f"{what}. {say}") for what, count, say in to_teach(results, texts)]
    waiting = _waiting(results, bool(missing), texts)
    parts = (
        ("missing", _columns("heading.student", "heading.student_id", "today.came_back"), missing),
        ("waiting", _columns("today.what", "today.which", "today.where"), waiting),
        ("teach", _columns("heading.people", "", "today.what_and_say"), teach),
        ("talk", _columns("heading.student", "heading.student_id", "today.ask"), people),
    )
    sections = []
    for word, columns, rows in parts:
        most = _MOST.get(word, len(rows))
        left = 0 if word == "teach" else max(0, len(rows) - most)
        said = counted(f"report_today.more_{word}", left, texts)
        said = said if rows else (texts[f"report_today.no_{word}"],)
        shown = table(columns if rows else (), rows[:most], texts)
        sections.append(Section(texts[f"report_today.{word}"], said, *shown))
    if not_made:
        sections.append(Section(texts["report_today.not_made"], tuple(not_made)))
    name = named("report_today", texts, session=results.called, title=results.book.title)
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
        (texts[f"report_today.{word}"].format(count=count), which, Link(texts[f"report_today.{word}_at"], to))
        for word, count, which, to in rows
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
    found += [*habits(results.attempts, texts), *_drill_to_teach(results.attempts, texts)]
    return sorted(found, key=lambda one: (-one[1], one[0]))


def could_not(analysis: ClassAnalysis, texts: Texts) -> tuple[str, ...]:
    """Return the one line on what could not be given, and why; none where nothing is left out."""
    between = {reason_words(one.error, texts) for one in analysis.between if isinstance(one.error, Undefined)}
    offsets = () if analysis.side_by_side else analysis.calipers.offsets
    whole = {"worst": analysis.worst, "teacher": analysis.criterion, "calipers": offsets}
    reasons = {word: reason_words(one, texts) for word, one in whole.items() if isinstance(one, Undefined)}
    if between and not any(one.people for one in analysis.between):
        reasons["between"] = between.pop()
    parts = [f"{texts[f'report_today.not_{word}']} ({reason})" for word, reason in reasons.items()]
    return (f"{sentence('; '.join(parts))}.",) if parts else ()


def names_page(results: SessionResults, texts: Texts) -> Page:
    """Return the tab Codes and names, for the teacher alone: whose the codes of other tabs are."""
    sheets: dict[str, list[str]] = defaultdict(list)
    for record in (one for one in results.handed_out if one.session == results.session):
        sheets[record.student_id].append(record.copy_code)
    columns = (
        Column("report_heading.student", 34, lambda one: names[one.student_id], "label"),
        Column("report_heading.student_id", 14, "student_id"),
        Column("report_names.code", 18, "participant_code"),
        Column("report_heading.sheets", 34, lambda one: ", ".join(sheets[one.student_id])),
    )
    names = _names(results)
    title = named("report_names", texts, session=results.called)
    shown = table(columns, results.book.people, texts)
    return Page(*title, (texts["report_names.hint"],), *shown, printed=False)


def count_words(count: int, of: int, texts: Texts) -> str:
    """Return a count that gives nobody away, neither those counted nor the rest.

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
    analysis: ClassAnalysis,
    session: str,
    titles: Mapping[str, str],
    texts: Texts,
    attempts: Sequence[Attempt] = (),
) -> Page:
    """Return the tab For the class: students only, without sheets that wait for the teacher. No number of
    those missing, so that nobody is worked out. Of attempts the drill alone is looked at."""
    tab, title = named("report_summary", texts, session=session)
    rounds, drill = analysis.rounds, drill_sections(attempts, texts)
    of_students = rounds[~rounds["is_teacher"] & ~rounds["in_question"]]
    if of_students["student_id"].nunique() < SMALL_CELL:
        words = texts["report_summary.too_few"].format(least=SMALL_CELL)
        return Page(tab, title, (words,), (), (), more=drill, wall=True)
    relative = {one.site: one.relative for one in analysis.sites if isinstance(one.relative, float)}
    columns = (
        site_column(titles, 34, "0"),
        Column("report_summary.error", 38, lambda one: relative.get(one[0]), "result_1"),
        Column("report_summary.third_needed_sheets", 38, lambda one: count_words(one[2], one[1], texts)),
    )
    said = [texts["report_summary.sheets"].format(count=sheet_count(of_students))]
    worst = analysis.worst
    if not isinstance(worst, Undefined):
        key = "report_summary.worst_beyond_chance" if worst.stands_out else "report_summary.worst_by_chance"
        said.append(texts[key].format(site=titles.get(worst.site, worst.site)))
    else:
        said.append(texts["report_summary.no_worst"])
    digits = [
        texts["report_summary.digits"].format(division=shown_number(scale.division_mm, texts), words=words)
        for scale in analysis.digits
        if scale.piles_up and scale.sheets >= SMALL_CELL and (words := digit_words(scale, texts))
    ]
    said += digits or [texts["report_summary.no_digit"]]
    charts = (Chart(texts["report_summary.chart"], 0, 1),) if relative else ()
    shown = table(columns, third_readings(rounds), texts)
    return Page(tab, title, tuple(said), *shown, charts=charts, more=drill, wall=True)


def drill_sections(attempts: Sequence[Attempt], texts: Texts) -> tuple[Section, ...]:
    """Return the table of the drawn scales: of each division, with and without a zero to take off, how many
    readings there are, how many are wrong, and what most of those are; of what at least five people read."""
    lines = [
        (kind, [scale for _, scale in readings])
        for kind, readings in sorted(_scales_read(attempts).items())
        if len({student for student, _ in readings}) >= SMALL_CELL
    ]
    columns = (
        Column("report_drill.scale", 34, lambda line: _scale_called(line[0], texts)),
        Column("report_drill.read", 16, lambda line: len(line[1]), "text"),
        Column("report_drill.missed", 16, lambda line: sum(one.slip != "right" for one in line[1]), "text"),
        Column("report_drill.mostly", 44, lambda line: _mostly(line[1], texts)),
    )
    return (Section(texts["report_drill.title"], (), *table(columns, lines, texts)),) if lines else ()


_Kind = tuple[float, bool]
"""Of a drawn scale: between two marks [mm], and whether there is a zero to take off."""


def _scales_read(attempts: Sequence[Attempt]) -> dict[_Kind, list[tuple[str, ScaleRead]]]:
    read = defaultdict(list)
    for attempt in attempts:
        drill = drill_result(attempt) if has_work(attempt) else None
        for scale in drill.scales if drill and attempt.record else ():
            if scale.slip and attempt.record:
                read[scale.division, scale.zero != 0].append((attempt.record.student_id, scale))
    return read


def _scale_called(kind: _Kind, texts: Texts) -> str:
    words = texts["report_drill.zeroed" if kind[1] else "report_drill.steps"]
    return words.format(division=shown_number(kind[0], texts))


def _drill_to_teach(attempts: Sequence[Attempt], texts: Texts) -> list[tuple[str, int, str]]:
    """The kind of drawn scale that most people misread, as `to_teach` has it; none where all is right."""
    missed = [
        (len({student for student, scale in readings if scale.slip != "right"}), kind, readings)
        for kind, readings in sorted(_scales_read(attempts).items())
    ]
    people, kind, readings = max(missed, key=lambda one: one[0], default=(0, (0.0, False), []))
    called, mostly = _scale_called(kind, texts), _mostly([scale for _, scale in readings], texts)
    what = texts["report_drill.to_teach"].format(scale=called, mostly=mostly)
    return [(what, people, texts["report_drill.to_say"])] if people else []


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
