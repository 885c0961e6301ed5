"""People in: from a table, a workbook or an export of a school system."""
