"""Classes of any size with filled sheets that a spreadsheet program saved.

The program saves about three files a second, so it saves a few dozen; the others are made from their bytes.
Each gets the texts and numbers of its own copy, readings of its own, the own working and stored results that
follow from them, and is packed anew. Everything else (the program's formats, formulas, views, order of texts)
stays as the program wrote it.
"""

import random
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.sax.saxutils import escape

import msgspec

from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import sample_entries, with_own_working
from sheetgen.commands.new import new_class
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.packages import filled, with_parts_changed
from tests.office.client import Office

SAVED = 30
"""Files that the spreadsheet program itself saves, at most."""
SESSION = 1

_SECRET = "0b" * 32
_CELL = re.compile(
    rb'<c r="([A-Z]+[0-9]+)"( s="[0-9]+")?(?: t="[a-z]+")?>(<f[^<>]*>[^<]*</f>)?<v>[^<]*</v></c>'
)


@dataclass(frozen=True, slots=True)
class _Saved:
    """A file that the program saved, and what was typed into it."""

    record: CopyRecord
    entries: Mapping[str, Value]
    data: bytes


def class_with_sheets(root: Path, people: int, first: int = 0) -> ClassFolder:
    """Make a class of so many people, its sheets built; `first` keeps the ids of several classes apart."""
    with TemporaryDirectory() as name:
        roster = Path(name) / "roster.csv"
        lines = [f"S{number:05},Given{number},Family{number},no" for number in range(first, first + people)]
        roster.write_text("\n".join(["student_id,given_name,family_name,under_18", *lines]), encoding="utf-8")
        folder = new_class(root, roster, secret=_SECRET)
    build_sheets(folder, SESSION)
    return folder


def files_of(folder: ClassFolder) -> list[Path]:
    """Return the returned files of a class in order of name."""
    return sorted(folder.returned(SESSION).iterdir())


def newest_records(folder: ClassFolder) -> list[CopyRecord]:
    """Return what is on record of every sheet, in order of student."""
    newest = (builds[-1] for builds in keep.load_records(folder).values())
    records = (record for record in newest if record.participant_id)
    return sorted(records, key=lambda record: record.student_id)


def fill_class(folder: ClassFolder, saved: int = SAVED) -> None:
    """Put a filled sheet into returned/ for every sheet of a class."""
    records = newest_records(folder)
    layouts = {record.layout_digest: keep.load_layout(folder, record.layout_digest) for record in records}
    by_words: dict[tuple[str, ...], CopyRecord] = {}
    for record in records:
        by_words.setdefault(_words(record), record)
    chosen = {record.copy_code: record for record in (*records[:saved], *by_words.values())}
    models: dict[tuple[str, ...], list[_Saved]] = {}
    for model in _saved_by_the_program(folder, list(chosen.values()), layouts):
        models.setdefault(_words(model.record), []).append(model)
    folder.returned(SESSION).mkdir(parents=True, exist_ok=True)
    for index, record in enumerate(records):
        like = models[_words(record)]
        model = like[index % len(like)]
        layout = layouts[record.layout_digest]
        if layout is None or record.layout_digest != model.record.layout_digest:
            raise ValueError("a class for measuring speed has one layout")
        same = record.copy_code == model.record.copy_code
        data = model.data if same else _for_another(model, record, layout)
        (folder.returned(SESSION) / record.file_name).write_bytes(data)


def _words(record: CopyRecord) -> tuple[str, ...]:
    """The texts of a copy that others have too: a file is made only from one with the same."""
    own = (record.copy_code, record.student_id, record.participant_code)
    texts = (value for name, value in record.identity.items() if isinstance(value, str) and not _drawn(name))
    return tuple(text for text in texts if not any(one in text for one in own))


def _drawn(name: str) -> bool:
    """Whether a value belongs to a drawn scale. No two copies have the same; these texts stand in their cells
    instead of in the shared list, where one may serve several scales."""
    return name.startswith("drill_")


def _saved_by_the_program(
    folder: ClassFolder, records: Sequence[CopyRecord], layouts: Mapping[str, Layout | None]
) -> list[_Saved]:
    models = []
    with Office.start() as office, TemporaryDirectory() as name:
        given, saved = Path(name) / "given.xlsx", Path(name) / "saved.xlsx"
        for record in records:
            layout = layouts[record.layout_digest]
            assert layout is not None
            entries, results = _entries(_built_with(layout.settings_text), record)
            handed_out = (folder.sheets(SESSION) / record.file_name).read_bytes()
            given.write_bytes(filled(handed_out, layout, entries, results))
            with office.workbook(given) as handle:
                office.save_as(handle, saved)
            models.append(_Saved(record, entries, saved.read_bytes()))
    return models


