"""Make what a platform hands over, with every oddity of a real term, for the invented sample class.

    .venv/bin/python samples/bundle.py FOLDER

makes the class in FOLDER/class and what came back in FOLDER/downloads; then
`sheetgen read FOLDER/class FOLDER/downloads`. The same files in every run.
"""

import io
import sys
import unicodedata
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

import msgspec

from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import DEMO_CALIPERS, sample_entries
from sheetgen.commands.new import new_class
from sheetgen.errors import SheetgenError
from sheetgen.finding import Refusal
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import BuiltWith
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled, with_parts_changed
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, TabState

SECRET = "1d" * 32
OTHER_SECRET = "2e" * 32

RIGHT_TO_LEFT = "גיליון של מדידות.xlsx"
LONG = "The sheet of Gideon about his partner, " + "measured again with great care " * 6 + "final.xlsx"
DECOMPOSED = unicodedata.normalize("NFD", "Fäden und Größen, Łódź.xlsx")

_DAY = (2026, 11, 14, 10, 0, 0)
_LATER = (2026, 11, 15, 18, 30, 0)
_NAMES = " ".join(
    f'xmlns:{word}="urn:oasis:names:tc:opendocument:xmlns:{word}:1.0"'
    for word in ("office", "style", "table", "text")
)
_QUOTE = '"'
_SYMLINK = 0o120777 << 16
_LOCKED = 0x1


@dataclass(frozen=True, slots=True)
class _Entry:
    """One entry of a zip: its name, its bytes, and what is odd about how it is stored."""

    name: str
    data: bytes
    day: tuple[int, int, int, int, int, int] = _DAY
    attributes: int = 0o100644 << 16
    locked: bool = False


def make_classes(root: Path) -> tuple[ClassFolder, ClassFolder]:
    """Return the sample class, built, and last term's with one sheet, in the folders beside one another."""
    made = []
    for name, secret, student in (("class", SECRET, ""), ("last-term", OTHER_SECRET, "L17")):
        roster = templates_folder() / "demo" / "roster.csv"
        folder = new_class(root / name, roster, calipers=DEMO_CALIPERS, secret=secret)
        build_sheets(folder, 1, student)
        made.append(folder)
    return made[0], made[1]


def downloads_of(folder: ClassFolder, last_term: ClassFolder) -> dict[str, bytes]:
    """Return name to bytes of everything in the folder of downloads."""
    return {
        "platform download.zip": _zip(_flat(folder, last_term)),
        "folders.zip": _zip(_by_person(folder)),
        "mail attachments.zip": _zip(_wrong_formats()),
        "L14.xlsx": _sheet(folder, "L14"),
        "L14 (1).xlsx": _sheet(folder, "L14"),
        "sheet of L15.zip": _sheet(folder, "L15"),
        "bundle named.xlsx": _zip([_Entry("inside/L16.xlsx", _sheet(folder, "L16"))]),
        "locked.zip": _zip([_Entry("L23.xlsx", b"not to be read", locked=True)]),
        "broken.zip": _zip([_Entry("L23.xlsx", b"cut off" * 400)])[:-60],
        "swollen.zip": _zip([_Entry("L23.xlsx", b"\0" * 3_000_000)]),
        "nested.zip": _nested(6),
        "only notes.zip": _zip([_Entry("notes/readme.txt", b"see you"), _Entry(".DS_Store", b"x")]),
        "L21.ods": _as_ods(_sheet(folder, "L21")),
        "desktop.ini": b"[.ShellClassInfo]",
        "~$L14.xlsx": b"\x05owner",
        ".~lock.L14.xlsx#": b",owner,host,,file:///;",
    }


