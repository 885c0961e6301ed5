"""Sections side by side for the head of a department: people, sheets, precision by site, marks by item. From
keep/ alone, so that it is the same after `forget`. No names, no bodies; nothing of fewer than five people."""

import io
from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import groupby
from operator import attrgetter
from pathlib import Path

from msgspec import Struct

from sheetgen.class_folder.decisions import current, read_decisions
from sheetgen.class_folder.files import write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.scores import WHOLE, load_scores
from sheetgen.errors import UsageError
from sheetgen.marking.marks import scheme_of
from sheetgen.sheet.student import all_protocols
from sheetgen.statistics.precision import load_precision
from sheetgen.statistics.readings_frame import SMALL_CELL
from sheetgen.texts.csv_cells import harmless
from sheetgen.texts.languages import DEFAULT_LANGUAGE

_PARTS = ("people", "sheets", "repeat error, %", "marks, %")
"""The repeat error is the class's technical error in per cent of the fold; marks are in per cent of the
points, without those that wait for a person."""


class Summary(Struct, frozen=True):
    """headings : session, what, of which site or item, then a section each. rows : in that order."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str | float | None, ...], ...]


def summary_of(folders: Mapping[str, ClassFolder]) -> Summary:
    """Return the sections side by side, by what they are called; FolderError where keep/ cannot be read."""
    cells: dict[tuple[int, int, str], dict[str, str | float | None]] = defaultdict(dict)
    for name, folder in folders.items():
        for session, part, about, value in _section(folder):
            cells[session, part, about][name] = value
    rows = tuple(
        (session, _PARTS[part], about, *map(values.get, folders))
        for (session, part, about), values in sorted(cells.items(), key=lambda line: line[0][:2])
    )
    return Summary(("session", "what", "of", *folders), rows)


def _section(folder: ClassFolder) -> Iterator[tuple[int, int, str, str | float | None]]:
    """Session, place in _PARTS, site or item, and the figure."""
    protocols = all_protocols(folder, DEFAULT_LANGUAGE).values()
    sites = {site.word: site.title for protocol in protocols for site in protocol.sites}
    items = {WHOLE: "all", **{item.word: item.title for item in scheme_of(folder, DEFAULT_LANGUAGE).items}}
    decided = current(read_decisions(folder).decisions)
    withdrawn = {subject for (subject, kind, _), one in decided.items() if kind == "withdrawn" and one.value}
    given = [one for one in load_scores(folder) if one.sheet and one.sheet not in withdrawn]
    for session, scores in groupby(sorted(given, key=attrgetter("session")), key=attrgetter("session")):
        by_item, whole = defaultdict(list), []
        for one in scores:
            whole += [one] if one.item == WHOLE and one.points is not None else []
            if one.points is not None and one.status == "final":
                by_item[one.item].append(one)
        yield session, 0, "", len({one.student_id for one in whole})
        yield session, 1, "", len(whole)
        for item, own in by_item.items():
            enough = len({one.student_id for one in own}) >= SMALL_CELL
            share = 100 * sum(one.points or 0.0 for one in own) / (sum(one.out_of for one in own) or 1.0)
            few = f"fewer than {SMALL_CELL} people"
            yield session, 3, items.get(item, item), round(share, 1) if enough else few
    for session, site in load_precision(folder):
        if isinstance(site.relative, float):
            yield session, 2, sites.get(site.site, site.site), round(site.relative, 1)


def write_summary(summary: Summary, path: Path) -> None:
    """Write it as a CSV or a workbook, as the name ends; a file that is there is never written over.
    UsageError for another ending or a file that is there, FolderError where it cannot be written."""
    if path.suffix.lower() not in (".csv", ".xlsx"):
        raise UsageError(path, f"the ending {path.suffix!r}", ".csv or .xlsx", "Choose one of these.")
    if path.exists():
        raise UsageError(path, "a file is there", "a new name", "Name another file, or move this one away.")
    import pandas

    stream = io.BytesIO()
    if path.suffix.lower() == ".csv":
        lines = (summary.headings, *summary.rows)
        rows = [[harmless(cell) if isinstance(cell, str) else cell for cell in line] for line in lines]
        pandas.DataFrame(rows).to_csv(stream, index=False, header=False, encoding="utf-8-sig")
    else:
        plain = {"options": {"strings_to_formulas": False, "strings_to_urls": False}}
        frame = pandas.DataFrame(summary.rows, columns=summary.headings)
        frame.to_excel(stream, index=False, engine="xlsxwriter", engine_kwargs=plain)
    write_beside(path, stream.getvalue())
