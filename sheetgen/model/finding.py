"""A finding: a fact about a returned file, as data."""

from dataclasses import dataclass

__all__ = ["SEVERITIES", "Finding", "FindingKind"]

SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    code : stable words; the first is the family (`file`, `identity`, `sheet`, `entry`, `procedure`,
        `working`, `class`).
    severity, remedy : as the catalogue of findings says for this code; empty until looked up there.
    tab, cell : the place in the workbook, empty where it is the whole file.
    found, expected : what stands there and what should.
    """

    code: str
    severity: str
    found: str
    expected: str
    remedy: str
    tab: str = ""
    cell: str = ""


@dataclass(frozen=True, slots=True)
class FindingKind:
    """One line of the catalogue of findings.

    severity : one of SEVERITIES. question : the file waits for a person's answer.
    means : what the finding says. remedy : one sentence on what to do.
    """

    code: str
    severity: str
    question: bool
    means: str
    remedy: str
