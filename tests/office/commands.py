"""What can be done to an open workbook, in the program's own terms. Imported by `driver.py` alone.

Where a call of the program would change what a user at the keyboard could not change, it is refused here.
"""

import contextlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from blocks import Block, Place, blocks_of, blocks_to_read

# com.sun.star.sheet.CellFlags VALUE + DATETIME + STRING + FORMULA: format, validation and notes stay.
CONTENTS = 1 + 2 + 4 + 16
# com.sun.star.awt.Key; `next tab` goes with the control key.
KEYS = {"enter": 1280, "tab": 1282, "down": 1024, "up": 1025, "left": 1026, "right": 1027, "escape": 1281,
        "next tab": 1031}  # fmt: skip


@dataclass
class Workbook:
    """An open workbook, the program's component context, and the places that batches of cases filled."""

    document: Any
    context: Any
    entered: set[Place] = field(default_factory=set)


def properties(**values: Any) -> tuple[Any, ...]:
    """Named values in the form the program takes them."""
    from com.sun.star.beans import PropertyValue  # type: ignore[import-not-found]

    made = []
    for name, value in values.items():
        item = PropertyValue()
        item.Name, item.Value = name, value
        made.append(item)
    return tuple(made)


def url(path: str) -> str:
    """A path as a file URL."""
    return Path(path).absolute().as_uri()


def sheet_of(workbook: Workbook, tab: str | int) -> Any:
    """The sheet of a tab given by name or number."""
    sheets = workbook.document.Sheets
    if isinstance(tab, int):
        return sheets.getByIndex(tab)
    if not sheets.hasByName(tab):
        raise LookupError(f"no tab {tab!r}; the tabs are {', '.join(sheets.ElementNames)}")
    return sheets.getByName(tab)


def numbered(workbook: Workbook, places: Iterable[Sequence[Any]]) -> list[Place]:
    """Places with the number of the tab in place of its name."""
    number = {name: index for index, name in enumerate(workbook.document.Sheets.ElementNames)}
    found = []
    for tab, row, column in places:
        if isinstance(tab, str) and tab not in number:
            raise LookupError(f"no tab {tab!r}; the tabs are {', '.join(number)}")
        found.append((number[tab] if isinstance(tab, str) else tab, row, column))
    return found


def range_of(workbook: Workbook, block: Block) -> Any:
    """The cells of a block."""
    tab, top, left, bottom, right = block
    return sheet_of(workbook, tab).getCellRangeByPosition(left, top, right, bottom)


def write(cells: Any, rows: tuple[tuple[Any, ...], ...]) -> None:
    """Put values into cells; this call, unlike setValue, respects protection and never parses a text."""
    try:
        cells.setDataArray(rows)
    except Exception as fault:
        if not type(fault).__name__.endswith("uno.RuntimeException") or "disposed" in str(fault):
            raise
        raise PermissionError(f"refused by the program at {cells.AbsoluteName}: is it locked?") from fault


def write_formulas(cells: Any, rows: tuple[tuple[Any, ...], ...]) -> None:
    """Put those of the values that are formulas into cells, after the others were written: a locked cell has
    refused by then."""
    for row, line in enumerate(rows):
        for column, value in enumerate(line):
            if isinstance(value, dict):
                cells.getCellByPosition(column, row).setFormula(value["formula"])


def storable(value: Any) -> Any:
    """A value as setDataArray wants it: it empties a cell for "", but writes #N/A for None. Empty too where
    a formula will stand."""
    if value is None or isinstance(value, dict):
        return ""
    return float(value) if isinstance(value, (int, float)) else value


def refuse_locked(sheet: Any, cells: Any) -> None:
    """Raise PermissionError where a user could not type: several calls of the program ignore protection."""
    if not sheet.isProtected():
        return
    area = cells.RangeAddress
    for row in range(area.EndRow - area.StartRow + 1):
        for column in range(area.EndColumn - area.StartColumn + 1):
            cell = cells.getCellByPosition(column, row)
            if cell.CellProtection.IsLocked:
                raise PermissionError(f"refused: {cell.AbsoluteName} is locked on a protected sheet")


