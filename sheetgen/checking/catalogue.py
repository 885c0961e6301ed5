"""Severity and remedy of findings, from the catalogue."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from sheetgen.model.finding import Finding, FindingKind

__all__ = ["Catalogue", "completed"]

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
