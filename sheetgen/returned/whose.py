"""Whose copy a file is, by what stands inside it and what the class has on record."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from operator import itemgetter

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.sheets_wanted import Claim
from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import CopyRecord
from sheetgen.errors import SheetgenError
from sheetgen.finding import Finding, Values, listed, typed
from sheetgen.protocols.names import DRILL, TEXT_ENTRIES, entry_names, live_names
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Issued
from sheetgen.returned.comparison import compared
from sheetgen.sheet.student import LAYOUT_VERSION, Source, all_protocols, layout_of
from sheetgen.workbook.addresses import column_number
from sheetgen.workbook.layout import Cell, Layout, Tab, Value
from sheetgen.workbook.snapshot import Snapshot, TabState

_CHARACTER = "[2-9A-HJKMNP-TV-Z]"
"""Copy codes have no 0, 1, I, L, O, U, so that most other numbers on a sheet are none."""
_COPY_CODE = re.compile(rf"(?<![0-9A-Z-]){_CHARACTER}{{4}}-{_CHARACTER}{{4}}(?![0-9A-Z-])")
_CLASS_CODE = re.compile(rf"{_CHARACTER}{{6}}")
_PLACE = re.compile(r"^'?(?P<tab>.*?)'?!\$?(?P<column>[A-Z]{1,2})\$?(?P<row>[0-9]{1,4})$")

_ENOUGH = 0.5


class OnRecord(Struct, frozen=True):
    """What a class knows of its sheets; everything is empty where keep/ is missing. builds : copy code to
    every build of that copy, oldest first. decisions : of the teacher, on this session. minors : participant
    codes, in lower case, of those who count as under 18. claims : of spare sheets; None: not asked."""

    folder: ClassFolder | None
    class_code: str
    builds: Mapping[str, Sequence[CopyRecord]]
    decisions: tuple[Decision, ...] = ()
    minors: frozenset[str] = frozenset()
    claims: Mapping[str, Claim] | None = None


def on_record(folder: ClassFolder | None) -> OnRecord:
    """Return what a class knows of its sheets; FolderError where the record cannot be used."""
    if folder is None:
        return OnRecord(None, "", {})
    secret = keep.load_secret(folder)
    return OnRecord(folder, keep.class_code(secret) if secret else "", keep.load_records(folder))


def copy_codes_in(snapshot: Snapshot) -> tuple[str, ...]:
    """Return every copy code a file carries, the hidden tab's first, each once. The code is printed on the
    first row of every tab, in a line of text and as the first of the codes there. A cell with nothing but
    such a code is no such line: a tab for notes may hold a telephone number."""
    named = named_text(snapshot, "copy_code")
    codes = [named] if _COPY_CODE.fullmatch(named) else []
    for tab in snapshot.tabs:
        texts = (str(tab.value(0, column)) for column in range(8))
        matches = ((_COPY_CODE.search(text), text.strip()) for text in texts)
        codes += [match[0] for match, text in matches if match and match[0] != text][:1]
    return tuple(dict.fromkeys(codes))


def class_code_in(snapshot: Snapshot) -> str:
    """Return the class code a file carries, or the empty text."""
    return _beside(snapshot, "class_code")


def settings_text_in(snapshot: Snapshot) -> str:
    """Return the settings a file says it was built with, or the empty text."""
    return named_text(snapshot, "settings") or _beside(snapshot, "settings")


def named_text(snapshot: Snapshot, name: str) -> str:
    """Return the text of a named cell, or the empty text."""
    place = place_of(snapshot, snapshot.names.get(name, ""))
    value = None if place is None else place[0].value(*place[1:])
    return value if isinstance(value, str) else ""


def place_of(snapshot: Snapshot, target: str) -> tuple[TabState, int, int] | None:
    """Return tab, row and column of the one cell that a name points at, None where it points at no such."""
    match = _PLACE.match(target)
    title = match["tab"].replace("''", "'").casefold() if match else None
    for tab in snapshot.tabs:
        if match and tab.title.casefold() == title:
            return tab, int(match["row"]) - 1, column_number(match["column"])
    return None


def _beside(snapshot: Snapshot, name: str) -> str:
    """The text to the right of a printed name on any tab."""
    for tab in snapshot.tabs:
        for (row, column), state in tab.cells.items():
            if column == 0 and state.value == name:
                return _as_text(tab.value(row, 1))
    return ""


def matched_tabs(layout: Layout, snapshot: Snapshot) -> dict[str, TabState]:
    """Return tab key to returned tab; a tab of which less than half the labels are found is missing."""
    matched: dict[str, TabState] = {}
    left = list(snapshot.tabs)
    for tab in layout.tabs:
        shares = []
        for state in sorted(left, key=lambda state: state.title != tab.title):
            shares.append((label_share(tab, state), state.title == tab.title, state))
            # Most come back as they were, and none fits better than one with its title and every label.
            if shares[-1][:2] == (1, True):
                break
        best = max(shares, key=itemgetter(0, 1), default=None)
        if best is not None and best[0] >= _ENOUGH:
            matched[tab.key] = best[2]
            left.remove(best[2])
    return matched


def label_share(tab: Tab, state: TabState) -> float:
    """Return the share [0 to 1] of a tab's printed labels that stand at their place."""
    labels = [one for one in tab.cells if one.role == "label" and isinstance(one.value, str) and one.value]
    there = sum(state.value(cell.row, cell.column) == cell.value for cell in labels)
    return there / len(labels) if labels else float(tab.title == state.title)