def read_places(places: list[Place], blocks: list[tuple[Block, Any]]) -> list[Any]:
    """Values at places, read by blocks: number, text ("" when empty too) or {"error": code}."""
    wanted = set(places)
    found: dict[Place, Any] = {}
    for (tab, top, left, _, _), cells in blocks:
        for row, line in enumerate(cells.getDataArray()):
            for column, value in enumerate(line):
                place = tab, top + row, left + column
                if value is None and place in wanted:
                    value = {"error": cells.getCellByPosition(column, row).getError()}
                found[place] = value
    return [found[place] for place in places]


def open_workbook(context: Any, desktop: Any, path: str, password: str | None = None) -> Workbook:
    """Open a workbook, hidden, links not followed, macros not run."""
    if not Path(path).is_file():
        raise FileNotFoundError(f"no file {path}")
    secret = {"Password": password} if password else {}
    options = properties(Hidden=True, UpdateDocMode=0, MacroExecutionMode=0, **secret)
    document = desktop.loadComponentFromURL(url(path), "_blank", 0, options)
    if document is None or not document.supportsService("com.sun.star.sheet.SpreadsheetDocument"):
        if document is not None:
            document.close(True)
        raise ValueError(f"{path} does not open as a workbook")
    return Workbook(document, context)


def set_(workbook: Workbook, values: list[list[Any]]) -> None:
    """Set cells one by one: a number, a text (as text, never parsed), or null to empty the cell."""
    places = numbered(workbook, (one[:3] for one in values))
    with held_still(workbook.document):
        for (*_, value), (tab, row, column) in zip(values, places, strict=True):
            cells = range_of(workbook, (tab, row, column, row, column))
            if value is None or value == "":
                refuse_locked(sheet_of(workbook, tab), cells)
                cells.clearContents(CONTENTS)
            else:
                write(cells, ((storable(value),),))
            workbook.entered.discard((tab, row, column))
    workbook.document.calculate()


def get(workbook: Workbook, places: list[list[Any]]) -> list[Any]:
    """Values at places."""
    wanted = numbered(workbook, places)
    blocks = [(block, range_of(workbook, block)) for block in blocks_to_read(wanted)]
    return read_places(wanted, blocks)


def formulas(workbook: Workbook, places: list[list[Any]]) -> list[str]:
    """What the input line would show at places; "" where the cell is empty."""
    cells = numbered(workbook, places)
    return [sheet_of(workbook, tab).getCellByPosition(column, row).Formula for tab, row, column in cells]


@contextlib.contextmanager
def held_still(document: Any) -> Any:
    """No screen, no undo, and no recalculation between the writes of one case."""
    automatic = document.isAutomaticCalculationEnabled()
    document.lockControllers()
    document.UndoManager.lock()
    document.enableAutomaticCalculation(False)
    try:
        yield
    finally:
        document.enableAutomaticCalculation(automatic)
        document.UndoManager.unlock()
        document.unlockControllers()


def cases(workbook: Workbook, places: list[list[Any]], batch: list[list[list[Any]]]) -> list[list[Any]]:
    """Fill each case into a workbook emptied of the case before, recalculate, and read the places."""
    wanted = numbered(workbook, places)
    to_read = [(block, range_of(workbook, block)) for block in blocks_to_read(wanted)]
    filled = [
        dict(zip(numbered(workbook, (v[:3] for v in case)), (v[3] for v in case), strict=True))
        for case in batch
    ]
    workbook.entered.update(place for case in filled for place in case)
    to_write = [(block, range_of(workbook, block)) for block in blocks_of(workbook.entered)]
    last: dict[Block, Any] = {}
    results = []
    with held_still(workbook.document):
        for case in filled:
            for block, cells in to_write:
                tab, top, left, bottom, right = block
                rows = tuple(
                    tuple(case.get((tab, row, column)) for column in range(left, right + 1))
                    for row in range(top, bottom + 1)
                )
                if block not in last or last[block] != rows:
                    write(cells, tuple(tuple(map(storable, row)) for row in rows))
                    write_formulas(cells, rows)
                    last[block] = rows
            workbook.document.calculate()
            results.append(read_places(wanted, to_read))
    return results


