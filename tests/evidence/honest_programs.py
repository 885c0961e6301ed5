"""Sheets as libraries, other locales and a spreadsheet program save them."""

import io
import random
import zipfile
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import ironcalc
import openpyxl
import xlsxwriter
from lxml import etree
from msgspec.structs import replace

from tests.evidence.honest_by_hand import mixed
from tests.evidence.honest_cells import without_results
from tests.evidence.honest_packages import counted_from_1904
from tests.evidence.honest_saved import MAIN, STYLES, WORKBOOK, Saved
from tests.evidence.twins import Twin, parts_of, zipped
from tests.office.client import ODS, Office

_DATE_SERIAL = 46_401.0


# --- entries that a program turned into something else


def comma_numbers(twin: Twin, dice: random.Random) -> Saved:
    """Numbers typed with a decimal comma where the program wants a point: they arrive as text."""

    def change(cell: etree._Element, number: float) -> None:
        for child in list(cell):
            cell.remove(child)
        cell.set("t", "inlineStr")
        text = f"{number:g}".replace(".", ",")
        etree.SubElement(etree.SubElement(cell, f"{MAIN}is"), f"{MAIN}t").text = text

    names = [name for name, value in twin.entries.items() if isinstance(value, float | int)]
    chosen = frozenset(dice.sample(names, dice.randint(1, len(names))))
    return Saved("comma numbers", _with_entries(twin, chosen, change))


def dates(twin: Twin, dice: random.Random, from_1904: bool = False) -> Saved:
    """A reading that a program took for a day of the year."""
    names = [name for name in twin.entries if name.startswith("reading_1_")]
    chosen = frozenset({dice.choice(names)})
    parts = parts_of(twin.data)
    styles = etree.fromstring(parts[STYLES])
    formats = styles.find(f"{MAIN}cellXfs")
    assert formats is not None
    etree.SubElement(
        formats, f"{MAIN}xf", numFmtId="14", fontId="0", fillId="0", borderId="0", xfId="0",
        applyNumberFormat="1", applyProtection="1",
    ).append(etree.Element(f"{MAIN}protection", locked="0"))  # fmt: skip
    style = str(len(formats) - 1)
    formats.set("count", str(len(formats)))

    def change(cell: etree._Element, number: float) -> None:
        (value,) = cell.iter(f"{MAIN}v")
        value.text = str(int(_DATE_SERIAL) + dice.randint(0, 300))
        cell.set("s", style)

    changed = parts_of(_with_entries(twin, chosen, change))
    changed[STYLES] = etree.tostring(styles, xml_declaration=True, encoding="UTF-8", standalone=True)
    if from_1904:
        changed = counted_from_1904(changed, dice)
    return Saved("dates", zipped(changed, zipfile.ZIP_DEFLATED), asked=chosen)


def _with_entries(
    twin: Twin, names: frozenset[str], change: Callable[[etree._Element, float], None]
) -> bytes:
    """Change the cells of some entries; stored results go, since the program worked out others."""
    parts = parts_of(twin.data)
    titles: dict[str, set[str]] = {}
    workbook = etree.fromstring(parts[WORKBOOK])
    order = [str(one.get("name")) for one in workbook.iter(f"{MAIN}sheet")]
    for one in workbook.iter(f"{MAIN}definedName"):
        if one.get("name") in names:
            tab, _, address = (one.text or "").rpartition("!")
            titles.setdefault(tab.strip("'"), set()).add(address.replace("$", ""))

    for number, title in enumerate(order, start=1):
        name = f"xl/worksheets/sheet{number}.xml"
        root = etree.fromstring(parts[name])
        without_results(root, random.Random(0))
        for cell in root.iter(f"{MAIN}c"):
            if cell.get("r") in titles.get(title, ()):
                change(cell, float(cell.findtext(f"{MAIN}v") or 0))
        parts[name] = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
    return zipped(parts, zipfile.ZIP_DEFLATED)


# --- by programs


def by_openpyxl(twin: Twin) -> Saved:
    """Loaded and saved by a library that does not calculate."""
    return Saved("openpyxl", _saved(openpyxl.load_workbook(io.BytesIO(twin.data))))


def by_openpyxl_tabs(twin: Twin) -> Saved:
    """The same, with a tab added in front, the order turned round and the hidden tab shown."""
    book = openpyxl.load_workbook(io.BytesIO(twin.data))
    for sheet in book.worksheets:
        sheet.sheet_state = "visible"
    book.create_sheet("Sheet", 0)["A1"] = "mine"
    book.move_sheet(book.worksheets[-1], -3)
    return Saved("openpyxl, tabs about", _saved(book))