def _flat(folder: ClassFolder, last_term: ClassFolder) -> list[_Entry]:
    """One flat zip with prefixed names, as a platform makes it of all submissions."""
    first = _sheet(folder, "L03", {"reading_1_chest": 12.5})
    emptied = _sheet(folder, "L04", {"reading_2_thigh": None})
    return [
        _Entry("L01_4711_file_sheet.xlsx", _sheet(folder, "L01")),
        _Entry("L01_4711_onlinetext.html", b"<html><p>Here it is.</p></html>"),
        _Entry("L01_4711_comment.txt", b"thank you"),
        _Entry("index.json", b"{}"),
        _Entry("L02_attempt_1_sheet.xlsx", _sheet(folder, "L02", {"mass_kg": 60.5})),
        _Entry("L02_attempt_2_sheet.xlsx", _sheet(folder, "L02")),
        _Entry("L03_2026-11-13-09-05-00_sheet.xlsx", first),
        _Entry("L03_2026-11-14-09-05-00_sheet.xlsx", _sheet(folder, "L03")),
        _Entry("L04 sheet.xlsx", _saved(_sheet(folder, "L04"), "2026-11-13T20:15:00Z")),
        # Saved later, and not complete: a reading was emptied by mistake.
        _Entry("L04 sheet again.xlsx", _saved(emptied, "2026-11-14T08:00:00Z")),
        _Entry("L05 sheet.xlsx", _saved(_sheet(folder, "L05", {"mass_kg": 61.5}), "2026-11-13T20:15:00Z")),
        _Entry("L05 the other one.xlsx", _saved(_sheet(folder, "L05"), "2026-11-13T21:40:00Z")),
        _Entry("last term.xlsx", _sheet(last_term, "L17")),
        _Entry("L18 half.xlsx", _sheet(folder, "L18")[:9_000]),
        _Entry("L19 empty.xlsx", b""),
        _Entry("empty", b""),
        _Entry("Thumbs.db", b"\xd0\xcf\x11\xe0"),
        _Entry("../../L06 climbs.xlsx", _sheet(folder, "L06")),
        _Entry("link.xlsx", b"../../somewhere/sheet.xlsx", attributes=_SYMLINK),
    ]


def _by_person(folder: ClassFolder) -> list[_Entry]:
    """A folder a person, zipped on a desktop that adds files of its own; zips in zips."""
    inner = _zip([_Entry("my work/L12.xlsx", _sheet(folder, "L12"))])
    return [
        _Entry("L07/", b""),
        _Entry(f"L07/{LONG}", _sheet(folder, "L07")),
        _Entry(f"L08/{RIGHT_TO_LEFT}", _sheet(folder, "L08")),
        _Entry(f"L09/{DECOMPOSED}", _sheet(folder, "L09")),
        _Entry("L10/aux.xlsx", _sheet(folder, "L10")),
        _Entry("L11/CON/sheet.xlsx. . .", _sheet(folder, "L11")),
        _Entry("L12/handed in.zip", _zip([_Entry("again.zip", inner)])),
        _Entry("L13/sheet.xlsx", _sheet(folder, "L13", {"mass_kg": 62.5})),
        _Entry("L13/copy of the sheet.xlsx", _sheet(folder, "L13"), day=_LATER),
        _Entry("__MACOSX/L07/._sheet.xlsx", b"\x00\x05\x16\x07"),
        _Entry("L07/.DS_Store", b"\x00\x00\x00\x01Bud1"),
        _Entry("L20/two of one.xlsx", _sheet(folder, "L20", {"mass_kg": 63.5})),
        _Entry("L20/one of two.xlsx", _sheet(folder, "L20", {"mass_kg": 64.5})),
    ]


