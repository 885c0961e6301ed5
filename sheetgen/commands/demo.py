"""A whole invented class, from set-up to report: an evening school in a lighthouse, 24 people, one term."""

import contextlib
import random
import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

import msgspec
from msgspec.structs import replace

from sheetgen.class_book.book import load_book, write_book
from sheetgen.class_book.sheets_wanted import is_spare
from sheetgen.class_folder import keep
from sheetgen.class_folder.files import make_folder, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, CopyRecord, Person
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import ReadSummary, read_returned
from sheetgen.errors import FolderError
from sheetgen.protocols.names import DRILL, entry_names, own_decimals, own_steps, sex_words
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import live_values, recalculate, stored_results
from sheetgen.protocols.settings import BuiltWith, Caliper, SheetSettings
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.packages import filled, with_parts_changed

Entries = dict[str, Value]

_TYPICAL_FOLD_MM = {
    "chest": 11, "midaxillary": 12, "triceps": 14, "subscapular": 14, "abdominal": 19, "suprailiac": 16,
    "thigh": 20,
}  # fmt: skip
_REPEAT_ERROR_MM = 0.6
_LEARNS, _DOES_NOT = "L01", "L04"
_TERM_ERROR_MM = {(_LEARNS, 2): 0.3, (_LEARNS, 3): 0.15, (_DOES_NOT, 2): 0.7, (_DOES_NOT, 3): 0.7}
"""Of one who gets better from session to session and of one who does not."""
_TEACHERS_ERROR_MM = 0.25
_C2_PRESSES = 0.94
"""Part of a fold that is left between the jaws of C2 beside C1, whose spring is weaker."""


def sample_entries(
    protocol: Protocol,
    settings: SheetSettings,
    caliper: Caliper,
    seed: str,
    session: int = 1,
    error_mm: float = _REPEAT_ERROR_MM,
    hand: str = "",
) -> Entries:
    """Return a full set of entries without a fault, the same for the same seed; the same person measured anew
    in another session, or by another hand.

    Readings are a fold of the person, an error of repeating, and the caliper's zero, on its scale; a second
    caliper leaves less of the fold."""
    dice = random.Random(f"sample {seed}")
    errors = dice if (session, hand) == (1, "") else random.Random(f"sample {seed} {session}{hand}")
    step = caliper.division
    left = 1.0 if hand != _SECOND else _C2_PRESSES if caliper.identifier == "C2" else 1 / _C2_PRESSES

    def read(fold: float) -> float:
        return round(round((fold * left + errors.gauss(0, error_mm) + caliper.zero) / step) * step, 2)

    sex = dice.choice(sex_words(protocol)[:-1] or ("sum-only",))
    entries: Entries = {
        "cautions_confirmed": "yes",
        "age_years": dice.randint(19, 44),
        "sex_equation": sex,
        "mass_kg": round(dice.uniform(54, 92), 1),
        "zero_mm": caliper.zero,
        "length_upper_arm_cm": dice.randint(31, 38),
        "length_thigh_cm": dice.randint(40, 49),
        "answer_repeat": "The thigh, because the fold was hard to lift the same way twice.",
        "answer_zero": "It would be off by the zero at each site, seven times in all.",
        "answer_error": "Placing the mark, and reading too late; mark with a second person and count to two.",
    }
    build = dice.uniform(0.7, 1.35)
    folds = {
        site.word: _TYPICAL_FOLD_MM.get(site.word, 14) * build * dice.uniform(0.8, 1.2)
        for site in protocol.sites
    }
    for number in (1, 2):
        for word, fold in folds.items():
            entries[f"reading_{number}_{word}"] = read(fold)
    for site in recalculate(protocol, settings, entries).sites:
        if site.third_needed == "yes":
            entries[f"reading_3_{site.site}"] = read(folds[site.site])
    return with_own_working(protocol, settings, _asked(protocol, entries))


def _asked(protocol: Protocol, entries: Entries) -> Entries:
    asked = entry_names(protocol)
    return {name: value for name, value in entries.items() if name in asked}


def with_own_working(protocol: Protocol, settings: SheetSettings, entries: Entries) -> Entries:
    """Return the entries with every line of own working right, to the decimals asked for."""
    live = live_values(recalculate(protocol, settings, entries))
    own = {
        name: round(value, own_decimals(answers))
        for name, answers in own_steps(protocol)
        if not isinstance(value := live[answers], str)
    }
    return {**entries, **own}


