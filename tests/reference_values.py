"""Loader of the reference values in tests/reference."""

import csv
from pathlib import Path

_FOLDER = Path(__file__).resolve().parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of tests/reference/NAME.csv as text, header lines that begin with # left out."""
    with (_FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))
