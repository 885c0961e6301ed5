"""Rules about the part of a tab: order, places that overlap, lengths, formulas."""

import math
import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from openpyxl.utils import FORMULAE
from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

from tests.audit.book_rules import order_of
from tests.audit.package import (
    LAST_COLUMN,
    LAST_ROW,
    MAIN,
    Block,
    Package,
    Tab,
    blocks,
    overlapping,
    titles_in,
    without_texts,
)

_ORDER = (
    "sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr",
    "sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState", "dataConsolidate",
    "customSheetViews", "mergeCells", "phoneticPr", "conditionalFormatting", "dataValidations",
    "hyperlinks", "printOptions", "pageMargins", "pageSetup", "headerFooter", "rowBreaks", "colBreaks",
    "customProperties", "cellWatches", "ignoredErrors", "smartTags", "drawing", "legacyDrawing",
    "legacyDrawingHF", "picture", "oleObjects", "controls", "webPublishItems", "tableParts", "extLst",
)  # fmt: skip
_KINDS_OF_CELL = ("b", "e", "inlineStr", "n", "s", "str")
_LONGEST_FORMULA, _DEEPEST, _MOST_ARGUMENTS = 8_192, 64, 255
_FUNCTION = re.compile(r"([A-Za-z_][\w.]*)\(")


def order_of_tabs(package: Package) -> Iterator[str]:
    for tab in package.tabs:
        yield from (f"{tab.title}: {said}" for said in order_of(tab.root, _ORDER, ("conditionalFormatting",)))


def rows_and_cells(package: Package) -> Iterator[str]:
    """Each once, in order, within the sheet; numbers are numbers."""
    for tab in package.tabs:
        rows = [int(row.get("r", "0")) for row in tab.root.iter(f"{MAIN}row")]
        if rows != sorted(set(rows)) or not all(1 <= row <= LAST_ROW for row in rows):
            yield f"{tab.title}: rows {rows[:9]}"
        for row in tab.root.iter(f"{MAIN}row"):
            if float(row.get("ht", "0")) > 409.5:
                yield f"{tab.title}: row {row.get('r')} is {row.get('ht')} high"
            places = [coordinate_from_string(str(cell.get("r"))) for cell in row]
            columns = [column_index_from_string(column) for column, _ in places]
            if columns != sorted(set(columns)) or any(
                number != int(row.get("r", "0")) for _, number in places
            ):
                yield f"{tab.title}: row {row.get('r')} has cells {places[:9]}"
        for cell in tab.root.iter(f"{MAIN}c"):
            kind, value = cell.get("t", "n"), cell.findtext(f"{MAIN}v")
            # A formula that nobody worked out has an empty result.
            number = kind == "n" and value is not None and (value or cell.find(f"{MAIN}f") is None)
            if kind not in _KINDS_OF_CELL or (number and not _finite(value)):
                yield f"{tab.title}!{cell.get('r')}: {value!r} of kind {kind}"


