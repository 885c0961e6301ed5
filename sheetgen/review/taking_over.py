"""The teacher's review: what was typed into it is taken over, then it is drawn anew and swapped in."""

import contextlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.cells_read import Line, lines_of, listed_word, tab_titled
from sheetgen.class_folder.decisions import Decision, Key, append_decisions, current, read_decisions
from sheetgen.class_folder.files import read_if_there, redrawn, sha256_of, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import class_code, load_layout, load_secret
from sheetgen.errors import FolderError
from sheetgen.finding import Finding, Refusal, term
from sheetgen.finding import typed as as_typed
from sheetgen.returned.whose import class_code_in
from sheetgen.review.drawing import (
    RECORD_COLUMNS,
    RECORD_HEADING_ROW,
    TABS,
    Column,
    ReviewContents,
    most_rows,
    record_heading,
    review_layout,
)
from sheetgen.review.rows import Reviewed, entries_listed, review_contents, review_findings
from sheetgen.texts.findings import completed, load_catalogue
from sheetgen.texts.languages import DEFAULT_LANGUAGE, Words, code_word, languages, list_words, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import Snapshot, TabState, drawn_language

UNKNOWN = -1
"""As the sequence a workbook was drawn with: its hidden tab is gone."""
_CORRECTION = ("copy_code", "cell_name", "value", "reason")
_ONLY_SHOWN = ("check", "confirm", "typed", "compare", "seen")
_WORDS_ALONE = ("files", "observed", "marks")
"""Tabs whose entries hold code words."""
_LISTED = re.compile(r"\((\w+)\)$")
"""The name of an entry as the list of the tab Corrections shows it."""

Drawn = tuple[str, str, str]
"""Value, reason and ground that an entry was drawn with."""


class Typed(Struct, frozen=True):
    """What stands in one entry cell, or one line of the tab Corrections. place : tab and address.
    confirmed : it was said that the decision still holds."""

    key: Key
    value: str
    reason: str
    place: tuple[str, str]
    confirmed: bool = False


class Harvest(Struct, frozen=True):
    """Everything in a review workbook. session, drawn : UNKNOWN where the workbook does not say. shown : what
    each entry was drawn with. file_grounds : copy code to the digest of its file. unplaced : incomplete
    corrections, column to text. damaged : a tab or column is not there. lost : that, or what was typed is."""

    class_code: str
    session: int
    drawn: int
    shown: Mapping[Key, Drawn]
    file_grounds: Mapping[str, str]
    typed: tuple[Typed, ...]
    unplaced: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]
    damaged: bool
    lost: bool


class Harvested(Struct, frozen=True):
    """What the teacher has decided so far. journal : every decision of every session. decisions : those of
    this session, oldest first. unplaced : lines of the tab Corrections that are not complete.
    findings : about the workbook and the journal. digest : of the workbook that was read, empty without one.
    """

    journal: tuple[Decision, ...]
    decisions: tuple[Decision, ...]
    unplaced: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]
    digest: str


