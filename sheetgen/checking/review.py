"""What a teacher typed into the review workbook, and which of it is a new decision."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetgen.checking.class_book_cells import Line, lines_of, tab_titled
from sheetgen.checking.identity import class_code_in
from sheetgen.checking.list_words import Words, code_word
from sheetgen.layout.review import (
    COLUMNS,
    CONFIRM_WORDS,
    EMPTY_WORD,
    FILE_WORDS,
    RECORD_COLUMNS,
    RECORD_HEADING_ROW,
    record_heading,
)
from sheetgen.model.decision import Decision
from sheetgen.model.finding import Finding
from sheetgen.model.finding import typed as as_typed
from sheetgen.model.snapshot import Snapshot, TabState

__all__ = ["UNKNOWN", "Harvest", "Key", "Typed", "current", "decisions_from", "harvest", "plain_text"]

UNKNOWN = -1
"""As the sequence a workbook was drawn with: its hidden tab is gone."""

_FILE_KINDS = ("accept-late", "which-file")

Key = tuple[str, str, str]
"""Subject, kind, name. Both kinds about files are `which-file` here, and about the file: does it count?"""


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
    shown : value and reason that each entry was drawn with, and its ground.
    file_grounds : copy code to the digest of its file.
    unplaced : lines of the tab Corrections that are not complete, as column to text.
    damaged : a tab or column is not there.
    """

    class_code: str
    session: int
    drawn: int
    typed: tuple[Typed, ...]
    shown: Mapping[Key, tuple[str, str, str]]
    file_grounds: Mapping[str, str]
    unplaced: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]
    damaged: bool


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


def current(decisions: Iterable[Decision]) -> dict[Key, Decision]:
    """Return the latest decision of each subject, kind and name; one that was taken back has no value."""
    return {_key(one.subject, one.kind, one.name): one for one in decisions}


def harvest(snapshot: Snapshot, texts: Mapping[str, str], words: Words | None = None) -> Harvest:
    """Return everything typed into a review workbook.

    Tabs are found by title, columns by heading, and a row by what it says it is about, so rows may be moved,
    sorted and added. What an entry was drawn with comes from the hidden tab.

    Parameters
    ----------
    texts : those of the review workbook's language. words : of its lists, in every language.
    """
    class_code, record = class_code_in(snapshot), tab_titled(snapshot, texts["review_tab.record"])
    session, drawn, shown, file_grounds = _recorded(record)
    typed: list[Typed] = []
    unplaced: list[Mapping[str, str]] = []
    findings: list[Finding] = []
    for key, columns in COLUMNS.items():
        title = texts[f"review_tab.{key}"]
        tab = tab_titled(snapshot, title)
        headings = {column: texts[f"review_column.{column}"] for column in columns}
        lines, lost = ([], "") if tab is None else _lines(tab, headings, words)
        fault = tab is None or bool(lost)
        if fault:
            case, values = ("gone", {}) if tab is None else ("headings", {"headings": lost})
            findings.append(Finding("file-review-damaged", values, title, case=case))
        rows = _corrections if key == "corrections" else _rows
        more, loose, said = rows(key, lines)
        if key == "corrections" and not fault:
            more += _rows_gone(more, shown)
        typed += more
        unplaced += loose
        findings += said
    damaged = any(finding.code == "file-review-damaged" for finding in findings)
    kept, twice = _once(typed)
    return Harvest(
        class_code,
        session,
        drawn,
        kept,
        shown,
        file_grounds,
        tuple(unplaced),
        (*findings, *twice),
        damaged,
    )


def decisions_from(found: Harvest, known: Sequence[Decision], session: int) -> tuple[Decision, ...]:
    """Return the decisions that are new, counted on from those known.

    A cell is a decision where it differs from what it was drawn with, and from what was already taken over
    from this very drawing. So a cell emptied is one, and an older copy of the workbook takes nothing back.

    Parameters
    ----------
    known : the whole journal.
    """
    last = max((one.sequence for one in known), default=0)
    latest = current(one for one in known if one.session == session)
    # Beyond the journal's end: the journal is an older one than the workbook.
    certain = 0 <= found.drawn <= last
    taken_over = current(one for one in known if one.session == session and one.drawn == found.drawn)
    new: list[Decision] = []
    for typed in found.typed:
        subject, kind, name = typed.key
        shown, before = found.shown.get(typed.key), latest.get(typed.key)
        ground = shown[2] if shown is not None else found.file_grounds.get(subject, "")
        pair = (typed.value, typed.reason)
        now = ("", "") if before is None else (before.value, before.reason)
        if before is None or not certain:
            changed = bool(typed.value) and pair != now
        else:
            base = shown[:2] if shown is not None else ("", "")
            if typed.key in taken_over:
                base = (taken_over[typed.key].value, taken_over[typed.key].reason)
            changed = pair not in (base, now)
        confirmed = typed.confirmed and bool(typed.value) and bool(now[0])
        if not changed and not (confirmed and before is not None and before.ground != ground):
            continue
        value, reason = pair if changed else now
        number = last + len(new) + 1
        new.append(Decision(number, session, subject, kind, name, value, reason, ground, found.drawn))
    return tuple(new)


def _key(subject: str, kind: str, name: str) -> Key:
    return (name, "which-file", name) if kind in _FILE_KINDS else (subject, kind, name)


def _lines(tab: TabState, headings: Mapping[str, str], words: Words | None = None) -> tuple[list[Line], str]:
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


def _text(line: Line, column: str) -> str:
    return plain_text(line.cells[column].value)


