"""A blind sample for a second marker, and how far the two agree."""

import math
import random
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from sheetgen.class_book.cells_read import lines_of, tab_titled
from sheetgen.class_folder.files import make_folder, read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import load_secret
from sheetgen.finding import Refusal
from sheetgen.marking.marking import about_title
from sheetgen.marking.scheme import Marking
from sheetgen.report.working_numbers import working_numbers
from sheetgen.returned.attempt import Attempt, has_work
from sheetgen.returned.corrections import number_in
from sheetgen.texts.languages import Texts, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.cells import heading_row, label, number_rule
from sheetgen.workbook.layout import Cell, Identity, Layout, Tab
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered

_COLUMNS = {
    "copy_code": 14, "second_item": 30, "cell_name": 26, "question": 44, "typed": 50, "second_numbers": 60,
    "possible": 10, "points": 12,
}  # fmt: skip
"""Key of the heading to its width in characters; the last is typed into."""
_LEAST = 5


class MarkedLine(Struct, frozen=True):
    """One line or answer of a sheet. points : of the first marker, None where none were given yet.
    shown : what stands in the columns before the last."""

    shown: tuple[str | float, ...]
    points: float | None

    @property
    def key(self) -> tuple[str, str]:
        """Copy code and name of the entry."""
        return str(self.shown[0]), str(self.shown[2])


def sampled(codes: Sequence[str], seed: str) -> tuple[str, ...]:
    """Return a tenth of some sheets, five at least, the same ones for the same seed."""
    count = min(len(codes), max(_LEAST, math.ceil(len(codes) / 10)))
    return tuple(sorted(random.Random(seed).sample(sorted(codes), count)))


def second_marked(
    folder: ClassFolder,
    session: int,
    attempts: Sequence[Attempt],
    markings: Mapping[str, Marking],
    language: str,
) -> tuple[str, ...]:
    """Write the sample where there is none yet, else compare what was typed into it; return what is to be
    said. The file, the second marker's, is never written again. FolderError: it cannot be read or written."""
    path = folder.review(session).with_name(f"session-{session}-second-marker.xlsx")
    texts = texts_in(language, "sheet", "marking", "feedback", "review")
    sheets = {one.record.copy_code: one for one in attempts if one.record is not None and has_work(one)}
    lines = {code: list(_lines(sheets[code], markings[code], texts)) for code in sheets if code in markings}
    data = read_if_there(path)
    if data is None:
        codes = sampled(tuple(lines), f"{load_secret(folder)}/{session}")
        make_folder(path.parent)
        layout = _layout([line for code in codes for line in lines[code]], texts, language)
        write_beside(path, rendered(layout, Identity(), read_template("style.toml")))
        return (f"{path}: {len(codes)} sheets without scores; once somebody has marked them, do this again",)
    package = read_package_bytes(data)
    state = package if isinstance(package, Refusal) else snapshot(package)
    tab = None if isinstance(state, Refusal) else tab_titled(state, texts["review.second_tab"])
    found, missing = ([], ["all"]) if tab is None else lines_of(tab, _headings(texts))
    if missing:
        return (f"{path}: it cannot be read; move it away to have it written anew",)
    typed = [[str(line.cells[key].value) for key in ("copy_code", "cell_name", "points")] for line in found]
    points = {(code, name): number for code, name, text in typed if (number := number_in(text)) is not None}
    return tuple(compared([line for each in lines.values() for line in each], points))


def _headings(texts: Texts) -> dict[str, str]:
    return {key: texts.get(f"review_column.{key}") or texts[f"review.{key}"] for key in _COLUMNS}


def _lines(attempt: Attempt, marking: Marking, texts: Texts) -> Iterator[MarkedLine]:
    """The lines of own working and the answers of a sheet, in the order of the scheme."""
    built_with = attempt.built_with
    if built_with is None or attempt.results is None or attempt.record is None:
        return
    protocol, settings, code = built_with.protocol, built_with.settings, attempt.record.copy_code
    numbers = working_numbers(protocol, settings, attempt.entries, attempt.results, texts)
    given = {one.about: points for one, points in marking.given}
    asked = {one.about: one for one in (*(one for one, _ in marking.given), *marking.to_be_marked)}
    for item in marking.items:
        for step in item.steps:
            name, title = f"own_{step.step}", about_title(step.step, protocol, texts)
            typed, work = str(attempt.entries.get(name, "")), numbers.get(step.step, "")
            score = given.get(name, None if name in asked or step.waits else step.score)
            yield MarkedLine((code, item.title, name, title, typed, work, round(step.points, 2)), score)
        for name, one in asked.items():
            if one.item == item.word and name.startswith("answer_"):
                question = texts[f"working.question_{name.removeprefix('answer_')}"]
                shown = (code, item.title, name, question, one.text, "", one.points)
                yield MarkedLine(shown, given.get(name))


def compared(first: Sequence[MarkedLine], second: Mapping[tuple[str, str], float]) -> Iterator[str]:
    """Yield how many lines of each item both marked alike, then every line that differs, by code and name."""
    both = [(line, line.points, second[line.key]) for line in first if line.key in second]
    alike: dict[str, list[bool]] = defaultdict(list)
    for line, one, other in both:
        if one is not None:
            alike[str(line.shown[1])].append(abs(one - other) < 0.01)
    for item, agree in alike.items():
        yield f"{item}: {sum(agree)} of {len(agree)} lines marked alike"
    for line, one, other in both:
        if one is not None and abs(one - other) >= 0.01:
            yield f"{line.key[0]} {line.key[1]}: {one:.4g} and {other:.4g} of {line.shown[6]:g} points"
    if not alike:
        yield "nothing to compare yet: no line has points of both markers"


def _layout(lines: Sequence[MarkedLine], texts: Texts, language: str) -> Layout:
    title, name = texts["review.second_title"], texts["review.second_tab"]
    cells = [label(0, 0, title, "title"), label(1, 0, texts["review.second_hint"], "step")]
    cells += heading_row(3, list(_headings(texts).values()))
    for row, line in enumerate(lines, start=4):
        cells += [label(row, column, value, "wrap") for column, value in enumerate(line.shown)]
        rule = number_rule(texts, "decimal", 0, float(line.shown[6]), texts["review_column.points"], "")
        cells.append(Cell(row, len(line.shown), "entry", None, f"points_{row}", "", "entry_number", rule))
    widths = tuple(map(float, _COLUMNS.values()))
    tab = Tab("second", name, tuple(cells), widths, freeze=(4, 0), landscape=True, filtered=3)
    return Layout(title, title, language, (tab,), page_text=texts["sheet.page"])
