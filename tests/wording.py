"""Findings in English words, as tests compare them."""

from collections.abc import Iterable

from msgspec.structs import replace

from sheetgen.finding import Finding, Refusal, Worded
from sheetgen.texts.findings import finding_texts, refusal_in_words, worded


def in_english(findings: Iterable[Finding]) -> tuple[Worded, ...]:
    """Return findings in full, remedies and all."""
    return tuple(worded(finding, finding_texts()) for finding in findings)


def said(findings: Iterable[Finding]) -> tuple[Worded, ...]:
    """Return findings without their remedies."""
    return tuple(replace(finding, remedy="") for finding in in_english(findings))


def refused(refusal: Refusal) -> Worded:
    """Return a refusal as the finding about a returned file, in full."""
    return refusal_in_words(refusal)
