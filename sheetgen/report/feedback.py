"""One feedback workbook a student, printable on one page, and all of them as one zip for bulk return."""

import io
import re
import unicodedata
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from textwrap import wrap

import xlsxwriter

from sheetgen.layout.vocabulary import OWN_DECIMALS, own_decimals
from sheetgen.model.attempt import Attempt
from sheetgen.model.marking import Marking
from sheetgen.model.protocol import Protocol
from sheetgen.report.attempt_facts import writable_text
from sheetgen.report.feedback_pages import (
    finding_lines,
    header_line,
    item_rows,
    practise_lines,
    repeat_rows,
    score_lines,
    step_rows,
)
from sheetgen.report.page import Heading
from sheetgen.report.page_master import BOOK, SHEET, Cells, PageMaster, master_cut, write_samples
from sheetgen.report.writing import formats_of, new_sheet, write, write_table

__all__ = ["cut_feedback_master", "feedback_master", "feedback_parts", "feedback_zip"]

_FIXED_DATE = datetime(2000, 1, 1)
_FIXED_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""Real dates would make each run's bytes differ."""

_WIDTHS = (28, 11, 11, 12, 60)
_FORMATS = ("wrap", "text", "text", "text", "wrap")
_LAST_COLUMN = len(_WIDTHS) - 1
_SHAPES = (
    "title", "line", "label", "wrap", "heading of wrap", "heading of text", "row of wrap", "row of text",
    *(f"row of result_{decimals}" for decimals in sorted(set(OWN_DECIMALS.values()))),
)  # fmt: skip
"""Every format that a page of feedback has cells of."""
_POINTS_A_LINE = 13.5
_CHARACTERS_A_LINE = 132
_LONGEST_PIECE = 900

_NOT_IN_FILE_NAMES = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)


def feedback_master(texts: Mapping[str, str], style_text: str, language: str) -> bytes:
    """Return the workbook that all pages of feedback are made from, the same bytes for the same inputs.

    Parameters
    ----------
    texts : those of `feedback.LANGUAGE`, by dotted key.
    style_text : the text of templates/style.toml.
    language : of the texts, a tag such as `en`; written into the properties of the file.

    Raises
    ------
    KeyError : a text or a format word is missing.
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
    write_samples(sheet, formats, _SHAPES, len(_WIDTHS))
    workbook.close()
    return stream.getvalue()


def cut_feedback_master(data: bytes) -> PageMaster:
    """Return what `feedback_parts` needs of the bytes of a master."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return master_cut({name: package.read(name) for name in (SHEET, BOOK)}, _SHAPES)


def feedback_parts(
    attempt: Attempt,
    marking: Marking,
    protocol: Protocol,
    texts: Mapping[str, str],
    master: PageMaster,
    *,
    with_body_values: bool,
    comment: str,
    adjusted: float | None,
) -> dict[str, bytes]:
    """Return the feedback on one sheet, as the parts that take the place of the master's.

    Parameters
    ----------
    texts : those of `feedback.LANGUAGE` and of `marking.LANGUAGE`, by dotted key.
    with_body_values : False leaves out every value that was measured or follows from it: the lines of own
        working show their points, not their numbers.
    comment : of the teacher, or empty. adjusted : the mark the teacher decided on, or None.

    Raises
    ------
    KeyError : a text is missing.

    Notes
    -----
    Practice readings are shown like any other. Nothing here tells who was measured but a code.
    """
    sheet, formats = Cells(), master.formats
    write(sheet, 0, 0, texts["feedback.title"], formats["title"])
    sheet.set_row(0, 22)
    write(sheet, 1, 0, header_line(attempt, texts), formats["line"])
    row = 2
    for line in score_lines(marking, adjusted, texts):
        write(sheet, row, 0, line, formats["label"])
        row += 1
    row = _prose(sheet, formats, row, [texts["feedback.never_marked"]])
    if comment.strip():
        row = _section(sheet, formats, row, texts["feedback.comment"], list(_pieces(comment)))
    row = _items(sheet, formats, row, marking, protocol, texts, with_body_values)
    row = _steps(sheet, formats, row, marking, protocol, texts, with_body_values)
    noticed = finding_lines(attempt.findings, texts) or (texts["feedback.no_findings"],)
    row = _section(sheet, formats, row, texts["feedback.findings"], noticed)
    to_practise = practise_lines(attempt, protocol, texts) or (texts["feedback.nothing_to_practise"],)
    row = _section(sheet, formats, row, texts["feedback.practise"], to_practise)
    row = _repeat(sheet, formats, row, attempt, protocol, texts)
    return sheet.parts(master, printed_rows=row)


