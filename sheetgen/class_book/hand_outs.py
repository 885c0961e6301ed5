"""What the teacher prints besides the forms: pair slips, a run sheet for a substitute, and the stations.
Names stand here and in the class book only. No readings."""

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

import msgspec
from msgspec.structs import asdict, astuple, replace

from sheetgen.class_book.lesson import Turn, in_circuit_order, lesson_frame, lesson_plan
from sheetgen.class_book.run_sheet import Lesson, Meeting, run_parts
from sheetgen.class_book.sheets_wanted import handed_out_in, is_spare
from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import OBSERVED_STEPS
from sheetgen.class_folder.files import HANDED_OUT, read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, ClassBook, CopyRecord, Person
from sheetgen.errors import FolderError
from sheetgen.finding import Refusal
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
from sheetgen.sheet.reference_tabs import figures_of
from sheetgen.sheet.site_cards import site_cards_layout
from sheetgen.sheet.student import all_protocols, careful_protocol
from sheetgen.sheet.typing_in import class_code_typed_in, typed_forms, typing_in_layout
from sheetgen.texts.csv_cells import harmless
from sheetgen.texts.languages import Texts, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import BAR_HEIGHTS, column_pixels, heading_row, label, title_bar
from sheetgen.workbook.layout import Cell, Identity, Layout, Tab
from sheetgen.workbook.read.guard import read_package
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered

SLIPS_A_PAGE = 8
_SLIP_WIDTHS = (295, 20, 295)
_SLIP_FIRST, _SLIP_LINE = 24.0, 15.0
"""Heights [points]."""
_SLIP_POINTS, _SLIP_GAP = 10.0, 10.0
_RUN_WIDTHS = (125, 590)
"""More than a page at full scale: what stands here fits one page only where it is smaller."""
_RUN_POINTS, _RUN_LINE = 10.0, 12.5
_STATION_HEADING = 3
_WAITING_POINTS = 12.0
_WAITING_NAMED = 60
"""People with one task whose names are listed; of more it says how many: nobody reads hundreds of pages."""
_STATION_COLUMNS = {
    "caliper": 13, "lesson": 9, "wave": 9, "from_minute": 11, "to_minute": 11, "measurer": 28,
    "participant": 28, "participant_code": 13, "recorder": 28, "copy_code": 14,
}  # fmt: skip
"""Heading to width."""


def handouts_layout(lesson: Lesson, texts: Texts) -> Layout:
    """Return the Layout of the workbook for the teacher; texts : of a sheet, paper and review."""
    tabs = tuple(tab(lesson, texts) for tab in (_slips_tab, _run_tab, _stations_tab, _observed_tab))
    title, language = _titled("run", lesson, texts), lesson.book.settings.language
    return Layout(title, texts["run.subject"], language, tabs, page_text=texts["sheet.page"])


def _titled(tab: str, lesson: Lesson, texts: Texts) -> str:
    return texts[f"{tab}.title"].format(session=lesson.book.session_words(lesson.session))


def _name(person: Person) -> str:
    name = " ".join(person.given_name.split())
    return f"{name} ({person.student_id})" if name else person.student_id


def _slip(meeting: Meeting, lessons: int, texts: Texts) -> list[str]:
    """Its lines; nothing tells whose sheet has practice filled in."""
    record, second, turn = meeting.record, meeting.second, meeting.turn
    when = "turn_besides" if turn is None else "turn" if lessons < 2 else "turn_of_lesson"
    shown: dict[str, dict[str, object]] = {
        "measurer": {"name": _name(meeting.measurer)},
        "participant": {"name": _name(meeting.participant)},
        when: {"caliper": record.caliper_id, **(asdict(turn) if turn else {})},
        **({"recorder": {"name": _name(meeting.recorder)}} if meeting.recorder else {}),
        "sheet": {"copy_code": record.copy_code},
        "file": {"file": record.file_name},
    }
    if second is not None:
        first, then = (second, record) if meeting.second_first else (record, second)
        shown["calipers"] = {"first": first.caliper_id, "then": then.caliper_id, "file": second.file_name}
    if meeting.sites:
        shown["sites"] = {"sites": ", ".join(meeting.sites)}
    shown["swap"] = {}
    said = (texts[f"slip.{line}"].format(**values) for line, values in shown.items())
    return [part for text in said for part in broken(text, _SLIP_WIDTHS[0], _SLIP_POINTS)]


