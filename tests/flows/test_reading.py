"""A task holds all that reading its file depends on, travels whole, and gives the same attempt anywhere."""

import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from sheetgen.checking.claims import Claim
from sheetgen.errors import FolderError
from sheetgen.flows import pool, reading
from sheetgen.flows.examine_file import OnRecord, attempt_of_bytes, on_record
from sheetgen.flows.pool import OwnProcesses
from sheetgen.flows.reading import attempt_elsewhere, attempts_from, tasks_of
from sheetgen.model.attempt import Attempt
from sheetgen.model.decision import Decision
from sheetgen.store import keep
from sheetgen.store.returned import Incoming
from tests.classes import PEOPLE, built_class, filled_sheet, record_of
from tests.workers import KILLER, attempt_or_death

GOOD = [(f"{student}.xlsx", "accepted") for student in PEOPLE]


@pytest.fixture
def known(tmp_path: Path) -> OnRecord:
    return on_record(built_class(tmp_path / "class"))


def incoming(label: str, data: bytes) -> Incoming:
    return Incoming(label, partial(bytes, data))


def files_of(known: OnRecord, *more: Incoming) -> list[Incoming]:
    assert known.folder is not None
    files = [incoming(f"{student}.xlsx", filled_sheet(known.folder, student)) for student in PEOPLE]
    return [*files[:2], *more, *files[2:]]


def seen(attempts: list[Attempt]) -> list[tuple[str, str]]:
    return [(one.file, one.status) for one in attempts]


def test_a_task_gives_the_same_attempt_after_a_journey(known: OnRecord) -> None:
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
    (task,) = tasks_of([incoming("a.xlsx", data)], known)
    sent = pickle.dumps(task)
    attempt = attempt_elsewhere(pickle.loads(sent))
    assert repr(pickle.loads(pickle.dumps(attempt))) == repr(attempt_of_bytes(data, "a.xlsx", known))
    assert {"entry-corrected", "procedure-minor-today"} <= {finding.code for finding in attempt.findings}
    assert attempt.entries["mass_kg"] == 66.5
    assert b"Well done." not in sent


def test_a_task_is_small_however_many_sheets_were_handed_out(known: OnRecord) -> None:
    (task,) = tasks_of([incoming("a.xlsx", b"")], known)
    assert len(pickle.dumps(task)) < 1_000


def test_a_record_that_changed_meanwhile_is_an_error_and_no_fault_of_a_file(known: OnRecord) -> None:
    assert known.folder is not None
    tasks = list(tasks_of(files_of(known), known))
    keep.save_records(known.folder, {})
    with pytest.raises(FolderError, match="another record than a moment ago"):
        attempt_elsewhere(tasks[0])
    stale = [replace(task, record="0" * 64) for task in tasks]
    with ThreadPoolExecutor(1) as threads, pytest.raises(FolderError, match="another record"):
        list(pool.mapped(attempt_elsewhere, stale, 4, threads, reading._stopped))


def test_processes_give_the_attempts_that_one_process_gives(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = attempts_from(files_of(known), known)
    monkeypatch.setattr(pool, "_MANY", 1)
    told: list[tuple[int, int]] = []
    with OwnProcesses(2) as own:
        together = attempts_from(files_of(known), known, lambda done, total: told.append((done, total)), own)
    assert repr(together) == repr(alone)
    assert seen(alone) == GOOD
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_file_that_ends_its_process_is_refused_by_name_and_nothing_else_is_lost(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool, "_MANY", 1)
    monkeypatch.setattr(reading, "attempt_elsewhere", attempt_or_death)
    with OwnProcesses(2) as own:
        every = attempts_from(files_of(known, incoming("bad.xlsx", KILLER)), known, executor=own)
    assert seen(every) == [*GOOD[:2], ("bad.xlsx", "refused"), *GOOD[2:]]
    (finding,) = every[2].findings
    assert (finding.code, finding.case) == ("file-unreadable", "stopped")
