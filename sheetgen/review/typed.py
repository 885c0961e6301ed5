"""What a teacher typed into the review workbook, and which of it is a new decision."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.class_book.cells_read import Line, lines_of, tab_titled
from sheetgen.class_folder.decisions import Decision, Key, current
from sheetgen.finding import Finding
from sheetgen.finding import typed as as_typed
from sheetgen.returned.whose import class_code_in
from sheetgen.review.drawing import RECORD_COLUMNS, RECORD_HEADING_ROW, TABS, record_heading
from sheetgen.texts.languages import Words, code_word
from sheetgen.workbook.snapshot import Snapshot, TabState

UNKNOWN = -1
"""As the sequence a workbook was drawn with: its hidden tab is gone."""
_CORRECTION = ("copy_code", "cell_name", "value", "reason")

Drawn = tuple[str, str, str]
"""Value, reason and ground that an entry was drawn with."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in one entry cell, or one line of the tab Corrections.

    place : tab and address. confirmed : it was said that the decision still holds.
    """

    key: Key
    value: str
    reason: str
    place: tuple[str, str]
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class Harvest:
    """Everything in a review workbook.

    session, drawn : UNKNOWN where the workbook does not say.
    shown : what each entry was drawn with. file_grounds : copy code to the digest of its file.
    unplaced : lines of the tab Corrections that are not complete, as column to text.
    damaged : a tab or column is not there. lost : that, or something typed will not be drawn again.
    """

    class_code: str
    session: int
    drawn: int
    typed: tuple[Typed, ...]
    shown: Mapping[Key, Drawn]
    file_grounds: Mapping[str, str]
    unplaced: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]
    damaged: bool
    lost: bool


def plain_text(value: object) -> str:
    """Return what stands in a cell as text.

    Examples
    --------
    >>> plain_text(12.5), plain_text(7.0), plain_text(None), plain_text(" yes ")
    ('12.5', '7', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.15g}" if isinstance(value, float | int) else str(value).strip()


def harvest(snapshot: Snapshot, texts: Mapping[str, str], words: Words | None = None) -> Harvest:
    """Return everything typed into a review workbook.

    Tabs are found by title, columns by heading, and a row by what it says it is about, so rows may be moved,
    sorted and added. What an entry was drawn with comes from the hidden tab.

    texts : those of the review workbook's language. words : of its lists, in every language.
    """
    session, drawn, shown, file_grounds = _recorded(tab_titled(snapshot, texts["review_tab.record"]))
    typed: list[Typed] = []
    unplaced: list[Mapping[str, str]] = []
    findings: list[Finding] = []
    for key, columns in TABS.items():
        title = texts[f"review_tab.{key}"]
        tab = tab_titled(snapshot, title)
        headings = {column.key: texts[f"review_column.{column.key}"] for column in columns}
        lines, lost = ([], "") if tab is None else _lines(tab, headings, words)
        fault = tab is None or bool(lost)
        if fault:
            case, values = ("gone", {}) if tab is None else ("headings", {"headings": lost})
            findings.append(Finding("file-review-damaged", values, title, case=case))
        if key != "corrections":
            there, of_rows = _rows(key, lines)
        else:
            there, unplaced, of_rows = _corrections(lines)
            there += [] if fault else _taken_back(there, shown)
        typed += there
        findings += of_rows
    kept, of_twice = _once(typed)
    findings += of_twice
    damaged = any(finding.code == "file-review-damaged" for finding in findings)
    return Harvest(
        class_code=class_code_in(snapshot),
        session=session,
        drawn=drawn,
        typed=kept,
        shown=shown,
        file_grounds=file_grounds,
        unplaced=tuple(unplaced),
        findings=tuple(findings),
        damaged=damaged,
        lost=damaged or any(finding.tab != texts["review_tab.corrections"] for finding in findings),
    )


def decisions_from(found: Harvest, known: Sequence[Decision], session: int) -> tuple[Decision, ...]:
    """Return the decisions that are new, counted on from those known.

    A cell is a decision where it differs from what it was drawn with, and from what was already taken over
    from this very drawing. So a cell emptied is one, and an older copy of the workbook takes nothing back.

    known : the whole journal.
    """
    last = max((decision.sequence for decision in known), default=0)
    of_session = [decision for decision in known if decision.session == session]
    latest = current(of_session)
    # Beyond the journal's end: the journal is an older one than the workbook.
    certain = 0 <= found.drawn <= last
    taken_over = current(decision for decision in of_session if decision.drawn == found.drawn)
    new: list[Decision] = []
    for typed in found.typed:
        subject, kind, name = typed.key
        before = latest.get(typed.key)
        *base, ground = found.shown.get(typed.key, ("", "", found.file_grounds.get(subject, "")))
        pair = (typed.value, typed.reason)
        now = (before.value, before.reason) if before else ("", "")
        if before is None or not certain:
            changed = bool(typed.value) and pair != now
        else:
            taken = taken_over.get(typed.key)
            changed = pair not in ((taken.value, taken.reason) if taken else tuple(base), now)
        confirmed = typed.confirmed and bool(typed.value) and bool(now[0])
        if changed or (confirmed and before is not None and before.ground != ground):
            value, reason = pair if changed else now
            number = last + len(new) + 1
            new.append(Decision(number, session, subject, kind, name, value, reason, ground, found.drawn))
    return tuple(new)