def _wrong_formats() -> list[_Entry]:
    own_format = _zip([_Entry("Index/Document.iwa", b"\0" * 40), _Entry("preview.jpg", b"\xff\xd8\xff")])
    compound = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504
    return [
        _Entry("sheet.xls", b"\x09\x08\x10\x00\x00\x06\x05\x00" + b"\0" * 64),
        _Entry("sheet.csv", b"site;round 1;round 2\nchest;12,5;12,0\n"),
        _Entry("sheet.pdf", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"),
        _Entry("my sheet.numbers", own_format),
        _Entry("old sheet.numbers/Index.zip", _zip([_Entry("Document.iwa", b"\0" * 40)])),
        _Entry("old sheet.numbers/preview.jpg", b"\xff\xd8\xff\xe0"),
        _Entry("photo of the screen.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 64),
        _Entry("sheet.gsheet", b'{"url": "https://documents.example/1", "doc_id": "1"}'),
        _Entry("sheet.url", b"[InternetShortcut]\r\nURL=https://documents.example/1\r\n"),
        _Entry("locked sheet.xlsx", compound + "EncryptedPackage".encode("utf-16-le")),
    ]


def _nested(deep: int) -> bytes:
    data = _zip([_Entry("too deep.txt", b"nobody gets here")])
    for number in range(deep):
        data = _zip([_Entry(f"level {number}.zip", data)])
    return data


def _sheet(folder: ClassFolder, student_id: str, change: Mapping[str, Value] | None = None) -> bytes:
    """A sheet filled in without a fault, some entries changed."""
    (record,) = (
        builds[-1] for builds in keep.load_records(folder).values() if builds[-1].student_id == student_id
    )
    layout = keep.load_layout(folder, record.layout_digest)
    if layout is None:
        raise LookupError(f"the Layout of the sheet of {student_id} is not on record")
    built_with = msgspec.json.decode(layout.settings_text, type=BuiltWith)
    settings, protocol = built_with.settings, built_with.protocol
    caliper = next(one for one in settings.calipers if one.identifier == record.caliper_id)
    entries: dict[str, Value] = {
        **sample_entries(protocol, settings, caliper, student_id),
        "caliper_id": caliper.identifier,
        "data_source": "measured",
        "side": "right",
        **(change or {}),
    }
    data = (folder.sheets(1) / record.file_name).read_bytes()
    return filled(data, layout, entries, stored_results(protocol, settings, entries))


def _saved(data: bytes, moment: str) -> bytes:
    """A sheet as a program leaves it that writes down when it was saved."""

    def changed(part: bytes) -> bytes:
        start = part.index(b"<dcterms:modified")
        end = part.index(b"</dcterms:modified>")
        opening = part[start : part.index(b">", start) + 1]
        return part[:start] + opening + moment.encode("ascii") + part[end:]

    return with_parts_changed(data, {"docProps/core.xml": changed})


def _as_ods(data: bytes) -> bytes:
    """The same tabs, texts and numbers in the open document format; of formulas the results, with a mark."""
    package = read_package_bytes(data)
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        raise LookupError(state.code)
    tables = "".join(map(_table, state.tabs))
    content = (
        f'<office:document-content {_NAMES} office:version="1.2"><office:automatic-styles>'
        '<style:style style:name="open" style:family="table-cell">'
        '<style:table-cell-properties style:cell-protect="none"/></style:style></office:automatic-styles>'
        f'<office:body><office:spreadsheet table:structure-protected="true">{tables}</office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    return _zip([_Entry("mimetype", kind), _Entry("content.xml", content.encode("utf-8"))])


def _table(tab: TabState) -> str:
    """One tab as a table, every cell up to the last that holds something."""
    rows: dict[int, dict[int, CellState]] = {}
    for (row, column), cell in tab.cells.items():
        rows.setdefault(row, {})[column] = cell
    written = "".join(
        f"<table:table-row>{_row(rows.get(row, {}))}</table:table-row>" for row in range(max(rows) + 1)
    )
    return f'<table:table table:name="{escape(tab.title)}" table:protected="true">{written}</table:table>'


def _row(cells: Mapping[int, CellState]) -> str:
    return "".join(_cell(cells.get(column, CellState())) for column in range(max(cells, default=0) + 1))


def _cell(cell: CellState) -> str:
    style = "" if cell.locked else ' table:style-name="open"'
    formula = f' table:formula="of:{escape(cell.formula, {_QUOTE: "&quot;"})}"' if cell.formula else ""
    if isinstance(cell.value, float):
        kind, text = f' office:value-type="float" office:value="{cell.value!r}"', ""
    elif isinstance(cell.value, str):
        kind, text = ' office:value-type="string"', f"<text:p>{escape(cell.value)}</text:p>"
    else:
        kind, text = "", ""
    return f"<table:table-cell{style}{formula}{kind}>{text}</table:table-cell>"


def _zip(entries: list[_Entry]) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for entry in entries:
            place = zipfile.ZipInfo(entry.name, entry.day)
            place.compress_type = zipfile.ZIP_DEFLATED
            place.create_system = 3
            place.external_attr = entry.attributes
            archive.writestr(place, entry.data)
    data = bytearray(target.getvalue())
    if any(entry.locked for entry in entries):
        # Only the mark that a password is asked for: nothing here has to be kept secret.
        for magic, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
            start = data.find(magic)
            while start >= 0:
                data[start + place] |= _LOCKED
                start = data.find(magic, start + 4)
    return bytes(data)


def main(arguments: list[str]) -> int:
    """Make class and downloads; return the exit code."""
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    root = Path(arguments[0])
    try:
        folder, last_term = make_classes(root)
    except SheetgenError as fault:
        print(fault, file=sys.stderr)
        return 2
    files = downloads_of(folder, last_term)
    (root / "downloads").mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        (root / "downloads" / name).write_bytes(data)
    size = sum(map(len, files.values()))
    print(f"{folder.root}: the class")
    print(f"{root / 'downloads'}: {len(files)} files, {size:,} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
