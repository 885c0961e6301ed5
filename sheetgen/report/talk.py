"""Whom to talk to, one line a person in plain words: what to ask about, and nothing that was measured."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sheetgen.finding import SEVERITIES, Finding
from sheetgen.marking.marking import about_title
from sheetgen.report.page import Texts, sentence
from sheetgen.returned.attempt import Attempt, has_work
from sheetgen.statistics.analysis import ClassAnalysis, identical_words, thinner_words
from sheetgen.texts.findings import in_short
from sheetgen.texts.languages import with_decimal_sign

NOTHING_TO_ASK = "procedure-less-measured"
"""A warning that is nobody's fault and needs no answer."""


@dataclass(frozen=True, slots=True)
class Talk:
    """What to ask one person, or two whose sheets hold the same numbers.

    people : student_ids. place : site or entry, empty where it is the whole sheet. words : begin small.
    more : further things to ask the same person.
    """

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

    Examples
    --------
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
    """Return a line a person: sheets with the same numbers first, then by how grave the first thing is.

    Only about sheets that count or wait: to whom nothing usable came from, the message is in missing.txt.
    """
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
                rank = SEVERITIES.index(finding.severity)
                words = in_short(finding, texts)
                yield attempt.record.student_id, rank, place_of(attempt, finding, texts), words


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
