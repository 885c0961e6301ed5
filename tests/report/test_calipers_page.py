from sheetgen.report.agreement_pages import calipers_page
from tests.report.analysed import alone, compared
from tests.report.invented import TEXTS


def test_calipers_page_finds_the_forgotten_zero() -> None:
    page = calipers_page(compared()[2], TEXTS)
    looks_forgotten = {row[0]: row[6] for row in page.rows if row[6] is not None}
    assert looks_forgotten == {"C04": 1.0}
    assert page.sentences[2] == "Each interval is one of 99.55 %."


def test_calipers_page_lists_a_typed_zero_that_is_not_the_registered_one() -> None:
    page = calipers_page(compared()[2], TEXTS)
    assert page.more[0].rows == (("C02", "S01-P00-1", -0.5, 0.0),)
    assert page.sentences[-1] == (
        "Sheets left out: 1 with two calipers, one not registered, or a zero that is not the registered one; "
        "2 with the same numbers as another, see To talk to."
    )


def test_calipers_page_says_that_they_cannot_be_told() -> None:
    page = calipers_page(alone()[2], TEXTS)
    assert page.sentences == (
        "No participant was measured with two calipers: a caliper that reads off looks like a thicker or "
        "thinner person, so the calipers cannot be told.",
    )
    assert (page.headings, page.rows, page.charts) == ((), (), ())
    assert page.more[0].sentences == ("Every typed zero is the registered one.",)
