"""One feedback workbook a student, printable on one page, and all of them as one zip for bulk return."""

import io
import re
import unicodedata
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from textwrap import wrap

import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from sheetgen.marking.scheme import Marking
from sheetgen.protocols.names import own_decimals
from sheetgen.protocols.protocol import Protocol
from sheetgen.report.feedback_pages import (
    finding_lines,
    header_line,
    item_rows,
    practise_lines,
    repeat_rows,
    score_lines,
    step_rows,
)
from sheetgen.report.page import Heading, Texts, Value, writable_text
from sheetgen.report.writing import Formats, formats_of, new_sheet, write, write_table
from sheetgen.returned.attempt import Attempt

_FIXED_DATE = datetime(2000, 1, 1)
_FIXED_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""Real dates would make each run's bytes differ."""

_WIDTHS = (28, 11, 11, 12, 60)
_FORMATS = ("wrap", "text", "text", "text", "wrap")
_LAST_COLUMN = len(_WIDTHS) - 1
_POINTS_A_LINE = 13.5
_CHARACTERS_A_LINE = 132
_LONGEST_PIECE = 900

_NOT_IN_FILE_NAMES = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Feedback:
    """All that one page follows from.

    comment : of the teacher, or empty. adjusted : the mark the teacher decided on, or None.
    with_body_values : False leaves out every value that was measured or follows from it: the lines of own
        working show their points, not their numbers.
    """

    attempt: Attempt
    marking: Marking
    protocol: Protocol
    comment: str
    adjusted: float | None
    with_body_values: bool


def feedback_bytes(feedback: Feedback, texts: Texts, style_text: str, language: str) -> bytes:
    """Return the workbook with the feedback on one sheet, the same bytes for the same inputs.

    Parameters
    ----------
    texts : those of `feedback.LANGUAGE` and of `marking.LANGUAGE`, by dotted key.
    style_text : the text of templates/style.toml.
    language : of the texts, a tag such as `en`; written into the properties of the file.

    Raises
    ------
    KeyError : a text or a format word is missing.

    Notes
    -----
    Practice readings are shown like any other. Nothing here tells who was measured but a code.
    """
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream, {"in_memory": True})
    workbook.set_properties({"title": texts["feedback.title"], "created": _FIXED_DATE})
    workbook.set_custom_property("language", language, "text")
    formats = formats_of(workbook, style_text)
    sheet = new_sheet(workbook, formats, texts["feedback.tab"], _WIDTHS, texts["feedback.page"])
    sheet.set_portrait()
    sheet.fit_to_pages(1, 1)
    sheet.center_horizontally()
    sheet.protect("", {"select_locked_cells": True})
    last = _written(_Tab(sheet, formats, texts), feedback)
    sheet.print_area(0, 0, last - 1, _LAST_COLUMN)
    workbook.close()
    return stream.getvalue()


@dataclass(frozen=True, slots=True)
class _Tab:
    """Where the functions below write, each from a row on, and return the next free one."""

    sheet: Worksheet
    formats: Formats
    texts: Texts


def _written(tab: _Tab, feedback: Feedback) -> int:
    attempt, marking, protocol, texts = feedback.attempt, feedback.marking, feedback.protocol, tab.texts
    write(tab.sheet, 0, 0, texts["feedback.title"], tab.formats["title"])
    tab.sheet.set_row(0, 22)
    write(tab.sheet, 1, 0, header_line(attempt, texts), tab.formats["line"])
    row = 2
    for line in score_lines(marking, feedback.adjusted, texts):
        write(tab.sheet, row, 0, line, tab.formats["label"])
        row += 1
    row = _prose(tab, row, [texts["feedback.never_marked"]])
    if feedback.comment.strip():
        row = _section(tab, row, "comment", list(_pieces(feedback.comment)))
    row = _section(tab, row, "items", ())
    items = item_rows(marking, protocol, texts, with_body_values=feedback.with_body_values)
    row = _table(tab, row, ("item", "points", "maximum", "waits", "why"), items)
    row = _steps(tab, row, feedback)
    row = _section(
        tab, row, "findings", finding_lines(attempt.findings, texts) or (texts["feedback.no_findings"],)
    )
    to_practise = practise_lines(attempt, protocol, texts) or (texts["feedback.nothing_to_practise"],)
    row = _section(tab, row, "practise", to_practise)
    repeated = repeat_rows(attempt, protocol, texts)
    if repeated:
        row = _section(tab, row, "repeat", [texts["feedback.repeat_hint"]])
        words = ("site", "difference", "third_needed", "third_taken", "in_words")
        row = _table(tab, row, words, repeated)
    return row


