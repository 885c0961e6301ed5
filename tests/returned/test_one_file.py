"""One returned file, from its bytes to an Attempt: whose it is, and that nothing in it raises."""

import io
import pickle
import random
import re
import shutil
import zipfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import openpyxl
import pytest

from sheetgen.class_book.sheets_wanted import Claim
from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.errors import FolderError
from sheetgen.returned import one_file as examine_file
from sheetgen.returned import pool
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.incoming import Incoming
from sheetgen.returned.one_file import (
    OnRecord,
    attempt_elsewhere,
    attempt_of,
    attempt_of_bytes,
    attempts_from,
    on_record,
    tasks_of,
)
from sheetgen.returned.pool import OwnProcesses
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.packages import with_part_changed
from tests.classes import (
    PEOPLE,
    ROSTER,
    built_class,
    changed_setting,
    filled_sheet,
    record_of,
    returned,
    with_text_replaced,
)
from tests.wording import in_english
from tests.workers import KILLER, attempt_or_death

NOTHING_KNOWN = OnRecord(None, "", {})

GOOD = [(f"{student}.xlsx", "accepted") for student in PEOPLE]


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return built_class(tmp_path / "class")


def seen(folder: ClassFolder, data: bytes, known: OnRecord | None = None) -> Attempt:
    return attempt_of(returned(folder, "s.xlsx", data), "s.xlsx", known or on_record(folder))


def codes(attempt: Attempt) -> set[str]:
    return {finding.code for finding in attempt.findings}


def test_a_good_sheet_is_matched_with_its_record(folder: ClassFolder) -> None:
    attempt = seen(folder, filled_sheet(folder, "S01"))
    assert (attempt.status, attempt.findings) == ("accepted", ())
    assert attempt.record == record_of(folder, "S01")
    assert attempt.results is not None
    assert attempt.results.sum_mm is not None


def test_the_name_of_the_file_says_nothing(folder: ClassFolder) -> None:
    path = returned(folder, record_of(folder, "S02").file_name, filled_sheet(folder, "S01"))
    attempt = attempt_of(path, path.name, on_record(folder))
    assert attempt.record == record_of(folder, "S01")


def test_a_sheet_still_empty_is_accepted_and_has_no_result(folder: ClassFolder) -> None:
    data = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    attempt = seen(folder, data)
    assert attempt.status == "accepted"
    assert codes(attempt) == {"entry-missing"}
    assert attempt.results is not None
    assert (attempt.results.sum_mm, attempt.results.density_g_ml) == (None, None)


def test_a_workbook_of_another_kind_is_no_sheet(folder: ClassFolder) -> None:
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    attempt = seen(folder, stream.getvalue())
    assert (attempt.status, codes(attempt)) == ("refused", {"file-not-a-sheet"})


def test_a_copy_that_was_never_handed_out_is_refused(folder: ClassFolder) -> None:
    data = with_text_replaced(filled_sheet(folder, "S01"), record_of(folder, "S01").copy_code, "2345-6789")
    attempt = seen(folder, data)
    assert (attempt.status, codes(attempt), attempt.record) == ("refused", {"identity-unknown-copy"}, None)


def test_two_copy_codes_in_one_file_are_refused(folder: ClassFolder) -> None:
    """The tab Readings of a friend's sheet in one's own."""
    code = record_of(folder, "S01").copy_code
    friend = record_of(folder, "S02").copy_code
    data = filled_sheet(folder, "S01")

    def inline(part: bytes) -> bytes:
        cell = re.search(rb'<c r="B1"( s="\d+")? t="s"><v>\d+</v></c>', part)
        assert cell is not None
        text = f'<c r="B1"{(cell[1] or b"").decode()} t="inlineStr"><is><t>Sheet {friend}</t></is></c>'
        return part.replace(cell[0], text.encode())

    attempt = seen(folder, with_part_changed(data, "xl/worksheets/sheet2.xml", inline))
    assert (attempt.status, codes(attempt)) == ("refused", {"identity-two-codes"})
    assert {code, friend} == set(in_english(attempt.findings)[0].found.split(" and "))