def _entries(built_with: BuiltWith, record: CopyRecord) -> tuple[dict[str, Value], dict[str, Value]]:
    settings, protocol = built_with.settings, built_with.protocol
    (caliper,) = (one for one in settings.calipers if one.identifier == record.caliper_id)
    sample = sample_entries(protocol, settings, caliper, record.student_id)
    entries = {"caliper_id": caliper.identifier, "data_source": "measured", "side": "right", **sample}
    return entries, stored_results(protocol, settings, entries)


def _for_another(model: _Saved, record: CopyRecord, layout: Layout) -> bytes:
    """The file as it would be for another copy, with other readings."""
    built_with = _built_with(layout.settings_text)
    entries = _other_readings(model.entries, built_with, record.student_id)
    results = stored_results(built_with.protocol, built_with.settings, entries)
    old, new = model.record.identity, record.identity
    texts = {
        _item(str(old[name])): _item(str(value))
        for name, value in new.items()
        if isinstance(value, str) and value != old[name] and not _drawn(name)
    }
    both = {**new, **entries}.items()
    typed = {name: value for name, value in both if not isinstance(value, str) or _drawn(name)}
    places = _places(layout)
    cells: dict[str, dict[bytes, Value]] = {}
    for name, value in {**typed, **results}.items():
        if name in places:
            part, address = places[name]
            cells.setdefault(part, {})[address] = value

    def with_texts(part: bytes) -> bytes:
        for before, after in texts.items():
            part = part.replace(before, after)
        return part

    changes = {part: _with_values(values) for part, values in cells.items()}
    return with_parts_changed(model.data, {**changes, "xl/sharedStrings.xml": with_texts})


def _other_readings(entries: Mapping[str, Value], built_with: BuiltWith, seed: str) -> dict[str, Value]:
    """Other folds at each site; the rounds differ among themselves as before, so a third is still needed."""
    dice = random.Random(f"bench {seed}")
    more = {site.word: dice.randint(0, 60) / 2 for site in built_with.protocol.sites}
    other = dict(entries)
    for name, value in entries.items():
        site = name.removeprefix("reading_")[2:]
        if name.startswith("reading_") and isinstance(value, int | float):
            other[name] = value + more[site]
    other["mass_kg"] = dice.randint(5000, 9000) / 100
    other = {name: value for name, value in other.items() if not name.startswith("own_")}
    return with_own_working(built_with.protocol, built_with.settings, other)


def _with_values(values: Mapping[bytes, Value]) -> Callable[[bytes], bytes]:
    """Another value in some cells that hold one; a cell without one stays as it is."""

    def changed(match: re.Match[bytes]) -> bytes:
        address, shape, formula = match.groups(default=b"")
        if address not in values or values[address] is None:
            return match[0]
        value = values[address]
        kind, text = ("str", escape(value)) if isinstance(value, str) else ("n", f"{value:.15g}")
        return b'<c r="%b"%b t="%b">%b<v>%b</v></c>' % (
            address, shape, kind.encode(), formula, text.encode()
        )  # fmt: skip

    return lambda part: _CELL.sub(changed, part)


def _item(text: str) -> bytes:
    return f">{escape(text)}</t>".encode()


@lru_cache(maxsize=8)
def _built_with(text: str) -> BuiltWith:
    built_with: BuiltWith = msgspec.json.decode(text, type=BuiltWith)
    return built_with


_PLACES: dict[int, dict[str, tuple[str, bytes]]] = {}


def _places(layout: Layout) -> dict[str, tuple[str, bytes]]:
    """Part name and address of every named cell; the program numbers its parts in the order of tabs."""
    if id(layout) not in _PLACES:
        parts = {tab.key: f"xl/worksheets/sheet{index}.xml" for index, tab in enumerate(layout.tabs, start=1)}
        _PLACES[id(layout)] = {
            name: (parts[key], absolute(row, column).replace("$", "").encode())
            for name, (key, row, column) in layout.places().items()
        }
    return _PLACES[id(layout)]
