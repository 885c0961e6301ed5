"""A chunk holds all that reading its files depends on, and comes through a wire whole."""

import pickle
from dataclasses import replace
from pathlib import Path

import pytest

from sheetgen.checking.claims import Claim
from sheetgen.errors import FolderError
from sheetgen.flows.chunks import attempts_of, chunk_of, examined_here
from sheetgen.flows.examine_file import OnRecord, on_record
from sheetgen.model.decision import Decision
from sheetgen.store import keep
from tests.classes import built_class, filled_sheet, record_of


@pytest.fixture
def known(tmp_path: Path) -> OnRecord:
    return on_record(built_class(tmp_path / "class"))


def test_a_chunk_gives_the_same_attempts_after_a_journey(known: OnRecord) -> None:
    """With a correction, someone under 18 and a claim, which all come along."""
    assert known.folder is not None
    record = record_of(known.folder, "S01")
    decisions = (
        Decision(1, 1, record.copy_code, "correction", "mass_kg", "66.5"),
        Decision(2, 1, record.copy_code, "comment", "", "Well done."),
    )
    other = record_of(known.folder, "S03").participant_code
    known = replace(
        known, decisions=decisions, minors=frozenset({other.casefold()}), claims={"": Claim("S01", "S02", "")}
    )
    data = filled_sheet(known.folder, "S01", {"participant_today": other})
    files = (("a.xlsx", data), ("b.png", b"\x89PNG\r\n\x1a\n"))
    sent = pickle.dumps(replace(chunk_of(known), files=files))
    attempts = attempts_of(pickle.loads(sent))
    assert repr(pickle.loads(pickle.dumps(attempts))) == repr(examined_here(files, known))
    codes = {finding.code for finding in attempts[0].findings}
    assert {"entry-corrected", "procedure-minor-today"} <= codes
    assert attempts[0].entries["mass_kg"] == 66.5
    assert b"Well done." not in sent


def test_a_chunk_is_small_however_many_sheets_were_handed_out(known: OnRecord) -> None:
    assert len(pickle.dumps(chunk_of(known))) < 1_000


def test_a_chunk_of_another_record_is_an_error(known: OnRecord) -> None:
    assert known.folder is not None
    chunk = chunk_of(known)
    keep.save_records(known.folder, {})
    with pytest.raises(FolderError, match="another record than a moment ago"):
        attempts_of(chunk)


def test_a_chunk_belongs_to_a_class_folder() -> None:
    with pytest.raises(ValueError, match="for a class folder only"):
        chunk_of(OnRecord(None, "", {}))
