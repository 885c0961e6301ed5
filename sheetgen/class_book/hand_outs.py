"""What the teacher prints besides the forms: pair slips, a run sheet for a substitute, and the stations.

Names stand here and in the class book only. No readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import msgspec

from sheetgen.class_book.pairing import StationLine, StationsPlan, stations_plan
from sheetgen.class_book.sheets_wanted import handed_out_in, is_spare
from sheetgen.class_folder import keep
from sheetgen.class_folder.files import read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord, Person
from sheetgen.errors import FolderError
from sheetgen.protocols.names import CAUTIONS
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import BuiltWith
from sheetgen.sheet.paper import (
    LARGEST_SCALE,
    LINE_WIDTH,
    PAGE_WIDTH,
    PaperForm,
    Row,
    broken,
    paper_forms_layout,
    printed_tab,
    scale_for,
)
from sheetgen.sheet.student import all_protocols
from sheetgen.texts.languages import shown_number, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import heading_row, label
from sheetgen.workbook.layout import Identity, Layout, Tab
from sheetgen.workbook.render import rendered

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


def write_handouts(folder: ClassFolder, book: ClassBook, session: int) -> tuple[str, ...]:
    """Write both files beside the sheets of a session, and return what has to be said, one sentence each.

    Parameters
    ----------
    book : without those who left: nobody needs a form of theirs.

    Notes
    -----
    A file that another program holds open is left as it is and named: the sheets are built all the same.
    The sheet of a pair that no longer stands in the class book gets no form.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    TemplateError : a template has a fault.
    """
    language = book.settings.language
    texts = texts_in(language, "sheet", "paper")
    records = _records(folder, book, session)
    forms, notes = _forms(folder, records)
    if forms:
        notes += _written(folder.paper_forms(session), paper_forms_layout(forms, language, texts))
    notes += _written(folder.handouts(session), _handouts(folder, book, session, records, texts))
    return tuple(notes)


def printed_files(folder: ClassFolder, session: int) -> tuple[str, ...]:
    """Return the names of those of the two files that lie beside the sheets of a session."""
    both = (folder.paper_forms(session), folder.handouts(session))
    return tuple(path.name for path in both if path.is_file())


def _records(folder: ClassFolder, book: ClassBook, session: int) -> list[CopyRecord]:
    """The sheets of the session by measurer, the spare ones last."""
    pairs = {(pairing.measurer, pairing.participant) for pairing in book.pairings}
    handed_out = handed_out_in(keep.load_records(folder), book, session)
    wanted = [
        record
        for record in handed_out
        if is_spare(record) or (record.student_id, record.participant_id) in pairs
    ]
    return sorted(wanted, key=lambda record: (is_spare(record), record.student_id, record.participant_id))


def _forms(folder: ClassFolder, records: Sequence[CopyRecord]) -> tuple[list[PaperForm], list[str]]:
    forms: list[PaperForm] = []
    notes: list[str] = []
    for record in records:
        layout = keep.load_layout(folder, record.layout_digest)
        if layout is None:
            notes.append(
                f"{folder.layouts}: nothing about the sheet {record.copy_code}; expected the Layout it was "
                "built with. It gets no paper form; put back the folder keep from a copy."
            )
            continue
        built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
        # A spare sheet that somebody claimed is printed with their id.
        codes = {"student_id": record.student_id, "participant_code": record.participant_code}
        identity = {**record.identity, **codes}
        forms.append(PaperForm(identity, built_with.protocol, built_with.settings, is_spare(record)))
    return forms, notes


def _handouts(
    folder: ClassFolder,
    book: ClassBook,
    session: int,
    records: Sequence[CopyRecord],
    texts: Mapping[str, str],
) -> Layout:
    protocol = all_protocols(folder, book.settings.language)[book.settings.protocol_id]
    plan = stations_plan(book.pairings, len(protocol.sites), book.seconds_a_reading)
    turns = {
        (pairing.measurer, pairing.participant): line
        for pairing, line in zip(book.pairings, plan.lines, strict=True)
    }
    people = {person.student_id: person for person in book.people}
    meetings = []
    for record in records:
        pair = (record.student_id, record.participant_id)
        if not is_spare(record):
            meetings.append(Meeting(people[pair[0]], people[pair[1]], record, turns.get(pair)))
    spare_files = [f"spare/{record.file_name}" for record in records if is_spare(record)]
    return handouts_layout(Lesson(session, book, protocol, plan, meetings, spare_files), texts)


def _written(path: Path, layout: Layout) -> list[str]:
    """Write a workbook where its bytes are not there yet; return why it could not be done."""
    data = rendered(layout, Identity({}), read_template("style.toml"))
    try:
        if read_if_there(path) != data:
            write_beside(path, data, sync=False)
    except FolderError as fault:
        return [f"{fault} The sheets are built; only this file is as it was."]
    return []
