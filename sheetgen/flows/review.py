"""The teacher's review: taken over into the journal, then drawn anew beside, checked and swapped in."""

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.checking.catalogue import completed
from sheetgen.checking.review import UNKNOWN, current, decisions_from, harvest
from sheetgen.checking.review_rows import review_contents, review_findings
from sheetgen.errors import FolderError
from sheetgen.flows.sources import LANGUAGE
from sheetgen.layout.review import MOST_ROWS, ReviewContents, review_layout
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.decision import Decision
from sheetgen.model.finding import Finding
from sheetgen.model.layout import Identity
from sheetgen.model.marking import Marking
from sheetgen.model.settings import Person
from sheetgen.model.snapshot import Snapshot
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.decisions import append_decisions, read_decisions
from sheetgen.store.files import make_folder, read_if_there, sha256_of, write_beside
from sheetgen.store.keep import class_code, load_secret
from sheetgen.store.templates import read_template
from sheetgen.store.texts import load_texts
from sheetgen.workbook.package import Refusal, read_package_bytes
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot_xlsx import snapshot

__all__ = ["Harvested", "harvest_review", "redraw_review", "review_texts"]

_KEPT = 3


@dataclass(frozen=True, slots=True)
class Harvested:
    """What the teacher has decided so far.

    journal : every decision of every session. decisions : those of this session, oldest first.
    added : how many of them are new. unplaced : lines of the tab Corrections that are not complete.
    findings : about the workbook and the journal. digest : of the workbook that was read, empty without one.
    """

    journal: tuple[Decision, ...]
    decisions: tuple[Decision, ...]
    added: int
    unplaced: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]
    digest: str


def review_texts() -> dict[str, str]:
    """Return the texts of the review workbook, with those of a sheet and of marks."""
    names = (LANGUAGE, f"marking.{LANGUAGE}", f"review.{LANGUAGE}")
    return {key: text for name in names for key, text in load_texts(name).items()}


def harvest_review(folder: ClassFolder, session: int) -> Harvested:
    """Take over what was typed into the review workbook of a session into the journal.

    A workbook that is damaged, or of another class or session, is set aside as a copy beside it.

    Raises
    ------
    FolderError : the journal cannot be read or written.
    """
    journal = read_decisions(folder)
    findings = [
        Finding("file-journal-damaged", "", f"line {line}: {text[:60]!r}", "a decision", "")
        for line, text in journal.damaged
    ]
    path = folder.review(session)
    new: tuple[Decision, ...] = ()
    unplaced: tuple[Mapping[str, str], ...] = ()
    try:
        data = read_if_there(path)
    except FolderError as refused:
        data = None
        findings.append(_not_redrawn(path, refused.found))
    if data is not None:
        state = _state(data)
        fault = _fault(folder, session, state)
        if isinstance(state, Snapshot) and (fault is None or fault.code == "file-review-damaged"):
            found = harvest(state, review_texts())
            new, unplaced = decisions_from(found, journal.decisions, session), found.unplaced
            append_decisions(folder, new)
            findings += found.findings
            lost = found.damaged or any(
                one.code == "class-review-unplaced" and one.tab != review_texts()["review_tab.corrections"]
                for one in found.findings
            )
        else:
            lost = True
        if fault is not None:
            findings.append(fault)
        if lost or fault is not None:
            _set_aside(path, data)
    every = (*journal.decisions, *new)
    return Harvested(
        journal=every,
        decisions=tuple(one for one in every if one.session == session),
        added=len(new),
        unplaced=unplaced,
        findings=completed(findings, load_catalogue()),
        digest="" if data is None else sha256_of(data),
    )


