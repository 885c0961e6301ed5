"""A file that came from elsewhere, within bounds, as a Snapshot."""