_KINDS = {
    "review": (("mark", "mark"), ("comment", "comment")),
    "answers": (("points", "answer-mark"),),
    "files": (("accept", "which-file"),),
}
"""Entry columns and the kind of decision in them."""


def _rows(key: str, lines: Sequence[Line]) -> tuple[list[Typed], list[Mapping[str, str]], list[Finding]]:
    typed: list[Typed] = []
    findings: list[Finding] = []
    for line in lines:
        confirmed = code_word(_text(line, "confirm"), CONFIRM_WORDS, line.list_words) is not None
        subject, name = _about(key, line)
        for column, kind in _KINDS[key]:
            if column not in line.columns:
                continue
            value, place = _text(line, column), (line.tab, line.place(column))
            if kind == "which-file":
                value = code_word(value, FILE_WORDS, line.list_words) or value.casefold()
            if subject:
                typed.append(Typed((subject, kind, name), value, "", place, confirmed))
            elif value:
                findings.append(_unplaced(place, value))
    return typed, [], findings


def _about(key: str, line: Line) -> tuple[str, str]:
    """Subject and name of a row."""
    code = _text(line, "copy_code").upper()
    if key == "files":
        identifier = _text(line, "file_id")
        return identifier, identifier
    name = _text(line, "cell_name") if key == "answers" else ""
    return (code, name) if name or key == "review" else ("", "")


def _corrections(
    key: str, lines: Sequence[Line]
) -> tuple[list[Typed], list[Mapping[str, str]], list[Finding]]:
    typed: list[Typed] = []
    unplaced: list[Mapping[str, str]] = []
    findings: list[Finding] = []
    columns = ("copy_code", "cell_name", "value", "reason")
    if lines and not all(column in lines[0].columns for column in columns):
        # The whole file is set aside; half a line would only stand in the way.
        return [], [], []
    for line in lines:
        cells = {column: _text(line, column) for column in columns}
        if not any(cells.values()):
            continue
        cells["value"] = code_word(cells["value"], (EMPTY_WORD,), line.list_words) or cells["value"]
        code, name = cells["copy_code"].upper(), cells["cell_name"].casefold()
        place = (line.tab, line.place("copy_code"))
        if not (code and name and cells["value"]):
            unplaced.append(cells)
            findings.append(_unplaced(place, ", ".join(filter(None, cells.values()))))
            continue
        confirmed = code_word(_text(line, "confirm"), CONFIRM_WORDS, line.list_words) is not None
        typed.append(Typed((code, "correction", name), cells["value"], cells["reason"], place, confirmed))
    return typed, unplaced, findings


def _rows_gone(typed: list[Typed], shown: Mapping[Key, tuple[str, str, str]]) -> list[Typed]:
    """Corrections that were drawn and are not there any more: taken back."""
    there = {one.key for one in typed}
    gone = [key for key, (value, _, _) in shown.items() if key[1] == "correction" and value]
    return [Typed(key, "", "", ("", "")) for key in gone if key not in there]


def _once(typed: Sequence[Typed]) -> tuple[tuple[Typed, ...], list[Finding]]:
    """Each key once: the last line that holds something; another one with other contents is named."""
    kept: dict[Key, Typed] = {}
    findings: list[Finding] = []
    for one in typed:
        before = kept.get(one.key)
        if before is None or not before.value:
            kept[one.key] = one
        elif one.value and (one.value, one.reason) != (before.value, before.reason):
            findings.append(_unplaced(before.place, before.value))
            kept[one.key] = one
    return tuple(kept.values()), findings


def _unplaced(place: tuple[str, str], text: str) -> Finding:
    return Finding("class-review-unplaced", {"typed": as_typed(text)}, *place)


def _recorded(
    record: TabState | None,
) -> tuple[int, int, dict[Key, tuple[str, str, str]], dict[str, str]]:
    """Session, last sequence, what was drawn, and the digests of files, from the hidden tab."""
    if record is None:
        return UNKNOWN, UNKNOWN, {}, {}
    numbers = {record.value(row, 0): record.value(row, 1) for row in range(RECORD_HEADING_ROW)}
    session, drawn = (
        int(value) if isinstance(value := numbers.get(name), float | int) else UNKNOWN
        for name in ("session", "drawn")
    )
    columns = {
        str(state.value): column for (row, column), state in record.cells.items() if row == RECORD_HEADING_ROW
    }
    last = max((row for row, _ in record.cells), default=0)
    shown: dict[Key, tuple[str, str, str]] = {}
    file_grounds: dict[str, str] = {}
    for key, wanted in RECORD_COLUMNS.items():
        at = {column: columns.get(record_heading(key, column), UNKNOWN) for column in wanted}
        for row in range(RECORD_HEADING_ROW + 1, last + 1):
            cells = {column: plain_text(record.value(row, where)) for column, where in at.items()}
            if not any(cells.values()):
                continue
            if key == "review":
                file_grounds[cells["copy_code"]] = cells["file_ground"]
            for name, value in _drawn(key, cells):
                if value or name not in shown:
                    shown[name] = (value, cells.get("reason", ""), cells["ground"])
    return session, drawn, shown, file_grounds


def _drawn(key: str, cells: Mapping[str, str]) -> list[tuple[Key, str]]:
    code = cells.get("copy_code", "")
    if key == "corrections":
        return [((code, "correction", cells["cell_name"]), cells["value"])]
    name = cells.get("cell_name", cells.get("file_id", ""))
    subject = name if key == "files" else code
    return [((subject, kind, name), cells[column]) for column, kind in _KINDS[key]]
