"""What a class decides: the rules of measurement, the calipers, the people and who measures whom."""

from dataclasses import dataclass

__all__ = ["Caliper", "ClassBook", "Pairing", "Person", "SheetSettings"]


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
class SheetSettings:
    """Everything besides the protocol that shapes a sheet; the same value gives the same Layout.

    site_rule : `median` or `closest-pair`.
    tolerance_kind : `mm` or `percent`. tolerance : in that unit.
    conversion : identifier of one of the protocol's conversions.
    show_results : live sum, density and estimate: `always`, `after-working` or `never`.
    calipers : the class's whole register.
    """

    protocol_id: str
    language: str
    site_rule: str
    tolerance_kind: str
    tolerance: float
    conversion: str
    show_results: str
    calipers: tuple[Caliper, ...]


@dataclass(frozen=True, slots=True)
class Person:
    """One row of the roster. participant_code stands for the name wherever readings stand."""

    student_id: str
    given_name: str
    family_name: str
    email: str = ""
    group: str = ""
    role: str = "student"
    participant_code: str = ""


@dataclass(frozen=True, slots=True)
class Pairing:
    """Who measures whom, with which caliper. participant is a student_id."""

    measurer: str
    participant: str
    caliper_id: str


@dataclass(frozen=True, slots=True)
class ClassBook:
    """What the class book says."""

    class_code: str
    title: str
    settings: SheetSettings
    people: tuple[Person, ...]
    pairings: tuple[Pairing, ...]
