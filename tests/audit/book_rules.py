"""Rules about what the tabs of a workbook share: their titles, defined names, styles and texts."""

import re
from collections import Counter
from collections.abc import Iterator

from tests.audit.package import MAIN, STYLES, TEXTS, WORKBOOK, Element, Package, blocks, local, titles_in

_ORDER_OF_BOOK = (
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets", "functionGroups",
    "externalReferences", "definedNames", "calcPr", "oleSize", "customWorkbookViews", "pivotCaches",
    "smartTagPr", "smartTagTypes", "webPublishing", "fileRecoveryPr", "webPublishObjects", "extLst",
)  # fmt: skip
_ORDER_OF_STYLES = (
    "numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs", "tableStyles",
    "colors", "extLst",
)  # fmt: skip
_NAME = re.compile(r"[^\W\d][\w.]*|_[\w.]*|\\[\w.]*")
_TITLE = re.compile(r"[^\[\]:*?/\\\x00-\x1f]{1,31}")
_LIKE_A_CELL = re.compile(r"[A-Za-z]{1,3}\d{1,7}|[RrCc]|[Rr]\d*[Cc]\d*")
_OF_A_TAB = ("_xlnm.Print_Area", "_xlnm.Print_Titles", "_xlnm._FilterDatabase")
_FIRST_OWN_FORMAT = 164
_LONGEST_TEXT = 32_767


def order_of(root: Element, order: tuple[str, ...], many: tuple[str, ...] = ()) -> Iterator[str]:
    """Children out of order, unknown, or there more than once."""
    names = [local(child) for child in root if isinstance(child.tag, str)]
    yield from (f"{name} is unknown" for name in names if name not in order)
    places = [order.index(name) for name in names if name in order]
    if places != sorted(places):
        yield f"out of order: {', '.join(names)}"
    counted = Counter(names)
    yield from (f"{name} is there {n} times" for name, n in counted.items() if n > 1 and name not in many)


def order_of_elements(package: Package) -> Iterator[str]:
    yield from (f"workbook: {said}" for said in order_of(package.roots[WORKBOOK], _ORDER_OF_BOOK))
    yield from (f"styles: {said}" for said in order_of(package.roots[STYLES], _ORDER_OF_STYLES))


def titles(package: Package) -> Iterator[str]:
    """At most 31 letters, none of them a sign of formulas, unique whatever their case; one can be seen."""
    sheets = list(package.roots[WORKBOOK].iter(f"{MAIN}sheet"))
    found = [str(sheet.get("name")) for sheet in sheets]
    for title in found:
        if not (_TITLE.fullmatch(title) and title.strip("'") == title):
            yield f"{title!r} is no title"
    counted = Counter(title.casefold() for title in found)
    yield from (f"{title!r} is there {count} times" for title, count in counted.items() if count > 1)
    numbers = [str(sheet.get("sheetId")) for sheet in sheets]
    if len(set(numbers)) != len(numbers):
        yield f"tabs share a number: {numbers}"
    if len(package.tabs) != len(sheets):
        yield f"{len(sheets)} tabs, {len(package.tabs)} parts"
    shown = [sheet.get("state", "visible") == "visible" for sheet in sheets]
    for view in package.roots[WORKBOOK].iter(f"{MAIN}workbookView"):
        active = int(view.get("activeTab", "0"))
        if active >= len(shown) or not shown[active]:
            yield f"tab {active} is active and not shown"


def defined_names(package: Package) -> Iterator[str]:
    """Legal, unique in their scope, on tabs that are there; print titles and areas on their own tab."""
    order = [tab.title for tab in package.tabs]
    names = list(package.roots[WORKBOOK].iter(f"{MAIN}definedName"))
    counted = Counter((str(one.get("name")).casefold(), one.get("localSheetId")) for one in names)
    yield from (f"{name} is there {count} times" for (name, _), count in counted.items() if count > 1)
    for one in names:
        name, text, scope = str(one.get("name")), one.text or "", one.get("localSheetId")
        legal = _NAME.fullmatch(name) and not _LIKE_A_CELL.fullmatch(name) and len(name) <= 255
        if not (legal or name in _OF_A_TAB):
            yield f"{name!r} is no name"
        if scope is not None and int(scope) >= len(order):
            yield f"{name}: of tab {scope}, of {len(order)}"
            continue
        named = titles_in(text)
        if not named or not set(named) <= set(order):
            yield f"{name}: {text} is on no tab"
        if name in _OF_A_TAB and (scope is None or set(named) != {order[int(scope)]}):
            yield f"{name} of tab {scope}: {text} is on another"
        try:
            blocks(" ".join(part.rpartition("!")[2] for part in text.split(",")))
        except ValueError:
            yield f"{name}: {text} is no range"


def counts(package: Package) -> Iterator[str]:
    """What a list says of its own length; programs that trust it lose the rest."""
    for part in (STYLES, TEXTS, *(name for name in package.parts if name.startswith("xl/worksheets/sheet"))):
        for element in package.roots[part].iter() if part in package.roots else ():
            told = element.get("uniqueCount", element.get("count"))
            if told is not None and int(told) != len(element):
                yield f"{part}: {local(element)} of {told} has {len(element)}"


def styles(package: Package) -> Iterator[str]:
    """Every number of a style, font, filling, border or format is one that is there."""
    root = package.roots[STYLES]
    formats = {
        int(one.get("numFmtId", "-1")): str(one.get("formatCode")) for one in root.iter(f"{MAIN}numFmt")
    }
    yield from (f"format {number}: too long" for number, code in formats.items() if len(code) > 255)
    lists = (("fontId", "fonts/font"), ("fillId", "fills/fill"), ("borderId", "borders/border"))
    for xf in root.iter(f"{MAIN}xf"):
        for name, path in (*lists, ("xfId", "cellStyleXfs/xf")):
            if int(xf.get(name, "0")) >= package.count(STYLES, path):
                yield f"{name} {xf.get(name)} is not there"
        number = int(xf.get("numFmtId", "0"))
        if number >= _FIRST_OWN_FORMAT and number not in formats:
            yield f"numFmtId {number} is not there"
    most = {"s": package.count(STYLES, "cellXfs/xf"), "style": package.count(STYLES, "cellXfs/xf")}
    most["dxfId"] = package.count(STYLES, "dxfs/dxf")
    for tab in package.tabs:
        for element in tab.root.iter():
            for name, many in most.items():
                number = int(element.get(name, "0"))
                if name in element.attrib and not 0 <= number < many:
                    yield f"{tab.title}: {local(element)} has {name} {number} of {many}"


def texts(package: Package) -> Iterator[str]:
    """Within the length of a cell, blanks at an end kept, each number one that is there."""
    found = package.roots.get(TEXTS, ())
    for text in found:
        if len("".join(text.itertext())) > _LONGEST_TEXT:
            yield f"a text of {len(''.join(text.itertext()))} letters"
        for run in text.iter(f"{MAIN}t"):
            plain = run.text or ""
            if (
                plain != plain.strip()
                and run.get("{http://www.w3.org/XML/1998/namespace}space") != "preserve"
            ):
                yield f"blanks of {plain!r} would go"
    for tab in package.tabs:
        for cell in tab.root.iter(f"{MAIN}c"):
            value = cell.findtext(f"{MAIN}v")
            if cell.get("t") == "s" and not (value or "").isdecimal():
                yield f"{tab.title}!{cell.get('r')}: text number {value!r}"
            elif cell.get("t") == "s" and int(value or 0) >= len(found):
                yield f"{tab.title}!{cell.get('r')}: text {value} of {len(found)}"