def _steps(tab: _Tab, row: int, feedback: Feedback) -> int:
    shown = feedback.with_body_values
    steps = [step for item in feedback.marking.items for step in item.steps]
    row = _section(tab, row, "steps", [tab.texts["feedback.steps_hint" if steps else "feedback.no_steps"]])
    if not steps:
        return row
    numbers = ("yours", "from_line_above", "from_readings") if shown else ("points", "maximum", "waits")
    rows = step_rows(steps, feedback.protocol, tab.texts, with_body_values=shown)
    last = _table(tab, row, ("step", *numbers, "redo"), rows)
    if shown:
        # What is typed stays as it was typed; what is worked out has the decimals that were asked for.
        for place, (step, values) in enumerate(zip(steps, rows, strict=True), start=row + 1):
            shape = tab.formats[f"row of result_{own_decimals(step.step)}"]
            for column in (2, 3):
                write(tab.sheet, place, column, values[column], shape)
    return last


def _table(tab: _Tab, row: int, words: Sequence[str], rows: Sequence[Sequence[Value]]) -> int:
    headings = [
        Heading(tab.texts[f"feedback.{word}"], width, shape)
        for word, width, shape in zip(words, _WIDTHS, _FORMATS, strict=True)
    ]
    return 1 + write_table(tab.sheet, tab.formats, row, headings, rows)


def _section(tab: _Tab, row: int, word: str, lines: Sequence[str]) -> int:
    """A gap, a title, and sentences below it."""
    tab.sheet.set_row(row, 6)
    write(tab.sheet, row + 1, 0, tab.texts[f"feedback.{word}"], tab.formats["label"])
    return _prose(tab, row + 2, lines)


def _prose(tab: _Tab, row: int, lines: Sequence[str]) -> int:
    """Sentences across the page, each in one cell so that it is read as one."""
    shape = tab.formats["wrap"]
    for line in lines:
        tab.sheet.merge_range(row, 0, row, _LAST_COLUMN, "", shape)
        write(tab.sheet, row, 0, line, shape)
        lines_taken = len(wrap(line, _CHARACTERS_A_LINE)) or 1
        tab.sheet.set_row(row, _POINTS_A_LINE * lines_taken + 2)
        row += 1
    return row


def _pieces(text: str) -> Iterator[str]:
    """The paragraphs of a text, the longest ones cut where a word ends: a row is only so tall."""
    for paragraph in text.splitlines():
        yield from wrap(paragraph, _LONGEST_PIECE)


def feedback_zip(files: Mapping[str, bytes]) -> bytes:
    """Return feedback workbooks as one zip under the names the sheets came in with.

    Parameters
    ----------
    files : incoming file name, with folders where there were any, to the bytes of the feedback.

    Notes
    -----
    A name can lead nowhere but below the place where the zip is unpacked, is fit for every usual system, ends
    in `.xlsx`, and stands there once: a second one of the same name gets a number. Order and dates are fixed.
    """
    safe = {name: _safe_path(name) for name in sorted(files)}
    taken = {_folded("/".join(path[:end])) for path in safe.values() for end in range(1, len(path))}
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as out:
        for name, path in safe.items():
            unique = _unique("/".join(path), taken)
            taken.add(_folded(unique))
            entry = zipfile.ZipInfo(unique, _FIXED_ZIP_DATE)
            # Workbooks are packed already; packing them twice takes time and gains nothing.
            entry.compress_type = zipfile.ZIP_STORED
            entry.create_system = 3
            entry.external_attr = 0o100644 << 16
            out.writestr(entry, files[name])
    return target.getvalue()


def _safe_path(name: str) -> tuple[str, ...]:
    parts = [_safe_part(part) for part in re.split(r"[/\\]", writable_text(name))]
    kept = [part for part in parts if part] or ["feedback"]
    if not kept[-1].casefold().endswith(".xlsx"):
        kept[-1] += ".xlsx"
    return tuple(kept)


def _safe_part(part: str) -> str:
    """One step of a path, empty where it is none: no `..`, no drive, nothing that a system refuses."""
    clean = _NOT_IN_FILE_NAMES.sub("_", part).strip().rstrip(". ")
    return f"_{clean}" if _DEVICES.match(clean) else clean


def _folded(path: str) -> str:
    """The same for names that some systems take for the same."""
    return unicodedata.normalize("NFC", path).casefold()


def _unique(path: str, taken: set[str]) -> str:
    stem, ending = path[: -len(".xlsx")], path[-len(".xlsx") :]
    number, unique = 1, path
    while _folded(unique) in taken:
        number += 1
        unique = f"{stem} ({number}){ending}"
    return unique