def plain_text(value: object) -> str:
    """Return what stands in a cell as text.

    >>> plain_text(12.5), plain_text(7.0), plain_text(None), plain_text(" yes ")
    ('12.5', '7', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.15g}" if isinstance(value, float | int) else str(value).strip()


def review_texts(language: str = DEFAULT_LANGUAGE) -> dict[str, str]:
    """Return the texts of the review workbook, with those of a sheet and of marks."""
    return texts_in(language, "sheet", "findings", "marking", "review")


def harvest_review(folder: ClassFolder, session: int) -> Harvested:
    """Take over what was typed into the review workbook of a session into the journal. A workbook that is
    damaged, or of another class or session, is set aside as a copy beside it. It may be drawn in any
    language. FolderError where the journal cannot be read or written."""
    journal, path = read_decisions(folder), folder.review(session)
    code = "file-journal-damaged"
    findings = [Finding(code, {"line": line, "text": as_typed(text)}) for line, text in journal.damaged]
    new: tuple[Decision, ...] = ()
    unplaced: tuple[Mapping[str, str], ...] = ()
    data = None
    try:
        data = read_if_there(path)
    except FolderError as refused:
        findings.append(_not_redrawn(path, why=refused.found))
    if data is not None:
        found = _usable(folder, session, _in_workbook(data))
        if isinstance(found, Finding):
            findings.append(found)
        else:
            new, unplaced = decisions_from(found, journal.decisions, session), found.unplaced
            append_decisions(folder, new)
            findings += found.findings
        aside = path.with_name(f"{path.stem}.aside-{sha256_of(data)[:8]}{path.suffix}")
        if (isinstance(found, Finding) or found.lost) and not aside.exists():
            write_beside(aside, data)
    every = (*journal.decisions, *new)
    own = tuple(decision for decision in every if decision.session == session)
    digest = "" if data is None else sha256_of(data)
    return Harvested(every, own, unplaced, completed(findings, load_catalogue()), digest)


def not_taken_over(folder: ClassFolder, session: int) -> int:
    """Return how many decisions stand in a review workbook that were not taken over yet. None of a workbook
    that cannot be used. FolderError where it or the journal cannot be read."""
    data = read_if_there(folder.review(session))
    found = None if data is None else _usable(folder, session, _in_workbook(data))
    if found is None or isinstance(found, Finding):
        return 0
    return len(decisions_from(found, read_decisions(folder).decisions, session))


def redraw_review(
    folder: ClassFolder, reviewed: Reviewed, harvested: Harvested, language: str = DEFAULT_LANGUAGE
) -> tuple[Finding, ...]:
    """Draw the review workbook anew from the journal, and return what has to be said about it. It stays as it
    is where another program has it open, or where a decision does not read back. harvested : from
    `harvest_review`; typed into since then, the workbook is read once more. language : that it is drawn in.
    """
    path, session = folder.review(reviewed.session), reviewed.session
    with contextlib.suppress(FolderError):
        data = read_if_there(path)
        if harvested.digest != ("" if data is None else sha256_of(data)):
            harvested = harvest_review(folder, session)
    texts = review_texts(language)
    digests = dict.fromkeys(record.layout_digest for record in reviewed.records)
    layouts = [layout for digest in digests if (layout := load_layout(folder, digest)) is not None]
    reviewed = replace(reviewed, entries=entries_listed(layouts))
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


def harvest(state: Snapshot, texts: Mapping[str, str], words: Words | None = None) -> Harvest:
    """Return everything typed into a review workbook. Tabs are found by title, columns by heading, and a row
    by what it says it is about, so rows may be moved, sorted and added. What an entry was drawn with comes
    from the hidden tab. texts : in the workbook's language. words : of its lists, in every language."""
    record = tab_titled(state, texts["review_tab.record"])
    session, drawn, shown, file_grounds = _recorded(record)
    drawn_with = {str(cell.value) for cell in record.cells.values()} if record else set()
    typed: list[Typed] = []
    unplaced: list[Mapping[str, str]] = []
    findings: list[Finding] = []
    for key, columns in TABS.items():
        title = texts[f"review_tab.{key}"]
        tab = tab_titled(state, title)
        headings = {column.key: texts[f"review_column.{column.key}"] for column in columns}
        # An earlier form had fewer tabs and columns.
        earlier = [
            column.key for column in columns
            if column.kind and drawn_with and record_heading(key, column.key) not in drawn_with
        ]  # fmt: skip
        lines, lacking = ([], "") if tab is None else _lines(tab, headings, words, earlier)
        if tab is None and key in ("marks", "observed") and earlier:
            continue
        if tab is None or lacking:
            case, values = ("gone", {}) if tab is None else ("headings", {"headings": lacking})
            findings.append(Finding("file-review-damaged", values, title, case=case))
            if key == "corrections":
                # The whole file is set aside; half a line would only stand in the way.
                continue
        there, loose, of_rows = _rows(key, lines)
        if key == "corrections":
            about = {correction.key for correction in there}
            drawn_before = [one for one, (value, _, _) in shown.items() if one[1] == "correction" and value]
            there += [Typed(one, "", "", ("", "")) for one in drawn_before if one not in about]
        typed += there
        unplaced += loose
        findings += of_rows
    kept: dict[Key, Typed] = {}
    for entry in typed:
        before = kept.get(entry.key)
        if before is not None and before.value:
            # Of two lines about the same the last one that holds something counts.
            if not entry.value or (entry.value, entry.reason) == (before.value, before.reason):
                continue
            findings.append(_unplaced(before.place, before.value))
        kept[entry.key] = entry
    damaged = any(finding.code == "file-review-damaged" for finding in findings)
    lost = damaged or any(finding.tab != texts["review_tab.corrections"] for finding in findings)
    return Harvest(
        class_code_in(state), session, drawn, shown, file_grounds,
        tuple(kept.values()), tuple(unplaced), tuple(findings), damaged, lost,
    )  # fmt: skip


