"""Findings in English words, as tests compare them."""

from collections.abc import Iterable
from dataclasses import replace

from sheetgen.checking.catalogue import worded
from sheetgen.flows.wording import refusal_in_words
from sheetgen.model.finding import Finding, Worded
from sheetgen.store.catalogue import finding_texts
from sheetgen.workbook.refusal import Refusal

__all__ = ["in_english", "refused", "said"]


def in_english(findings: Iterable[Finding]) -> tuple[Worded, ...]:
    """Return findings in full, remedies and all."""
    return tuple(worded(finding, finding_texts()) for finding in findings)


def said(findings: Iterable[Finding]) -> tuple[Worded, ...]:
    """Return findings without their remedies."""
    return tuple(replace(finding, remedy="") for finding in in_english(findings))


def refused(refusal: Refusal) -> Worded:
    """Return a refusal as the finding about a returned file, in full."""
    return refusal_in_words(refusal)
