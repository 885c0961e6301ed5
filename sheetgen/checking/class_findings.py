"""Findings about the class as a whole: questions for the teacher, by sheet, never a change of a mark."""

from collections.abc import Iterator, Mapping

from sheetgen.checking.calipers import CaliperReport
from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.class_words import (
    caliper_words,
    digit_words,
    identical_words,
    pair_words,
    thinner_words,
    worst_words,
    zero_words,
)
from sheetgen.checking.precision import WorstSite
from sheetgen.core.outcome import Undefined
from sheetgen.layout.number_text import shown_number
from sheetgen.model.finding import Worded

__all__ = ["class_findings"]

Texts = Mapping[str, str]
_Found = Iterator[tuple[str, str, str]]


def class_findings(
    analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str] | None = None
) -> tuple[Worded, ...]:
    """Return the findings about a class in words, the conversations first.

    Parameters
    ----------
    texts : those of the report and of findings in a language, by dotted key.
    titles : of the sites, by code word; a site without one goes by its code word.

    Notes
    -----
    Sheets and people go by their codes: the words stand beside numbers that were measured.
    """
    return tuple(
        Worded(code, texts[f"{code}.severity"], found, expected, texts[f"{code}.remedy"])
        for code, found, expected in (*_files(analysis, texts), *_class(analysis, texts, titles or {}))
    )


def _files(analysis: ClassAnalysis, texts: Texts) -> _Found:
    for pair in analysis.same.pairs:
        codes = texts["report_class.two_codes"].format(
            first=pair.first_copy_code, second=pair.second_copy_code
        )
        expected = texts["report_class.fewer_sites"].format(sites=pair.threshold)
        yield "class-same-numbers", f"{codes}: {pair_words(pair, texts)}", expected
    for record in analysis.identical.records:
        found = f"{record.copy_code}: {identical_words(record, texts)}"
        yield "class-rounds-identical", found, texts["report_class.two_readings"]
    for student in analysis.compression.students:
        if student.everywhere:
            found = f"{', '.join(student.copy_codes)}: {thinner_words(student, texts)}"
            yield "class-second-round-thinner", found, texts["report_class.some_thicker"]


def _class(analysis: ClassAnalysis, texts: Texts, titles: Mapping[str, str]) -> _Found:
    yield from _calipers(analysis.calipers, texts)
    if isinstance(analysis.worst, WorstSite) and analysis.worst.stands_out:
        found = worst_words(analysis.worst, titles, texts)
        yield "class-site-stands-out", found, texts["report_class.sites_alike"]
    for scale in analysis.digits:
        if scale.piles_up:
            found = texts["report_class.scale"].format(
                division=shown_number(scale.division_mm, texts), words=digit_words(scale, texts)
            )
            yield "class-digit-preference", found, texts["report_class.digits_alike"]


def _calipers(report: CaliperReport, texts: Texts) -> _Found:
    for one in report.zero_differences:
        found = f"{one.copy_code}: {zero_words(one, texts)}"
        yield "class-caliper-zero-differs", found, f"{one.registered_mm:g} mm"
    if isinstance(report.offsets, Undefined):
        return
    for offset in report.offsets:
        if offset.beyond_chance:
            code = "class-zero-forgotten" if offset.zero_looks_forgotten else "class-caliper-off"
            found = f"{offset.caliper_id}: {caliper_words(offset, texts)}"
            yield code, found, texts["report_class.as_others"]
