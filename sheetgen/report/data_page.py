"""The tab Data: what the CSV files hold, and where the statistics are published."""

from sheetgen.report.columns import ATTEMPTS, FINDINGS, READINGS, SITES
from sheetgen.report.marks_table import MARKS
from sheetgen.report.page import Heading, Page, Section

__all__ = ["data_page"]

_SOURCES = (
    ("Technical error of measurement, TEM, relative and total; reliability",
     "Pederson & Gore in Norton & Olds, Anthropometrica; Ulijaszek & Kerr 1999, Br J Nutr 82:165-177; "
     "Perini et al. 2005, Rev Bras Med Esporte 11:81-90"),
    ("Limits of the relative TEM", "Gore et al. in Norton & Olds 2000 (from memory)"),
    ("Intraclass correlation, ICC",
     "Shrout & Fleiss 1979, Psychol Bull 86:420-428; McGraw & Wong 1996, Psychol Methods 1:30-46"),
    ("Mean difference and limits of agreement",
     "Bland & Altman 1986, Lancet 1:307-310; Bland & Altman 1999, Stat Methods Med Res 8:135-160"),
    ("Change that is more than error", "Weir 2005, J Strength Cond Res 19:231-240 (from memory)"),
    ("Final digits, second round thinner, equal readings",
     "chi-square and exact binomial tests; equal readings: worked out from the class's own spread"),
    ("Small counts hidden from the class, people before a limit applies", "usual, without one source"),
)  # fmt: skip


def data_page(session: int) -> Page:
    """Return the tab Data."""
    return Page(
        "Data",
        f"Data, session {session}",
        (
            "Beside this report lie plain tables; datapackage.json describes every column, with its unit.",
            "Results are health data: codes instead of names, and no longer than the exercise needs.",
        ),
        (Heading("File", 36, "label"), Heading("What it holds", 60), Heading("One row is named by", 44)),
        tuple(
            (f"{shape.name}.csv", shape.description, ", ".join(shape.key))
            for shape in (ATTEMPTS, SITES, READINGS, FINDINGS, MARKS)
        ),
        more=(
            Section(
                "Sources of the statistics",
                (),
                (Heading("Statistic", 36), Heading("Published", 60)),
                _SOURCES,
            ),
        ),
    )
