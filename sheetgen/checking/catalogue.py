"""Severity and remedy of findings, from the catalogue."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from sheetgen.model.finding import Finding, FindingKind

__all__ = ["Catalogue", "completed", "status_of"]

Catalogue = Mapping[str, FindingKind]


def completed(findings: Iterable[Finding], catalogue: Catalogue) -> tuple[Finding, ...]:
    """Return findings with the severity and remedy of their code.

    Raises
    ------
    KeyError : a code is not in the catalogue.
    """
    return tuple(
        replace(finding, severity=catalogue[finding.code].severity, remedy=catalogue[finding.code].remedy)
        for finding in findings
    )


def status_of(findings: Iterable[Finding], catalogue: Catalogue) -> str:
    """Return `refused` for an error about file or identity, `review` for an error about the sheet or an open
    question, else `accepted`."""
    status = "accepted"
    for finding in findings:
        family = finding.code.partition("-")[0]
        if finding.severity == "error" and family in ("file", "identity"):
            return "refused"
        if (finding.severity == "error" and family == "sheet") or catalogue[finding.code].question:
            status = "review"
    return status
