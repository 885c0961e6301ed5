"""The workbook shell: a Layout becomes an .xlsx file, a returned file becomes a Snapshot."""