def test_without_any_record_a_sheet_is_read_by_its_own_word(folder: ClassFolder) -> None:
    data = filled_sheet(folder, "S01")
    proven, unproven = seen(folder, data), seen(folder, data, NOTHING_KNOWN)
    assert codes(unproven) == {"identity-not-proven"}
    assert unproven.record is not None
    assert (unproven.record.student_id, unproven.record.copy_code) == (
        "S01",
        record_of(folder, "S01").copy_code,
    )
    assert unproven.results == proven.results


def test_the_build_that_a_file_came_from_is_the_one_it_is_compared_with(folder: ClassFolder) -> None:
    earlier = filled_sheet(folder, "S01")
    changed_setting(folder, "Tolerance", 1)
    build_sheets(folder, 1)
    later = filled_sheet(folder, "S01")
    known = on_record(folder)
    attempts = [attempt_of(returned(folder, "s.xlsx", data), "s.xlsx", known) for data in (earlier, later)]
    assert [attempt.record for attempt in attempts] == [
        record_of(folder, "S01", 0),
        record_of(folder, "S01", 1),
    ]
    assert [codes(attempt) for attempt in attempts] == [set(), set()]


def test_a_wording_changed_since_accuses_no_file_of_an_earlier_build(folder: ClassFolder) -> None:
    """The settings are the same; a label is not, and the sheet was built again in between."""
    record = record_of(folder, "S01")
    layout = keep.load_layout(folder, record.layout_digest)
    assert layout is not None
    first, *others = layout.tabs
    cells = tuple(
        replace(cell, value=f"{cell.value} (new wording)")
        if cell.role == "label" and isinstance(cell.value, str) and cell.row > 3
        else cell
        for cell in first.cells
    )
    later = replace(layout, tabs=(replace(first, cells=cells), *others))
    assert later != layout
    again = replace(record, layout_digest=keep.store_layout(folder, later))
    known = replace(on_record(folder), builds={record.copy_code: (record, again)})
    attempt = seen(folder, filled_sheet(folder, "S01"), known)
    assert (attempt.record, attempt.status, codes(attempt)) == (record, "accepted", set())


def test_macros_are_noted_and_the_sheet_is_read(folder: ClassFolder) -> None:
    stream = io.BytesIO(filled_sheet(folder, "S01"))
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"macros")
    attempt = seen(folder, stream.getvalue())
    assert (attempt.status, codes(attempt)) == ("accepted", {"file-foreign-content"})


# a piece of the settings printed in the sheet, and what stands there instead
FORGED = (
    ('"site_rule":"median"', '"site_rule":"largest"'),
    ('"tolerance_kind":"mm"', '"tolerance_kind":"inch"'),
    ('"division":0.5', '"division":0'),
    ('"opening":60.0', '"opening":1e308'),
    ('"tolerance":2.0', '"tolerance":1e999'),
    ('"conversion":"siri"', '"conversion":"none"'),
    ('"language":"en"', '"language":"../../secret"'),
    ('["sum_linear",', '["other",'),
    ('["constant",1.112]', '["constant",1.2]'),
    ('"settings":{', '"settings":['),
)


@pytest.mark.parametrize(("old", "new"), FORGED)
def test_settings_that_were_forged_never_raise(folder: ClassFolder, old: str, new: str) -> None:
    """Where keep/ is gone a sheet is read by the settings printed in it, and those can be anything."""
    data = filled_sheet(folder, "S01")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert old.encode() in archive.read("xl/sharedStrings.xml")
    attempt = seen(folder, with_text_replaced(data, old, new), NOTHING_KNOWN)
    # Refused, or contradicted by the register and the coefficients printed beside them.
    contradicted = {"identity-not-proven", "sheet-label-changed"}
    assert (
        codes(attempt) in ({"file-unknown-protocol"}, {"file-unreadable"}) or codes(attempt) >= contradicted
    )
    assert attempt.status in ("refused", "review")


