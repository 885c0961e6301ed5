"""One returned file, from its bytes to an Attempt, here or by whatever executor there is.

Each process loads the record of what was handed out once, from the class folder, so it has to see that
folder; on several machines it lies on a disk that all of them share. The bytes of a file travel.
"""

import hashlib
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import Executor
from functools import lru_cache, partial

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.sheets_wanted import claimed, spare_findings
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.files import read_if_there, sha256_of
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.errors import FolderError, SheetgenError
from sheetgen.finding import Finding, Refusal, Values, term, written
from sheetgen.protocols.names import ROUNDS, live_names, reading_name
from sheetgen.protocols.recalculation import Entries, Results, live_values, recalculate, text_of
from sheetgen.protocols.settings import BuiltWith
from sheetgen.returned.attempt import (
    UNTOUCHED,
    Attempt,
    Issued,
    about_cell,
    as_code_word,
    named_cells,
    with_findings,
)
from sheetgen.returned.comparison import cached_findings, compared
from sheetgen.returned.corrections import corrected_entries, corrections_of
from sheetgen.returned.entries import entries_of, procedure_findings, with_raw_differences
from sheetgen.returned.incoming import Incoming
from sheetgen.returned.own_formulas import lines_that_take_a_result
from sheetgen.returned.pool import mapped
from sheetgen.returned.whose import OnRecord, matched_tabs, on_record, whose
from sheetgen.sheet.student import LAYOUT_VERSION
from sheetgen.texts.findings import of_refusal
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import Snapshot

# Kinds of workbook that are read like the one handed out.
_OTHER_KINDS = {
    "xlsm": Finding("file-macro-workbook"),
    "xltm": Finding("file-template", case="macros"),
    "xltx": Finding("file-template"),
}
_LAST_WITHOUT_LIMITS = 2  # The last form of sheets whose formulas give an estimate whatever it is.


class Examination(Struct, frozen=True):
    """What a returned workbook says.
    entries : as they were meant. results : from those entries. findings : without severity and remedy.
    formula_names : own lines whose formula takes a result of the sheet."""

    entries: Entries
    results: Results
    findings: tuple[Finding, ...]
    formula_names: tuple[str, ...]


def examined(issued: Issued, snapshot: Snapshot, corrections: Sequence[Decision] = ()) -> Examination:
    """Return entries, results and findings of one returned workbook. corrections : of entries, by the
    teacher; applied before anything is worked out. Cached results are compared with what follows from the
    entries as the sheet saw them; the results returned follow from the entries as they were meant."""
    layout, protocol, settings = issued.layout, issued.protocol, issued.settings
    tabs = matched_tabs(layout, snapshot)
    takers = lines_that_take_a_result(layout, snapshot, tabs)
    entries = entries_of(layout, tabs, takers)
    limited, known = issued.form > _LAST_WITHOUT_LIMITS, layout.places()
    as_seen = recalculate(protocol, settings, entries.seen, within_limits=limited)
    live = live_values(as_seen)
    # Whether a sheet is ready was told in another way before, and nothing depends on it here.
    expected = {name: live[name] for name in live_names(protocol) if name != "ready" and name in known}
    meant, corrected = corrected_entries(entries.meant, corrections, layout)
    results = as_seen if limited and meant == entries.seen else recalculate(protocol, settings, meant)
    results = with_raw_differences(protocol, settings, meant, results)
    untouched = len(tabs) == len(layout.tabs) and holds_nothing_typed(issued, meant)
    findings = (
        *(() if issued.by_names else compared(layout, issued.values, snapshot, tabs)),
        *cached_findings(layout, issued.values, tabs, expected),
        *entries.findings,
        # Of a sheet in which nothing is typed nothing has to be said line by line.
        *([Finding(UNTOUCHED)] if untouched else procedure_findings(issued, meant, results)),
        *_other_participant(issued, meant),
        *corrected,
    )
    return Examination(meant, results, findings, tuple(sorted(takers)))


def holds_nothing_typed(issued: Issued, entries: Entries) -> bool:
    """Tell whether nothing was typed into a sheet: its entries are those that it was handed out with."""
    printed = {name: cell.value for name, (_, cell) in named_cells(issued.layout).items()}
    handed_out = {**printed, **issued.values}
    # The first that differs ends it: of all the others no word is looked up.
    return all(
        one in handed_out and typed == as_code_word(one, handed_out[one]) for one, typed in entries.items()
    )


def _other_participant(issued: Issued, entries: Entries) -> Iterator[Finding]:
    today, printed = text_of(entries, "participant_today"), str(issued.values.get("participant_code", ""))
    if today and today != printed.casefold() and "participant_today" in issued.layout.places():
        code = re.fullmatch(r"p-[0-9a-z]{2,8}", today)
        # Anything else may be a name, which is passed on to no table.
        values: Values = {"typed": written(today.upper()) if code else term("no-code"), "printed": printed}
        cell = named_cells(issued.layout)["participant_today"]
        yield about_cell("identity-other-participant", values, *cell)


