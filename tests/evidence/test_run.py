"""The table of evidence is made; its numbers are those of the other tests."""

import pytest

from tests.evidence import run
from tests.evidence.run import Line, Sizes, faults_of, main, measured, rows_of

TINY = Sizes(changes=40, people=2, packages=27, kills=1, writes=1, good=4, bad=3)


@pytest.mark.nightly
def test_the_table_of_two_parts() -> None:
    lines = measured(TINY, 1, ("changes", "crowd"))
    rows = rows_of(lines, "2027-01-15")
    (changes,), (crowd,) = rows["changes"], rows["crowd"]
    assert changes.startswith("| changes | changes to locked parts | 40 of ")
    assert "| 40 found, 0 missed |" in changes
    assert crowd.startswith(
        "| crowd | a folder of files, read twice | 7, 3 of them bad | 7 files came back: 4 count, "
    )
    assert crowd.endswith(" | 2027-01-15 |")
    assert faults_of(lines) == []


def test_what_should_not_have_been_is_told_and_is_exit_code_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def bad(sizes: Sizes, seed: int) -> list[Line]:
        return [Line("changes", str(sizes.changes), "1 missed", "", ("label-text at Start!A1",))]

    monkeypatch.setitem(run.PARTS, "changes", bad)
    assert main(["--quick", "--only", "changes"]) == 1
    assert "- changes: label-text at Start!A1" in capsys.readouterr().out
