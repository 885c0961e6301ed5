"""A workbook as data: the Layout it is drawn by, the Snapshot it comes back as, and its drawing."""