def whose(snapshot: Snapshot, known: OnRecord) -> tuple[CopyRecord, Issued] | Finding:
    """Return the record of the copy that a file is, with what it is compared with, or why it is none. Where
    nothing is on record the file's own word counts; such a record names no stored Layout."""
    codes, class_code = copy_codes_in(snapshot), class_code_in(snapshot)
    if not codes:
        return Finding("file-not-a-sheet")
    if known.class_code not in ("", class_code) and not any(code in known.builds for code in codes):
        beside = known.folder and keep.class_folder_beside(known.folder, class_code)
        # In its place anything may stand that somebody wrote.
        found = class_code if _CLASS_CODE.fullmatch(class_code) else typed(class_code)
        values: Values = {"found": found, "folder": str(beside), "code": known.class_code}
        case = "beside" if beside else ""
        return Finding("file-other-class", values, case=case if class_code else "missing")
    if len(codes) > 1:
        codes = _on_tabs_of_sheets(snapshot, codes, known)
    if len(codes) > 1:
        return Finding("identity-two-codes", {"codes": listed(codes[:3], "and")})
    builds = known.builds.get(codes[0], ())
    if known.folder is not None:
        for record, layout in _layouts(known.folder, builds, snapshot):
            built_with = _decoded(layout.settings_text)
            if built_with is not None:
                protocol, form = built_with.protocol, built_with.layout_version
                return record, Issued(layout, record.identity, protocol, built_with.settings, form)
    if known.builds and not builds:
        return Finding("identity-unknown-copy", {"code": codes[0]})
    return _by_its_own_word(snapshot, codes[0], known.folder)


def _on_tabs_of_sheets(snapshot: Snapshot, codes: Sequence[str], known: OnRecord) -> tuple[str, ...]:
    """The copy codes on tabs that are a sheet's by their labels: a student's own tab for notes may name the
    partner's code. All of them where no Layout tells which tabs are."""
    builds = [record for code in codes for record in known.builds.get(code, ())]
    layouts = [layout for _, layout in _layouts(known.folder, builds, snapshot)] if known.folder else []
    built_with = _decoded(settings_text_in(snapshot))
    source = _source(built_with) if built_with is not None and not layouts else None
    tabs = [tab for layout in (*layouts, *([source.layout] if source else ())) for tab in layout.tabs]
    theirs = tuple(one for one in snapshot.tabs if any(label_share(tab, one) >= _ENOUGH for tab in tabs))
    return copy_codes_in(replace(snapshot, tabs=theirs)) or tuple(codes)


def _layouts(
    folder: ClassFolder, builds: Sequence[CopyRecord], snapshot: Snapshot
) -> list[tuple[CopyRecord, Layout]]:
    """The builds of a copy with their Layouts, first the one that the file was most likely made from: with
    its settings, its caliper, and the fewest changes, since sheets of equal settings may differ in a wording.
    """
    settings_text = settings_text_in(snapshot)

    def unlike(build: tuple[CopyRecord, Layout]) -> tuple[bool, bool, int]:
        record, layout = build
        tabs = matched_tabs(layout, snapshot)
        key, row, column = layout.places()["caliper_zero_mm"]
        zero = record.identity.get("caliper_zero_mm")
        same_caliper = key in tabs and tabs[key].value(row, column) == zero
        changes = sum(one.count for one in compared(layout, record.identity, snapshot, tabs))
        return layout.settings_text != settings_text, not same_caliper, changes

    pairs = [(record, keep.load_layout(folder, record.layout_digest)) for record in reversed(builds)]
    found = [(record, layout) for record, layout in pairs if layout is not None]
    return sorted(found, key=unlike) if len(found) > 1 else found


