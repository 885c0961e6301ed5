"""Findings in words, in the language of a class."""

from collections.abc import Iterable

from sheetgen.checking.catalogue import worded
from sheetgen.model.finding import Finding, Worded
from sheetgen.store.catalogue import finding_texts
from sheetgen.store.texts import DEFAULT_LANGUAGE
from sheetgen.workbook.refusal import Refusal

__all__ = ["in_words", "of_refusal", "refusal_in_words"]


def in_words(findings: Iterable[Finding], language: str, on_screen: bool = True) -> tuple[Worded, ...]:
    """Return findings in a language; on a screen without what is private."""
    texts = finding_texts(language)
    return tuple(worded(finding, texts, on_screen) for finding in findings)


def of_refusal(refusal: Refusal) -> Finding:
    """Return the finding about a returned file that is not read."""
    return Finding(refusal.code, refusal.values, case=refusal.case)


def refusal_in_words(refusal: Refusal) -> Worded:
    """Return what is wrong with a file of the teacher's own, which may be in any language, in English."""
    return worded(of_refusal(refusal), finding_texts(DEFAULT_LANGUAGE))
