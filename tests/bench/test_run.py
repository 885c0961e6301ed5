"""The table of speeds is made; how fast anything is, is no matter of a test."""

from pathlib import Path

import pytest

from tests.bench.run import main

pytestmark = [pytest.mark.office, pytest.mark.nightly]


def test_table_of_a_tiny_class(tmp_path: Path) -> None:
    out = tmp_path / "bench.md"
    assert main(["--sizes", "3", "--rounds", "1", "--out", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    assert "| whole read by one process, beside two openpyxl loads | at least 5 at 500 |" in text
    assert text.count("| 3 people |") == 1
    assert "100,000 people in classes of at most 1,500" in text