def minor_today_findings(issued: Issued, entries: Entries, minors: Collection[str]) -> tuple[Finding, ...]:
    """Return a finding where trunk sites of someone under 18 were measured on another person's sheet.
    minors : participant codes, in lower case, of those who count as under 18."""
    today = text_of(entries, "participant_today")
    for site in issued.protocol.sites:
        names = [reading_name(number, site.word) for number in ROUNDS]
        if today in minors and site.trunk and any(name in entries for name in names):
            values = {"site": site.title, "code": today.upper()}
            return (about_cell("procedure-minor-today", values, *named_cells(issued.layout)[names[0]]),)
    return ()


def attempt_of_bytes(data: bytes, name: str, known: OnRecord) -> Attempt:
    """Return everything there is to say about the bytes of one returned file; bad ones never raise."""
    return _of_package(read_package_bytes(data, name), name, sha256_of(data), known)


def refused_attempt(name: str, sha256: str, *findings: Finding) -> Attempt:
    """Return a file that is not read, with the reasons; their severity and remedy are looked up."""
    return with_findings(Attempt(name, sha256, "", None, "", {}, None, ()), findings)


def _of_package(package: Package | Refusal, name: str, sha256: str, known: OnRecord) -> Attempt:
    if isinstance(package, Refusal):
        return refused_attempt(name, sha256, of_refusal(package))
    state = snapshot(package)
    if isinstance(state, Refusal):
        return refused_attempt(name, package.sha256, of_refusal(state))
    notes = [Finding("file-foreign-content", {"parts": package.foreign[:3]})] if package.foreign else []
    notes += [_OTHER_KINDS[package.kind]] if package.kind in _OTHER_KINDS else []
    try:
        attempt = _of_snapshot(state, name, package.sha256, known)
    except SheetgenError:
        raise
    except Exception as fault:
        # Whatever a file brings along, the others still have to be read.
        found = Finding("file-unreadable", {"kind": type(fault).__name__}, case="contents")
        attempt = refused_attempt(name, package.sha256, found)
    # Of a refused file the reason stands first.
    return with_findings(attempt, notes, first=attempt.results is not None)


def _of_snapshot(state: Snapshot, name: str, sha256: str, known: OnRecord) -> Attempt:
    found = whose(state, known)
    if isinstance(found, Finding):
        return refused_attempt(name, sha256, found)
    record, issued = found
    proof = [] if record.layout_digest else [Finding("identity-not-proven")]
    proof += [Finding("sheet-earlier-form")] if issued.by_names else []
    if known.claims is not None:
        record = claimed(record, known.claims)
        proof += spare_findings(record, known.claims)
    examination = examined(issued, state, corrections_of(known.decisions, record.copy_code))
    others = minor_today_findings(issued, examination.entries, known.minors)
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
    return with_findings(attempt, (*proof, *examination.findings, *others))


File = tuple[str, bytes | Finding]  # What a file is called, and its bytes or why there are none.


def attempts_from(
    files: Sequence[Incoming],
    known: OnRecord,
    progress: Callable[[int, int], None] | None = None,
    executor: Executor | None = None,
) -> list[Attempt]:
    """Return everything there is to say about each returned file, in order; a bad one never raises.
    progress : is told how many files are done, of how many. executor : who reads; None: this process.
    FolderError where the record of what was handed out cannot be used."""
    attempts: list[Attempt] = []
    coming = ((one.label, one.read()) for one in files)
    for attempt in mapped(reader(known), coming, len(files), executor, _stopped):
        attempts.append(with_findings(attempt, files[len(attempts)].notes, first=True))
        if progress is not None:
            progress(len(attempts), len(files))
    return attempts


def reader(known: OnRecord) -> Callable[[File], Attempt]:
    """Return a function from a file to its attempt, for any process; it carries of the decisions those that
    reading depends on, and of the record of what was handed out only the digest."""
    corrections = tuple(one for one in known.decisions if one.kind == "correction")
    folder = known.folder and ClassFolder(known.folder.root.absolute())
    bare = replace(known, folder=folder, builds={}, decisions=corrections)
    return partial(attempt_elsewhere, bare, "" if folder is None else _digest(folder))


def attempt_elsewhere(known: OnRecord, record: str, file: File) -> Attempt:
    """Return everything there is to say about a file; a bad one never raises.
    known : without the builds. record : digest of what keep/ holds of them. FolderError where the record
    cannot be used, or is another one than when the reader was made."""
    if known.folder is not None:
        known = replace(known, builds=_record(known.folder, record).builds)
    label, data = file
    if isinstance(data, Finding):
        return refused_attempt(label, "", data)
    return attempt_of_bytes(data, label, known)


def _stopped(file: File) -> Attempt:
    """A file that ended two processes."""
    label, data = file
    digest = sha256_of(data) if isinstance(data, bytes) else ""
    return refused_attempt(label, digest, Finding("file-unreadable", case="stopped"))


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
