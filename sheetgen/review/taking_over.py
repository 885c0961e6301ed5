"""The teacher's review: taken over into the journal, then drawn anew beside, checked and swapped in."""

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sheetgen.class_folder.decisions import Decision, append_decisions, current, read_decisions
from sheetgen.class_folder.files import read_if_there, redrawn, sha256_of, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import class_code, load_secret
from sheetgen.errors import FolderError
from sheetgen.finding import Finding, Refusal, term, typed
from sheetgen.review.drawing import MOST_ROWS, ReviewContents, review_layout
from sheetgen.review.rows import Reviewed, review_contents, review_findings
from sheetgen.review.typed import UNKNOWN, Harvest, decisions_from, harvest
from sheetgen.texts.findings import completed, load_catalogue
from sheetgen.texts.languages import DEFAULT_LANGUAGE, languages, list_words, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import drawn_language


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
        found = _usable(folder, session, _in_workbook(data))
        if isinstance(found, Finding):
            findings.append(found)
        else:
            new, unplaced = decisions_from(found, journal.decisions, session), found.unplaced
            append_decisions(folder, new)
            findings += found.findings
        if isinstance(found, Finding) or found.lost:
            _set_aside(path, data)
    every = (*journal.decisions, *new)
    return Harvested(
        journal=every,
        decisions=tuple(decision for decision in every if decision.session == session),
        added=len(new),
        unplaced=unplaced,
        findings=completed(findings, load_catalogue()),
        digest="" if data is None else sha256_of(data),
    )


def redraw_review(
    folder: ClassFolder, reviewed: Reviewed, harvested: Harvested, language: str = DEFAULT_LANGUAGE
) -> tuple[Finding, ...]:
    """Draw the review workbook anew from the journal, and return what has to be said about it.

    It stays as it is where another program has it open, or where a decision does not read back.

    harvested : from `harvest_review`; typed into since then, the workbook is read once more.
    language : that it is drawn in.
    """
    path, session = folder.review(reviewed.session), reviewed.session
    with contextlib.suppress(FolderError):
        data = read_if_there(path)
        if harvested.digest != ("" if data is None else sha256_of(data)):
            harvested = harvest_review(folder, session)
    texts = review_texts(language)
    contents = review_contents(texts, reviewed, _class_code(folder), harvested.journal, harvested.unplaced)

    def draw() -> bytes | None:
        layout = review_layout(texts, contents, language)
        drawn = rendered(layout, Identity(), read_template("style.toml"))
        return drawn if _reads_back(drawn, contents, harvested, session) else None

    findings = [*harvested.findings, *review_findings(contents, texts)]
    reason = redrawn(path, harvested.digest, draw)
    if reason:
        findings.append(_not_redrawn(path, reason.case, why=reason.detail))
    return completed(findings, load_catalogue())


def _in_workbook(data: bytes) -> Harvest | Refusal:
    """Everything in a review workbook, drawn in whatever language."""
    package = read_package_bytes(data)
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        return state
    known = {language: texts_in(language, "review") for language in languages()}
    return harvest(state, review_texts(drawn_language(state, "review_tab", known)), list_words("review"))


def _class_code(folder: ClassFolder) -> str:
    secret = load_secret(folder)
    return class_code(secret) if secret else ""


def _usable(folder: ClassFolder, session: int, found: Harvest | Refusal) -> Harvest | Finding:
    """What is in a review workbook, or why nothing of it is taken over."""
    if isinstance(found, Refusal):
        code, case, values = found.code, found.case, found.values
        parts = {part: term(f"{code}.{part}-{case}", **values) for part in ("found", "expected")}
        return Finding("file-review-damaged", parts)
    own = _class_code(folder)
    if own and found.class_code and found.class_code != own:
        return Finding("file-review-other-class", {"found": found.class_code, "own": own})
    if found.session not in (session, UNKNOWN):
        return Finding("file-review-other-class", {"found": found.session, "own": session}, case="session")
    return found


def _not_redrawn(path: Path, case: str = "", **values: str) -> Finding:
    return Finding("file-review-not-redrawn", {"file": path.name, **values}, case=case)


def _set_aside(path: Path, data: bytes) -> None:
    target = path.with_name(f"{path.stem}.aside-{sha256_of(data)[:8]}{path.suffix}")
    if not target.exists():
        write_beside(target, data)


def _reads_back(drawn: bytes, contents: ReviewContents, harvested: Harvested, session: int) -> bool:
    """Whether the new workbook holds every decision and every line that is not complete yet."""
    found = _in_workbook(drawn)
    if isinstance(found, Refusal) or found.damaged or decisions_from(found, harvested.journal, session):
        return False
    held = {typed.key for typed in found.typed if typed.value}
    due = {key for key, decision in current(harvested.decisions).items() if decision.value}
    whole = all(len(rows) <= MOST_ROWS for rows in contents.rows.values())
    return _texts_of(found.unplaced) == _texts_of(harvested.unplaced) and (due <= held or not whole)


def _texts_of(lines: tuple[Mapping[str, str], ...]) -> list[dict[str, str]]:
    return [{column: text for column, text in line.items() if text} for line in lines]
