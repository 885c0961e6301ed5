"""The tab Data: what the CSV files hold, and where the statistics are published."""

from sheetgen.report.columns import ATTEMPTS, FINDINGS, READINGS, SITES
from sheetgen.report.marks_table import MARKS
from sheetgen.report.page import Heading, Page, Section, Texts

__all__ = ["data_page"]

_STATISTICS = (
    "report_data.tem",
    "report_data.limits",
    "report_data.icc",
    "report_data.agreement",
    "report_data.change",
    "report_data.tests",
    "report_data.counts",
)
"""Each with its source under the same key, `_source` after it."""


def data_page(session: int, texts: Texts) -> Page:
    """Return the tab Data."""
    return Page(
        texts["report_data.tab"],
        texts["report_data.title"].format(session=session),
        (texts["report_data.plain_tables"], texts["report_data.health_data"]),
        (
            Heading(texts["report_heading.file"], 36, "label"),
            Heading(texts["report_data.holds"], 60),
            Heading(texts["report_data.named_by"], 44),
        ),
        tuple(
            (f"{shape.name}.csv", texts[shape.holds], ", ".join(shape.key))
            for shape in (ATTEMPTS, SITES, READINGS, FINDINGS, MARKS)
        ),
        more=(
            Section(
                texts["report_data.sources"],
                (),
                (Heading(texts["report_data.statistic"], 36), Heading(texts["report_data.published"], 60)),
                tuple((texts[key], texts[f"{key}_source"]) for key in _STATISTICS),
            ),
        ),
    )