def decisions_from(found: Harvest, known: Sequence[Decision], session: int) -> tuple[Decision, ...]:
    """Return the decisions that are new, counted on from those known. A cell is a decision where it differs
    from what it was drawn with, and from what was already taken over from this very drawing. So a cell
    emptied is one, and an older copy of the workbook takes nothing back. known : the whole journal."""
    last = max((decision.sequence for decision in known), default=0)
    of_session = [decision for decision in known if decision.session == session]
    latest = current(of_session)
    # Beyond the journal's end: the journal is an older one than the workbook.
    certain = 0 <= found.drawn <= last
    taken_over = current(decision for decision in of_session if decision.drawn == found.drawn)
    new: list[Decision] = []
    for typed in found.typed:
        before = latest.get(typed.key)
        *base, ground = found.shown.get(typed.key, ("", "", found.file_grounds.get(typed.key[0], "")))
        pair = (typed.value, typed.reason)
        now = (before.value, before.reason) if before else ("", "")
        changed = bool(typed.value) and pair != now
        if before and certain:
            taken = taken_over.get(typed.key)
            changed = pair not in ((taken.value, taken.reason) if taken else tuple(base), now)
        holds = before and before.value and before.ground != ground and typed.confirmed and typed.value
        if changed or holds:
            number = last + len(new) + 1
            said = pair if changed else now
            new.append(Decision(number, session, *typed.key, *said, ground, found.drawn))
    return tuple(new)


def _lines(
    tab: TabState, headings: Mapping[str, str], words: Words | None, earlier: Sequence[str]
) -> tuple[list[Line], str]:
    """The lines of a tab as far as its headings are there, and those headings that are not."""
    # A formula that no program has worked out stands for itself.
    cells = {
        place: replace(state, value=state.formula) if state.formula and state.value is None else state
        for place, state in tab.cells.items()
    }
    tab = replace(tab, cells=cells)
    _, missing = lines_of(tab, headings, may_lack=(*_ONLY_SHOWN, *earlier))
    lines, _ = lines_of(tab, headings, may_lack=tuple(headings), list_words=words)
    return lines, ", ".join(missing)


def _texts(key: str, line: Line) -> dict[str, str]:
    """Column to what stands there, a word of a list as its code word."""
    found = {}
    for column in TABS[key]:
        text = plain_text(line.cells[column.key].value)
        # Where no may be meant too, a cross is no answer.
        read = code_word if "no" in column.words else listed_word
        found[column.key] = read(text, column.words, line.list_words) or text
        if column.key == "cell_name" and (named := _LISTED.search(text)):
            found[column.key] = named[1]
    return found


