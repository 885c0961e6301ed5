"""A person who types a paper form into a sheet: which keys, and how often the hand or the eye has to search.

Keys are counted as a person presses them: every character, Enter after every value and past every entry that
stays as it is, arrows, and the keys for the next tab. Own working is counted without the short questions,
which are prose.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sheetgen.commands.demo import with_own_working
from sheetgen.protocols.names import ROUNDS, entry_names, own_steps, reading_name, start_entries
from sheetgen.protocols.recalculation import recalculate
from sheetgen.protocols.settings import SheetSettings
from sheetgen.sheet.paper import PaperForm, paper_forms_layout
from sheetgen.sheet.student import practice_values
from sheetgen.texts.languages import texts_in
from sheetgen.workbook.layout import Tab, Value
from tests.sheets import CALIPERS, Sheet, settings_with

PROTOCOLS = (
    "seven-sites", "four-sites", "three-sites-men", "three-sites-women", "folds-only", "youth-two-sites",
)  # fmt: skip
_HANDED_OUT_FILLED = ("data_source", "caliper_id", "side")
_ON_PAPER = {
    "zero_today": "zero_mm", "participant_today": "participant_today",
    "side": "side", "age": "age_years", "equation": "sex_equation", "mass": "mass_kg",
    "length_upper_arm": "length_upper_arm_cm", "length_thigh": "length_thigh_cm",
}  # fmt: skip

Spot = tuple[int, int]
"""Row and column on a tab."""


@dataclass(frozen=True, slots=True)
class Typing:
    """How one sheet is typed.

    keys : as the spreadsheet program takes them: texts, `enter`, arrows, `next tab`.
    places : (tab title, row, column) where the cursor should be after each of the keys.
    values, characters : typed. jumps : times the hand has to find another cell with arrows.
    """

    keys: tuple[str, ...]
    places: tuple[tuple[str, int, int], ...]
    values: int
    characters: int
    jumps: int

    @property
    def strokes(self) -> int:
        """All keys pressed."""
        return self.characters + sum(1 for key in self.keys if key in _MOVES)

    @property
    def least(self) -> int:
        """What no sheet can do with less: the characters, and one key after each value."""
        return self.characters + self.values

    @property
    def passed(self) -> int:
        """Enter pressed past an entry that stays as it is."""
        return self.keys.count("enter") - self.values

    @property
    def next_tabs(self) -> int:
        return self.keys.count("next tab")


_MOVES = frozenset({"enter", "up", "down", "left", "right", "next tab"})


def settings_for(protocol_id: str) -> SheetSettings:
    """The usual settings with this protocol; the youth protocol for a class of minors."""
    if protocol_id == "youth-two-sites":
        return settings_with(protocol_id=protocol_id, conversion="", under_18=True, youth_estimate="on")
    return settings_with(protocol_id=protocol_id)


def entries_to_type(sheet: Sheet, practice: bool, own: bool) -> dict[str, Value]:
    """What stands on a filled paper form, by entry name in the order of the sheet.

    The numbers are the practice set of the copy on either route, so that both are as long; a third reading
    where one is asked for.
    """
    protocol, settings = sheet.source.protocol, sheet.source.settings
    caliper = next(one for one in CALIPERS if one.identifier == sheet.identity.values["issued_caliper"])
    invented = practice_values(protocol, caliper, str(sheet.identity.values["copy_code"]))
    known: dict[str, Value] = {name.removeprefix("practice_"): value for name, value in invented.items()}
    known["cautions_confirmed"] = "yes"
    handed_out: dict[str, Value] = {"caliper_id": caliper.identifier, "side": "right"}
    asked = recalculate(protocol, settings, {**known, **handed_out}).sites
    for site in asked:
        if site.third_needed != "yes":
            del known[reading_name(3, site.site)]
    if practice:
        known["data_source"] = "practice"
    if own:
        worked = with_own_working(protocol, settings, {**known, **handed_out})
        known |= {name: worked[name] for name, _ in own_steps(protocol) if name in worked}
    return {name: known[name] for name in entry_names(protocol) if name in known}


def typing_of(sheet: Sheet, entries: Mapping[str, Value], skips_locked: bool = True) -> Typing:
    """The keys that fill a sheet, from where the cursor waits.

    Parameters
    ----------
    skips_locked : the program's Enter leaves out locked cells and goes on at the top of the next column of
        entries; else Enter goes one cell down and no further.
    """
    keys: list[str] = []
    places: list[tuple[str, int, int]] = []
    characters = jumps = 0
    texts = sheet.source.texts
    due = 0
    for number, tab in enumerate(tab for tab in sheet.layout.tabs if not tab.hidden):
        spots = {cell.name: (cell.row, cell.column) for cell in tab.cells if cell.role == "entry"}
        wanted = sorted(((spots[name], entries[name]) for name in entries if name in spots), key=_at)
        if not wanted:
            continue
        assert tab.first_entry is not None
        cursor = tab.first_entry
        for step in range(due, number):
            shown = sheet.layout.tabs[step + 1]
            keys.append("next tab")
            places.append((shown.title, *(shown.first_entry or (0, 0))))
        due = number
        for spot, value in wanted:
            moves = _moves(tab, cursor, spot, skips_locked)
            jumps += any(key != "enter" for key, _ in moves)
            text = _as_typed(value, texts)
            characters += len(text)
            after = _enter(sorted(spots.values(), key=_down), spot, skips_locked)
            keys += [*(key for key, _ in moves), text, "enter"]
            places += [(tab.title, *at) for at in (*(at for _, at in moves), spot, after)]
            cursor = after
    return Typing(tuple(keys), tuple(places), len(entries), characters, jumps)


def _as_typed(value: Value, texts: Mapping[str, str]) -> str:
    return texts.get(f"word.{value}", value) if isinstance(value, str) else f"{float(value or 0):.12g}"


def _at(typed: tuple[Spot, Value]) -> tuple[int, int]:
    return _down(typed[0])


def _down(spot: Spot) -> tuple[int, int]:
    return spot[1], spot[0]


def _enter(down: Sequence[Spot], spot: Spot, skips_locked: bool) -> Spot:
    """Where Enter leads; `down`: the entries of the tab column by column."""
    if skips_locked:
        return down[(down.index(spot) + 1) % len(down)]
    below = (spot[0] + 1, spot[1])
    return below if below in down else spot


def _moves(tab: Tab, cursor: Spot, target: Spot, skips_locked: bool) -> list[tuple[str, Spot]]:
    """Keys from the cursor to the next entry to type, each with where it leads: Enter, or arrows where
    that is shorter."""
    down = sorted(((cell.row, cell.column) for cell in tab.cells if cell.role == "entry"), key=_down)
    by_enter: list[tuple[str, Spot]] = []
    at = cursor
    while at != target and len(by_enter) < len(down):
        at = _enter(down, at, skips_locked)
        by_enter.append(("enter", at))
    arrows = list(_arrows(down, cursor, target))
    return by_enter if at == target and len(by_enter) <= len(arrows) else arrows


def _arrows(spots: Sequence[Spot], cursor: Spot, target: Spot) -> Iterator[tuple[str, Spot]]:
    """Along the row first; arrows leave out locked cells as well."""
    columns = sorted({column for _, column in spots})
    rows = sorted({row for row, column in spots if column == target[1]})
    row, column = cursor
    while column != target[1]:
        step = 1 if target[1] > column else -1
        column = columns[columns.index(column) + step]
        yield ("right" if step > 0 else "left"), (row, column)
    while row != target[0]:
        step = 1 if target[0] > row else -1
        row = rows[rows.index(row) + step]
        yield ("down" if step > 0 else "up"), (row, column)


def looks_back(sheet: Sheet, entries: Mapping[str, Value]) -> tuple[str, ...]:
    """Entries for which the eye goes back up the paper form; a column of readings is read downwards."""
    at = _on_paper(sheet)
    known = [name for name in entries if name in at]
    back = []
    for before, name in pairwise(known):
        new_column = name.startswith("reading_") and at[name][1] > at[before][1]
        if at[name] < at[before] and not new_column:
            back.append(name)
    return tuple(back)


def _on_paper(sheet: Sheet) -> dict[str, Spot]:
    """Row and column of the paper form where each entry is written."""
    texts = texts_in("en", "sheet", "paper")
    form = PaperForm(sheet.identity.values, sheet.source.protocol, sheet.source.settings)
    (tab,) = paper_forms_layout([form], "en", texts).tabs
    labels = {str(cell.value): (cell.row, cell.column) for cell in reversed(tab.cells) if cell.value}
    asked = start_entries(sheet.source.protocol)
    places = {name: labels[texts[f"paper.{key}"]] for key, name in _ON_PAPER.items() if name in asked}
    grid = sorted(cell.row for cell in tab.cells if cell.format == "paper_site")
    for row, site in zip(grid, sheet.source.protocol.sites, strict=True):
        places |= {reading_name(number, site.word): (row, number) for number in ROUNDS}
    return places
