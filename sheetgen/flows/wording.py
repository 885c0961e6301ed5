"""Findings and attempts in the language of a class."""

from collections.abc import Iterable
from dataclasses import replace

from sheetgen.checking.catalogue import completed
from sheetgen.checking.phrases import phrased
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.phrases import load_phrases
from sheetgen.store.texts import DEFAULT_LANGUAGE

__all__ = ["attempt_in_words", "in_words"]


def in_words(findings: Iterable[Finding], language: str) -> tuple[Finding, ...]:
    """Return findings with the severity and remedy of their code, all of it in a language.

    Raises
    ------
    KeyError : a code is not in the catalogue.
    """
    phrases = load_phrases(language)
    return tuple(phrased(finding, phrases) for finding in completed(findings, load_catalogue(language)))


def attempt_in_words(attempt: Attempt, language: str) -> Attempt:
    """Return an attempt, its findings made in English, with all of them in a language."""
    if language == DEFAULT_LANGUAGE:
        return attempt
    return replace(attempt, findings=in_words(attempt.findings, language))
