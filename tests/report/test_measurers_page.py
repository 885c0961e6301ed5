from sheetgen.class_folder.decisions import OBSERVED_STEPS
from sheetgen.report.measurers_page import measurers_page, record_lines, record_rows
from sheetgen.statistics.measurers import MeasurerRecord, Observed, SiteRecord, measurer_records
from tests.report.invented import TEXTS

TITLES = {"chest": "Chest", "thigh": "Thigh"}


def record(*percents: tuple[int, int], observed: tuple[str, ...] = ()) -> MeasurerRecord:
    """Chest and thigh, one pair each a session; 0.25 mm above the teacher, nine scales of ten right."""
    kept = [
        SiteRecord(session, "S1", site, "2027-03-31", 1, percent, int(percent > 8), 0.25, 9, 10)
        for session, both in enumerate(percents, start=1)
        for site, percent in zip(TITLES, both, strict=True)
    ]
    seen = [Observed(1, "S1", observed, "2027-04-07" if observed else "")]
    return measurer_records(kept, seen, len(percents))["S1"]


def test_a_line_a_person_with_the_numbers_of_the_last_session() -> None:
    """Over all sites sqrt(mean of squares): of 10 and 6 per cent 8.2, of 5 and 8 per cent 6.7."""
    page = measurers_page([record((10, 6), (5, 8))], "2", TITLES, {"S1": "P7"}, TEXTS)
    assert page is not None
    assert (page.tab, page.title) == ("Measurers", "Measurers up to session 2")
    assert [heading.text for heading in page.headings[:5]] == [
        "Student code", "Chest, %", "Thigh, %", "All, %, by session", "Sites within: beginner, skilled, of",
    ]  # fmt: skip
    (row,) = page.rows
    assert row[:-1] == ("P7", 5, 8, "1: 8.2; 2: 6.7", "1 / 1 / 2", 0, 0.25, "9 / 10")
    assert str(row[-1]).startswith("No change told (")


def test_nobody_with_two_sessions_has_no_page() -> None:
    assert measurers_page([], "1", TITLES, {}, TEXTS) is None


def test_where_ready_and_what_to_practise() -> None:
    some = record_lines(record((5, 9), (5, 5), observed=("asks", "reads")), TITLES, TEXTS)
    assert some[1:] == (
        "Within a beginner's limit in both of the last sessions: chest. For ready: 2 of 8 steps "
        "observed so far.",
        "Practise: thigh.",
        "Signed off on 2027-04-07.",
    )
    ready = record_lines(record((5, 7), (5, 5), observed=OBSERVED_STEPS), TITLES, TEXTS)
    assert ready[1:] == ("Ready at: every site.", "Signed off on 2027-04-07.")


def test_the_trend_in_words_as_far_as_its_interval_allows() -> None:
    """Two pairs a session: F(2, 2) is 39 at 97.5 %, so that the ratio must be below 1 in 6.2."""
    assert record_lines(record((40, 40), (4, 4)), TITLES, TEXTS)[0] == (
        "Repeat error smaller than in session 1: 0.1 times it (between 0.0 and 0.6)."
    )
    assert record_lines(record((4, 4), (40, 40)), TITLES, TEXTS)[0] == (
        "Repeat error larger than in session 1: 10.0 times it (between 1.6 and 62.4)."
    )


def test_rows_of_the_feedback_name_every_site() -> None:
    first, _ = record_rows(record((10, 6), (5, 8)), TITLES, TEXTS)
    assert first == (
        "Session 1", 8.2, "1 / 2", "9 / 10",
        "Of 2 sites 1 within a beginner's limit, 0 within a skilled one's: chest 10 %, thigh 6 %. "
        "Against the teacher's measure +0.2 mm.",
    )  # fmt: skip