def _items(
    sheet: Cells,
    formats: Mapping[str, int],
    row: int,
    marking: Marking,
    protocol: Protocol,
    texts: Mapping[str, str],
    with_body_values: bool,
) -> int:
    row = _section(sheet, formats, row, texts["feedback.items"], ())
    headings = _headings(texts, "item", "points", "maximum", "waits", "why")
    rows = item_rows(marking, protocol, texts, with_body_values=with_body_values)
    return 1 + write_table(sheet, formats, row, headings, rows)


def _steps(
    sheet: Cells,
    formats: Mapping[str, int],
    row: int,
    marking: Marking,
    protocol: Protocol,
    texts: Mapping[str, str],
    with_body_values: bool,
) -> int:
    steps = [step for item in marking.items for step in item.steps]
    hint = texts["feedback.steps_hint" if steps else "feedback.no_steps"]
    row = _section(sheet, formats, row, texts["feedback.steps"], [hint])
    if not steps:
        return row
    numbers = ("yours", "from_line_above", "from_readings")
    if not with_body_values:
        numbers = ("points", "maximum", "waits")
    rows = step_rows(steps, protocol, texts, with_body_values=with_body_values)
    last = write_table(sheet, formats, row, _headings(texts, "step", *numbers, "redo"), rows)
    if with_body_values:
        # What is typed stays as it was typed; what is worked out has the decimals that were asked for.
        for place, (step, values) in enumerate(zip(steps, rows, strict=True), start=row + 1):
            shape = formats[f"row of result_{own_decimals(step.step)}"]
            for column in (2, 3):
                write(sheet, place, column, values[column], shape)
    return last + 1


def _repeat(
    sheet: Cells,
    formats: Mapping[str, int],
    row: int,
    attempt: Attempt,
    protocol: Protocol,
    texts: Mapping[str, str],
) -> int:
    rows = repeat_rows(attempt, protocol, texts)
    if not rows:
        return row
    row = _section(sheet, formats, row, texts["feedback.repeat"], [texts["feedback.repeat_hint"]])
    headings = _headings(texts, "site", "difference", "third_needed", "third_taken", "in_words")
    return 1 + write_table(sheet, formats, row, headings, rows)


def _headings(texts: Mapping[str, str], *words: str) -> tuple[Heading, ...]:
    return tuple(
        Heading(texts[f"feedback.{word}"], width, shape)
        for word, width, shape in zip(words, _WIDTHS, _FORMATS, strict=True)
    )


def _section(sheet: Cells, formats: Mapping[str, int], row: int, title: str, lines: Sequence[str]) -> int:
    """A gap, a title, and sentences below it; the next free row."""
    sheet.set_row(row, 6)
    write(sheet, row + 1, 0, title, formats["label"])
    return _prose(sheet, formats, row + 2, lines)


def _prose(sheet: Cells, formats: Mapping[str, int], row: int, lines: Sequence[str]) -> int:
    """Sentences across the page, each in one cell so that it is read as one; the next free row."""
    for line in lines:
        sheet.merge_row(row, _LAST_COLUMN, formats["wrap"])
        write(sheet, row, 0, line, formats["wrap"])
        sheet.set_row(row, _POINTS_A_LINE * _lines(line) + 2)
        row += 1
    return row


@lru_cache(maxsize=4096)
def _lines(text: str) -> int:
    return len(wrap(text, _CHARACTERS_A_LINE)) or 1


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