def redraw_review(
    folder: ClassFolder,
    session: int,
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    harvested: Harvested,
    records: Sequence[CopyRecord] = (),
    people: Sequence[Person] = (),
) -> tuple[Finding, ...]:
    """Draw the review workbook anew from the journal, and return what has to be said about it.

    The new one is written beside, read back and swapped in; the last three are kept, `session-N.kept-1.xlsx`
    the newest. It stays as it is where another program has it open, or where a decision does not read back.

    Parameters
    ----------
    markings : copy code to the marks of the file that counts, without points given by a person.
    harvested : from `harvest_review`; typed into since then, the workbook is read once more.
    records : sheets handed out in this session, none of the teacher's own. people : for their names.
    """
    path = folder.review(session)
    try:
        data = read_if_there(path)
    except FolderError as fault:
        return completed((*harvested.findings, _not_redrawn(path, fault.found)), load_catalogue())
    if data is not None and sha256_of(data) != harvested.digest:
        harvested = harvest_review(folder, session)
    texts = review_texts()
    contents = review_contents(
        texts, _class_code(folder), session, records, attempts, markings, harvested.journal,
        harvested.unplaced, people,
    )  # fmt: skip
    findings = [*harvested.findings, *review_findings(contents, texts)]
    lock = _lock(path)
    if data is not None and lock:
        findings.append(_not_redrawn(path, f"another program has it open ({lock})"))
        return completed(findings, load_catalogue())
    try:
        drawn = rendered(review_layout(texts, contents), Identity(), read_template("style.toml"))
    except ValueError as fault:
        findings.append(_not_redrawn(path, str(fault)))
        return completed(findings, load_catalogue())
    if not _reads_back(drawn, contents, harvested, session):
        findings.append(_not_redrawn(path, "the new one does not hold every decision"))
    elif drawn != data:
        try:
            make_folder(path.parent)
            if data is not None:
                _keep(path, data)
            write_beside(path, drawn)
        except FolderError as fault:
            findings.append(_not_redrawn(path, fault.found))
    return completed(findings, load_catalogue())


def _state(data: bytes) -> Snapshot | Refusal:
    package = read_package_bytes(data)
    return package if isinstance(package, Refusal) else snapshot(package)


def _class_code(folder: ClassFolder) -> str:
    secret = load_secret(folder)
    return class_code(secret) if secret else ""


def _fault(folder: ClassFolder, session: int, state: Snapshot | Refusal) -> Finding | None:
    """Why a review workbook is not taken as it is."""
    if isinstance(state, Refusal):
        return Finding("file-review-damaged", "", state.found, state.expected, "")
    found, own = harvest(state, review_texts()), _class_code(folder)
    if own and found.class_code and found.class_code != own:
        return Finding("file-review-other-class", "", f"class code {found.class_code}", own, "")
    if found.session not in (session, UNKNOWN):
        return Finding("file-review-other-class", "", f"session {found.session}", f"session {session}", "")
    return None


def _not_redrawn(path: Path, found: str) -> Finding:
    return Finding(
        "file-review-not-redrawn", "", f"{path.name}: {found}", "a workbook that can be replaced", ""
    )


def _lock(path: Path) -> str:
    """The name of the file that a spreadsheet program puts beside a workbook it has open."""
    # Of a long name the first two characters give way.
    names = (f"~${path.name}", f"~${path.name[2:]}", f".~lock.{path.name}#")
    return next((name for name in names if path.with_name(name).exists()), "")


def _set_aside(path: Path, data: bytes) -> None:
    target = path.with_name(f"{path.stem}.aside-{sha256_of(data)[:8]}{path.suffix}")
    if not target.exists():
        write_beside(target, data)


def _keep(path: Path, data: bytes) -> None:
    """Keep the last three workbooks, the newest as number 1."""
    kept = [path.with_name(f"{path.stem}.kept-{number}{path.suffix}") for number in range(1, _KEPT + 1)]
    for older, newer in reversed(list(zip(kept[1:], kept, strict=False))):
        if newer.exists():
            try:
                os.replace(newer, older)
            except OSError as fault:
                found = f"{newer.name} cannot be moved: {fault.strerror}"
                raise FolderError(newer, found, "a file that can be moved", "Close it elsewhere.") from fault
    write_beside(kept[0], data)


def _reads_back(drawn: bytes, contents: ReviewContents, harvested: Harvested, session: int) -> bool:
    """Whether the new workbook holds every decision and every line that is not complete yet."""
    state = _state(drawn)
    if isinstance(state, Refusal):
        return False
    found = harvest(state, review_texts())
    lines = [{column: text for column, text in line.items() if text} for line in found.unplaced]
    wanted = [{column: text for column, text in line.items() if text} for line in harvested.unplaced]
    held = {typed.key for typed in found.typed if typed.value}
    due = {key for key, one in current(harvested.decisions).items() if one.value}
    changed = decisions_from(found, harvested.journal, session)
    whole = all(len(rows) <= MOST_ROWS for rows in contents.rows.values())
    return not found.damaged and not changed and lines == wanted and (due <= held or not whole)
