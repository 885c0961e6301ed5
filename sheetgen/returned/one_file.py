"""One returned file, from its bytes to an Attempt, here or by whatever executor there is.

Each process loads the record of what was handed out once, from the class folder, so it has to see that
folder; on several machines it lies on a disk that all of them share. The bytes of a file travel.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import msgspec

from sheetgen.class_book.sheets_wanted import Claim, claimed, spare_findings
from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import read_if_there, sha256_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import class_folder_beside
from sheetgen.class_folder.records import CopyRecord
from sheetgen.errors import FolderError, SheetgenError
from sheetgen.finding import Finding, Refusal, Values, listed, quoted
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import Attempt, with_findings
from sheetgen.returned.by_names import layout_by_names
from sheetgen.returned.comparison import compared
from sheetgen.returned.corrections import corrections_of
from sheetgen.returned.examination import Issued, examined, minor_today_findings
from sheetgen.returned.incoming import Incoming
from sheetgen.returned.pool import mapped
from sheetgen.returned.whose import class_code_in, copy_codes_in, matched_tabs, settings_text_in
from sheetgen.sheet.student import LAYOUT_VERSION, Source, all_protocols, layout_of
from sheetgen.texts.findings import load_catalogue, of_refusal
from sheetgen.texts.languages import list_words
from sheetgen.workbook.layout import Layout, Value
from sheetgen.workbook.read.guard import Package, read_package, read_package_bytes
from sheetgen.workbook.read.ods import snapshot as ods_snapshot
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import Snapshot

# Kinds of workbook that are read like the one handed out.
_OTHER_KINDS = {
    "xlsm": ("file-macro-workbook", ""),
    "xltm": ("file-template", "macros"),
    "xltx": ("file-template", ""),
}


@dataclass(frozen=True, slots=True)
class OnRecord:
    """What a class knows of its sheets; everything is empty where keep/ is missing.

    builds : copy code to every build of that copy, oldest first.
    decisions : of the teacher, on this session.
    minors : participant codes, in lower case, of those who count as under 18.
    claims : of spare sheets, by copy code; None where the class book was not asked.
    """

    folder: ClassFolder | None
    class_code: str
    builds: Mapping[str, Sequence[CopyRecord]]
    decisions: tuple[Decision, ...] = ()
    minors: frozenset[str] = frozenset()
    claims: Mapping[str, Claim] | None = None


def on_record(folder: ClassFolder | None) -> OnRecord:
    """Return what a class knows of its sheets.

    Raises
    ------
    FolderError : the record is there and cannot be used.
    """
    if folder is None:
        return OnRecord(None, "", {})
    secret = keep.load_secret(folder)
    return OnRecord(folder, keep.class_code(secret) if secret else "", keep.load_records(folder))


def attempt_of(path: Path, name: str, known: OnRecord) -> Attempt:
    """Return everything there is to say about one returned file; a bad file never raises.

    Parameters
    ----------
    name : how the file is called in results and messages.
    """
    package = read_package(path)
    if isinstance(package, Refusal):
        return refused_attempt(name, _sha256(path), of_refusal(package))
    return _of_package(package, name, known)


def attempt_of_bytes(data: bytes, name: str, known: OnRecord) -> Attempt:
    """Return everything there is to say about the bytes of one returned file; bad ones never raise."""
    package = read_package_bytes(data, name)
    if isinstance(package, Refusal):
        return refused_attempt(name, sha256_of(data), of_refusal(package))
    return _of_package(package, name, known)


def refused_attempt(name: str, sha256: str, *findings: Finding) -> Attempt:
    """Return a file that is not read, with the reasons; their severity and remedy are looked up."""
    return with_findings(Attempt(name, sha256, "", None, "", {}, None, ()), findings, load_catalogue())


def _of_package(package: Package, name: str, known: OnRecord) -> Attempt:
    state = ods_snapshot(package) if package.kind == "ods" else snapshot(package)
    if isinstance(state, Refusal):
        return refused_attempt(name, package.sha256, of_refusal(state))
    notes: tuple[Finding, ...] = ()
    if package.foreign:
        notes = (Finding("file-foreign-content", {"parts": tuple(package.foreign[:3])}),)
    if package.kind in _OTHER_KINDS:
        code, case = _OTHER_KINDS[package.kind]
        notes = (*notes, Finding(code, case=case))
    try:
        return _examined(state, name, package.sha256, known, notes)
    except SheetgenError:
        raise
    except Exception as fault:
        # Whatever a file brings along, the others still have to be read.
        found = Finding("file-unreadable", {"kind": type(fault).__name__}, case="contents")
        return refused_attempt(name, package.sha256, found, *notes)


def _examined(
    state: Snapshot, name: str, sha256: str, known: OnRecord, notes: tuple[Finding, ...]
) -> Attempt:
    found = _whose(state, known)
    if isinstance(found, Finding):
        return refused_attempt(name, sha256, found, *notes)
    issued, record, proof = found
    if known.claims is not None:
        record = claimed(record, known.claims)
        proof = (*proof, *spare_findings(record, known.claims))
    corrections = corrections_of(known.decisions, record.copy_code)
    examination = examined(issued, state, corrections)
    others = minor_today_findings(issued.layout, issued.protocol, examination.entries, known.minors)
    attempt = Attempt(
        file=name,
        sha256=sha256,
        status="",
        record=record,
        protocol_id=issued.protocol.identifier,
        entries=examination.entries,
        results=examination.results,
        findings=(),
        built_with=BuiltWith(issued.settings, issued.protocol, LAYOUT_VERSION),
        formula_names=examination.formula_names,
        modified=state.properties.get("modified", ""),
    )
    findings = (*notes, *proof, *examination.findings, *others)
    return with_findings(attempt, findings, load_catalogue())


def _whose(state: Snapshot, known: OnRecord) -> Finding | tuple[Issued, CopyRecord, tuple[Finding, ...]]:
    """The copy a file is, or the finding that says why it is none."""
    codes = copy_codes_in(state)
    class_code = class_code_in(state)
    if not codes:
        return Finding("file-not-a-sheet")
    if (
        known.class_code
        and class_code != known.class_code
        and not any(code in known.builds for code in codes)
    ):
        where = class_folder_beside(known.folder, class_code)
        known_case, missing_case = ("beside", "missing-beside") if where else ("", "missing")
        case = known_case if class_code else missing_case
        values: Values = {"found": class_code, "folder": str(where), "code": known.class_code}
        return Finding("file-other-class", values, case=case)
    if len(codes) > 1:
        return Finding("identity-two-codes", {"codes": listed(tuple(codes[:3]), "and")})
    builds = known.builds.get(codes[0], ())
    if builds and known.folder is not None:
        for record, layout in _layouts(known.folder, builds, state):
            built_with = _decoded(layout.settings_text)
            if built_with is not None:
                protocol, settings = built_with.protocol, built_with.settings
                words = list_words("sheet")
                version = built_with.layout_version
                return Issued(layout, record.identity, protocol, settings, words, version), record, ()
    if known.builds and not builds:
        return Finding("identity-unknown-copy", {"code": codes[0]})
    return _by_its_own_word(state, codes[0], known.folder)


def _layouts(
    folder: ClassFolder, builds: Sequence[CopyRecord], state: Snapshot
) -> list[tuple[CopyRecord, Layout]]:
    """The builds of a copy with their Layouts, first the one that the file was most likely made from."""
    text = settings_text_in(state)
    pairs = [(record, keep.load_layout(folder, record.layout_digest)) for record in reversed(builds)]
    found = [(record, layout) for record, layout in pairs if layout is not None]
    if len(found) < 2:
        return found
    return sorted(
        found,
        key=lambda pair: (
            pair[1].settings_text != text,
            not _same_caliper(pair[0], pair[1], state),
            _differences(pair[0], pair[1], state),
        ),
    )


def _same_caliper(record: CopyRecord, layout: Layout, state: Snapshot) -> bool:
    key, row, column = layout.places()["caliper_zero_mm"]
    tab = matched_tabs(layout, state).get(key)
    return tab is not None and tab.value(row, column) == record.identity.get("caliper_zero_mm")


def _differences(record: CopyRecord, layout: Layout, state: Snapshot) -> int:
    """How many locked parts are not those of a build; sheets of equal settings may differ in a wording."""
    return len(compared(layout, record.identity, state, matched_tabs(layout, state)))


def _by_its_own_word(
    state: Snapshot, code: str, folder: ClassFolder | None
) -> Finding | tuple[Issued, CopyRecord, tuple[Finding, ...]]:
    """A sheet of which nothing is on record: its Layout from the settings in it, its identity unproven."""
    built_with = _decoded(settings_text_in(state))
    source = None if built_with is None else _source(built_with)
    if built_with is None or source is None:
        return Finding("file-unknown-protocol", case="settings")
    if built_with.layout_version > LAYOUT_VERSION:
        return Finding("file-other-version", {"found": built_with.layout_version, "own": LAYOUT_VERSION})
    layout = source.layout
    earlier = built_with.layout_version < LAYOUT_VERSION
    if earlier:
        layout = layout_by_names(state, source.protocol, layout)
    identifier = source.protocol.identifier
    if folder is not None and identifier not in all_protocols(folder):
        return Finding("file-unknown-protocol", {"protocol": quoted(identifier[:40])})
    tabs = matched_tabs(layout, state)
    values: dict[str, Value] = {}
    for tab in layout.tabs:
        for cell in tab.cells:
            if cell.role == "identity" and tab.key in tabs:
                value = tabs[tab.key].value(cell.row, cell.column)
                values[cell.name] = None if isinstance(value, bool) else value
    session = values.get("session_number")
    record = CopyRecord(
        copy_code=code,
        session=int(session) if isinstance(session, int | float) else 1,
        student_id=str(values.get("student_id") or ""),
        participant_id="",
        participant_code=str(values.get("participant_code") or ""),
        caliper_id="",
        layout_digest="",
        file_name="",
        file_sha256="",
        identity=values,
    )
    proof = (Finding("identity-not-proven"), *((Finding("sheet-earlier-form"),) if earlier else ()))
    words, version = list_words("sheet"), built_with.layout_version
    return Issued(layout, values, source.protocol, source.settings, words, version, earlier), record, proof


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


def _sha256(path: Path) -> str:
    """The digest of a file that could not be opened as a package; empty where it cannot be read at all."""
    try:
        # A pipe or a device would wait for ever.
        small = path.is_file() and path.stat().st_size <= 50_000_000
        return sha256_of(path.read_bytes()) if small else ""
    except OSError:
        return ""


@dataclass(frozen=True, slots=True)
class Task:
    """One file, and what has to be known to read it in another process.

    known : without the builds. record : digest of what keep/ holds of them. label : what the file is called.
    data : its bytes, or why there are none.
    """

    known: OnRecord
    record: str
    label: str
    data: bytes | Finding


def attempts_from(
    files: Sequence[Incoming],
    known: OnRecord,
    progress: Callable[[int, int], None] | None = None,
    executor: Executor | None = None,
) -> list[Attempt]:
    """Return everything there is to say about each returned file, in order; a bad one never raises.

    Parameters
    ----------
    progress : is told how many files are done, of how many.
    executor : who reads; None: this process.

    Raises
    ------
    FolderError : the record of what was handed out cannot be used.
    """
    attempts: list[Attempt] = []
    for attempt in mapped(attempt_elsewhere, tasks_of(files, known), len(files), executor, _stopped):
        attempts.append(_with_notes(attempt, files[len(attempts)]))
        if progress is not None:
            progress(len(attempts), len(files))
    return attempts


def attempt_of_incoming(one: Incoming, known: OnRecord) -> Attempt:
    """Return everything there is to say about one file as it came back; a bad one never raises."""
    return _with_notes(_attempt(one.label, one.read(), known), one)


def tasks_of(files: Sequence[Incoming], known: OnRecord) -> Iterator[Task]:
    """Give a task for each file; of the decisions it carries those that reading depends on."""
    corrections = tuple(one for one in known.decisions if one.kind == "correction")
    folder = known.folder and ClassFolder(known.folder.root.absolute())
    record = "" if folder is None else _digest(folder)
    bare = replace(known, folder=folder, builds={}, decisions=corrections)
    return (Task(bare, record, one.label, one.read()) for one in files)


def attempt_elsewhere(task: Task) -> Attempt:
    """Return everything there is to say about the file of a task; a bad one never raises.

    Raises
    ------
    FolderError : the record cannot be used, or is another one than when the task was made.
    """
    folder = task.known.folder
    known = task.known if folder is None else replace(task.known, builds=_record(folder, task.record).builds)
    return _attempt(task.label, task.data, known)


def _attempt(label: str, data: bytes | Finding, known: OnRecord) -> Attempt:
    if isinstance(data, Finding):
        return refused_attempt(label, "", data)
    return attempt_of_bytes(data, label, known)


def _stopped(task: Task) -> Attempt:
    """A file that ended two processes."""
    fault = Finding("file-unreadable", case="stopped")
    digest = sha256_of(task.data) if isinstance(task.data, bytes) else ""
    return refused_attempt(task.label, digest, fault)


def _with_notes(attempt: Attempt, one: Incoming) -> Attempt:
    """The attempt with what has to be said about the name that its file came under."""
    return with_findings(attempt, one.notes, load_catalogue(), first=True) if one.notes else attempt


@lru_cache(maxsize=2)
def _record(folder: ClassFolder, digest: str) -> OnRecord:
    known = on_record(folder)
    if _digest(folder) != digest:
        remedy = "Let one command finish before the next; then run it again."
        raise FolderError(folder.keep, "another record than a moment ago", "the same all along", remedy)
    return known


def _digest(folder: ClassFolder) -> str:
    kept = [read_if_there(path) or b"" for path in (folder.secret, folder.handed_out)]
    return hashlib.sha256(b"\0".join(kept)).hexdigest()