def _number(entries: Entries, name: str) -> float:
    return float(str(entries[name]))


_DECLINED: Entries = {
    **dict.fromkeys(f"reading_{number}_abdominal" for number in (1, 2, 3)), "not_taken_abdominal": "left-out",
}  # fmt: skip

FAULTS: dict[str, Callable[[Entries], Entries]] = {
    # the third reading left out; one that was not needed
    "L02": lambda typed: {"reading_2_thigh": _number(typed, "reading_1_thigh") + 4, "reading_3_thigh": None},
    "L03": lambda typed: dict.fromkeys(("reading_2_chest", "reading_3_chest"), typed["reading_1_chest"]),
    # two digits swapped
    "L05": lambda typed: {"reading_1_triceps": 12.5, "reading_2_triceps": 15.2, "reading_3_triceps": 13.0},
    "L06": lambda typed: {
        "reading_1_subscapular": f"{_number(typed, 'reading_1_subscapular'):.1f}".replace(".", ",")
    },
    "L08": lambda typed: {"reading_2_suprailiac": _number(typed, "reading_2_suprailiac") + 0.3},
    # a decimal point forgotten
    "L09": lambda typed: {
        "reading_1_midaxillary": _number(typed, "reading_1_midaxillary") * 10,
        "reading_3_midaxillary": typed["reading_2_midaxillary"],
    },
    "L11": lambda typed: {"zero_mm": -_number(typed, "zero_mm")},
    "L12": lambda typed: {"caliper_id": "C1"},
    "L14": lambda typed: _DECLINED,
    "L15": lambda typed: {"age_years": None},
    "L17": lambda typed: {"sex_equation": "sum-only"},
    "L18": lambda typed: {"participant_today": "P-GUEST"},
}
"""student_id in the sample class to the fault in what they typed: what stands there instead."""

DEMO_CALIPERS = (
    Caliper("C1", "spring caliper, metal arms", 0.5, 60.0, 0.0),
    Caliper("C2", "spring caliper, plastic arms", 0.5, 60.0, 0.5),
    Caliper("C3", "dial caliper, metal arms", 0.2, 80.0, -0.2),
    Caliper("C4", "sliding caliper, plastic", 1.0, 60.0, 1.0),
)

_MARKER = "This class is invented; the folder may be removed.\n"
_DAYS = {1: "2026-01-16", 2: "2026-02-13", 3: "2026-03-20"}  # Invented: the folder is always the same.
_TEACHER = "teacher"
_TEACHER_MEASURES = tuple(f"L{number:02}" for number in range(1, 13))
_SECOND = EXERCISES[1]
_SECRET = "1d" * 32  # The invented class keeps no secrets, and its codes are the same in every run.


def run_demo(root: Path) -> ReadSummary:
    """Make the class, its sheets and what comes back, and read it; FolderError: the folder is not empty."""
    roster = templates_folder() / "demo" / "roster.csv"
    folder = new_class(root, roster, calipers=DEMO_CALIPERS, secret=_SECRET)
    make_folder(folder.keep)
    write_beside(folder.keep / "demo.txt", _MARKER.encode("utf-8"))
    return _session_of(folder, 1)


def run_term(folder: ClassFolder) -> ReadSummary:
    """Bring the class through two more sessions, and return the last reading: the teacher measures twelve
    people too, and in the third session those with the first two calipers are measured with both."""
    book = load_book(folder)
    people = (*book.people, Person(_TEACHER, "", "", role="teacher"))
    write_book(folder, replace(book, people=people, teacher_measures=_TEACHER_MEASURES))
    _session_of(folder, 2)
    return _session_of(folder, 3, ("C1", "C2"))


def _session_of(folder: ClassFolder, session: int, calipers: Sequence[str] = ()) -> ReadSummary:
    build_sheets(folder, session, calipers=calipers)
    fill_sheets(folder, session)
    return read_returned(folder, session, today=_DAYS[session])


