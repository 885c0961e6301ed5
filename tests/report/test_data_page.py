from sheetgen.report.data_page import data_page


def test_data_page_lists_the_tables_with_their_keys() -> None:
    assert [(row[0], row[2]) for row in data_page(1).rows] == [
        ("attempts.csv", "session, file"),
        ("sites.csv", "session, copy_code, sha256, site"),
        ("readings.csv", "session, copy_code, sha256, site, round"),
        ("findings.csv", ""),
        ("marks.csv", "student_id"),
    ]


def test_data_page_gives_a_source_for_every_statistic() -> None:
    (sources,) = data_page(1).more
    assert all(row[1] for row in sources.rows)