def encryption(filter_name: str, password: str) -> dict[str, Any]:
    """The saving options that encrypt a file; Open XML wants the password in another place than ODF."""
    if filter_name == "calc8":
        return {"Password": password}
    import uno  # type: ignore[import-not-found]
    from com.sun.star.beans import NamedValue

    parts = (("CryptoType", "Standard"), ("OOXPassword", password))
    made = tuple(NamedValue(name, value) for name, value in parts)
    return {"EncryptionData": uno.Any("[]com.sun.star.beans.NamedValue", made)}


def save_as(workbook: Workbook, path: str, filter_name: str, password: str | None = None) -> None:
    """Save a copy in a format; with a password, encrypted."""
    secret = encryption(filter_name, password) if password else {}
    workbook.document.storeToURL(url(path), properties(FilterName=filter_name, Overwrite=True, **secret))


def to_pdf(workbook: Workbook, path: str) -> None:
    """Print the workbook into a PDF file."""
    workbook.document.storeToURL(url(path), properties(FilterName="calc_pdf_Export", Overwrite=True))


def block_at(workbook: Workbook, tab: str | int, corner: Sequence[int]) -> Any:
    """The cells of [row, column] or [row, column, last row, last column] on a tab."""
    top, left, bottom, right = (*corner, *corner)[:4]
    return sheet_of(workbook, tab).getCellRangeByPosition(left, top, right, bottom)


def source_and_target(
    workbook: Workbook, tab: str | int, source: list[int], target: list[int]
) -> tuple[Any, Any]:
    """The cells to move and the cells they will cover, after a look that none is locked."""
    top, left, bottom, right = (*source, *source)[:4]
    covered = [*target, target[0] + bottom - top, target[1] + right - left]
    cells = block_at(workbook, tab, source), block_at(workbook, tab, covered)
    for block in cells:
        refuse_locked(sheet_of(workbook, tab), block)
    return cells


def move(workbook: Workbook, tab: str | int, source: list[int], target: list[int]) -> None:
    """Move cells to another place of the same tab, as dragging them does: references and names follow."""
    cells, covered = source_and_target(workbook, tab, source, target)
    sheet = sheet_of(workbook, tab)
    sheet.moveRange(covered.getCellByPosition(0, 0).CellAddress, cells.RangeAddress)
    workbook.document.calculate()


def cut_paste(workbook: Workbook, tab: str | int, source: list[int], target: list[int]) -> None:
    """Cut cells and paste them at another place of the same tab, by the menu commands and the clipboard."""
    cells, covered = source_and_target(workbook, tab, source, target)
    controller = workbook.document.CurrentController
    helper = workbook.context.ServiceManager.createInstanceWithContext(
        "com.sun.star.frame.DispatchHelper", workbook.context
    )
    controller.setActiveSheet(sheet_of(workbook, tab))
    for selected, command in ((cells, ".uno:Cut"), (covered.getCellByPosition(0, 0), ".uno:Paste")):
        controller.select(selected)
        helper.executeDispatch(controller.Frame, command, "", 0, ())
    workbook.document.calculate()


