"""One slip in one sheet of the sample class: what the report says before and after."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import load_book
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook
from sheetgen.commands.read import ReadSummary
from sheetgen.protocols.recalculation import Entries, recalculate
from sheetgen.returned.attempt import Attempt
from sheetgen.statistics.analysis import ClassAnalysis, class_analysis, class_findings
from sheetgen.statistics.precision import third_readings
from sheetgen.texts.languages import texts_in

TEXTS = texts_in("en", "findings", "report")

# student, site, round, what was mistyped for what there is: two digits swapped, a digit doubled, one left out
SLIPS = (
    ("L01", "triceps", 2, 31.0),
    ("L07", "abdominal", 1, 52.0),
    ("L13", "thigh", 2, 3.2),
    ("L04", "chest", 1, 55.0),
)


@pytest.fixture(scope="module")
def sample(demo: ReadSummary) -> tuple[ClassBook, list[Attempt]]:
    return load_book(ClassFolder(Path(demo.results).parents[1])), list(demo.attempts)


def _changed(attempt: Attempt, entries: Entries) -> Attempt:
    assert attempt.built_with is not None
    built = attempt.built_with
    results = recalculate(built.protocol, built.settings, entries)
    return replace(attempt, entries=entries, results=results)


def _figures(analysis: ClassAnalysis) -> dict[str, object]:
    """Every figure and verdict about the class but the counts of what is left out."""
    return {
        "sites": [replace(site, left_out=0, whole=None) for site in analysis.sites],
        "worst": analysis.worst,
        "thirds": third_readings(analysis.rounds),
        "repeats": analysis.repeats,
        "between": analysis.between,
        "calipers": analysis.calipers,
        "compression": analysis.compression,
        "identical": analysis.identical,
        "pairs": analysis.same.pairs,
    }


def _verdicts(analysis: ClassAnalysis) -> Iterator[str]:
    for finding in class_findings(analysis, TEXTS):
        if finding.code != "class-far-apart":
            yield f"{finding.code} {finding.found.split(', ')[0]}"
    yield from (f"{site.site} {site.judgement}" for site in analysis.sites)


@pytest.mark.parametrize(("student", "site", "number", "mistyped"), SLIPS)
def test_a_slip_moves_no_figure_further_than_leaving_its_pair_out(
    sample: tuple[ClassBook, list[Attempt]], student: str, site: str, number: int, mistyped: float
) -> None:
    book, attempts = sample
    name, other = f"reading_{number}_{site}", f"reading_{3 - number}_{site}"

    def analysed(change: dict[str, str | float | None]) -> ClassAnalysis:
        own = [
            _changed(one, {**one.entries, **change})
            if one.record is not None and one.record.student_id == student and one.built_with is not None
            else one
            for one in attempts
        ]
        return class_analysis(own, book, 1)

    true = next(one for one in attempts if one.record is not None and one.record.student_id == student)
    third = {f"reading_3_{site}": true.entries[other]}
    before, without = analysed({}), analysed({name: None, other: None, f"reading_3_{site}": None})
    after = analysed({name: mistyped, **third})
    assert _figures(after) == _figures(without)
    assert list(_verdicts(after)) == list(_verdicts(before))
    assert [one.site for one in (before.worst, after.worst)] == ["midaxillary"] * 2  # type: ignore[union-attr]
    told = [one for one in class_findings(after, TEXTS) if one.code == "class-far-apart"]
    assert [one.found.split(":")[0] for one in told] == [f"{true.record.copy_code}, {site}"]  # type: ignore[union-attr]
    assert before.slips == ()
