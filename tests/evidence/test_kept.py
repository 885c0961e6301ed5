"""Tables of the page of evidence are put in their places."""

from pathlib import Path

import pytest

from tests.evidence.kept import README, kept_below, merged, rows_below
from tests.evidence.run import HEADING, PARTS

PAGE = """# First

A text.

# Second

| part | seen |
|---|---|
| a | 1 |
| a | 2 |
| b | 3 |

# Third

The end.
"""


def test_a_text_is_put_below_its_heading_and_the_rest_stays(tmp_path: Path) -> None:
    path = tmp_path / "page.md"
    path.write_text(PAGE, encoding="utf-8")
    kept_below("Second", "New.", path)
    assert path.read_text(encoding="utf-8") == (
        "# First\n\nA text.\n\n# Second\n\nNew.\n\n# Third\n\nThe end.\n"
    )
    kept_below("Third", "Later.", path)
    assert path.read_text(encoding="utf-8").endswith("# Third\n\nLater.\n")
    with pytest.raises(ValueError, match="no heading 'Fourth'"):
        kept_below("Fourth", "", path)


def test_rows_of_what_was_not_measured_anew_stay(tmp_path: Path) -> None:
    path = tmp_path / "page.md"
    path.write_text(PAGE, encoding="utf-8")
    old = rows_below("Second", path)
    assert old == {"part": ["| part | seen |"], "a": ["| a | 1 |", "| a | 2 |"], "b": ["| b | 3 |"]}
    assert merged(("a", "b", "c"), old, {"a": ["| a | 4 |"], "c": ["| c | 5 |"]}) == [
        "| a | 4 |", "| b | 3 |", "| c | 5 |",
    ]  # fmt: skip


def test_every_row_of_the_page_is_of_a_part_that_is_measured_and_has_its_day() -> None:
    rows = {name: found for name, found in rows_below(HEADING, README).items() if name != "part"}
    assert set(rows) <= set(PARTS)
    assert all(row.split(" | ")[-1].startswith("20") for found in rows.values() for row in found)
