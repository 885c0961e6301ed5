"""A whole invented class, from set-up to report: the evening school of a lighthouse, 24 people."""

import contextlib
import re
from dataclasses import dataclass
from pathlib import Path

import msgspec

from sheetgen.checking.claims import is_spare
from sheetgen.errors import FolderError
from sheetgen.flows.build import build_sheets
from sheetgen.flows.new import new_class
from sheetgen.flows.read import ReadSummary, read_returned
from sheetgen.flows.sample_entries import FAULTS, sample_entries, stored_results, with_own_working
from sheetgen.layout.vocabulary import entry_names
from sheetgen.model.attempt import CopyRecord
from sheetgen.model.layout import Layout
from sheetgen.model.settings import BuiltWith, Caliper
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, write_beside
from sheetgen.store.templates import templates_folder
from sheetgen.workbook.fill import filled
from sheetgen.workbook.repack import with_part_changed

__all__ = ["DEMO_CALIPERS", "fill_sheets", "run_demo"]

DEMO_CALIPERS = (
    Caliper("C1", "spring caliper, metal arms", 0.5, 60.0, 0.0),
    Caliper("C2", "spring caliper, plastic arms", 0.5, 60.0, 0.5),
    Caliper("C3", "dial caliper, metal arms", 0.2, 80.0, -0.2),
    Caliper("C4", "sliding caliper, plastic", 1.0, 60.0, 1.0),
)

_MARKER = "This class is invented; the folder may be removed.\n"
_SESSION = 1
_DAY = "2027-01-15"
"""Invented like the rest, so that the folder is the same whenever it is made."""
_SECRET = "1d" * 32
"""The invented class keeps no secrets, and its codes are the same in every run."""


@dataclass(frozen=True, slots=True)
class _Returned:
    """A file as it comes back: its name and its bytes."""

    name: str
    data: bytes


def run_demo(root: Path) -> ReadSummary:
    """Make the class, its sheets and what comes back, and read it.

    Raises
    ------
    FolderError : something stands in the folder already.
    """
    folder = new_class(
        root, templates_folder() / "demo" / "roster.csv", calipers=DEMO_CALIPERS, secret=_SECRET
    )
    make_folder(folder.keep)
    write_beside(folder.keep / "demo.txt", _MARKER.encode("utf-8"))
    build_sheets(folder, _SESSION)
    fill_sheets(folder, _SESSION)
    return read_returned(folder, _SESSION, today=_DAY)


def fill_sheets(folder: ClassFolder, session: int) -> int:
    """Fill every sheet of a session with invented entries into returned/; return how many files that made.

    Raises
    ------
    FolderError : no sheet was built.
    """
    builds = keep.load_records(folder)
    records = sorted(
        (
            versions[-1]
            for versions in builds.values()
            if versions[-1].session == session and not is_spare(versions[-1])
        ),
        key=lambda record: record.student_id,
    )
    if not records:
        raise FolderError(
            folder.sheets(session), "no sheet on record", "built sheets", "Run `sheetgen build` first."
        )
    make_folder(folder.returned(session))
    files = [one for record in records for one in _returned(folder, record)]
    for one in files:
        write_beside(folder.returned(session) / one.name, one.data, sync=False)
    return len(files)


def _returned(folder: ClassFolder, record: CopyRecord) -> list[_Returned]:
    """What comes back of one sheet: one file, two, or none."""
    layout = keep.load_layout(folder, record.layout_digest)
    if layout is None or record.student_id == "L24":
        return []
    data = (folder.sheets(record.session) / record.file_name).read_bytes()
    done = _Returned(record.file_name, _typed(data, layout, record))
    special = {
        "L19": [_Returned("photo of my sheet.xlsx", b"\x89PNG\r\n\x1a\n" + b"\0" * 64)],
        "L20": [_Returned(done.name, done.data[: len(done.data) // 2])],
        "L21": [done, _Returned("Copy of " + done.name, done.data)],
        "L22": [_Returned(done.name, _with_formula_replaced(done.data))],
    }
    return special.get(record.student_id, [done])


def _typed(data: bytes, layout: Layout, record: CopyRecord) -> bytes:
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    settings, protocol = built_with.settings, built_with.protocol
    caliper = next(one for one in settings.calipers if one.identifier == record.caliper_id)
    entries = sample_entries(protocol, settings, caliper, record.student_id)
    if record.student_id == "L10":
        practice = {
            name.removeprefix("practice_"): value
            for name, value in record.identity.items()
            if name.startswith("practice_") and not name.startswith("practice_reading_3")
        }
        entries = {
            **{name: value for name, value in entries.items() if not name.startswith("reading_3")},
            **practice,
        }
        entries["data_source"] = "practice"
        for site in protocol.sites:
            first, second = (float(str(entries[f"reading_{number}_{site.word}"])) for number in (1, 2))
            if abs(first - second) > settings.tolerance:
                entries[f"reading_3_{site.word}"] = record.identity[f"practice_reading_3_{site.word}"]
        entries = with_own_working(protocol, settings, entries)
    fault = FAULTS.get(record.student_id)
    if fault is not None:
        # A sheet of another protocol does not ask for every site, so not every fault can be made in it.
        with contextlib.suppress(KeyError):
            fault(entries)
        entries = {name: value for name, value in entries.items() if not name.startswith("own_")}
        entries = with_own_working(protocol, settings, {**entries}) if record.student_id != "L06" else entries
    asked = entry_names(protocol)
    entries = {name: value for name, value in entries.items() if name in asked}
    full = {"caliper_id": record.caliper_id, "data_source": "measured", "side": "right", **entries}
    # L16 saved in a program that does not calculate.
    results = None if record.student_id == "L16" else stored_results(protocol, settings, full)
    return filled(data, layout, entries, results)


def _with_formula_replaced(data: bytes) -> bytes:
    """A number typed over the first result on the tab Results, protection taken off."""

    def changed(part: bytes) -> bytes:
        return re.sub(rb"<f>Calculator![^<]*</f>", b"<v>17.5</v>", part, count=1)

    return with_part_changed(data, "xl/worksheets/sheet3.xml", changed)
