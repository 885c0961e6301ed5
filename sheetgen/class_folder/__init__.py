"""Files of a class on disk: paths, codes, records, the journal, swapping in."""