def _finite(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def columns(package: Package) -> Iterator[str]:
    for tab in package.tabs:
        spans = [(int(one.get("min", "0")), int(one.get("max", "0"))) for one in tab.root.iter(f"{MAIN}col")]
        edges = [edge for span in spans for edge in span]
        if edges != sorted(edges) or any(one[1] >= other[0] for one, other in pairwise(spans)):
            yield f"{tab.title}: columns {spans}"
        if edges and not (edges[0] >= 1 and edges[-1] <= LAST_COLUMN):
            yield f"{tab.title}: columns {spans}"
        for one in tab.root.iter(f"{MAIN}col"):
            if not 0 <= float(one.get("width", "0")) <= 255:
                yield f"{tab.title}: a column {one.get('width')} wide"


def merges(package: Package) -> Iterator[str]:
    """They do not overlap, join at least two cells, and nothing stands below their first."""
    for tab in package.tabs:
        found = [block for one in tab.root.iter(f"{MAIN}mergeCell") for block in blocks(str(one.get("ref")))]
        yield from (f"{tab.title}: {one} and {other} overlap" for one, other in overlapping(found))
        yield from (f"{tab.title}: {one} is one cell" for one in found if one[:2] == one[2:])
        for cell in tab.root.iter(f"{MAIN}c") if found else ():
            column, row, *_ = blocks(str(cell.get("r")))[0] if len(cell) else (0, 0)
            for left, top, right, bottom in found:
                if left <= column <= right and top <= row <= bottom and (column, row) != (left, top):
                    yield f"{tab.title}!{cell.get('r')}: hidden by the cell it is joined to"


def validations(package: Package) -> Iterator[str]:
    """One rule a cell. A title has at most 32 letters, a message 255, of which 225 are shown of an error; a
    list of words 255; a formula 255."""
    for tab in package.tabs:
        found = []
        for rule in tab.root.iter(f"{MAIN}dataValidation"):
            places = str(rule.get("sqref"))
            found += blocks(places)
            lengths = (("promptTitle", 32), ("errorTitle", 32), ("prompt", 255), ("error", 225))
            for name, most in lengths:
                if len(rule.get(name, "")) > most:
                    yield f"{tab.title}!{places[:20]}: {name} of {len(rule.get(name, ''))} letters"
            for formula in rule:
                if len((formula.text or "").strip('"')) > 255:
                    yield f"{tab.title}!{places[:20]}: a formula of {len(formula.text or '')} letters"
            if rule.get("type") == "list" and not rule.findtext(f"{MAIN}formula1"):
                yield f"{tab.title}!{places[:20]}: a list without words"
        yield from (f"{tab.title}: rules at {one} and {other} overlap" for one, other in overlapping(found))


def conditional_formats(package: Package) -> Iterator[str]:
    """Each with a turn of its own; no two that make the same of a cell by the same condition."""
    for tab in package.tabs:
        alike: dict[tuple[str, str], list[Block]] = {}
        turns: Counter[str | None] = Counter()
        for one in tab.root.iter(f"{MAIN}conditionalFormatting"):
            places = blocks(str(one.get("sqref")))
            yield from (f"{tab.title}: {block} twice" for block, _ in overlapping(places))
            for rule in one:
                turns[rule.get("priority")] += 1
                condition = (rule.findtext(f"{MAIN}formula", ""), rule.get("dxfId", ""))
                alike.setdefault(condition, []).extend(places)
        yield from (f"{tab.title}: {count} have turn {turn}" for turn, count in turns.items() if count > 1)
        for (formula, _), places in alike.items():
            yield from (f"{tab.title}: {one} twice by {formula}" for one, _ in overlapping(places))


def formulas(package: Package) -> Iterator[str]:
    """Within the length, depth and number of arguments that programs take; of functions that the file format
    knows; about tabs of this workbook."""
    titles = {tab.title for tab in package.tabs}
    for tab in package.tabs:
        for formula in {text for element in tab.root.iter(*_WITH_FORMULA) if (text := element.text)}:
            for said in _faults(formula, titles):
                yield f"{tab.title}: {said}: {formula[:60]}"


_WITH_FORMULA = [f"{MAIN}{name}" for name in ("f", "formula", "formula1", "formula2")]


def _faults(formula: str, titles: set[str]) -> Iterator[str]:
    if len(formula) > _LONGEST_FORMULA:
        yield f"{len(formula)} letters"
    plain = without_texts(formula)
    # One entry an open bracket: the arguments inside it so far.
    arguments, deepest, most = [0], 0, 0
    for sign in plain:
        if sign == "(":
            arguments.append(1)
            deepest = max(deepest, len(arguments) - 1)
        elif sign == ")" and len(arguments) > 1:
            most = max(most, arguments.pop())
        elif sign == ")":
            yield "a bracket closes what none opened"
        elif sign == ",":
            arguments[-1] += 1
    if len(arguments) != 1:
        yield "a bracket is left open"
    if deepest > _DEEPEST or most > _MOST_ARGUMENTS:
        yield f"{deepest} deep, {most} arguments"
    for function in set(_FUNCTION.findall(plain)):
        if function.upper() not in FORMULAE and not function.startswith("_xlfn."):
            yield f"function {function}"
    if "#REF!" in plain or "[" in plain:
        yield "leads out of the workbook"
    yield from (f"no tab {title!r}" for title in titles_in(formula) if title not in titles)


def links(package: Package) -> Iterator[str]:
    """Within the workbook they lead to a cell of a tab that is there; no two at one cell."""
    titles = {tab.title for tab in package.tabs}
    for tab in package.tabs:
        found = list(tab.root.iter(f"{MAIN}hyperlink"))
        places = [block for one in found for block in blocks(str(one.get("ref")))]
        yield from (f"{tab.title}: two links at {one}" for one, _ in overlapping(places))
        for one in found:
            target, inside = one.get("location", ""), not any("relationships" in name for name in one.attrib)
            if inside and not set(titles_in(target)) & titles:
                yield f"{tab.title}!{one.get('ref')}: leads to {target!r}"
            if len(target) > 2_084 or len(one.get("tooltip", "")) > 255:
                yield f"{tab.title}!{one.get('ref')}: too long"


def pages(package: Package) -> Iterator[str]:
    """Head and foot of at most 255 letters, breaks in order and counted, a scale that programs take."""
    for tab in package.tabs:
        for line in tab.root.iterfind(f"{MAIN}headerFooter/*"):
            if len(line.text or "") > 255:
                yield f"{tab.title}: a foot of {len(line.text or '')} letters"
        for breaks in tab.root.iter(f"{MAIN}rowBreaks"):
            rows = [int(one.get("id", "0")) for one in breaks]
            if rows != sorted(set(rows)) or not all(0 < row < LAST_ROW for row in rows) or len(rows) > 1_023:
                yield f"{tab.title}: breaks {rows}"
        for setup in tab.root.iter(f"{MAIN}pageSetup"):
            if not 10 <= int(setup.get("scale", "100")) <= 400:
                yield f"{tab.title}: printed at {setup.get('scale')} %"
        yield from _views(tab)


def _views(tab: Tab) -> Iterator[str]:
    """The chosen cell is one of those chosen, and what is frozen ends at a cell."""
    for chosen in tab.root.iter(f"{MAIN}selection"):
        left, top, *_ = blocks(chosen.get("activeCell", "A1"))[0]
        if not any(
            block[0] <= left <= block[2] and block[1] <= top <= block[3]
            for block in blocks(chosen.get("sqref", "A1"))
        ):
            yield f"{tab.title}: {chosen.get('activeCell')} is active and not chosen"
    for pane in tab.root.iter(f"{MAIN}pane"):
        across, down = int(pane.get("xSplit", "0")), int(pane.get("ySplit", "0"))
        if blocks(pane.get("topLeftCell", "A1"))[0][:2] != (across + 1, down + 1):
            yield f"{tab.title}: frozen at {pane.get('topLeftCell')}"
