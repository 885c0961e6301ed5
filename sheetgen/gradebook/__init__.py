"""Marks into a platform's CSV, and OneRoster results."""
