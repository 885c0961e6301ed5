"""How much of the project is checked against values from outside it."""

import re
from pathlib import Path

from tests.reference_values import rows

FOLDER = Path(__file__).resolve().parent / "reference"
OUTSIDE = ("paper", "published", "memory")
# What only says which row it is.
KEYS = ("sum_mm", "multiplier", "tolerance", "age_years")
# First author and year: `Jackson, Pollock & Ward 1980`, `Slaughter et al. 1988`.
CITED = re.compile(r"([A-Z]\w+)(?:(?:, | & | et al\.| in |, in )(?:[A-Z]\w+)?)* ((?:19|20)\d\d)\b")


def names() -> list[str]:
    """The reference files."""
    return sorted(path.stem for path in FOLDER.glob("*.csv"))


def outside_values(name: str) -> list[str]:
    """The numbers of a file that come from outside, arithmetic, practice and keys left out."""
    return [
        value
        for row in rows(name)
        if row.get("basis") in OUTSIDE
        for column, value in row.items()
        if column not in KEYS and re.fullmatch(r"[-+]?\d*\.?\d+", value or "")
    ]


def sources(name: str) -> set[tuple[str, str]]:
    """First author and year of what the header of a file cites, if the file holds any value from outside."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    header = " ".join(line.removeprefix("#").strip() for line in lines if line.startswith("#"))
    return {(found[1], found[2]) for found in CITED.finditer(header)} if outside_values(name) else set()


def test_values_from_outside_are_at_least_150() -> None:
    assert sum(len(outside_values(name)) for name in names()) >= 150


def test_values_from_outside_that_are_not_from_memory_are_at_least_150() -> None:
    known = [row for name in names() for row in rows(name) if row.get("basis") in ("paper", "published")]
    numbers = [value for row in known for value in row.values() if re.fullmatch(r"-?\d*\.?\d+", value or "")]
    assert len(numbers) >= 150


def test_sources_are_at_least_12() -> None:
    assert len(set().union(*map(sources, names()))) >= 12


def test_every_file_is_described() -> None:
    described = re.findall(
        r"^\| `(\w+)\.csv`", (FOLDER / "README.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    assert sorted(described) == names()