@pytest.mark.parametrize("known", (True, False))
def test_values_of_any_kind_in_any_cell_never_raise(folder: ClassFolder, known: bool) -> None:
    dice = random.Random(20261125)
    data = filled_sheet(folder, "S01")
    record = on_record(folder) if known else NOTHING_KNOWN
    values = (
        '<v>1E+308</v>', '<v>-1E+308</v>', '<v>1e999</v>', '<v>nan</v>', '<v></v>', '<f>1/0</f>',
        ' t="b"><v>1</v>', ' t="e"><v>#REF!</v>', ' t="s"><v>99999</v>', ' t="d"><v>2026-11-25</v>',
        ' t="inlineStr"><is><t>\u0661\u0662</t></is>',
    )  # fmt: skip
    for _ in range(25):
        number = dice.choice((1, 2, 3, 4, 7))

        def spoiled(part: bytes) -> bytes:
            def cell(match: re.Match[bytes]) -> bytes:
                if dice.random() > 0.15:
                    return match[0]
                value = dice.choice(values)
                inside = value if value.startswith(" t=") else f">{value}"
                return match[1] + inside.encode() + b"</c>"

            return re.sub(rb'(<c r="[A-Z]+\d+"(?: s="\d+")?)[^>]*?(?:/>|>.*?</c>)', cell, part)

        attempt = seen(folder, with_part_changed(data, f"xl/worksheets/sheet{number}.xml", spoiled), record)
        unread = [finding for finding in attempt.findings if finding.case == "contents"]
        assert unread == []


def test_a_part_of_the_file_lost_on_the_way_never_raises(folder: ClassFolder) -> None:
    data = filled_sheet(folder, "S01")
    for part in range(1, 12):
        attempt = seen(folder, data[: len(data) * part // 12])
        assert (attempt.status, codes(attempt)) == ("refused", {"file-truncated"})


def test_a_protocol_that_the_class_does_not_have_is_refused(folder: ClassFolder, tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    own = str(templates_folder() / "protocol-example.toml")
    other = new_class(tmp_path / "other", roster, (own,))
    build_sheets(other, 1)
    data = (other.sheets(1) / record_of(other, "S01").file_name).read_bytes()
    shutil.rmtree(folder.keep)
    attempt = seen(folder, data)
    assert (attempt.status, codes(attempt)) == ("refused", {"file-unknown-protocol"})
    assert seen(folder, data, NOTHING_KNOWN).protocol_id == "my-two-sites"


def test_a_folder_without_keep_knows_nothing(folder: ClassFolder) -> None:
    shutil.rmtree(folder.keep)
    assert on_record(folder) == OnRecord(folder, "", {})
    assert on_record(None) == NOTHING_KNOWN


@pytest.fixture
def known(tmp_path: Path) -> OnRecord:
    return on_record(built_class(tmp_path / "class"))


def incoming(label: str, data: bytes) -> Incoming:
    return Incoming(label, partial(bytes, data))


def files_of(known: OnRecord, *more: Incoming) -> list[Incoming]:
    assert known.folder is not None
    files = [incoming(f"{student}.xlsx", filled_sheet(known.folder, student)) for student in PEOPLE]
    return [*files[:2], *more, *files[2:]]


def seen_of_reading(attempts: list[Attempt]) -> list[tuple[str, str]]:
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
        list(pool.mapped(attempt_elsewhere, stale, 4, threads, examine_file._stopped))


def test_processes_give_the_attempts_that_one_process_gives(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = attempts_from(files_of(known), known)
    monkeypatch.setattr(pool, "_MANY", 1)
    told: list[tuple[int, int]] = []
    with OwnProcesses(2) as own:
        together = attempts_from(files_of(known), known, lambda done, total: told.append((done, total)), own)
    assert repr(together) == repr(alone)
    assert seen_of_reading(alone) == GOOD
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_file_that_ends_its_process_is_refused_by_name_and_nothing_else_is_lost(
    known: OnRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool, "_MANY", 1)
    monkeypatch.setattr(examine_file, "attempt_elsewhere", attempt_or_death)
    with OwnProcesses(2) as own:
        every = attempts_from(files_of(known, incoming("bad.xlsx", KILLER)), known, executor=own)
    assert seen_of_reading(every) == [*GOOD[:2], ("bad.xlsx", "refused"), *GOOD[2:]]
    (finding,) = every[2].findings
    assert (finding.code, finding.case) == ("file-unreadable", "stopped")