def _by_its_own_word(
    snapshot: Snapshot, code: str, folder: ClassFolder | None
) -> tuple[CopyRecord, Issued] | Finding:
    """A sheet of which nothing is on record: its Layout from the settings in it, its identity unproven."""
    built_with = _decoded(settings_text_in(snapshot))
    source = None if built_with is None else _source(built_with)
    if built_with is None or source is None:
        return Finding("file-unknown-protocol", case="settings")
    if built_with.layout_version > LAYOUT_VERSION:
        return Finding("file-other-version", {"found": built_with.layout_version, "own": LAYOUT_VERSION})
    identifier = source.protocol.identifier
    if folder is not None and identifier not in all_protocols(folder):
        return Finding("file-unknown-protocol", {"protocol": typed(identifier, 40)})
    form = built_with.layout_version
    by_names = form < LAYOUT_VERSION
    layout = layout_by_names(snapshot, source.protocol, source.layout) if by_names else source.layout
    tabs = matched_tabs(layout, snapshot)
    found = {
        cell.name: tabs[tab.key].value(cell.row, cell.column)
        for tab in layout.tabs
        for cell in tab.cells
        if cell.role == "identity" and tab.key in tabs
    }
    values = {name: None if isinstance(value, bool) else value for name, value in found.items()}
    session = values.get("session_number")
    record = CopyRecord(
        code,
        int(session) if isinstance(session, int | float) else 1,
        _as_text(values.get("student_id")),
        participant_code=_as_text(values.get("participant_code")),
        identity=values,
    )
    return record, Issued(layout, values, source.protocol, source.settings, form, by_names)


def _as_text(value: Value | bool) -> str:
    """A printed text; some programs store one that looks like a number, such as an id 1001, as a number."""
    if isinstance(value, bool):
        return ""
    return f"{value:.15g}" if isinstance(value, int | float) else value or ""


@lru_cache(maxsize=64)
def _decoded(text: str) -> BuiltWith | None:
    try:
        return msgspec.json.decode(text, type=BuiltWith)
    except (msgspec.DecodeError, ValueError):
        return None


@lru_cache(maxsize=16)
def _source(built_with: BuiltWith) -> Source | None:
    """The Layout of settings read from a file; None where they do not make one."""
    try:
        recalculate(built_with.protocol, built_with.settings, {})
        return layout_of(built_with)
    except (SheetgenError, KeyError, ValueError, TypeError):
        return None


FORMER_ENTRIES = ("changed_from",)  # Entries that sheets do not have any more.

_IDENTITY = (
    "copy_code", "student_id", "participant_code", "protocol_id", "session_number", "caliper_zero_mm",
)  # fmt: skip


def layout_by_names(snapshot: Snapshot, protocol: Protocol, today: Layout) -> Layout:
    """Return a Layout with a cell for every name that is known: entries, live results and identity. Labels,
    formulas and rules of that time are not known, so nothing is compared with them. today : as made now."""
    names = snapshot.names
    roles: Mapping[str, str] = {
        **dict.fromkeys((*entry_names(protocol), *DRILL, *FORMER_ENTRIES), "entry"),
        **dict.fromkeys(live_names(protocol), "formula"),
        **dict.fromkeys(_IDENTITY, "identity"),
    }
    cells: dict[str, list[Cell]] = {}
    for name, role in roles.items():
        # Where lists show other words than the code words, the entry itself has a name of its own.
        place = place_of(snapshot, names.get(f"typed_{name}") or names.get(name, ""))
        if place is not None:
            state, row, column = place
            number = name not in TEXT_ENTRIES and not name.startswith(
                ("not_taken_", "answer_", *FORMER_ENTRIES)
            )
            shape = "entry_number" if number else "entry_text"
            cells.setdefault(state.title, []).append(Cell(row, column, role, name=name, format=shape))
    tabs = (Tab(f"tab {at}", title, tuple(found)) for at, (title, found) in enumerate(cells.items()))
    return Layout(today.title, today.subject, today.language, tuple(tabs), today.settings_text)
