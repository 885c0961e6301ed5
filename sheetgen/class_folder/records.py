"""Who is in a class, who measures whom, what the class book says, what is on record of a sheet."""

from collections.abc import Mapping

from msgspec import Struct, field

from sheetgen.protocols.settings import SECONDS_A_READING, SheetSettings

EXERCISES = ("circuit", "second-caliper")
"""What a sheet is for. The circuit alone is marked, enters statistics, and is compared over sessions."""
CIRCUITS = ("protocol", "fewest-turns")
"""Orders of the sites: the protocol's own, or the one that turns the participant least."""


class CopyRecord(Struct, frozen=True):
    """What is on record of one sheet that was handed out. exercise : one of EXERCISES."""

    copy_code: str
    session: int
    student_id: str
    participant_id: str = ""
    participant_code: str = ""
    caliper_id: str = ""
    layout_digest: str = ""
    file_name: str = ""
    file_sha256: str = ""
    identity: Mapping[str, str | float | None] = field(default_factory=dict)
    exercise: str = EXERCISES[0]


class CaliperCheck(Struct, frozen=True):
    """The last check of one caliper. It stands apart from the caliper, so that a new check changes no sheet.
    blocks : gauge block to what the caliper read on it [mm], those that were read. checked_on : the day as
    YYYY-MM-DD, empty where nobody said. checked_by : who did it."""

    identifier: str
    blocks: tuple[tuple[float, float], ...] = ()
    checked_on: str = ""
    checked_by: str = ""


class Person(Struct, frozen=True):
    """One row of the roster.
    participant_code : stands for the name wherever readings stand.
    under_18 : `yes`, `no`, or empty where nobody said.
    takes_part : `both`, or `measures-only`: is measured by nobody.
    partner : student_id of the partner wished for. apart : student_ids never to be paired with.
    status : empty, or `left`: no longer in the class; what they returned stays.
    due_date : of their own, YYYY-MM-DD; empty: that of the class."""

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
    due_date: str = ""

    @property
    def full_name(self) -> str:
        """Given and family name as typed; empty where there is neither."""
        return f"{self.given_name} {self.family_name}".strip()


class Protection(Struct, frozen=True):
    """Whether a person counted as under 18 when sheets were last made. said : their `under_18` then."""

    student_id: str
    name: str
    said: str
    counted: bool


class Pairing(Struct, frozen=True):
    """Who measures whom, with which caliper, by which protocol. participant is a student_id.
    protocol_id : empty: the protocol of the class. spare : copy code of the spare sheet that was used for
    this pair, empty where theirs was."""

    measurer: str
    participant: str
    caliper_id: str
    protocol_id: str = ""
    spare: str = ""


class ClassBook(Struct, frozen=True):
    """What the class book says.
    minors : `none`, `some` or `all`: whether people under 18 are in the class.
    due_date, feedback_given : days as YYYY-MM-DD, empty where there is none.
    declared : groups of student_ids who may hold the same numbers.
    checks : the last check of each caliper.
    group_size : how many go round measuring each other where pairs are made: 2 to 6; of 3 the third records.
    demonstration : student_id of the one participant whom everybody measures, empty where there is none.
    seconds_a_reading : what a reading takes, for the plan of the lesson [s].
    lesson_minutes : how long a lesson is. marking_minutes, changing_minutes : of each turn, see LessonFrame.
    teacher_measures : student_ids of those whom the teacher measures too.
    spare_sheets : how many sheets a session for people who are not on the roster.
    circuit : order of the sites, one of CIRCUITS. session_names : of the first session, the second and so on.
    make_ups : such as `3=1`: session 3 is for those who missed session 1.
    drawings : how often it was drawn: an older one that was saved over a newer one tells itself by it."""

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
    group_size: int = 3
    demonstration: str = ""
    seconds_a_reading: float = SECONDS_A_READING
    spare_sheets: int = 3
    lesson_minutes: int = 90
    marking_minutes: float = 6.0
    changing_minutes: float = 3.0
    teacher_measures: tuple[str, ...] = ()
    circuit: str = CIRCUITS[0]
    session_names: tuple[str, ...] = ()
    make_ups: tuple[str, ...] = ()
    drawings: int = 0

    @property
    def teachers(self) -> frozenset[str]:
        """Their student_ids."""
        return frozenset(person.student_id for person in self.people if person.role == "teacher")

    @property
    def stands_for(self) -> dict[int, int]:
        """Make-up session to the one that it is for those who missed; that of a make-up to the first."""
        found: dict[int, int] = {}
        for make_up, missed in sorted(tuple(map(int, each.split("="))) for each in self.make_ups):
            found[make_up] = found.get(missed, missed)
        return found

    def session_words(self, session: int) -> str:
        """Return the number of a session, with its name where it has one."""
        name = "".join(self.session_names[session - 1 : session])
        return f"{session} ({name})" if name else str(session)


MOST_PEOPLE = 2_000
"""Of a class, those who left too: a class book of so many is read back within the bounds of any workbook."""

ROLES = ("student", "teacher")
LONGEST_OF_PERSON = {
    "student_id": 40, "given_name": 60, "family_name": 60, "email": 120, "group": 40, "role": 20,
    "under_18": 20,
}  # fmt: skip
"""Characters that what a roster brings of a person takes."""
