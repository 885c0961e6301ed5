"""The tab To talk to: files with the same numbers side by side, by code, since readings stand there."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.same_numbers import NumbersPair, SameNumbers
from sheetgen.report.page import Heading, Page, Section, Value
from sheetgen.report.shown import short

__all__ = ["talk_page"]

_MOST_SIDE_BY_SIDE = 40
"""Pairs; one record handed in by a whole class would fill the report."""


def talk_page(analysis: ClassAnalysis, titles: Mapping[str, str]) -> Page:
    """Return the tab To talk to.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    found = analysis.same
    return Page(
        "To talk to",
        f"To talk to, session {analysis.session}",
        _sentences(found),
        (
            Heading("First sheet", 16, "label"),
            Heading("Second sheet", 16, "label"),
            Heading("About", 18),
            Heading("Equal readings", 14, "text"),
            Heading("of", 14, "text"),
            Heading("Sites equal in both rounds", 14, "text"),
            Heading("Threshold, sites", 12, "text"),
            Heading("Innocent pairs expected", 14),
            Heading("What to do", 28),
        )
        if found.pairs
        else (),
        tuple(_pair(one) for one in found.pairs),
        more=tuple(_side_by_side(one, titles) for one in found.pairs[:_MOST_SIDE_BY_SIDE]),
    )


def _sentences(found: SameNumbers) -> tuple[str, ...]:
    opening = (
        f"{len(found.pairs)} pairs of sheets hold the same numbers and need a conversation. No mark changes."
        if len(found.pairs) != 1
        else "Two sheets hold the same numbers: this needs a conversation. No mark changes."
    )
    if not found.pairs:
        opening = "No two sheets hold the same numbers beyond chance."
    sentences = [opening, found.words]
    if found.declared_out:
        sentences.append(f"Pairs left out because they were declared: {found.declared_out}.")
    if not found.pairs:
        return tuple(sentences)
    sentences.append("Innocent causes, to ask about first:")
    sentences += [f"   {number}. {cause}" for number, cause in enumerate(found.innocent_causes, start=1)]
    sentences.append("The tab Sheets says which file a code is.")
    if len(found.pairs) > _MOST_SIDE_BY_SIDE:
        sentences.append(f"The first {_MOST_SIDE_BY_SIDE} pairs stand side by side below.")
    return tuple(sentences)


def _pair(one: NumbersPair) -> tuple[Value, ...]:
    return (
        one.first_copy_code,
        one.second_copy_code,
        "the same person" if one.same_participant else "different people",
        one.equal_readings,
        one.compared,
        one.equal_sites,
        one.threshold,
        short(one.expected),
        "needs a conversation",
    )


def _side_by_side(one: NumbersPair, titles: Mapping[str, str]) -> Section:
    rows = tuple(
        (
            titles.get(site, site),
            f"round {number}",
            "equal" if first is not None and first == second else "",
            first,
            second,
        )
        for site, number, first, second in one.side_by_side
    )
    return Section(
        f"{one.first_copy_code} and {one.second_copy_code}, side by side",
        (f"{one.words[0].upper()}{one.words[1:]}.",),
        (
            Heading("Site", 16),
            Heading("Reading", 16),
            Heading("", 18, "label"),
            Heading(f"{one.first_copy_code}, mm", 14, "result_2"),
            Heading(f"{one.second_copy_code}, mm", 14, "result_2"),
        ),
        rows,
    )