def fill_sheets(folder: ClassFolder, session: int) -> int:
    """Fill every sheet of a session with invented entries into returned/; return how many files that made;
    FolderError where no sheet was built."""
    newest = (builds[-1] for builds in keep.load_records(folder).values())
    records = [record for record in newest if record.session == session and not is_spare(record)]
    records.sort(key=lambda record: record.student_id)
    if not records:
        remedy = "Run `sheetgen build` first."
        raise FolderError(folder.sheets(session), "no sheet on record", "built sheets", remedy)
    make_folder(folder.returned(session))
    # Who is measured is called by who measures them in the circuit, so that every hand finds the same folds.
    bodies = {record.participant_id: record.student_id for record in records if record.student_id != _TEACHER}
    files = [file for record in records for file in _returned(folder, record, bodies)]
    for name, data in files:
        write_beside(folder.returned(session) / name, data, sync=False)
    return len(files)


def _returned(folder: ClassFolder, record: CopyRecord, bodies: Mapping[str, str]) -> list[tuple[str, bytes]]:
    """What comes back of one sheet, name and bytes: one file, two, or none."""
    layout = keep.load_layout(folder, record.layout_digest)
    if layout is None or record.student_id == "L24":
        return []
    name = record.file_name
    done = _typed((folder.sheets(record.session) / name).read_bytes(), layout, record, bodies)
    special = {
        "L19": [("photo of my sheet.xlsx", b"\x89PNG\r\n\x1a\n" + b"\0" * 64)],
        "L20": [(name, done[: len(done) // 2])],
        "L21": [(name, done), (f"Copy of {name}", done)],
        "L22": [(name, _with_formula_replaced(done))],
    }
    return special.get(record.student_id, [(name, done)])


def _typed(data: bytes, layout: Layout, record: CopyRecord, bodies: Mapping[str, str]) -> bytes:
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    settings, protocol = built_with.settings, built_with.protocol
    caliper = next(one for one in settings.calipers if one.identifier == record.caliper_id)
    hand, error_mm = "", _TERM_ERROR_MM.get((record.student_id, record.session), _REPEAT_ERROR_MM)
    seed = record.student_id
    if seed == _TEACHER:
        seed, hand, error_mm = bodies[record.participant_id], _TEACHER, _TEACHERS_ERROR_MM
    elif record.exercise == _SECOND:
        hand = _SECOND
    entries = sample_entries(protocol, settings, caliper, seed, record.session, error_mm, hand)
    if record.student_id == "L10":
        practised = [name for name in record.identity if name.startswith("practice_")]
        entries |= {name.removeprefix("practice_"): record.identity[name] for name in practised}
        entries["data_source"] = "practice"
        for site in protocol.sites:
            first, second = (_number(entries, f"reading_{number}_{site.word}") for number in (1, 2))
            if abs(first - second) <= settings.tolerance:
                entries.pop(f"reading_3_{site.word}", None)
        entries = with_own_working(protocol, settings, entries)
    fault = FAULTS.get(record.student_id)
    if fault is not None:
        # A sheet of another protocol does not ask for every site, so not every fault can be made in it.
        with contextlib.suppress(KeyError):
            entries.update(fault(entries))
        entries = {name: value for name, value in entries.items() if not name.startswith("own_")}
        entries = entries if record.student_id == "L06" else with_own_working(protocol, settings, entries)
    entries = _asked(protocol, entries)
    full = {"caliper_id": record.caliper_id, "data_source": "measured", "side": "right", **entries}
    # L16 saved in a program that does not calculate.
    results = None if record.student_id == "L16" else stored_results(protocol, settings, full)
    return filled(data, layout, {**entries, **_drill_read(record)}, results)


def _drill_read(record: CopyRecord) -> Entries:
    """The drawn scales of a sheet as an invented student reads them; about one in three forgets the zero."""
    forgets = random.Random(f"drill {record.student_id}").random() < 0.35
    read: Entries = {}
    for number, name in enumerate(DRILL, start=1):
        shown, zero = (record.identity.get(f"drill_{what}_{number}") for what in ("shown", "zero"))
        if isinstance(shown, int | float) and isinstance(zero, int | float):
            read[name] = round(shown - (0.0 if forgets else zero), 2)
    return read


def _with_formula_replaced(data: bytes) -> bytes:
    """A number typed over the first result on the tab Results, protection taken off."""
    change = partial(re.compile(rb"<f>Calculator![^<]*</f>").sub, b"<v>17.5</v>", count=1)
    return with_parts_changed(data, {"xl/worksheets/sheet3.xml": change})
