"""The teacher's review: taken over into the journal, then drawn anew beside, checked and swapped in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.checking.catalogue import completed
from sheetgen.checking.drawn_language import drawn_language
from sheetgen.checking.review import UNKNOWN, current, decisions_from, harvest
from sheetgen.checking.review_rows import review_contents, review_findings
from sheetgen.errors import FolderError
from sheetgen.layout.review import MOST_ROWS, ReviewContents, review_layout
from sheetgen.model.attempt import Attempt, CopyRecord
from sheetgen.model.decision import Decision
from sheetgen.model.finding import Finding, term, typed
from sheetgen.model.layout import Identity
from sheetgen.model.marking import Marking
from sheetgen.model.settings import Person
from sheetgen.model.snapshot import Snapshot
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.decisions import append_decisions, read_decisions
from sheetgen.store.files import make_folder, read_if_there, sha256_of, write_beside
from sheetgen.store.keep import class_code, load_secret
from sheetgen.store.kept_files import keep_last_three, lock_file
from sheetgen.store.templates import read_template
from sheetgen.store.texts import DEFAULT_LANGUAGE, languages, list_words, texts_in
from sheetgen.workbook.package import read_package_bytes
from sheetgen.workbook.refusal import Refusal
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot_xlsx import snapshot

__all__ = ["Harvested", "harvest_review", "redraw_review", "review_texts"]


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


def review_texts(language: str = DEFAULT_LANGUAGE) -> dict[str, str]:
    """Return the texts of the review workbook, with those of a sheet and of marks."""
    return texts_in(language, "sheet", "findings", "marking", "review")


def _texts_of(state: Snapshot) -> dict[str, str]:
    """The texts of the language that a review workbook was drawn in."""
    known = {one: texts_in(one, "review") for one in languages()}
    return review_texts(drawn_language(state, "review_tab", known))


def harvest_review(folder: ClassFolder, session: int) -> Harvested:
    """Take over what was typed into the review workbook of a session into the journal.

    A workbook that is damaged, or of another class or session, is set aside as a copy beside it. It may be
    drawn in any language.

    Raises
    ------
    FolderError : the journal cannot be read or written.
    """
    journal = read_decisions(folder)
    findings = [
        Finding("file-journal-damaged", {"line": line, "text": typed(text)}) for line, text in journal.damaged
    ]
    path = folder.review(session)
    new: tuple[Decision, ...] = ()
    unplaced: tuple[Mapping[str, str], ...] = ()
    try:
        data = read_if_there(path)
    except FolderError as refused:
        data = None
        findings.append(_not_redrawn(path, why=refused.found))
    if data is not None:
        state = _state(data)
        fault = _fault(folder, session, state)
        if isinstance(state, Snapshot) and (fault is None or fault.code == "file-review-damaged"):
            texts = _texts_of(state)
            found = harvest(state, texts, list_words("review"))
            new, unplaced = decisions_from(found, journal.decisions, session), found.unplaced
            append_decisions(folder, new)
            findings += found.findings
            lost = found.damaged or any(
                one.code == "class-review-unplaced" and one.tab != texts["review_tab.corrections"]
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
    language: str = DEFAULT_LANGUAGE,
) -> tuple[Finding, ...]:
    """Draw the review workbook anew from the journal, and return what has to be said about it.

    The new one is written beside, read back and swapped in; the last three are kept, `session-N.kept-1.xlsx`
    the newest. It stays as it is where another program has it open, or where a decision does not read back.

    Parameters
    ----------
    markings : copy code to the marks of the file that counts, without points given by a person.
    harvested : from `harvest_review`; typed into since then, the workbook is read once more.
    records : sheets handed out in this session, none of the teacher's own. people : for their names.
    language : that it is drawn in.
    """
    path = folder.review(session)
    try:
        data = read_if_there(path)
    except FolderError as fault:
        told = (*harvested.findings, _not_redrawn(path, why=fault.found))
        return completed(told, load_catalogue())
    if data is not None and sha256_of(data) != harvested.digest:
        harvested = harvest_review(folder, session)
    texts = review_texts(language)
    contents = review_contents(
        texts, _class_code(folder), session, records, attempts, markings, harvested.journal,
        harvested.unplaced, people,
    )  # fmt: skip
    findings = [*harvested.findings, *review_findings(contents, texts)]
    lock = lock_file(path)
    if data is not None and lock:
        findings.append(_not_redrawn(path, "open", lock=lock))
        return completed(findings, load_catalogue())
    try:
        drawn = rendered(review_layout(texts, contents, language), Identity(), read_template("style.toml"))
    except ValueError as fault:
        findings.append(_not_redrawn(path, why=str(fault)))
        return completed(findings, load_catalogue())
    if not _reads_back(drawn, contents, harvested, session):
        findings.append(_not_redrawn(path, "lost"))
    elif drawn != data:
        try:
            make_folder(path.parent)
            if data is not None:
                keep_last_three(path, data)
            write_beside(path, drawn)
        except FolderError as fault:
            findings.append(_not_redrawn(path, why=fault.found))
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
        values = {
            part: term(f"{state.code}.{part}-{state.case}", **state.values) for part in ("found", "expected")
        }
        return Finding("file-review-damaged", values)
    found, own = harvest(state, _texts_of(state)), _class_code(folder)
    if own and found.class_code and found.class_code != own:
        return Finding("file-review-other-class", {"found": found.class_code, "own": own})
    if found.session not in (session, UNKNOWN):
        return Finding("file-review-other-class", {"found": found.session, "own": session}, case="session")
    return None


def _not_redrawn(path: Path, case: str = "", **values: str) -> Finding:
    return Finding("file-review-not-redrawn", {"file": path.name, **values}, case=case)


def _set_aside(path: Path, data: bytes) -> None:
    target = path.with_name(f"{path.stem}.aside-{sha256_of(data)[:8]}{path.suffix}")
    if not target.exists():
        write_beside(target, data)


def _reads_back(drawn: bytes, contents: ReviewContents, harvested: Harvested, session: int) -> bool:
    """Whether the new workbook holds every decision and every line that is not complete yet."""
    state = _state(drawn)
    if isinstance(state, Refusal):
        return False
    found = harvest(state, _texts_of(state), list_words("review"))
    lines = [{column: text for column, text in line.items() if text} for line in found.unplaced]
    wanted = [{column: text for column, text in line.items() if text} for line in harvested.unplaced]
    held = {typed.key for typed in found.typed if typed.value}
    due = {key for key, one in current(harvested.decisions).items() if one.value}
    changed = decisions_from(found, harvested.journal, session)
    whole = all(len(rows) <= MOST_ROWS for rows in contents.rows.values())
    return not found.damaged and not changed and lines == wanted and (due <= held or not whole)
