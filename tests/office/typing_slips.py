"""Slips made on purpose while typing into a good sheet, in a real spreadsheet program, key by key.

For each: whether one sheet can know it at all, and the first place where the sheet says so. A rule that
refuses counts as said: the message names what is expected. What a rule refuses is then put in past it, as
pasting and some devices do, and the sheet has to say it in a cell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sheetgen.commands.demo import with_own_working
from sheetgen.protocols.names import reading_name
from sheetgen.workbook.addresses import absolute
from sheetgen.workbook.layout import Cell, Tab, Value
from tests.office.client import Office
from tests.sheets import Sheet

_ROUND_1 = (11, 12, 14.5, 14, 19, 16, 21)
_ROUND_2 = (11.5, 12, 14, 15, 19.5, 16.5, 20.5)
_ROUND_1_BY_FIFTHS = (11, 12.4, 14.2, 14, 19, 16, 21)
_ROUND_2_BY_FIFTHS = (11.4, 12.4, 14, 15, 19.4, 16.6, 20.4)
_A_DAY = 46361
"""What a program makes of 12/5: a day's number."""
_SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")

Typed = tuple[tuple[str, str], ...]
"""Entry name and what is typed there, one after the other."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One slip.

    typed : see Typed. emptied : entries that hold nothing before. caliper : the one issued.
    known : `yes`; `no`, one sheet cannot know it; `marking`, the sheet knows and leaves it to the marking.
    place, text : where it is said first; the place is `refused` where it never gets in.
    pasted, pasted_text : where it is said if it gets in past the rule.
    """

    title: str
    typed: Typed = ()
    emptied: tuple[str, ...] = ()
    caliper: str = "C1"
    known: str = "yes"
    place: str = ""
    text: str = ""
    pasted: str = ""
    pasted_text: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a slip. refused : the entries where what was typed did not get in. said, said_if_pasted :
    place to the words that the good sheet does not show."""

    refused: tuple[str, ...]
    said: Mapping[str, str]
    said_if_pasted: Mapping[str, str]


_OFF = "round 1 is off the caliper's scale"
_NO_NUMBER = "round 1 is not a number"
_FAR = "check the typing; third needed"


def _refused(title: str, entry: str, text: str, pasted: str, pasted_text: str, **more: Any) -> Slip:
    return Slip(title, ((entry, text),), place="refused", pasted=pasted, pasted_text=pasted_text, **more)


def _unknown(title: str, *typed: tuple[str, str], caliper: str = "C1", known: str = "no") -> Slip:
    return Slip(title, typed, caliper=caliper, known=known)


SLIPS = (
    # readings in the wrong place
    Slip("two sites swapped in round 1", (("reading_1_chest", "21"), ("reading_1_thigh", "11")),
         place="Readings I8", text=_FAR),
    _unknown("two sites swapped that are much alike", ("reading_1_triceps", "14"),
             ("reading_1_subscapular", "14.5")),
    _unknown("rounds 1 and 2 of a site swapped", ("reading_1_chest", "11.5"), ("reading_2_chest", "11")),
    _unknown("round 1 typed twice", ("reading_2_chest", "11")),
    # a reading mistyped
    Slip("digits swapped, 12.5 as 21.5", (("reading_1_midaxillary", "21.5"),), place="Readings I9",
         text=_FAR),
    _unknown("digits swapped, 12.4 as 14.2, within the tolerance", ("reading_1_midaxillary", "14.2"),
             caliper="C2"),
    _refused("digits swapped, 13.4 as 14.3, between two steps", "reading_1_midaxillary", "14.3",
             "Readings I9", _OFF, caliper="C2"),
    _refused("decimal sign left out, 12.5 as 125", "reading_1_chest", "125", "Readings I8", _OFF),
    _refused("decimal sign too early, 12.5 as 1.25", "reading_1_chest", "1.25", "Readings I8", _OFF),
    Slip("decimal sign left out, 4.5 as 45", (("reading_1_chest", "45"), ("reading_2_chest", "4.5")),
         place="Readings I8", text=_FAR),
    _refused("comma for the point", "reading_1_chest", "12,5", "Readings I8", _NO_NUMBER),
    _refused("unit typed with the number", "reading_1_chest", "12.5 mm", "Readings I8", _NO_NUMBER),
    _refused("letter for a digit", "reading_1_chest", "1o", "Readings I8", _NO_NUMBER),
    _refused("a number turned into a date", "reading_1_chest", "12/5", "Readings I8", _OFF),
    _refused("reading beyond the opening", "reading_1_chest", "62", "Readings I8", _OFF),
    _refused("reading of nothing", "reading_1_chest", "0", "Readings I8", _OFF),
    _refused("reading below the zero", "reading_1_chest", "-0.6", "Readings I8", _OFF, caliper="C2"),
    # the order of the circuit
    _refused("round 2 before round 1", "reading_2_chest", "11.5", "Readings I8", "round 1 comes first",
             emptied=("reading_1_chest", "reading_2_chest")),
    Slip("site left out in round 1", emptied=("reading_1_abdominal", "reading_2_abdominal"), place="Start B3",
         text="take round 1 at every site on the tab Readings"),
    Slip("site left out in round 2", emptied=("reading_2_abdominal",), place="Start B3",
         text="save, then take round 2 at every site on the tab Readings"),
    _refused("third reading though none is needed", "reading_3_chest", "11", "Readings I8",
             "third not needed, left out"),
    Slip("third reading not taken", (("reading_2_thigh", "23.5"),), place="Readings I14",
         text="third reading needed"),
    Slip("no two of three agree", (("reading_2_thigh", "25"), ("reading_3_thigh", "30")),
         place="Readings I14", text="measure again: no two agree"),
    # a site that is not taken
    Slip("reason not taken and readings", (("not_taken_chest", "declined"),), place="Readings I8",
         text="left out, though a reading is typed"),
    _refused("reason that is none of the words", "not_taken_chest", "tired", "Readings I8",
             "left out, though a reading is typed"),
    # the caliper
    Slip("another caliper than issued", (("caliper_id", "C1"),), caliper="C2", place="Start C14",
         text="Check: the caliper issued is C2"),
    _refused("caliper that is not in the register", "caliper_id", "C9", "Start B3",
             "choose the caliper you hold on the tab Start"),
    Slip("zero missing", emptied=("zero_mm",), place="Start B3",
         text="close the caliper, read its zero and type it on the tab Start"),
    Slip("zero of the wrong sign", (("zero_mm", "0.4"),), caliper="C2", place="Start C15",
         text="Check: plus or minus? The zero in the register is -0.4"),
    Slip("zero other than in the register", (("zero_mm", "-0.6"),), caliper="C2", place="Start C15",
         text="Check: the zero in the register is -0.4"),
    Slip("second caliper without its zero", (("caliper_id_2", "C2"),), place="Start C19",
         text="Check: second caliper incomplete on Start"),
    _refused("second caliper from an unknown reading", "changed_from", "thigh", "Start C19",
             "Check: second caliper incomplete on Start"),
    # who is measured
    Slip("cautions not answered", emptied=("cautions_confirmed",), place="Start B3",
         text="read the cautions on the tab Start and answer yes"),
    Slip("age missing", emptied=("age_years",), place="Start B3",
         text="type the age in whole years on the tab Start"),
    Slip("age under 18", (("age_years", "17"),), place="Start C11",
         text="Check: under 18: no trunk sites, no estimate"),
    _refused("a digit too many in the age", "age_years", "340", "Results E16",
             "sum only: the age is outside the range of the equation"),
    _unknown("digits of the age swapped", ("age_years", "43")),
    Slip("equation missing", emptied=("sex_equation",), place="Start B3",
         text="choose the equation used on the tab Start: female, male or sum-only"),
    _unknown("the other equation chosen", ("sex_equation", "male")),
    Slip("mass missing", emptied=("mass_kg",), place="Results E20", text="no body mass on Start"),
    _unknown("mass in pounds", ("mass_kg", "135.6")),
    Slip("length missing", emptied=("length_thigh_cm",), place="Start B3",
         text="type the two landmark distances on the tab Start"),
    _unknown("length in inches", ("length_upper_arm_cm", "13.5")),
    _unknown("the same participant on another sheet as well", ("participant_today", "P-9XYZ")),
    # practice
    Slip("practice chosen, other readings typed", (("data_source", "practice"),), place="Readings I8",
         text="not the practice reading"),
    Slip("practice chosen, own age typed", (("data_source", "practice"),), place="Start C11",
         text="Check: practice: type 24"),
    Slip("practice readings typed, measured chosen",
         (("reading_1_chest", "9.5"), ("reading_1_midaxillary", "15.5"), ("reading_1_triceps", "8.5"),
          ("reading_1_subscapular", "9.5")),
         emptied=tuple(reading_name(number, site) for number in (1, 2) for site in _SITES),
         place="Start C9", text="Check: these are the practice readings"),
    # own working
    Slip("a line of own working empty", emptied=("own_sum_mm",), place="Start B3",
         text="do your own working on the tab Working"),
    _refused("a word for a number in own working", "own_sum_mm", "about 100", "Start B3",
             "do your own working on the tab Working"),
    _unknown("own working wrong", ("own_sum_mm", "98"), known="marking"),
)  # fmt: skip


def good_entries(sheet: Sheet) -> dict[str, Value]:
    """A sheet without a slip, ready to hand in."""
    caliper = str(sheet.identity.values["issued_caliper"])
    by_fifths = caliper == "C2"
    rounds = {
        1: _ROUND_1_BY_FIFTHS if by_fifths else _ROUND_1, 2: _ROUND_2_BY_FIFTHS if by_fifths else _ROUND_2,
    }  # fmt: skip
    entries: dict[str, Value] = {
        "cautions_confirmed": "yes", "data_source": "measured", "age_years": 34, "sex_equation": "female",
        "mass_kg": 61.5, "caliper_id": caliper, "zero_mm": -0.4 if by_fifths else 0, "side": "right",
        "length_upper_arm_cm": 34, "length_thigh_cm": 45,
    }  # fmt: skip
    for number, readings in rounds.items():
        for site, reading in zip(sheet.source.protocol.sites, readings, strict=True):
            entries[reading_name(number, site.word)] = reading
    return with_own_working(sheet.source.protocol, sheet.source.settings, entries)


def tried(office: Office, handle: int, sheet: Sheet, slips: Sequence[Slip]) -> list[Outcome]:
    """Make each slip in an open sheet that is good before and after it."""
    good = good_entries(sheet)
    office.set(handle, [[*sheet.place(name), value] for name, value in good.items()])
    spots = _speaking(sheet)
    before = _said(office, handle, spots)
    outcomes = []
    for slip in slips:
        names = {*slip.emptied, *(name for name, _ in slip.typed)}
        office.set(handle, [[*sheet.place(name), None] for name in names])
        refused = [name for name, text in slip.typed if not _gets_in(office, handle, sheet, name, text)]
        said = _said(office, handle, spots)
        past = [[*sheet.place(name), _pasted(text)] for name, text in slip.typed if name in refused]
        pasted = dict(before)
        if past:
            office.set(handle, past)
            pasted = _said(office, handle, spots)
        office.set(handle, [[*sheet.place(name), good.get(name)] for name in names])
        outcomes.append(Outcome(tuple(refused), _new(said, before), _new(pasted, before)))
    return outcomes


def _gets_in(office: Office, handle: int, sheet: Sheet, name: str, text: str) -> bool:
    """Type an entry; what is not in it afterwards was refused."""
    tab, row, column = sheet.place(name)
    office.typed(handle, [text, "enter", "escape"], tab, (int(row), int(column)))
    return office.get(handle, [sheet.place(name)]) != [""]


def _new(said: Mapping[str, str], before: Mapping[str, str]) -> dict[str, str]:
    return {place: text for place, text in said.items() if text != before[place]}


def _pasted(text: str) -> str | float:
    if text == "12/5":
        return _A_DAY
    try:
        return float(text)
    except ValueError:
        return text


def _speaking(sheet: Sheet) -> list[tuple[Tab, Cell]]:
    """Cells that say in words what is amiss: the next step, the hints, the rows, the line of warnings."""
    spots = []
    for tab in sheet.layout.tabs:
        for cell in tab.cells:
            hint = tab.key == "start" and cell.column == 2 and cell.row >= 7
            line = (cell.row, cell.column) == (5, 2)
            row = tab.key == "readings" and (cell.name.startswith("shown_to_do_") or line)
            result = tab.key == "results" and cell.column == 4 and cell.row >= 15
            step = cell.name == "shown_next_step"
            if cell.role == "formula" and (hint or row or result or step):
                spots.append((tab, cell))
    return spots


def _said(office: Office, handle: int, spots: Sequence[tuple[Tab, Cell]]) -> dict[str, str]:
    """Place to words. A hint counts where it begins with the word for a warning; a band or that results are
    not shown yet is no word about a slip."""
    found = office.get(handle, [[tab.title, cell.row, cell.column] for tab, cell in spots])
    said = {}
    for (tab, cell), value in zip(spots, found, strict=True):
        text = str(value)
        if tab.key == "start" and cell.column == 2 and not text.startswith("Check: "):
            text = ""
        if tab.key == "results" and text.startswith(("shown when your own", "between ")):
            text = ""
        said[f"{tab.title} {absolute(cell.row, cell.column).replace('$', '')}"] = text
    return said
