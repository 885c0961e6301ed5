"""The tab To talk to: files with the same numbers side by side, by code, since readings stand there."""

from collections.abc import Mapping

from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.class_words import pair_words
from sheetgen.checking.same_numbers import EXPECTED, NumbersPair, SameNumbers
from sheetgen.layout.number_text import shown_number, with_decimal_sign
from sheetgen.report.page import Column, Heading, Page, Section, Texts, sentence, short, table

__all__ = ["talk_page"]

_MOST_SIDE_BY_SIDE = 40
"""Pairs; one record handed in by a whole class would fill the report."""

_CAUSES = (
    "report_talk.cause_1",
    "report_talk.cause_2",
    "report_talk.cause_3",
    "report_talk.cause_4",
    "report_talk.cause_5",
)


def talk_page(analysis: ClassAnalysis, titles: Mapping[str, str], texts: Texts) -> Page:
    """Return the tab To talk to.

    Parameters
    ----------
    titles : of the sites, by code word.
    """
    found = analysis.same
    people = {True: texts["report_talk.same_person"], False: texts["report_talk.different_people"]}
    columns: tuple[Column[NumbersPair], ...] = (
        Column("report_heading.first_sheet", 16, lambda pair: pair.first_copy_code, "label"),
        Column("report_heading.second_sheet", 16, lambda pair: pair.second_copy_code, "label"),
        Column("report_talk.about", 18, lambda pair: people[pair.same_participant]),
        Column("report_talk.equal_readings", 14, lambda pair: pair.equal_readings, "text"),
        Column("report_talk.of", 14, lambda pair: pair.compared, "text"),
        Column("report_talk.equal_sites", 14, lambda pair: pair.equal_sites, "text"),
        Column("report_talk.threshold", 12, lambda pair: pair.threshold, "text"),
        Column("report_talk.expected", 14, lambda pair: short(pair.expected, texts)),
        Column("report_heading.what_to_do", 28, lambda pair: texts["report_talk.conversation"]),
    )
    return Page(
        texts["report_talk.tab"],
        texts["report_talk.title"].format(session=analysis.session),
        _sentences(found, texts),
        *table(columns if found.pairs else (), found.pairs, texts),
        more=tuple(_side_by_side(pair, titles, texts) for pair in found.pairs[:_MOST_SIDE_BY_SIDE]),
    )


def _sentences(found: SameNumbers, texts: Texts) -> tuple[str, ...]:
    count = len(found.pairs)
    key = "report_talk.pairs" if count > 1 else "report_talk.one_pair" if count else "report_talk.no_pair"
    sentences = [texts[key].format(count=count), _thresholds(found, texts)]
    if found.declared_out:
        sentences.append(texts["report_talk.declared"].format(count=found.declared_out))
    if not found.pairs:
        return tuple(sentences)
    sentences.append(texts["report_talk.innocent"])
    sentences += [f"   {number}. {texts[cause]}" for number, cause in enumerate(_CAUSES, start=1)]
    sentences.append(texts["report_talk.which_file"])
    if count > _MOST_SIDE_BY_SIDE:
        sentences.append(texts["report_talk.first_pairs"].format(count=_MOST_SIDE_BY_SIDE))
    return tuple(sentences)


def _thresholds(found: SameNumbers, texts: Texts) -> str:
    """From how many equal sites on two files are pointed out, by the kind of pair."""
    different, same = found.different_threshold, found.same_threshold
    keys = (
        "report_talk.different_none" if different > found.sites else "report_talk.different_least",
        "report_talk.same_none" if same > found.sites else "report_talk.same_least",
    )
    numbers = ((different, found.different_expected), (same, found.same_expected))
    kinds = [
        texts[key].format(
            least=least, sites=found.sites, expected=with_decimal_sign(f"{expected:.2g}", texts)
        )
        for key, (least, expected) in zip(keys, numbers, strict=True)
    ]
    return texts["report_talk.thresholds"].format(
        files=found.files, expected=shown_number(EXPECTED, texts), different=kinds[0], same=kinds[1]
    )


def _side_by_side(pair: NumbersPair, titles: Mapping[str, str], texts: Texts) -> Section:
    rows = tuple(
        (
            titles.get(site, site),
            texts["report_talk.round"].format(number=number),
            texts["report_talk.equal"] if first is not None and first == second else "",
            first,
            second,
        )
        for site, number, first, second in pair.side_by_side
    )
    in_mm = texts["report_common.in_mm"]
    return Section(
        texts["report_talk.side_by_side"].format(first=pair.first_copy_code, second=pair.second_copy_code),
        (f"{sentence(pair_words(pair, texts))}.",),
        (
            Heading(texts["report_heading.site"], 16),
            Heading(texts["report_talk.reading"], 16),
            Heading("", 18, "label"),
            Heading(in_mm.format(title=pair.first_copy_code), 14, "result_2"),
            Heading(in_mm.format(title=pair.second_copy_code), 14, "result_2"),
        ),
        rows,
    )
