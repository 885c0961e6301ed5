"""What was entered on one sheet, and what follows from it."""

from collections.abc import Mapping
from dataclasses import dataclass

from sheetgen.model.finding import Finding
from sheetgen.model.settings import BuiltWith

__all__ = ["Attempt", "CopyRecord", "Entries", "Results", "SiteResult"]

Entries = Mapping[str, str | float | None]
"""Entry name to what was entered; a name that is absent counts as empty."""


@dataclass(frozen=True, slots=True)
class SiteResult:
    """What follows from the readings of one site.

    corrected : the three readings with the zero deducted [mm], None where there is none.
    value_mm : the site value. kept_rounds : the rounds it came from.
    third_needed : `yes`, `no` or empty. measure_again : no two of three within the tolerance.
    not_taken : the reason, `under-18` for a trunk site of someone under 18, or empty.
    """

    site: str
    corrected: tuple[float | None, float | None, float | None]
    value_mm: float | None
    kept_rounds: tuple[int, ...]
    third_needed: str
    measure_again: bool
    not_taken: str


@dataclass(frozen=True, slots=True)
class Results:
    """Everything that follows from the entries of one sheet.

    estimate_state : `ok`, or the code word of the reason why there is no estimate.
    equation_id : the equation that fits sex and age, empty where none does.
    """

    sites: tuple[SiteResult, ...]
    midpoint_upper_arm_cm: float | None
    midpoint_thigh_cm: float | None
    sum_mm: float | None
    density_g_ml: float | None
    fat_percent: float | None
    fat_mass_kg: float | None
    fat_free_mass_kg: float | None
    estimate_state: str
    equation_id: str


@dataclass(frozen=True, slots=True)
class CopyRecord:
    """What is on record of one sheet that was handed out."""

    copy_code: str
    session: int
    student_id: str
    participant_id: str
    participant_code: str
    caliper_id: str
    layout_digest: str
    file_name: str
    file_sha256: str
    identity: Mapping[str, str | float | None]


@dataclass(frozen=True, slots=True)
class Attempt:
    """One returned file, read, recomputed and checked.

    built_with : protocol and settings of this very sheet; None where it could not be told.
    formula_names : entries that hold a formula pointing at another cell.
    modified : when the file says that it was last saved, as it says it; empty where it does not.
    status : `accepted`, `review`, `refused` or `superseded`.
    record : None where the sheet could not be matched with one that was handed out.
    """

    file: str
    sha256: str
    status: str
    record: CopyRecord | None
    protocol_id: str
    entries: Entries
    results: Results | None
    findings: tuple[Finding, ...]
    built_with: BuiltWith | None = None
    formula_names: tuple[str, ...] = ()
    modified: str = ""
