"""Slips made on purpose while typing into a good sheet, in a real spreadsheet program, key by key.

For each: whether one sheet can know it at all, and the first place where the sheet says so. A rule that
refuses counts as said: the message names what is expected. What a rule refuses is then put in past it, as
pasting and some devices do, and the sheet has to say it in a cell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sheetgen.commands.demo import with_own_working
from sheetgen.protocols.names import ANSWERS, reading_name
from sheetgen.workbook.layout import Value
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
    place, text : the cell, by name, where it is said; the place is `refused` where it never gets in.
    pasted, pasted_text : where it is said if it gets in past the rule. blocks : the sheet is not ready then;
    what may well be right, or is the teacher's to judge, is pointed out and no more.
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
    blocks: bool = True


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a slip. refused : the entries where what was typed did not get in. said, said_if_pasted :
    place to the words that the good sheet does not show."""

    refused: tuple[str, ...]
    said: Mapping[str, str]
    said_if_pasted: Mapping[str, str]


_SECOND = "Second caliper: fill in all four lines of the second caliper, or none"


def _refused(title: str, entry: str, text: str, pasted_text: str, **more: Any) -> Slip:
    more = {"pasted": "next_step", **more}
    return Slip(title, ((entry, text),), place="refused", pasted_text=pasted_text, **more)


def _unknown(title: str, *typed: tuple[str, str], caliper: str = "C1", known: str = "no") -> Slip:
    return Slip(title, typed, caliper=caliper, known=known)