def save_by_ironcalc(path: Path, back: Path) -> None:
    """Open the first file, work it out, and save it as the second."""
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    model.evaluate()
    model.save_to_xlsx(str(back))


def by_ironcalc(twin: Twin, _: random.Random) -> Saved:
    """Loaded, worked out and saved by an engine of another make."""
    with TemporaryDirectory() as name:
        path, back = Path(name) / "sheet.xlsx", Path(name) / "back.xlsx"
        path.write_bytes(twin.data)
        save_by_ironcalc(path, back)
        return Saved("ironcalc", back.read_bytes())


def by_bare_writer(twin: Twin, _: random.Random) -> Saved:
    """As writers for web pages save: values, formulas with their results, tabs and names, nothing else."""
    formulas = openpyxl.load_workbook(io.BytesIO(twin.data))
    results = openpyxl.load_workbook(io.BytesIO(twin.data), data_only=True)
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        for tab in formulas.worksheets:
            written = book.add_worksheet(tab.title)
            for row in tab.iter_rows():
                for cell in row:
                    place = cell.row - 1, cell.column - 1
                    if cell.data_type == "f":
                        result = results[tab.title][cell.coordinate].value
                        written.write_formula(*place, cell.value, None, "" if result is None else result)
                    elif cell.value is not None:
                        written.write(*place, cell.value)
        for title, name in formulas.defined_names.items():
            book.define_name(title, f"={name.attr_text}")
    return Saved("a bare writer", target.getvalue())


BY_LIBRARY: dict[str, Callable[[Twin, random.Random], Saved]] = {
    "mixed": mixed,
    "comma numbers": comma_numbers,
    "dates made of numbers": dates,
    "dates counted from 1904": lambda twin, dice: dates(twin, dice, from_1904=True),
    "openpyxl": lambda twin, _: by_openpyxl(twin),
    "ironcalc": by_ironcalc,
    "a bare writer": by_bare_writer,
    "openpyxl, tabs about": lambda twin, _: by_openpyxl_tabs(twin),
}
"""Other ways that need no spreadsheet program, each to what makes it of a filled sheet."""


def saved_by_library(twin: Twin, way: str, dice: random.Random) -> Saved:
    """Return a sheet as one of BY_LIBRARY makes it."""
    return replace(BY_LIBRARY[way](twin, dice), way=way)


def _saved(book: openpyxl.Workbook) -> bytes:
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


BY_PROGRAM = (
    "LibreOffice .xlsx", "LibreOffice .ods", "LibreOffice .xlsx by way of .ods", "LibreOffice, tabs about",
    "LibreOffice .ods, tabs about", "LibreOffice .xlsx twice",
)  # fmt: skip


def saved_by_program(office: Office, twin: Twin, folder: Path) -> list[Saved]:
    """Open a sheet in the spreadsheet program and save it in all the ways of BY_PROGRAM."""
    first, back, ods = folder / "first.xlsx", folder / "back.xlsx", folder / "back.ods"
    first.write_bytes(twin.data)
    made: dict[str, Saved] = {}
    with office.workbook(first) as handle:
        office.save_as(handle, back)
        office.save_as(handle, ods, ODS)
        made[BY_PROGRAM[0]] = Saved(BY_PROGRAM[0], back.read_bytes())
        made[BY_PROGRAM[1]] = Saved(BY_PROGRAM[1], ods.read_bytes(), "sheet.ods")
        made |= _tabs_about(office, handle, folder)
    with office.workbook(ods) as handle:
        office.save_as(handle, folder / "detour.xlsx")
        made[BY_PROGRAM[2]] = Saved(BY_PROGRAM[2], (folder / "detour.xlsx").read_bytes())
    with office.workbook(back) as handle:
        office.save_as(handle, folder / "twice.xlsx")
        made[BY_PROGRAM[5]] = Saved(BY_PROGRAM[5], (folder / "twice.xlsx").read_bytes())
    return [made[way] for way in BY_PROGRAM]


def _tabs_about(office: Office, handle: int, folder: Path) -> dict[str, Saved]:
    """A tab renamed and one added, as far as the program lets one once the structure is open."""
    office.unprotect(handle, None)
    office.rename_tab(handle, 1, "My readings")
    office.insert_tab(handle, "Notes", 0)
    office.save_as(handle, folder / "tabs.xlsx")
    office.save_as(handle, folder / "tabs.ods", ODS)
    return {
        BY_PROGRAM[3]: Saved(BY_PROGRAM[3], (folder / "tabs.xlsx").read_bytes()),
        BY_PROGRAM[4]: Saved(BY_PROGRAM[4], (folder / "tabs.ods").read_bytes(), "sheet.ods"),
    }
