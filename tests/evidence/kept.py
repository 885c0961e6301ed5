"""The tables of tests/evidence/README.md, each kept by the command that measures it."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

README = Path(__file__).with_name("README.md")


def kept_below(heading: str, text: str, path: Path = README) -> None:
    """Put a text below a heading, in place of what stood there; ValueError where there is no such heading."""
    page = path.read_text(encoding="utf-8")
    before, found, after = page.partition(f"# {heading}\n")
    if not found:
        raise ValueError(f"{path}: no heading {heading!r}")
    behind = re.search(r"^# ", after, re.MULTILINE)
    rest = after[behind.start() :] if behind else ""
    path.write_text(f"{before}{found}\n{text}\n{chr(10) + rest if rest else ''}", encoding="utf-8")


def rows_below(heading: str, path: Path = README) -> dict[str, list[str]]:
    """Rows of the table below a heading, by what their first column says."""
    _, _, after = path.read_text(encoding="utf-8").partition(f"# {heading}\n")
    rows: dict[str, list[str]] = {}
    for line in after.split("\n# ")[0].splitlines():
        if line.startswith("| "):
            rows.setdefault(line.split(" | ")[0].removeprefix("| "), []).append(line)
    return rows


def merged(
    order: Sequence[str], old: Mapping[str, Sequence[str]], new: Mapping[str, Sequence[str]]
) -> list[str]:
    """New rows, and the old ones of what was not measured anew, in order of their first column."""
    return [row for name in order for row in new.get(name, old.get(name, ()))]
