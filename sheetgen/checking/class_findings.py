"""Findings about the class as a whole: questions for the teacher, by sheet, never a change of a mark."""

from collections.abc import Iterator

from sheetgen.checking.calipers import CaliperReport
from sheetgen.checking.class_analysis import ClassAnalysis
from sheetgen.checking.precision import WorstSite
from sheetgen.core.outcome import Undefined
from sheetgen.model.finding import Finding

__all__ = ["class_findings"]


def class_findings(analysis: ClassAnalysis) -> tuple[Finding, ...]:
    """Return the findings about a class, the conversations first.

    Notes
    -----
    Sheets and people go by their codes: the words stand beside numbers that were measured. Severity and
    remedy are empty until looked up in the catalogue.
    """
    return tuple(
        Finding(code, "", found, expected, "")
        for code, found, expected in (*_files(analysis), *_class(analysis))
    )


def _files(analysis: ClassAnalysis) -> Iterator[tuple[str, str, str]]:
    for pair in analysis.same.pairs:
        codes = f"{pair.first_copy_code} and {pair.second_copy_code}"
        expected = f"fewer than {pair.threshold} sites with both rounds equal"
        yield "class-same-numbers", f"{codes}: {pair.words}", expected
    for record in analysis.identical.records:
        yield "class-rounds-identical", f"{record.copy_code}: {record.words}", "two readings of each fold"
    for student in analysis.compression.students:
        if student.everywhere:
            codes = ", ".join(student.copy_codes)
            yield "class-second-round-thinner", f"{codes}: {student.words}", "some thicker, some thinner"


def _class(analysis: ClassAnalysis) -> Iterator[tuple[str, str, str]]:
    yield from _calipers(analysis.calipers)
    if isinstance(analysis.worst, WorstSite) and analysis.worst.stands_out:
        yield "class-site-stands-out", analysis.worst.words, "all sites alike for their thickness"
    for scale in analysis.digits:
        if scale.piles_up:
            found = f"scales of {scale.division_mm:g} mm: {scale.words}"
            yield "class-digit-preference", found, "every final digit about equally often"


def _calipers(report: CaliperReport) -> Iterator[tuple[str, str, str]]:
    for one in report.zero_differences:
        yield "class-caliper-zero-differs", f"{one.copy_code}: {one.words}", f"{one.registered_mm:g} mm"
    if isinstance(report.offsets, Undefined):
        return
    for offset in report.offsets:
        if offset.beyond_chance:
            code = "class-zero-forgotten" if offset.zero_looks_forgotten else "class-caliper-off"
            yield code, f"{offset.caliper_id}: {offset.words}", "as the other calipers on the same people"