def typed(workbook: Workbook, tab: str | int | None, start: list[int], keys: list[str]) -> list[list[Any]]:
    """Press keys at the keyboard, from a chosen cell or where the cursor is; where the cursor is after each.

    A key is one of KEYS, or a text typed letter by letter. A rule of a cell is asked, as it is for a person;
    its message is closed by itself, and what was refused is not in the cell.
    """
    import uno  # type: ignore[import-not-found]
    from com.sun.star.awt import KeyEvent

    controller = workbook.document.CurrentController
    window = controller.Frame.ContainerWindow
    # POSSIZE; what a large one shows is drawn anew after every key.
    window.setPosSize(0, 0, 320, 240, 15)
    window.setVisible(True)
    if tab is not None:
        controller.setActiveSheet(sheet_of(workbook, tab))
        controller.select(sheet_of(workbook, tab).getCellByPosition(start[1], start[0]))
    window.setFocus()
    controller.Frame.ComponentWindow.setFocus()
    window.Toolkit.processEventsToIdle()
    places = []
    for key in keys:
        for code, letter in [(KEYS[key], "")] if key in KEYS else [(0, one) for one in key]:
            event = KeyEvent()
            event.Source, event.KeyCode = window, code
            event.KeyChar = uno.Char(letter or "\0")
            event.Modifiers = 2 if key == "next tab" else 0
            window.Toolkit.keyPress(event)
            window.Toolkit.keyRelease(event)
        window.Toolkit.processEventsToIdle()
        cursor = workbook.document.CurrentSelection.RangeAddress
        places.append([controller.ActiveSheet.Name, cursor.StartRow, cursor.StartColumn])
    return places


def set_formula(workbook: Workbook, tab: str | int, row: int, column: int, text: str) -> None:
    """Set a formula, in English function names with semicolons."""
    cells = block_at(workbook, tab, [row, column])
    refuse_locked(sheet_of(workbook, tab), cells)
    cells.setFormulaArray(((text,),))
    workbook.document.calculate()


def protectable(workbook: Workbook, tab: str | int | None) -> Any:
    """A sheet, or the structure of the workbook where tab is None."""
    return workbook.document if tab is None else sheet_of(workbook, tab)


def unprotect(workbook: Workbook, tab: str | int | None, password: str) -> None:
    """Take the protection off."""
    target = protectable(workbook, tab)
    with contextlib.suppress(Exception):  # a wrong password raises or not, by version: the state decides
        target.unprotect(password)
    if target.isProtected():
        raise PermissionError(f"the password does not open {'the workbook' if tab is None else tab!r}")


def protect(workbook: Workbook, tab: str | int | None, password: str) -> None:
    """Put the protection on."""
    protectable(workbook, tab).protect(password)


def refuse_protected_structure(workbook: Workbook) -> None:
    """Raise PermissionError where a user could not change the tabs; the calls themselves do not look."""
    if workbook.document.isProtected():
        raise PermissionError("refused: the structure of the workbook is protected")


def rename_tab(workbook: Workbook, tab: str | int, name: str) -> None:
    """Give a tab another name."""
    refuse_protected_structure(workbook)
    sheet_of(workbook, tab).setName(name)


def insert_tab(workbook: Workbook, name: str, position: int) -> None:
    """Insert an empty tab before a position."""
    refuse_protected_structure(workbook)
    workbook.document.Sheets.insertNewByName(name, position)


def tabs(workbook: Workbook) -> list[str]:
    """Names of all tabs, hidden ones too."""
    return list(workbook.document.Sheets.ElementNames)


def names(workbook: Workbook) -> dict[str, str]:
    """Defined names of the workbook and what each points at."""
    return {item.Name: item.Content for item in workbook.document.NamedRanges}


def close(workbook: Workbook) -> None:
    """Close a workbook without saving."""
    workbook.document.close(True)


COMMANDS: dict[str, Callable[..., Any]] = {
    command.__name__.rstrip("_"): command
    for command in (
        set_, get, formulas, cases, save_as, to_pdf, move, cut_paste, typed, set_formula, unprotect, protect,
        rename_tab, insert_tab, tabs, names, close,
    )
}  # fmt: skip
