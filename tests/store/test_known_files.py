"""What is remembered comes back as the very same value, or not at all."""

from pathlib import Path

import pytest

from sheetgen.model.attempt import Attempt, CopyRecord, Results, SiteResult
from sheetgen.model.finding import Finding, measured
from sheetgen.model.settings import BuiltWith
from sheetgen.store.known_files import known_files
from sheetgen.store.protocols import find_protocol
from tests.sheets import SETTINGS

SECRET = "0a" * 32
PROTOCOL = find_protocol("seven-sites")
RECORD = CopyRecord(
    "AB12-CD34", 1, "S01", "S02", "P-7K3F", "A1", "0" * 16, "S01.xlsx", "", {"session_number": 1, "zero": 0.5}
)
SITE = SiteResult("chest", (12.0, 12.5, None), 12.25, (1, 2), "no", False, "")
RESULTS = Results((SITE,), 15.0, None, None, None, None, None, None, "site-missing", "")
ATTEMPT = Attempt(
    file="",
    sha256="ab" * 32,
    status="accepted",
    record=RECORD,
    protocol_id="seven-sites",
    entries={"reading_1_chest": 12, "reading_2_chest": 12.5, "side": "right", "mass_kg": None},
    results=RESULTS,
    findings=(
        Finding("entry-off-scale", {"reading": measured(12.3), "division": 0.5}, "Start", "B2", "", "note"),
    ),
    built_with=BuiltWith(SETTINGS, PROTOCOL, 3),
    formula_names=("own_sum_mm",),
    modified="2027-01-15T10:00:00Z",
)
REFUSED = Attempt("", "cd" * 32, "refused", None, "", {}, None, (Finding("file-pdf", severity="error"),))


def test_an_attempt_comes_back_as_it_was_whole_numbers_too(tmp_path: Path) -> None:
    path = tmp_path / "results" / "known.bin"
    known_files(path, SECRET).add([("one", "now", ATTEMPT), ("two", "now", REFUSED)])
    known = known_files(path, SECRET)
    assert repr(known.find("one", lambda code: "now")) == repr(ATTEMPT)
    assert repr(known.find("two", lambda code: "now")) == repr(REFUSED)
    assert known.find("three", lambda code: "now") is None


def test_it_counts_only_in_the_circumstances_of_its_copy(tmp_path: Path) -> None:
    known = known_files(tmp_path / "known.bin", SECRET)
    known.add([("one", "now", ATTEMPT)])
    assert known.find("one", {"AB12-CD34": "now"}.__getitem__) is not None
    assert known.find("one", {"AB12-CD34": "then"}.__getitem__) is None


def test_what_a_file_was_built_with_is_kept_once_for_all(tmp_path: Path) -> None:
    path = tmp_path / "known.bin"
    known = known_files(path, SECRET)
    known.add((str(number), "", ATTEMPT) for number in range(100))
    known.add((str(number), "", ATTEMPT) for number in range(100, 200))
    assert path.read_bytes().count(b"built-with") == 1
    again = known_files(path, SECRET)
    first, second = again.find("0", lambda code: ""), again.find("199", lambda code: "")
    assert first is not None and second is not None
    assert first.built_with is second.built_with


def test_a_text_that_cannot_be_written_down_is_not_remembered(tmp_path: Path) -> None:
    known = known_files(tmp_path / "known.bin", SECRET)
    odd = Attempt("", "", "refused", None, "", {"side": "\ud800"}, None, ())
    known.add([("one", "", odd), ("two", "", REFUSED)])
    assert known.find("one", lambda code: "") is None
    assert known.find("two", lambda code: "") == REFUSED


@pytest.mark.parametrize("length", range(0, 2600, 97))
def test_cut_anywhere_what_is_whole_is_known_and_more_can_be_added(tmp_path: Path, length: int) -> None:
    path = tmp_path / "known.bin"
    known_files(path, SECRET).add([("one", "", REFUSED), ("two", "", ATTEMPT), ("three", "", REFUSED)])
    whole = path.read_bytes()
    path.write_bytes(whole[:length])
    cut = known_files(path, SECRET)
    for key, wanted in (("one", REFUSED), ("two", ATTEMPT), ("three", REFUSED)):
        assert cut.find(key, lambda code: "") in (wanted, None)
    cut.add([("four", "", REFUSED)])
    assert known_files(path, SECRET).find("four", lambda code: "") == REFUSED


def test_every_turned_bit_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "known.bin"
    known_files(path, SECRET).add([("one", "", REFUSED)])
    whole = path.read_bytes()
    for place in range(len(whole)):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 4]) + whole[place + 1 :])
        assert known_files(path, SECRET).find("one", lambda code: "") is None


def test_only_the_files_that_are_there_are_kept_in_their_order(tmp_path: Path) -> None:
    one, other = (known_files(tmp_path / name, SECRET) for name in ("one.bin", "other.bin"))
    one.add([("a", "", REFUSED), ("b", "", ATTEMPT), ("c", "", ATTEMPT)])
    one.note_written({"y": "1", "x": "2"}, ["x", "y"])
    one.keep_only(["c", "a"])
    other.add([("c", "", ATTEMPT), ("a", "", REFUSED)])
    other.note_written({"x": "2", "y": "1"}, ["x", "y"])
    assert one.path.read_bytes() == other.path.read_bytes()
    assert one.find("b", lambda code: "") is None
    assert one.find("c", lambda code: "") == ATTEMPT
    assert one.written("x") == "2"
    one.keep_only([], [])
    assert not one.path.exists()


def test_what_cannot_be_written_or_read_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    for path in (tmp_path / "file" / "known.bin", tmp_path):
        known = known_files(path, SECRET)
        known.add([("one", "", REFUSED)])
        known.note_written({"x": "1"}, ["x"])
        assert known.find("one", lambda code: "") is None
        assert known.written("x") == ""