def _lines(tab: TabState, headings: Mapping[str, str], words: Words | None) -> tuple[list[Line], str]:
    """The lines of a tab as far as its headings are there, and those headings that are not."""
    # A formula that no program has worked out stands for itself.
    cells = {
        place: replace(state, value=state.formula) if state.formula and state.value is None else state
        for place, state in tab.cells.items()
    }
    tab = replace(tab, cells=cells)
    _, missing = lines_of(tab, headings, may_lack=("check", "confirm"))
    lines, _ = lines_of(tab, headings, may_lack=tuple(headings), list_words=words)
    return lines, ", ".join(missing)


def _texts(key: str, line: Line) -> dict[str, str]:
    """Column to what stands there, a word of a list as its code word."""
    found = {}
    for column in TABS[key]:
        text = plain_text(line.cells[column.key].value)
        found[column.key] = code_word(text, column.words, line.list_words) or text
    return found


def _rows(key: str, lines: Sequence[Line]) -> tuple[list[Typed], list[Finding]]:
    """What stands in rows that were drawn; what stands in a row about nothing is named."""
    typed: list[Typed] = []
    findings: list[Finding] = []
    for line in lines:
        cells = _texts(key, line)
        name = cells.get("file_id", cells.get("cell_name", ""))
        subject = name if key == "files" else cells["copy_code"].upper()
        for column in TABS[key]:
            if not column.kind or column.key not in line.columns:
                continue
            value, place = cells[column.key], (line.tab, line.place(column.key))
            if column.words:
                value = value.casefold()
            if subject and (name or key == "review"):
                about = (subject, column.kind, name)
                typed.append(Typed(about, value, "", place, cells["confirm"] == "yes"))
            elif value:
                findings.append(_unplaced(place, value))
    return typed, findings


def _corrections(lines: Sequence[Line]) -> tuple[list[Typed], list[Mapping[str, str]], list[Finding]]:
    """The corrections that say everything, and the lines that do not."""
    typed: list[Typed] = []
    unplaced: list[Mapping[str, str]] = []
    if lines and not all(column in lines[0].columns for column in _CORRECTION):
        # The whole file is set aside; half a line would only stand in the way.
        return [], [], []
    findings: list[Finding] = []
    for line in lines:
        texts = _texts("corrections", line)
        cells = {column: texts[column] for column in _CORRECTION}
        code, name, value, reason = cells.values()
        place = (line.tab, line.place("copy_code"))
        if code and name and value:
            about = (code.upper(), "correction", name.casefold())
            typed.append(Typed(about, value, reason, place, texts["confirm"] == "yes"))
        elif any(cells.values()):
            unplaced.append(cells)
            findings.append(_unplaced(place, ", ".join(filter(None, cells.values()))))
    return typed, unplaced, findings


def _taken_back(typed: Sequence[Typed], shown: Mapping[Key, Drawn]) -> list[Typed]:
    """Corrections that were drawn and are not there any more."""
    there = {correction.key for correction in typed}
    gone = [key for key, (value, _, _) in shown.items() if key[1] == "correction" and value]
    return [Typed(key, "", "", ("", "")) for key in gone if key not in there]


def _once(typed: Sequence[Typed]) -> tuple[tuple[Typed, ...], list[Finding]]:
    """Each key once: the last line that holds something; another one with other contents is named."""
    kept: dict[Key, Typed] = {}
    findings: list[Finding] = []
    for entry in typed:
        before = kept.get(entry.key)
        if before is None or not before.value:
            kept[entry.key] = entry
        elif entry.value and (entry.value, entry.reason) != (before.value, before.reason):
            findings.append(_unplaced(before.place, before.value))
            kept[entry.key] = entry
    return tuple(kept.values()), findings


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
    headings = {place: state for place, state in record.cells.items() if place[0] == RECORD_HEADING_ROW}
    places = {str(state.value): column for (_, column), state in headings.items()}
    last = max((row for row, _ in record.cells), default=0)
    shown: dict[Key, Drawn] = {}
    file_grounds: dict[str, str] = {}
    for key, columns in RECORD_COLUMNS.items():
        at = {column: places.get(record_heading(key, column), UNKNOWN) for column in columns}
        for row in range(RECORD_HEADING_ROW + 1, last + 1):
            cells = {column: plain_text(record.value(row, place)) for column, place in at.items()}
            if not any(cells.values()):
                continue
            if key == "review":
                file_grounds[cells["copy_code"]] = cells["file_ground"]
            name = cells.get("file_id", cells.get("cell_name", ""))
            subject = cells.get("copy_code", name)
            for column in TABS[key]:
                about = (subject, column.kind, name)
                if column.kind and (cells[column.key] or about not in shown):
                    shown[about] = (cells[column.key], cells.get("reason", ""), cells["ground"])
    return session, drawn, shown, file_grounds
