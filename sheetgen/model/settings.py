"""What a class decides: the rules of measurement, the calipers, the people and who measures whom."""

from dataclasses import dataclass

from sheetgen.model.protocol import Protocol

__all__ = [
    "SECONDS_A_READING", "BuiltWith", "Caliper", "CaliperCheck", "ClassBook", "Pairing", "Person",
    "SheetSettings",
]  # fmt: skip

SECONDS_A_READING = 45.0
"""What a reading takes where nobody said [s]. Common practice, no standard."""


@dataclass(frozen=True, slots=True)
class Caliper:
    """One caliper of the register, described by its build.

    identifier : as the label on it says.
    division : smallest step of the scale [mm]. opening : widest opening [mm].
    zero : what it reads when closed, with its sign [mm].
    in_service : may be issued.
    """

    identifier: str
    build: str
    division: float
    opening: float
    zero: float
    in_service: bool = True


@dataclass(frozen=True, slots=True)
class CaliperCheck:
    """The last check of one caliper. It stands apart from the caliper, so that a new check changes no sheet.

    blocks : gauge block to what the caliper read on it [mm], those that were read.
    checked_on : the day as YYYY-MM-DD, empty where nobody said. checked_by : who did it.
    """

    identifier: str
    blocks: tuple[tuple[float, float], ...] = ()
    checked_on: str = ""
    checked_by: str = ""


@dataclass(frozen=True, slots=True)
class SheetSettings:
    """Everything besides the protocol that shapes a sheet; the same value gives the same Layout.

    site_rule : `median` or `closest-pair`.
    tolerance_kind : `mm` or `percent`. tolerance : in that unit.
    conversion : identifier of one of the protocol's conversions.
    show_results : live sum, density and estimate: `always`, `after-working` or `never`.
    calipers : the class's whole register.
    estimates : `on`, or `sums-only`: nobody in the class gets an estimate.
    under_18 : made for someone under 18: limb sites and their sum only.
    youth_estimate : `on` or `off`: whether someone under 18 may get an estimate at all.
    cover_round_1 : round 1 is covered while round 2 is taken.
    """

    protocol_id: str
    language: str
    site_rule: str
    tolerance_kind: str
    tolerance: float
    conversion: str
    show_results: str
    calipers: tuple[Caliper, ...]
    estimates: str = "on"
    under_18: bool = False
    youth_estimate: str = "off"
    cover_round_1: bool = False


@dataclass(frozen=True, slots=True)
class BuiltWith:
    """What a sheet was built with. It is printed on the hidden tab as one line of JSON text, so that a sheet
    can be read where the class's own record is gone.

    layout_version : the form of sheets at that time; see layout.student.LAYOUT_VERSION.
    """

    settings: SheetSettings
    protocol: Protocol
    layout_version: int


@dataclass(frozen=True, slots=True)
class Person:
    """One row of the roster.

    participant_code : stands for the name wherever readings stand.
    under_18 : `yes`, `no`, or empty where nobody said.
    takes_part : `both`, or `measures-only`: is measured by nobody.
    partner : student_id of the partner wished for. apart : student_ids never to be paired with.
    status : empty, or `left`: no longer in the class; what they returned stays.
    """

    student_id: str
    given_name: str
    family_name: str
    email: str = ""
    group: str = ""
    role: str = "student"
    participant_code: str = ""
    under_18: str = ""
    takes_part: str = "both"
    partner: str = ""
    apart: tuple[str, ...] = ()
    status: str = ""


@dataclass(frozen=True, slots=True)
class Pairing:
    """Who measures whom, with which caliper, by which protocol. participant is a student_id.

    protocol_id : empty: the protocol of the class.
    spare : copy code of the spare sheet that was used for this pair, empty where theirs was.
    """

    measurer: str
    participant: str
    caliper_id: str
    protocol_id: str = ""
    spare: str = ""


@dataclass(frozen=True, slots=True)
class ClassBook:
    """What the class book says.

    minors : `none`, `some` or `all`: whether people under 18 are in the class.
    due_date, feedback_given : days as YYYY-MM-DD, empty where there is none.
    declared : groups of student_ids who may hold the same numbers.
    checks : the last check of each caliper.
    group_size : how many go round measuring each other where pairs are made: 2 to 6.
    demonstration : student_id of the one participant whom everybody measures, empty where there is none.
    seconds_a_reading : what a reading takes, for the plan of the stations [s].
    spare_sheets : how many sheets a session for people who are not on the roster.
    """

    class_code: str
    title: str
    settings: SheetSettings
    people: tuple[Person, ...]
    pairings: tuple[Pairing, ...]
    minors: str = "some"
    due_date: str = ""
    feedback_given: str = ""
    declared: tuple[tuple[str, ...], ...] = ()
    checks: tuple[CaliperCheck, ...] = ()
    group_size: int = 2
    demonstration: str = ""
    seconds_a_reading: float = SECONDS_A_READING
    spare_sheets: int = 3
