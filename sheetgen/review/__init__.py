"""The review workbook and what a teacher decides in it."""
