"""The record of a mark."""

from dataclasses import fields

from sheetgen.model.mark_row import MarkRow
from sheetgen.report.marks_table import MARKS


def test_fields_of_a_mark_are_the_columns_of_the_table() -> None:
    assert [field.name for field in fields(MarkRow)] == [column.name for column in MARKS.columns]