SLIPS = (
    # readings in the wrong place
    Slip("two sites swapped in round 1", (("reading_1_chest", "21"), ("reading_1_thigh", "11")),
         place="next_step", text="Round 3, Chest: type what the scale shows"),
    _unknown("two sites swapped that are much alike", ("reading_1_triceps", "14"),
             ("reading_1_subscapular", "14.5")),
    _unknown("rounds 1 and 2 of a site swapped", ("reading_1_chest", "11.5"), ("reading_2_chest", "11")),
    _unknown("round 1 typed twice", ("reading_2_chest", "11")),
    # a reading mistyped
    Slip("digits swapped, 12.5 as 21.5", (("reading_1_midaxillary", "21.5"),), place="next_step",
         text="Round 3, Midaxillary: type what the scale shows"),
    _unknown("digits swapped, 12.4 as 14.2, within the tolerance", ("reading_1_midaxillary", "14.2"),
             caliper="C2"),
    _refused("digits swapped, 13.4 as 14.3, between two steps", "reading_1_midaxillary", "14.3",
             "Round 1, Midaxillary: 14.3 lies between two marks: C2 has steps of 0.2 mm", caliper="C2"),
    _refused("decimal sign left out, 12.5 as 125", "reading_1_chest", "125",
             "Round 1, Chest: 125 cannot be read on C1, it opens to 60 mm"),
    _refused("decimal sign too early, 12.5 as 1.25", "reading_1_chest", "1.25",
             "Round 1, Chest: 1.25 lies between two marks: C1 has steps of 0.5 mm"),
    Slip("decimal sign left out, 4.5 as 45", (("reading_1_chest", "45"), ("reading_2_chest", "4.5")),
         place="next_step", text="Round 3, Chest: type what the scale shows"),
    _refused("comma for the point", "reading_1_chest", "12,5",
             "Round 1, Chest: this is not a number: 12,5"),
    _refused("unit typed with the number", "reading_1_chest", "12.5 mm",
             "Round 1, Chest: this is not a number: 12.5 mm"),
    _refused("letter for a digit", "reading_1_chest", "1o", "Round 1, Chest: this is not a number: 1o"),
    _refused("a number turned into a date", "reading_1_chest", "12/5",
             f"Round 1, Chest: {_A_DAY} cannot be read on C1, it opens to 60 mm"),
    _refused("reading beyond the opening", "reading_1_chest", "62",
             "Round 1, Chest: 62 cannot be read on C1, it opens to 60 mm"),
    _refused("reading of nothing", "reading_1_chest", "0", "Round 1, Chest: 0 is not above the zero"),
    _refused("reading below the zero", "reading_1_chest", "-0.6",
             "Round 1, Chest: -0.6 is not above the zero", caliper="C2"),
    # the order of the circuit
    _refused("round 2 before round 1", "reading_2_chest", "11.5",
             "Round 1, Chest: type what the scale shows", emptied=("reading_1_chest", "reading_2_chest")),
    Slip("site left out in round 1", emptied=("reading_1_abdominal", "reading_2_abdominal"),
         place="next_step", text="Round 1, Abdominal: type what the scale shows"),
    Slip("site left out in round 2", emptied=("reading_2_abdominal",), place="next_step",
         text="Round 2, Abdominal: type what the scale shows"),
    _refused("third reading though none is needed", "reading_3_chest", "11",
             "third not needed, not counted", pasted="shown_to_do_chest", blocks=False),
    Slip("third reading not taken", (("reading_2_thigh", "23.5"),), place="next_step",
         text="Round 3, Thigh: type what the scale shows"),
    Slip("no two of three agree", (("reading_2_thigh", "25"), ("reading_3_thigh", "30")),
         place="shown_to_do_thigh", text="no two agree: measure again", blocks=False),
    # a site that is left out
    Slip("left out, and readings", (("not_taken_chest", "left-out"),), place="shown_to_do_chest",
         text="left out, though a reading is typed", blocks=False),
    _refused("left out in a word that is none of the list", "not_taken_chest", "tired",
             "Chest, Left out?: not in the list: tired"),
    # the caliper
    Slip("another caliper than issued", (("caliper_id", "C1"),), caliper="C2", place="hint_caliper_id",
         text="Check: the caliper issued is C2"),
    _refused("caliper that is not in the register", "caliper_id", "C9", "Caliper: not in the list: C9"),
    Slip("zero missing", emptied=("zero_mm",), place="next_step",
         text="Zero of this caliper: close it, read its zero, type it"),
    Slip("zero of the wrong sign", (("zero_mm", "0.4"),), caliper="C2", place="hint_zero_mm",
         text="Check: plus or minus? The zero in the register is -0.4", blocks=False),
    Slip("zero other than in the register", (("zero_mm", "-0.6"),), caliper="C2", place="hint_zero_mm",
         text="Check: the zero in the register is -0.4", blocks=False),
    Slip("second caliper without its zero", (("caliper_id_2", "C2"),), place="next_step", text=_SECOND),
    _refused("second caliper from an unknown site", "changed_from_site", "elbow", _SECOND),
    # who is measured
    Slip("cautions not answered", emptied=("cautions_confirmed",), place="next_step",
         text="Read the points below, then choose yes at the foot"),
    Slip("age missing", emptied=("age_years",), place="next_step",
         text="Age of the person measured: type the whole years"),
    Slip("age under 18", (("age_years", "17"),), place="hint_age_years",
         text="Check: under 18: no trunk sites, no estimate", blocks=False),
    _refused("a digit too many in the age", "age_years", "340",
             "Age of the person measured: not between 5 and 110: 340"),
    _unknown("digits of the age swapped", ("age_years", "43")),
    Slip("equation missing", emptied=("sex_equation",), place="next_step",
         text="Equation: choose female, male or sum-only"),
    _unknown("the other equation chosen", ("sex_equation", "male")),
    Slip("mass left empty, which is allowed", emptied=("mass_kg",), known="no"),
    _unknown("mass in pounds", ("mass_kg", "135.6")),
    Slip("length missing", emptied=("length_thigh_cm",), place="next_step",
         text="Thigh, length: measure it and type the cm"),
    _unknown("length in inches", ("length_upper_arm_cm", "13.5")),
    _unknown("the same participant on another sheet as well", ("participant_today", "P-9XYZ")),
    # practice
    Slip("practice chosen, other readings typed", (("data_source", "practice"),),
         place="shown_to_do_chest", text="round 1: not the number listed", blocks=False),
    Slip("practice chosen, own age typed", (("data_source", "practice"),), place="hint_age_years",
         text="Check: not the age listed", blocks=False),
    Slip("practice readings typed, measured chosen",
         (("reading_1_chest", "9.5"), ("reading_1_midaxillary", "15.5"), ("reading_1_triceps", "8.5"),
          ("reading_1_subscapular", "9.5")),
         emptied=tuple(reading_name(number, site) for number in (1, 2) for site in _SITES),
         place="hint_data_source", text="Check: these are the practice readings"),
    # own working
    Slip("a line of own working empty", emptied=("own_sum_mm",), place="next_step",
         text="Sum of the sites: work it out and type it"),
    _refused("a word for a number in own working", "own_sum_mm", "about 100",
             "Sum of the sites: this is not a number: about 100"),
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
    answers = dict.fromkeys((f"answer_{word}" for word in ANSWERS), "a sentence")
    return {**with_own_working(sheet.source.protocol, sheet.source.settings, entries), **answers}


def tried(office: Office, handle: int, sheet: Sheet, slips: Sequence[Slip]) -> list[Outcome]:
    """Make each slip in an open sheet that is good before and after it."""
    good = good_entries(sheet)
    office.set(handle, [[*sheet.place(name), value] for name, value in good.items()])
    spots = _speaking(sheet)
    before = _said(office, handle, sheet, spots)
    outcomes = []
    for slip in slips:
        names = {*slip.emptied, *(name for name, _ in slip.typed)}
        office.set(handle, [[*sheet.place(name), None] for name in names])
        refused = [name for name, text in slip.typed if not _gets_in(office, handle, sheet, name, text)]
        said = _said(office, handle, sheet, spots)
        past = [[*sheet.place(name), _pasted(text)] for name, text in slip.typed if name in refused]
        pasted = dict(before)
        if past:
            office.set(handle, past)
            pasted = _said(office, handle, sheet, spots)
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


def _speaking(sheet: Sheet) -> list[str]:
    """Cells that say in words what is amiss: the next step, the hints on Start, what to do at a site; and
    `ready`."""
    names = (name for name in sheet.layout.places() if name.startswith(("hint_", "shown_to_do_")))
    return ["next_step", "ready", *names]


def _said(office: Office, handle: int, sheet: Sheet, names: Sequence[str]) -> dict[str, str]:
    """Name of a cell to its words; a hint counts where it begins with the word for a warning."""
    found = dict(zip(names, map(str, office.get(handle, [sheet.place(name) for name in names])), strict=True))
    return {
        name: "" if name.startswith("hint_") and not text.startswith("Check: ") else text
        for name, text in found.items()
    }
