from sheetgen.core.detectable_change import ACCEPTABLE_LIMITS
from sheetgen.report.datapackage import data_page
from tests.report.invented import TEXTS


def test_data_page_lists_the_tables_with_their_keys() -> None:
    assert [(row[0], row[2]) for row in data_page(1, TEXTS).rows] == [
        ("attempts.csv", "session, file"),
        ("sites.csv", "session, copy_code, sha256, site"),
        ("readings.csv", "session, copy_code, sha256, site, round"),
        ("findings.csv", ""),
        ("marks.csv", "student_id"),
    ]


def test_data_page_gives_a_source_for_every_statistic() -> None:
    (sources,) = data_page(1, TEXTS).more
    assert all(row[1] for row in sources.rows)


def test_source_of_the_limits_is_the_one_beside_their_values() -> None:
    assert {limit.source for limit in ACCEPTABLE_LIMITS} == {TEXTS["report_data.limits_source"]}
