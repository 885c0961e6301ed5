"""Records in, files out: the report, feedback and open tables."""
