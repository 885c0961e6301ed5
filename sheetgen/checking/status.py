"""The status of an attempt: decided here, and nowhere else."""

from collections.abc import Iterable
from dataclasses import replace

from sheetgen.checking.catalogue import Catalogue, completed
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding

__all__ = ["answered", "status_of", "superseded", "with_findings"]


def with_findings(
    attempt: Attempt, findings: Iterable[Finding], catalogue: Catalogue, *, first: bool = False
) -> Attempt:
    """Return an attempt with further findings, and the status that follows from all of them.

    Parameters
    ----------
    first : the further ones stand before those that are there.

    Notes
    -----
    A file that could not be read to the end has no results and is refused, whatever was found.
    """
    more = completed(findings, catalogue)
    every = (*more, *attempt.findings) if first else (*attempt.findings, *more)
    status = "refused" if attempt.results is None else status_of(every, catalogue)
    return replace(attempt, findings=every, status=status)


def superseded(attempt: Attempt, findings: Iterable[Finding], catalogue: Catalogue) -> Attempt:
    """Return an attempt that another file of its copy takes the place of, with findings that say why."""
    return replace(with_findings(attempt, findings, catalogue), status="superseded")


def answered(attempt: Attempt, counts: bool) -> Attempt:
    """Return an attempt with the teacher's word on it, which settles only what is for review."""
    if attempt.status != "review":
        return attempt
    return replace(attempt, status="accepted" if counts else "refused")


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
