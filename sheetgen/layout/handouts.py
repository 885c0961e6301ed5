"""What the teacher prints besides the forms: pair slips, a run sheet for a substitute, and the stations.

Names stand here and in the class book only. No readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from sheetgen.layout.cells import heading_row, label
from sheetgen.layout.class_book_stations import StationLine, StationsPlan
from sheetgen.layout.number_text import shown_number
from sheetgen.layout.paper_form import (
    LARGEST_SCALE,
    LINE_WIDTH,
    PAGE_WIDTH,
    Row,
    broken,
    printed_tab,
    scale_for,
)
from sheetgen.layout.vocabulary import CAUTIONS
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Layout, Tab
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import ClassBook, Person

__all__ = ["Lesson", "Meeting", "handouts_layout"]

SLIPS_A_PAGE = 12
OPENING, TYPING, CLOSING = 10, 15, 5
"""Minutes before, after and at the end of the measuring. From experience with lessons, no standard."""

_SLIP_WIDTHS = (295, 20, 295)
_SLIP_HEIGHTS = (24.0, 19.0, 19.0, 19.0, 19.0)
_SLIP_FORMATS = ("slip_first", "slip", "slip", "slip", "slip_last")
_SLIP_GAP = 10.0
_RUN_WIDTHS = (125, 590)
"""More than a page at full scale: what stands here fits one page only where it is smaller."""
_RUN_POINTS = 10.0
_RUN_LINE = 12.5
_STATION_COLUMNS = (
    "caliper", "wave", "from_minute", "to_minute", "measurer_id", "measurer", "participant_id", "participant",
    "copy_code",
)  # fmt: skip
_STATION_WIDTHS = (14, 9, 14, 14, 18, 24, 18, 24, 16)
_STATION_HEADING = 3

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Meeting:
    """Who measures whom in this session, and on which sheet.

    turn : when and at which caliper; None where the pair stands on no plan.
    """

    measurer: Person
    participant: Person
    record: CopyRecord
    turn: StationLine | None


@dataclass(frozen=True, slots=True)
class Lesson:
    """What the teacher's workbook of one session is made from.

    meetings : in the order of the slips. spare_files : names of the spare sheets.
    """

    session: int
    book: ClassBook
    protocol: Protocol
    plan: StationsPlan
    meetings: Sequence[Meeting]
    spare_files: Sequence[str]


def handouts_layout(lesson: Lesson, texts: Texts) -> Layout:
    """Return the Layout of the workbook for the teacher.

    Parameters
    ----------
    texts : those of a sheet and of `paper.LANGUAGE`, by key.
    """
    tabs = (_slips_tab(lesson, texts), _run_tab(lesson, texts), _stations_tab(lesson, texts))
    title, language = texts["run.title"].format(session=lesson.session), lesson.book.settings.language
    return Layout(title, texts["run.subject"], language, tabs, page_text=texts["sheet.page"])


def _name(person: Person) -> str:
    return " ".join(person.given_name.split()) or person.student_id


def _slip(meeting: Meeting, texts: Texts) -> tuple[str, ...]:
    turn, record = meeting.turn, meeting.record
    when = {} if turn is None else asdict(turn)
    where = texts["slip.turn" if turn else "slip.turn_open"].format(caliper=record.caliper_id, **when)
    measurer, participant = (
        texts[f"slip.{role}"].format(name=_name(person), student_id=person.student_id)
        for role, person in (("measurer", meeting.measurer), ("participant", meeting.participant))
    )
    sheet = texts["slip.sheet"].format(copy_code=record.copy_code)
    return (measurer, participant, where, sheet, texts["slip.file"].format(file=record.file_name))


def _slips_tab(lesson: Lesson, texts: Texts) -> Tab:
    meetings = lesson.meetings
    head = [Row(22.0, ((0, texts["slip.title"].format(session=lesson.session), "paper_title"),))]
    notice = broken(texts["slip.names"], LINE_WIDTH, 10.0)
    rows = [*head, *(Row(14.0, ((0, line, "paper_line"),)) for line in notice), Row(_SLIP_GAP)]
    breaks: list[int] = []
    for at in range(0, len(meetings), 2):
        if at and at % SLIPS_A_PAGE == 0:
            breaks.append(len(rows))
        two = [_slip(meeting, texts) for meeting in meetings[at : at + 2]]
        for line, (height, format) in enumerate(zip(_SLIP_HEIGHTS, _SLIP_FORMATS, strict=True)):
            cells = tuple((2 * side, slip[line], format) for side, slip in enumerate(two))
            rows.append(Row(height, cells))
        rows.append(Row(_SLIP_GAP))
    page = len(head) * 22.0 + len(notice) * 14.0 + SLIPS_A_PAGE / 2 * (sum(_SLIP_HEIGHTS) + _SLIP_GAP)
    return printed_tab("slips", texts["slip.tab"], rows, _SLIP_WIDTHS, scale_for((page + _SLIP_GAP,)), breaks)


def _run_tab(lesson: Lesson, texts: Texts) -> Tab:
    """One page: the scale gives way where a class needs more words."""
    rows = [Row(20.0, ((0, texts["run.title"].format(session=lesson.session), "paper_title"),))]
    for what, sentences in _run_parts(lesson, texts):
        for number, sentence in enumerate(sentences):
            beside = what if number == 0 else ""
            lines = max(
                len(broken(sentence, _RUN_WIDTHS[1] * LINE_WIDTH / PAGE_WIDTH, _RUN_POINTS)),
                len(broken(beside, _RUN_WIDTHS[0] * LINE_WIDTH / PAGE_WIDTH, _RUN_POINTS, bold=True)),
            )
            words = ("run_label", "run_text") if number == 0 else ("run_label_more", "run_text_more")
            cells = ((0, beside, words[0]), (1, sentence, words[1]))
            rows.append(Row(_RUN_LINE * lines + 2.0, cells))
    scale = min(scale_for(row.height for row in rows), LARGEST_SCALE * PAGE_WIDTH // sum(_RUN_WIDTHS))
    return printed_tab("run", texts["run.tab"], rows, _RUN_WIDTHS, scale)


def _run_parts(lesson: Lesson, texts: Texts) -> list[tuple[str, tuple[str, ...]]]:
    """What stands on the run sheet: a heading and its sentences."""
    book, plan = lesson.book, lesson.plan
    names = sorted({line.station for line in plan.lines})
    limit = shown_number(book.settings.tolerance, texts)
    words = {
        "class_title": book.title,
        "protocol": lesson.protocol.title,
        "pairs": len(plan.lines),
        "calipers": len(names),
        "caliper_names": ", ".join(names),
        "waves": plan.waves,
        "minutes_a_wave": plan.minutes_a_wave,
        "minutes": plan.minutes,
        "seconds": shown_number(book.seconds_a_reading, texts),
        "opening": OPENING,
        "measured": OPENING + plan.minutes,
        "typed": OPENING + plan.minutes + TYPING,
        "end": OPENING + plan.minutes + TYPING + CLOSING,
        "spare_files": ", ".join(lesson.spare_files),
        "session": lesson.session,
        "due_date": book.due_date,
        "tolerance": limit + texts[f"about.tolerance_{book.settings.tolerance_kind}"],
        "zero_rule": texts["about.zero_rule"],
        "site_rule": texts[f"about.site_rule_{book.settings.site_rule}"],
        "missing_rule": texts["about.missing_rule"],
    }

    def said(*keys: str) -> tuple[str, ...]:
        return tuple(texts[f"run.{key}"].format(**words) for key in keys)

    due = said("collect_due")[0] if book.due_date else ""
    parts = {
        **{part: said(f"{part}_text") for part in ("lesson", "numbers", "before")},
        "order": said("order_1", "order_2", "order_3", "order_4"),
        "rules": said("rule_circuit", "rule_zero", "rule_third", "rule_value", "rule_missing"),
        **{part: said(f"{part}_text") for part in ("out", "absent", "broken")},
        "late": said("late_text" if lesson.spare_files else "late_none"),
        "collect": (due + said("collect_text")[0],),
        "care": tuple(f"{number}. {texts[key]}" for number, key in enumerate(CAUTIONS, start=1)),
    }
    return [(texts[f"run.{part}"], sentences) for part, sentences in parts.items()]


def _stations_tab(lesson: Lesson, texts: Texts) -> Tab:
    """By caliper and turn, so that each station's lines stand together."""
    cells = [
        label(0, 0, texts["station.title"].format(session=lesson.session), "title"),
        label(1, 0, texts["station.names"], "step"),
        *heading_row(_STATION_HEADING, [texts[f"station.{name}"] for name in _STATION_COLUMNS]),
    ]
    planned = [(meeting.turn, meeting) for meeting in lesson.meetings if meeting.turn is not None]
    planned.sort(key=lambda pair: (pair[0].station, pair[0].wave))
    for row, (turn, meeting) in enumerate(planned, start=_STATION_HEADING + 1):
        measurer, participant = meeting.measurer, meeting.participant
        values: tuple[str | float, ...] = (
            turn.station, turn.wave, turn.from_minute, turn.to_minute,
            measurer.student_id, _name(measurer), participant.student_id, _name(participant),
            meeting.record.copy_code,
        )  # fmt: skip
        format = "station_first" if turn.wave == 1 else "station"
        cells += [label(row, column, value, format) for column, value in enumerate(values)]
    return Tab(
        "stations",
        texts["station.tab"],
        tuple(cells),
        _STATION_WIDTHS,
        ((_STATION_HEADING, 34.0), *((row, 24.0) for row in range(4, 4 + len(planned)))),
        freeze=(_STATION_HEADING + 1, 0),
        landscape=True,
        first_entry=(0, 0),
        repeat=_STATION_HEADING,
    )
