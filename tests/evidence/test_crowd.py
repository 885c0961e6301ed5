"""Many files, a fifth of them bad in every way: each bad one is one line, the rest count, the same twice."""

import os
from pathlib import Path

from tests.evidence.crowd import BAD, crowd_of, read_twice

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))
# 300 files in the nightly form; else every way of being bad once.
GOOD, WRONG = (240, 60) if NIGHTLY else (8, len(BAD))


def test_bad_files_are_one_line_each_and_keep_no_other_from_counting(tmp_path: Path) -> None:
    folder, bad = crowd_of(tmp_path, GOOD, WRONG, seed=3)
    crowd = read_twice(folder, bad)
    assert crowd.exit_code == 1
    assert crowd.summary.startswith(f"{GOOD + WRONG} files came back: {GOOD} count, ")
    assert (crowd.lines, crowd.named) == (WRONG, WRONG)
    assert crowd.same
    assert crowd.returned_same