def _rows(key: str, lines: Sequence[Line]) -> tuple[list[Typed], list[Mapping[str, str]], list[Finding]]:
    """What stands in the rows of a tab; corrections that are not complete; what has no place is named."""
    typed: list[Typed] = []
    loose: list[Mapping[str, str]] = []
    findings: list[Finding] = []
    free = key == "corrections"
    for line in lines:
        cells = _texts(key, line)
        for column in TABS[key]:
            if not column.kind or column.key not in line.columns:
                continue
            subject, _, name = about = _about(key, column, cells)
            value = cells[column.key].casefold() if key in _WORDS_ALONE else cells[column.key]
            place = (line.tab, line.place("copy_code" if free else column.key))
            if subject and (name or key in ("review", "marks", "observed")) and (value or not free):
                typed.append(Typed(about, value, cells.get("reason", ""), place, cells["confirm"] == "yes"))
                continue
            said = {each: cells[each] for each in (_CORRECTION if free else (column.key,))}
            if any(said.values()):
                findings.append(_unplaced(place, ", ".join(filter(None, said.values()))))
                loose += [said] if free else []
    return typed, loose, findings


def _about(key: str, column: Column, cells: Mapping[str, str]) -> Key:
    """What a decision in a row of a tab is about: a student and a step, a file, else a sheet and an entry."""
    if key == "observed":
        return cells["student_id"], column.kind, column.key if column.kind == "observed" else ""
    name = cells.get("file_id", cells.get("cell_name", ""))
    subject = name if key == "files" else cells["copy_code"].upper()
    return subject, column.kind, name.casefold() if key == "corrections" else name


def _unplaced(place: tuple[str, str], text: str) -> Finding:
    return Finding("class-review-unplaced", {"typed": as_typed(text)}, *place)


def _recorded(record: TabState | None) -> tuple[int, int, dict[Key, Drawn], dict[str, str]]:
    """Session, last sequence, what was drawn, and the digests of files, from the hidden tab."""
    if record is None:
        return UNKNOWN, UNKNOWN, {}, {}
    numbers = {record.value(row, 0): record.value(row, 1) for row in range(RECORD_HEADING_ROW)}
    session, drawn = (
        int(value) if isinstance(value := numbers.get(name), float | int) else UNKNOWN
        for name in ("session", "drawn")
    )
    headings = [record_heading(key, column) for key, columns in RECORD_COLUMNS.items() for column in columns]
    lines, _ = lines_of(record, dict(zip(headings, headings, strict=True)), may_lack=headings)
    shown: dict[Key, Drawn] = {}
    file_grounds: dict[str, str] = {}
    for key, columns in RECORD_COLUMNS.items():
        for line in lines:
            cells = {name: plain_text(line.cells[record_heading(key, name)].value) for name in columns}
            if named := _LISTED.search(cells.get("cell_name", "")):
                cells["cell_name"] = named[1]
            if not any(cells.values()):
                continue
            if key == "review":
                file_grounds[cells["copy_code"]] = cells["file_ground"]
            for column in TABS[key]:
                about = _about(key, column, cells)
                if column.kind and (cells[column.key] or about not in shown):
                    shown[about] = (cells[column.key], cells.get("reason", ""), cells["ground"])
    return session, drawn, shown, file_grounds


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
        key = f"{found.code}.{{}}-{found.case}"
        parts = {part: term(key.format(part), **found.values) for part in ("found", "expected")}
        return Finding("file-review-damaged", parts)
    own = _class_code(folder)
    if own and found.class_code and found.class_code != own:
        return Finding("file-review-other-class", {"found": found.class_code, "own": own})
    if found.session not in (session, UNKNOWN):
        return Finding("file-review-other-class", {"found": found.session, "own": session}, case="session")
    return found


def _not_redrawn(path: Path, case: str = "", **values: str) -> Finding:
    return Finding("file-review-not-redrawn", {"file": path.name, **values}, case=case)


def _reads_back(drawn: bytes, contents: ReviewContents, harvested: Harvested, session: int) -> bool:
    """Whether the new workbook holds every decision and every line that is not complete yet."""
    found = _in_workbook(drawn)
    if isinstance(found, Refusal) or found.damaged or decisions_from(found, harvested.journal, session):
        return False
    held = {typed.key for typed in found.typed if typed.value}
    due = {key for key, decision in current(harvested.decisions).items() if decision.value}
    whole = all(len(rows) <= most_rows(key) for key, rows in contents.rows.items())
    return found.unplaced == harvested.unplaced and (due <= held or not whole)
