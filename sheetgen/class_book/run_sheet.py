"""The run sheet of a lesson in sentences, for whoever takes it: whether it fits, who does what, what if."""

from collections import Counter
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import asdict

from sheetgen.class_book.lesson import CLOSING, OPENING, LessonPlan, Turn
from sheetgen.class_folder.records import ClassBook, CopyRecord, Person
from sheetgen.protocols.protocol import Protocol
from sheetgen.sheet.working import cautions_of
from sheetgen.texts.languages import Texts, shown_number

_RUN_PARTS = (
    "lesson", "numbers", "fits", "sites", "before", "order", "wait", "teacher", "rules", "out", "swap",
    "absent", "broken", "late", "collect",
)  # fmt: skip
"""Headings in their order. One has the sentence of its name, where `_sentences` says no other; one without
any is left out."""


class Meeting(Struct, frozen=True):
    """Who measures whom in this session, when and at which caliper, and on which sheet. turn : None of a
    teacher, who measures besides. recorder : None where everybody else is busy. sites : their titles, as that
    sheet asks for them; none where its Layout is gone. second : sheet for a second caliper;
    second_first : that caliper is taken first."""

    measurer: Person
    participant: Person
    record: CopyRecord
    turn: Turn | None
    sites: tuple[str, ...] = ()
    recorder: Person | None = None
    second: CopyRecord | None = None
    second_first: bool = False


class Lesson(Struct, frozen=True):
    """What the teacher's workbook of one session is made from. meetings : in the order of the slips.
    spare_files : names of the spare sheets."""

    session: int
    book: ClassBook
    protocol: Protocol
    plan: LessonPlan
    meetings: Sequence[Meeting]
    spare_files: Sequence[str]


def run_parts(lesson: Lesson, texts: Texts) -> dict[str, list[str]]:
    """Return what stands on the run sheet: the key of a heading and its sentences."""
    book, plan, settings = lesson.book, lesson.plan, lesson.book.settings
    names = sorted({turn.station for turn in plan.turns})
    measured = OPENING + min(plan.waves, max(1, plan.waves_a_lesson)) * plan.minutes_a_wave
    end = max(book.lesson_minutes, measured + CLOSING)
    limit = shown_number(settings.tolerance, texts)
    words = {
        "class_title": book.title,
        "protocol": lesson.protocol.title,
        "pairs": len(plan.turns),
        "calipers": len(names),
        "caliper_names": ", ".join(names),
        **asdict(plan),
        "length": book.lesson_minutes,
        "left": end - CLOSING - measured,
        "room": max(0, book.lesson_minutes - OPENING - CLOSING),
        "saved_minutes": plan.saved * plan.minutes_a_wave,
        "seconds": shown_number(book.seconds_a_reading, texts),
        "marking": shown_number(book.marking_minutes, texts),
        "changing": shown_number(book.changing_minutes, texts),
        "opening": OPENING,
        "measured": measured,
        "typed": end - CLOSING,
        "end": end,
        "spare_files": ", ".join(lesson.spare_files),
        "session": lesson.session,
        "due_date": book.due_date,
        "tolerance": limit + texts[f"about.tolerance_{settings.tolerance_kind}"],
        "zero_rule": texts["about.zero_rule"],
        "site_rule": texts[f"about.site_rule_{settings.site_rule}"],
        "missing_rule": texts["about.missing_rule"],
    }
    others = _sentences(lesson)
    parts = {
        part: [texts[f"run.{key}"].format(**words) for key in others.get(part, (f"{part}_text",))]
        for part in _RUN_PARTS
    }
    parts["fits"][1:1] = [", ".join(_split_words(plan, texts))] if plan.lessons > 1 else []
    sheets = Counter(meeting.sites for meeting in lesson.meetings if meeting.sites).most_common()
    parts["sites"] = [texts["run.sites_text"].format(count=n, sites=", ".join(sites)) for sites, n in sheets]
    if not lesson.spare_files:
        parts["late"] = [texts["run.late_none"].format(**words)]
    elif any("limbs" in name for name in lesson.spare_files):
        parts["late"].append(texts["run.late_limbs"])
    if book.due_date:
        parts["collect"][0] = texts["run.collect_due"].format(**words) + parts["collect"][0]
    cautions = cautions_of(lesson.protocol, settings, texts)
    parts["care"] = [f"{number}. {said}" for number, said in enumerate(cautions.values(), start=1)]
    return {part: sentences for part, sentences in parts.items() if sentences}


def _sentences(lesson: Lesson) -> dict[str, tuple[str, ...]]:
    """The sentences of the parts that have several or depend on the plan, by the keys of their texts."""
    plan = lesson.plan
    fits = ("fits_one",) if plan.lessons < 2 else ("fits_not", "fits_turns")
    if not plan.waves_a_lesson:
        fits = ("fits_never",)
    elif plan.lessons > 2:
        fits = (*fits, "fits_fewer")
    alone = any(not turn.recorder for turn in plan.turns)
    saves = "saves" if plan.saved > 0 else "saves_nothing"
    room = lesson.book.lesson_minutes - OPENING - CLOSING
    typing = "order_3" if room > plan.minutes_a_wave else "order_home"
    tasks = dict.fromkeys(waiting.task for waiting in plan.waiting)
    return {
        "fits": (*fits, saves, *(("alone",) if alone else ())),
        "order": ("order_1", "order_2", typing, "order_4"),
        "wait": ("wait_text", *(f"wait_{task}" for task in tasks)) if tasks else ("wait_nobody",),
        "teacher": ("teacher_text",) if any(meeting.turn is None for meeting in lesson.meetings) else (),
        "rules": ("rule_circuit", "rule_zero", "rule_third", "rule_value", "rule_missing"),
        "sites": (),
    }


def _split_words(plan: LessonPlan, texts: Texts) -> Iterator[str]:
    """Which waves fall into each lesson."""
    per = max(1, plan.waves_a_lesson)
    for number in range(plan.lessons):
        waves = {"first": number * per + 1, "last": min(plan.waves, (number + 1) * per)}
        word = "fits_wave" if waves["first"] == waves["last"] else "fits_waves"
        yield texts[f"run.{word}"].format(lesson=number + 1, **waves)
