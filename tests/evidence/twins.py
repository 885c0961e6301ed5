"""Filled sheets of invented classes that are on record: what every piece of evidence starts from."""

import io
import random
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import sample_entries
from sheetgen.commands.new import new_class
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.one_file import attempt_of_bytes
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled

PROTOCOLS = (
    "seven-sites",
    "three-sites-women",
    "four-sites",
    "folds-only",
    "three-sites-men",
    "youth-two-sites",
)
_LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class Twin:
    """A filled sheet that nobody touched, and what its class knows.

    entries : what was typed, code words as such. data : the bytes of the file.
    """

    known: OnRecord
    protocol_id: str
    student_id: str
    entries: Mapping[str, Value]
    data: bytes

    def attempt(self, data: bytes | None = None, name: str = "sheet.xlsx") -> Attempt:
        """What the reader says of this sheet, or of other bytes that came back for it."""
        return attempt_of_bytes(self.data if data is None else data, name, self.known)


def twins_of(folder: Path, protocols: Sequence[str] = PROTOCOLS[:3], people: int = 2) -> tuple[Twin, ...]:
    """Return filled sheets of one class a protocol, below a folder; the same each time."""
    return tuple(
        twin
        for number, protocol in enumerate(protocols)
        for twin in _class_of(folder / protocol, protocol, people, f"{number + 10:02x}" * 32)
    )


def _class_of(root: Path, protocol: str, people: int, secret: str) -> list[Twin]:
    roster = root.with_suffix(".csv")
    roster.parent.mkdir(parents=True, exist_ok=True)
    lines = [f"T{number:02},Given{_name(number)},Family{_name(number)},no" for number in range(1, people + 1)]
    roster.write_text(
        "student_id,given_name,family_name,under_18\n" + "\n".join(lines) + "\n", encoding="utf-8"
    )
    folder = new_class(root, roster, (protocol,), secret=secret)
    build_sheets(folder, 1)
    known = on_record(folder)
    records = [builds[-1] for builds in keep.load_records(folder).values() if builds[-1].participant_id]
    return [
        _twin(folder, known, protocol, record.copy_code)
        for record in sorted(records, key=lambda one: one.student_id)
    ]


def _twin(folder: ClassFolder, known: OnRecord, protocol_id: str, code: str) -> Twin:
    record = known.builds[code][-1]
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    protocol, settings = built_with.protocol, built_with.settings
    (caliper,) = (one for one in settings.calipers if one.identifier == record.caliper_id)
    handed_out = {"caliper_id": caliper.identifier, "data_source": "measured", "side": "right"}
    entries = {**handed_out, **sample_entries(protocol, settings, caliper, f"{protocol_id} {code}")}
    data = (folder.sheets(1) / record.file_name).read_bytes()
    whole = filled(data, layout, entries, stored_results(protocol, settings, entries))
    typed = {name: value for name, value in entries.items() if value is not None}
    return Twin(known, protocol_id, record.student_id, typed, whole)


def _name(number: int) -> str:
    return _LETTERS[number % 26] + _LETTERS[number // 26 % 26]


def parts_of(data: bytes) -> dict[str, bytes]:
    """Return every part of a package by its name, in order."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zipped(
    parts: Mapping[str, bytes], method: int = zipfile.ZIP_STORED, dice: random.Random | None = None
) -> bytes:
    """Return a package of parts; with dice, in a random order."""
    names = list(parts)
    if dice is not None:
        dice.shuffle(names)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", method, compresslevel=1) as archive:
        for name in names:
            entry = zipfile.ZipInfo(name, (2027, 1, 15, 10, 0, 0))
            entry.compress_type = method
            archive.writestr(entry, parts[name])
    return target.getvalue()
