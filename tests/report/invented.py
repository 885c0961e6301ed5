"""An invented protocol of two sites, and invented sheets that came back. Nobody in here is real."""

from msgspec.structs import replace

from sheetgen.class_folder.records import ClassBook, CopyRecord, Pairing, Person
from sheetgen.finding import Finding
from sheetgen.protocols.protocol import Conversion, Equation, Protocol, Site
from sheetgen.protocols.recalculation import Entries, recalculate
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.returned.attempt import Attempt
from sheetgen.texts.findings import load_catalogue
from sheetgen.texts.languages import load_texts

_CODES = (
    *load_catalogue(),
    "entry-long",
    "file-not-ours",
    "identity-copy",
    "never-heard-of",
    "sheet-formula",
)
TEXTS = {
    **load_texts("en"),
    **load_texts("report.en"),
    **load_texts("findings.en"),
    **load_texts("marking.en"),
    **load_texts("feedback.en"),
    **load_texts("review.en"),
    **{f"{code}.found": "{found}" for code in _CODES},
    **{f"{code}.expected": "that" for code in _CODES},
    **{f"{code}.remedy": f"Do something about {code}." for code in _CODES},
    **{f"{code}.means": f"That is {code}. It happens." for code in _CODES},
}

PROTOCOL = Protocol(
    identifier="two-sites",
    title="Two sites",
    standard="",
    sites=(
        Site("triceps", "Triceps", "vertical", False, "", ()),
        Site("front_thigh", "Front thigh", "vertical", False, "", ()),
    ),
    equations=(
        Equation(
            "women-two",
            "female",
            "quadratic",
            (("constant", 1.25), ("sum_linear", -0.0078125), ("sum_squared", 0.0), ("age", 0.0)),
            18,
            55,
            None,
            None,
            0.008,
            3.5,
            "",
            "",
        ),
    ),
    conversions=(Conversion("plain", "Plain", 500, 450, ""),),
    default_conversion="plain",
    notes=(),
)
PROTOCOLS = {"two-sites": PROTOCOL}
SETTINGS = SheetSettings(
    "two-sites", "en", "closest-pair", "mm", 2.0, "plain", "always", (Caliper("C1", "spring", 0.5, 60, 0.0),)
)
BOOK = ClassBook(
    "m7k",
    "Measurement, second year",
    SETTINGS,
    (
        Person("1001", "Odile", "Marsh", "odile@school.example", participant_code="P01"),
        Person("1002", "=Tam", "Reeve", "tam@school.example", participant_code="P02"),
        Person("1003", "Ines", "Holt", "", participant_code="P03"),
    ),
    (Pairing("1001", "1002", "C1"), Pairing("1002", "1001", "C1"), Pairing("1003", "1001", "C1")),
)


def entries(**changed: str | float | None) -> Entries:
    """Return the entries of a whole sheet; a name with None is empty.

    Corrected values are 10.0 and 12.0 at the triceps (site value 11.0), 20.0, 23.0 and 20.5 at the thigh
    (a third is needed, the closest pair gives 20.25): the sum is 31.25, the density 1.005859375.
    """
    values: dict[str, str | float | None] = {
        "data_source": "measured",
        "age_years": 20.0,
        "sex_equation": "female",
        "mass_kg": 60.5,
        "caliper_id": "C1",
        "zero_mm": -0.5,
        "reading_1_triceps": 9.5,
        "reading_2_triceps": 11.5,
        "reading_1_front_thigh": 19.5,
        "reading_2_front_thigh": 22.5,
        "reading_3_front_thigh": 20.0,
    }
    return {**values, **changed}


def record(number: int, session: int = 1) -> CopyRecord:
    """Return what is on record of the sheet of student 100N, who measures participant PN."""
    student = f"100{number}"
    return CopyRecord(
        copy_code=f"K{number}",
        session=session,
        student_id=student,
        participant_id=student,
        participant_code=f"P0{number}",
        caliper_id="C1",
        layout_digest="d1",
        file_name=f"session-{session}-{student}.xlsx",
        file_sha256="f1",
        identity={},
    )


def returned(
    number: int,
    status: str,
    *findings: Finding,
    file: str = "",
    sha256: str = "",
    **changed: str | float | None,
) -> Attempt:
    """Return a file of student 100N, recomputed."""
    typed = entries(**changed)
    return Attempt(
        file=file or f"100{number}.xlsx",
        sha256=sha256 or f"a{number}",
        status=status,
        record=record(number),
        protocol_id="two-sites",
        entries=typed,
        results=recalculate(PROTOCOL, SETTINGS, typed),
        findings=findings,
    )


def accepted(number: int, **changed: str | float | None) -> Attempt:
    """Return a file of student 100N without findings."""
    return returned(number, "accepted", **changed)


def refused_without_record(file: str = "holiday.xlsx") -> Attempt:
    """Return a file that is none of ours."""
    attempt = returned(1, "refused", finding("file-not-ours", "error"), file=file, sha256="a9")
    return replace(attempt, record=None, protocol_id="", entries={}, results=None)


def finding(code: str, severity: str, tab: str = "", cell: str = "", found: str = "this") -> Finding:
    """Return a finding with plain words."""
    return Finding(code, {"found": found}, tab, cell, severity=severity)
