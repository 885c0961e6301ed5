"""What may be typed into the class book, with the message before and the message after."""

from collections.abc import Mapping, Sequence

from sheetgen.layout.address import absolute
from sheetgen.layout.cells import number_rule, text_rule, words_rule
from sheetgen.layout.class_book_calculator import IDS, ISSUED, calculated
from sheetgen.layout.class_book_words import (
    DIVISIONS,
    LONGEST,
    PAIR_AT,
    RANGES,
    ROSTER_WORDS,
    SETTING_WORDS,
    WHOLE_SETTINGS,
    YES_NO,
)
from sheetgen.model.layout import Rule
from sheetgen.model.protocol import Protocol

__all__ = ["caliper_rule", "pair_rule", "roster_rule", "setting_rule"]

Texts = Mapping[str, str]

WORDS = "book_word"
"""Section of the texts that show the code words of lists."""


def setting_rule(
    name: str, texts: Texts, protocols: Sequence[Protocol], languages: Sequence[str] = ("en",)
) -> Rule:
    """Return the rule of a line of the tab Class; languages are those that may be chosen."""
    title, prompt = texts[f"book_setting.{name}"], texts[f"book_hint.{name}"]
    conversions = dict.fromkeys(each.identifier for protocol in protocols for each in protocol.conversions)
    lists = {
        "language": tuple(languages),
        "protocol": tuple(protocol.identifier for protocol in protocols),
        "conversion": tuple(conversions),
    }
    if name in SETTING_WORDS:
        return words_rule(texts, SETTING_WORDS[name], title, prompt, WORDS)
    if name in lists:
        return words_rule(texts, lists[name], title, prompt)
    if name in RANGES:
        kind = "whole" if name in WHOLE_SETTINGS else "decimal"
        return number_rule(texts, kind, *RANGES[name], title, prompt.rstrip("."))
    return text_rule(texts, LONGEST[name], title, prompt)


def roster_rule(name: str, texts: Texts, own_ids: str, cell: str) -> Rule:
    """Return the rule of a cell of the tab Roster; own_ids is the column of ids, cell its own address."""
    title, prompt = texts[f"book_roster.{name}"], texts[f"book_roster.{name}_prompt"]
    if name == "student_id":
        return _once_rule(title, prompt, texts["book_roster.student_id_error"], own_ids, cell, LONGEST[name])
    if name in ROSTER_WORDS:
        return words_rule(texts, ROSTER_WORDS[name], title, prompt, WORDS)
    return text_rule(texts, LONGEST[name], title, prompt)


def _once_rule(
    title: str, prompt: str, error: str, block: str, cell: str, longest: int, more: str = ""
) -> Rule:
    """A text that stands once in its column."""
    text = f'=AND(LEN({cell})<={longest},SUMPRODUCT(--({block}&""={cell}&""))=1{more})'
    return Rule("custom", title, prompt, error, formula=text)


def caliper_rule(name: str, texts: Texts, own_ids: str, cell: str) -> Rule:
    """Return the rule of a cell of the tab Calipers; own_ids is the column of ids, cell its own address."""
    title, prompt = texts[f"book_caliper.{name}"], texts[f"book_caliper.{name}_prompt"]
    if name == "identifier":
        # A comma would end the word in the list of calipers on a student's sheet.
        more = f',ISERROR(FIND(",",{cell})),ISERROR(FIND(CHAR(34),{cell}))'
        return _once_rule(
            title, prompt, texts["book_caliper.identifier_error"], own_ids, cell, LONGEST[name], more
        )
    if name == "division":
        # Not a list: where a comma is the decimal sign, choosing 0.5 from one would enter a text or a date.
        known = ",".join(f"{cell}={step:g}" for step in DIVISIONS)
        return Rule("custom", title, prompt, texts["book_caliper.division_error"], formula=f"=OR({known})")
    limits = "block" if name.startswith("block_") else name
    if limits in RANGES:
        return number_rule(texts, "decimal", *RANGES[limits], title, prompt)
    if name == "in_service":
        return words_rule(texts, YES_NO, title, prompt, WORDS)
    return text_rule(texts, LONGEST[name], title, prompt)


def pair_rule(
    name: str, texts: Texts, protocols: Sequence[Protocol], row_counts: Mapping[str, int], row: int
) -> Rule:
    """Return the rule of a cell of the tab Pairs."""
    cell = absolute(row, PAIR_AT[name])
    title, prompt = texts[f"book_pair.{name}"], texts[f"book_pair.{name}_prompt"]
    if name == "protocol":
        return words_rule(texts, tuple(protocol.identifier for protocol in protocols), title, prompt)
    if name == "spare":
        return text_rule(texts, LONGEST[name], title, prompt)
    if name == "caliper":
        issued = calculated(texts, row_counts, ISSUED)
        error = texts["book_pair.caliper_error"]
        return Rule("custom", title, prompt, error, formula=f"=ISNUMBER(MATCH(TRIM({cell}),{issued},0))")
    ids = calculated(texts, row_counts, IDS)
    other = absolute(row, PAIR_AT["participant" if name == "measurer" else "measurer"])
    text = f"=AND(ISNUMBER(MATCH(TRIM({cell}),{ids},0)),TRIM({cell})<>TRIM({other}))"
    return Rule("custom", title, prompt, texts["book_pair.person_error"], formula=text)
