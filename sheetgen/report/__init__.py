"""What is written for the teacher: tables, and the report workbook."""
