"""How two processes share the files of tests."""

from pathlib import Path

from tests.scheduling import FIRST, TOGETHER, place, shared

ROOT = Path(__file__).resolve().parents[1]


def test_every_file_that_is_named_is_there_once() -> None:
    together = [file for files in TOGETHER for file in files]
    for named in (FIRST, together):
        assert [file for file in named if not (ROOT / file).is_file()] == []
        assert len(set(named)) == len(named)
    # Of those that stay together the first stands for all.
    assert {shared(file) for file in FIRST} == set(FIRST)
    assert {files[0] for files in TOGETHER} <= set(FIRST)


def test_files_that_begin_with_the_same_class_stay_together() -> None:
    assert shared("tests/commands/test_demo.py") == shared("tests/test_claims.py") == "tests/test_claims.py"
    assert shared("tests/test_texts.py") == "tests/test_texts.py"


def test_the_longest_begin_and_the_others_stay_in_order() -> None:
    files = ["tests/test_texts.py", "tests/audit/test_audit.py", "tests/a.py", "tests/test_claims.py"]
    assert sorted(files, key=place) == [
        "tests/test_claims.py", "tests/audit/test_audit.py", "tests/test_texts.py", "tests/a.py",
    ]  # fmt: skip