def _slips_tab(lesson: Lesson, texts: Texts) -> Tab:
    slips = [_slip(meeting, lesson.plan.lessons, texts) for meeting in lesson.meetings]
    lines = max(map(len, slips), default=1)
    shapes = [("slip_first", _SLIP_FIRST), *[("slip", _SLIP_LINE)] * (lines - 2), ("slip_last", _SLIP_LINE)]
    notice = broken(texts["slip.names"], LINE_WIDTH, 10.0)
    rows = [Row(22.0, ((0, _titled("slip", lesson, texts), "paper_title"),))]
    rows += [*(Row(14.0, ((0, line, "paper_line"),)) for line in notice), Row(_SLIP_GAP)]
    pair = [*(Row(height) for _, height in shapes), Row(_SLIP_GAP)]
    page = [*rows, *pair * (SLIPS_A_PAGE // 2)]
    breaks: list[int] = []
    for at in range(0, len(slips), 2):
        if at and at % SLIPS_A_PAGE == 0:
            breaks.append(len(rows))
        beside = slips[at : at + 2]
        for line, (format, height) in enumerate(shapes):
            shown = ("".join(slip[line : line + 1]) for slip in beside)
            rows.append(Row(height, tuple((2 * side, text, format) for side, text in enumerate(shown))))
        rows.append(Row(_SLIP_GAP))
    scale = scale_for((sum(row.height for row in page),))
    return printed_tab("slips", texts["slip.tab"], rows, _SLIP_WIDTHS, scale, breaks)


def _run_tab(lesson: Lesson, texts: Texts) -> Tab:
    """A page of the lesson and one of its cautions; the scale gives way where a class needs more words."""
    cautions = 0
    rows = [Row(20.0, ((0, _titled("run", lesson, texts), "paper_title"),))]
    for part, sentences in run_parts(lesson, texts).items():
        cautions = len(rows) if part == "care" else cautions
        for number, sentence in enumerate(sentences):
            beside, more = ("", "_more") if number else (texts[f"run.{part}"], "")
            lines = max(
                len(broken(sentence, _RUN_WIDTHS[1] * LINE_WIDTH / PAGE_WIDTH, _RUN_POINTS)),
                len(broken(beside, _RUN_WIDTHS[0] * LINE_WIDTH / PAGE_WIDTH, _RUN_POINTS, bold=True)),
            )
            cells = ((0, beside, f"run_label{more}"), (1, sentence, f"run_text{more}"))
            rows.append(Row(_RUN_LINE * lines + 2.0, cells))
    heights = [row.height for row in rows]
    scales = (scale_for(heights[:cautions]), scale_for(heights[cautions:]))
    scale = min(*scales, LARGEST_SCALE * PAGE_WIDTH // sum(_RUN_WIDTHS))
    return printed_tab("run", texts["run.tab"], rows, _RUN_WIDTHS, scale, (cautions,))


def _stations_tab(lesson: Lesson, texts: Texts) -> Tab:
    """By caliper and turn, so that each station's lines stand together; then whom the teacher measures, then
    who waits and what they do. Codes stand here, since somebody else may come to be measured."""
    cells = [
        *title_bar(_titled("station", lesson, texts), texts["station.names"], len(_STATION_COLUMNS)),
        *heading_row(_STATION_HEADING, [texts[f"station.{name}"] for name in _STATION_COLUMNS]),
    ]
    rows = sorted(
        lesson.meetings,
        key=lambda one: (one.turn is None, one.record.caliper_id, one.turn.wave if one.turn else 0),
    )
    for row, meeting in enumerate(rows, start=_STATION_HEADING + 1):
        when = (texts["station.besides"], "", "", "")
        values = (
            meeting.record.caliper_id,
            *(astuple(meeting.turn)[1:5] if meeting.turn else when),
            _name(meeting.measurer),
            _name(meeting.participant),
            meeting.record.participant_code,
            _name(meeting.recorder) if meeting.recorder else texts["station.adult"],
            meeting.record.copy_code,
        )
        format = "station_first" if meeting.turn is None or meeting.turn.wave == 1 else "station"
        cells += [label(row, column, value, format) for column, value in enumerate(values)]
    people = {person.student_id: _name(person) for person in lesson.book.people}
    said = (
        texts["station.waiting"].format(
            lesson=waiting.lesson,
            wave=waiting.wave,
            task=texts[f"run.wait_{waiting.task}"],
            people=texts["station.many"].format(count=len(waiting.people))
            if len(waiting.people) > _WAITING_NAMED
            else ", ".join(people[one] for one in waiting.people),
        )
        for waiting in lesson.plan.waiting
    )
    width = sum(map(column_pixels, _STATION_COLUMNS.values()))
    lines = [line for text in said for line in broken(text, width, _WAITING_POINTS)]
    first = _STATION_HEADING + 2 + len(rows)
    cells += [label(row, 0, line, "paper_line") for row, line in enumerate(lines, start=first)]
    widths = tuple(_STATION_COLUMNS.values())
    return _list_tab("stations", texts["station.tab"], cells, widths, 34.0, len(rows))


def _list_tab(
    key: str, title: str, cells: Sequence[Cell], widths: Sequence[float], heading_height: float, lines: int
) -> Tab:
    heights = enumerate((heading_height, *[24.0] * lines), start=_STATION_HEADING)
    return Tab(
        key, title, tuple(cells), tuple(widths), (*BAR_HEIGHTS, *heights), freeze=(_STATION_HEADING + 1, 0),
        landscape=True, first_entry=(0, 0), repeat=_STATION_HEADING,
    )  # fmt: skip


def _observed_tab(lesson: Lesson, texts: Texts) -> Tab:
    """A line a student, a column a step to be ticked on paper; the review workbook has the same tab."""
    keys = ("student_id", "name", *OBSERVED_STEPS, "signed_off")
    widths = (10.0, 26.0, *(10.5 for _ in OBSERVED_STEPS), 13.0)
    cells = [*title_bar(texts["observed.title"], texts["observed.hint"], len(widths))]
    cells += heading_row(_STATION_HEADING, [texts[f"review_column.{key}"] for key in keys])
    people = [person for person in lesson.book.people if person.role != "teacher"]
    for row, person in enumerate(people, start=_STATION_HEADING + 1):
        named = (person.student_id, person.full_name)
        cells += [label(row, column, value, "station") for column, value in enumerate(named)]
        cells += [label(row, column, "", "paper_box") for column in range(len(named), len(keys))]
    return _list_tab("observed", texts["review_tab.observed"], cells, widths, 60.0, len(people))


def write_handouts(folder: ClassFolder, book: ClassBook, session: int) -> tuple[str, ...]:
    """Write what goes beside the sheets of a session, and return what has to be said, one sentence each;
    FolderError where the record of what was handed out cannot be used. A file that another program holds open
    is left as it is and named: the sheets are built all the same. The sheet of a pair that no longer stands
    in the class book gets no form. book : without those who left: nobody needs a form of theirs."""
    language = book.settings.language
    texts = texts_in(language, "sheet", "paper", "review")
    protocol = in_circuit_order(all_protocols(folder, language)[book.settings.protocol_id], book.circuit)
    frame = lesson_frame(book, len(protocol.sites))
    plan = lesson_plan(frame)
    turns: dict[tuple[str, str], Turn | None] = {
        **{(pair.measurer, pair.participant): None for pair in book.pairings},
        **dict(zip((turn[:2] for turn in frame.turns), plan.turns, strict=True)),
    }
    # By measurer, the spare ones last.
    every = sorted(
        handed_out_in(keep.load_records(folder), book, session),
        key=lambda record: (is_spare(record), record.student_id, record.participant_id),
    )
    records = [record for record in every if record.exercise == EXERCISES[0]]
    seconds = {(one.student_id, one.participant_id): one for one in every if one.exercise != EXERCISES[0]}
    other_way = {pair: at % 2 == 1 for at, pair in enumerate(sorted(seconds))}
    people = {person.student_id: person for person in book.people}
    spare = [record for record in records if is_spare(record)]
    built = {
        digest: msgspec.json.decode(layout.settings_text, type=BuiltWith)
        for digest in {record.layout_digest for record in every}
        if (layout := keep.load_layout(folder, digest)) is not None
    }
    meetings = []
    for record in records:
        pair = record.student_id, record.participant_id
        if pair not in turns:
            continue
        turn, second, own = turns[pair], seconds.get(pair), built.get(record.layout_digest)
        who = people[record.student_id], people[record.participant_id]
        recorder = people.get(turn.recorder) if turn else None
        sites = tuple(site.title for site in own.protocol.sites) if own else ()
        # Half of those with two calipers begin with the one, half with the other.
        second_first = second is not None and (second.caliper_id < record.caliper_id) != other_way[pair]
        meetings.append(Meeting(*who, record, turn, sites, recorder, second, second_first))
    spare_files = [f"spare/{record.file_name}" for record in spare]
    layout = handouts_layout(Lesson(session, book, protocol, plan, meetings, spare_files), texts)
    sheets = [one for meeting in meetings for one in (meeting.record, meeting.second) if one]
    forms, notes = _forms(folder, [*sheets, *spare], built)
    if forms:
        printed = paper_forms_layout([form for form, _ in forms], language, texts)
        notes += _written(folder.paper_forms(session), _drawn(folder, printed))
        notes += _typing_in(folder, session, typing_in_layout(forms, book.class_code, language, texts))
    # Where all count as under 18, no trunk site stands on a wall.
    shown = careful_protocol(protocol, replace(book.settings, under_18=book.minors == "all"))
    if shown.sites:
        cards = site_cards_layout(shown, language, texts)
        notes += _written(folder.site_cards(session), _drawn(folder, cards))
    notes += _written(folder.hand_out(session), _hand_out_list(folder, session, meetings))
    return (*notes, *_written(folder.handouts(session), _drawn(folder, layout)))


def _hand_out_list(folder: ClassFolder, session: int, meetings: Sequence[Meeting]) -> bytes:
    """Whose each sheet is, for a mail merge or a platform: a path from the folder of the sheets on."""
    stream = io.StringIO(newline="")
    rows = csv.writer(stream, lineterminator="\n")
    rows.writerow(("student_id", "email", "file"))
    for meeting in meetings:
        for record in filter(None, (meeting.record, meeting.second)):
            name = record.file_name
            path = f"spare/{name}" if (folder.spare(session) / name).is_file() else name
            rows.writerow(map(harmless, (meeting.measurer.student_id, meeting.measurer.email, path)))
    return stream.getvalue().encode("utf-8")


def _forms(
    folder: ClassFolder, records: Sequence[CopyRecord], built: Mapping[str, BuiltWith]
) -> tuple[list[tuple[PaperForm, str]], list[str]]:
    """Each with the digest of its sheet. built : what sheets were built with, by digest of the Layout."""
    forms: list[tuple[PaperForm, str]] = []
    notes: list[str] = []
    for record in records:
        built_with = built.get(record.layout_digest)
        if built_with is None:
            notes.append(
                f"{folder.layouts}: nothing about the sheet {record.copy_code}; expected the Layout it was "
                "built with. It gets no paper form; put back the folder keep from a copy."
            )
            continue
        # A spare sheet that somebody claimed is printed with their id.
        codes = {"student_id": record.student_id, "participant_code": record.participant_code}
        identity = {**record.identity, **codes}
        form = PaperForm(identity, built_with.protocol, built_with.settings, is_spare(record))
        forms.append((form, record.file_sha256))
    return forms, notes


def _typing_in(folder: ClassFolder, session: int, layout: Layout) -> list[str]:
    """Write the workbook that forms are typed into, unless something was typed into the one that is there."""
    path, data = folder.typing_in(session), _drawn(folder, layout)
    if read_if_there(path) not in (None, data):
        package = read_package(path)
        state = package if isinstance(package, Refusal) else snapshot(package)
        if isinstance(state, Refusal) or class_code_typed_in(state) is None or typed_forms(state):
            return [
                f"{path}: typed into, or not as it was made; expected one without entries. It is left "
                "as it is: put it with what came back, then remove it here and build again for the newest "
                "forms."
            ]
    return _written(path, data)


def _drawn(folder: ClassFolder, layout: Layout) -> bytes:
    return rendered(layout, Identity({}), read_template("style.toml"), figures_of(layout, folder))


def _written(path: Path, data: bytes) -> list[str]:
    """Write a file where its bytes are not there yet; return why it could not be done."""
    try:
        if read_if_there(path) != data:
            write_beside(path, data, mode=HANDED_OUT, sync=False)
    except FolderError as fault:
        return [f"{fault} The sheets are built; only this file is as it was."]
    return []
