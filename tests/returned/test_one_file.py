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
from msgspec import structs

from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.new import new_class
from sheetgen.errors import FolderError
from sheetgen.finding import Worded
from sheetgen.protocols.names import live_names
from sheetgen.protocols.recalculation import is_ready, live_values, recalculate
from sheetgen.returned import one_file as examine_file
from sheetgen.returned import pool
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.incoming import Incoming
from sheetgen.returned.one_file import (
    Examination,
    attempt_of_bytes,
    attempts_from,
    examined,
    minor_today_findings,
    reader,
)
from sheetgen.returned.pool import OwnProcesses
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.texts.templates import templates_folder
from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled, with_parts_changed
from sheetgen.workbook.snapshot import Snapshot
from tests.classes import (
    PEOPLE,
    ROSTER,
    attempt_of,
    built_class,
    changed_setting,
    filled_sheet,
    record_of,
    returned,
    with_text_replaced,
)
from tests.returned.given import WOMAN, untouched, with_cell, with_tab
from tests.returned.given import returned as sheet_returned
from tests.sheets import Sheet, settings_with, sheet_of
from tests.wording import in_english, said
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


def test_a_sheet_in_which_nothing_is_typed_is_for_review_and_has_no_result(folder: ClassFolder) -> None:
    data = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    attempt = seen(folder, data)
    assert attempt.status == "review"
    assert [finding.code for finding in attempt.findings] == ["entry-nothing-typed"]
    assert attempt.results is not None
    assert (attempt.results.sum_mm, attempt.results.density_g_ml) == (None, None)


def test_an_untouched_sheet_in_another_language_is_one(tmp_path: Path) -> None:
    """What it is handed out with stands there in words of its language."""
    folder = built_class(tmp_path / "spanish")
    changed_setting(folder, "Language", "es")
    build_sheets(folder, 1)
    data = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    assert codes(seen(folder, data)) == {"entry-nothing-typed"}


def test_one_entry_is_enough_for_a_sheet_to_be_begun(folder: ClassFolder) -> None:
    handed_out = (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes()
    layout = keep.load_layout(folder, record_of(folder, "S01").layout_digest)
    assert layout is not None
    begun = seen(folder, filled(handed_out, layout, {"cautions_confirmed": "yes"}))
    assert (begun.status, codes(begun)) == ("accepted", {"entry-missing", "sheet-not-recalculated"})


def test_a_workbook_of_another_kind_is_no_sheet(folder: ClassFolder) -> None:
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    attempt = seen(folder, stream.getvalue())
    assert (attempt.status, codes(attempt)) == ("refused", {"file-not-a-sheet"})


def with_notes(data: bytes, first_line: str, *, in_front: bool = False) -> bytes:
    """The sheet with a tab for notes of the student's own."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    notes = book.create_sheet("Notes", 0 if in_front else None)
    notes["A1"] = first_line
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize("in_front", [False, True])
@pytest.mark.parametrize("recorded", [True, False])
def test_a_tab_for_notes_that_names_the_partners_code_is_no_second_identity(
    folder: ClassFolder, in_front: bool, recorded: bool
) -> None:
    partner = record_of(folder, "S02").copy_code
    data = with_notes(filled_sheet(folder, "S01"), f"My partner has {partner}", in_front=in_front)
    attempt = seen(folder, data, None if recorded else NOTHING_KNOWN)
    assert attempt.record is not None
    assert attempt.record.copy_code == record_of(folder, "S01").copy_code
    assert "sheet-tab-added" in codes(attempt)
    assert attempt.status != "refused"


def test_a_tab_of_another_sheet_added_to_one_is_a_second_identity(folder: ClassFolder) -> None:
    own, other = (openpyxl.load_workbook(io.BytesIO(filled_sheet(folder, student))) for student in PEOPLE[:2])
    added = own.create_sheet("Readings of my partner")
    for row in other["Readings"].iter_rows():
        for cell in row:
            added[cell.coordinate] = cell.value
    stream = io.BytesIO()
    own.save(stream)
    assert codes(seen(folder, stream.getvalue())) == {"identity-two-codes"}


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

    attempt = seen(folder, with_parts_changed(data, {"xl/worksheets/sheet2.xml": inline}))
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
        structs.replace(cell, value=f"{cell.value} (new wording)")
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

        attempt = seen(
            folder, with_parts_changed(data, {f"xl/worksheets/sheet{number}.xml": spoiled}), record
        )
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


def test_a_reader_gives_the_same_attempt_after_a_journey(known: OnRecord) -> None:
    """With a correction, someone under 18 and a claim, which all come along."""
    assert known.folder is not None
    record = record_of(known.folder, "S01")
    decisions = (
        Decision(1, 1, record.copy_code, "correction", "mass_kg", "66.5"),
        Decision(2, 1, record.copy_code, "comment", "", "Well done."),
    )
    other = record_of(known.folder, "S03").participant_code
    known = replace(
        known,
        decisions=decisions,
        minors=frozenset({other.casefold()}),
        claims={"": {"student_id": "S01", "participant_id": "S02"}},
    )
    data = filled_sheet(known.folder, "S01", {"participant_today": other})
    sent = pickle.dumps(reader(known))
    attempt = pickle.loads(sent)(("a.xlsx", data))
    assert repr(pickle.loads(pickle.dumps(attempt))) == repr(attempt_of_bytes(data, "a.xlsx", known))
    assert {"entry-corrected", "procedure-minor-today"} <= {finding.code for finding in attempt.findings}
    assert attempt.entries["mass_kg"] == 66.5
    assert b"Well done." not in sent


def test_a_reader_is_small_however_many_sheets_were_handed_out(known: OnRecord) -> None:
    assert len(pickle.dumps(reader(known))) < 1_000


def test_a_record_that_changed_meanwhile_is_an_error_and_no_fault_of_a_file(known: OnRecord) -> None:
    assert known.folder is not None
    files = [(one.label, one.read()) for one in files_of(known)]
    stale = reader(known)
    keep.save_records(known.folder, {})
    with pytest.raises(FolderError, match="another record than a moment ago"):
        stale(files[0])
    with ThreadPoolExecutor(1) as threads, pytest.raises(FolderError, match="another record"):
        list(pool.mapped(stale, files, 4, threads, examine_file._stopped))


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


SHEET = sheet_of()

MINORS = ("p-9q22",)

# entries, cells of the findings
CASES: tuple[tuple[dict[str, str | float | None], list[str]], ...] = (
    ({"participant_today": "P-9Q22", "reading_1_chest": 12.0}, ["C5"]),
    ({"participant_today": "p-9q22 ", "reading_2_abdominal": 12.0, "reading_1_thigh": 20.0}, ["C9"]),
    ({"participant_today": "P-9Q22", "reading_1_triceps": 12.0}, []),
    ({"participant_today": "P-7777", "reading_1_chest": 12.0}, []),
    ({"reading_1_chest": 12.0}, []),
)


def _stored(entries: dict[str, Value], sheet: Sheet = SHEET) -> dict[str, Value]:
    """What a spreadsheet program works out from the entries as they stand."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    results = recalculate(protocol, settings, entries)
    ready = "yes" if is_ready(protocol, settings, entries, results) else "no"
    live = {**live_values(results), "ready": ready}
    return {name: live[name] for name in live_names(protocol)}


def _examined(state: Snapshot) -> tuple[Examination, list[tuple[str, str, str]]]:
    examination = examined(SHEET.issued, state)
    return examination, [(finding.code, finding.tab, finding.cell) for finding in examination.findings]


def test_sheet_filled_and_recalculated() -> None:
    examination, findings = _examined(sheet_returned(WOMAN, _stored(WOMAN)))
    assert examination.entries == WOMAN
    assert examination.results.sum_mm == 118.5
    assert findings == [
        ("procedure-zero-differs", "Start", "B10"),
        ("procedure-measure-again", "Readings", "E9"),
        ("procedure-third-not-needed", "Readings", "E10"),
    ]


def test_number_typed_as_text_counts_as_meant_and_is_compared_as_seen() -> None:
    """The sheet could not use it, so it stored no sum; the result returned has one."""
    entries = {**WOMAN, "reading_1_chest": "10,0"}
    examination, findings = _examined(sheet_returned(entries, _stored(entries)))
    assert examination.results.sum_mm == 118.5
    assert ("entry-number-as-text", "Readings", "C5") in findings
    assert "sheet-result-differs" not in {code for code, _, _ in findings}


def test_cut_of_one_entry_onto_another_is_reported_and_nothing_is_invented() -> None:
    """C5 was cut onto C6: the names went along, the cell it came from is empty and locked."""
    state = sheet_returned(WOMAN)
    readings = with_cell(next(tab for tab in state.tabs if tab.title == "Readings"), 5, 2, value=10.0)
    readings = with_cell(readings, 4, 2, value=None, locked=True, has_rule=False)
    names = {**state.names, "reading_1_chest": "Readings!$C$6", "reading_1_midaxillary": "Readings!#REF!"}
    state = replace(with_tab(state, "Readings", cells=readings.cells), names=names)
    examination, findings = _examined(state)
    assert "reading_1_chest" not in examination.entries
    assert examination.entries["reading_1_midaxillary"] == 10.0
    assert examination.results.sum_mm is None
    assert [(code, cell) for code, _, cell in findings if code.startswith("sheet-")] == [
        ("sheet-damaged-by-cut", "C5, C6"),
        ("sheet-entry-locked", "C5"),
        ("sheet-rules-lost", "C5"),
        ("sheet-not-recalculated", ""),
    ]
    assert ("entry-missing", "Readings", "C5") in findings


# participant typed, whether it is somebody else
PARTICIPANTS: tuple[tuple[Value, bool], ...] = (
    (None, False),
    ("P-2A3B", False),
    (" p-2a3b ", False),
    ("P-9Z9Z", True),
    (7, True),
)


@pytest.mark.parametrize(("typed", "other"), PARTICIPANTS)
def test_participant_of_the_day(typed: Value, other: bool) -> None:
    entries = {**WOMAN, "participant_today": typed}
    _, findings = _examined(sheet_returned(entries, _stored(entries)))
    assert (("identity-other-participant", "Start", "B16") in findings) == other


def test_sheet_for_adults_with_an_age_of_17_takes_no_trunk_value() -> None:
    entries = {**WOMAN, "age_years": 17}
    examination, findings = _examined(sheet_returned(entries, _stored(entries)))
    assert (examination.results.sum_mm, examination.results.estimate_state) == (None, "under-18")
    assert [cell for code, _, cell in findings if code == "procedure-trunk-under-18"] == [
        "C5",
        "C6",
        "C8",
        "C9",
        "C10",
    ]
    assert {code for code, _, _ in findings} == {"procedure-zero-differs", "procedure-trunk-under-18"}


def test_sheet_of_a_sixteen_year_old_filled_and_recalculated() -> None:
    sheet = sheet_of(settings_with(under_18=True))
    names = ("cautions_confirmed", "data_source", "caliper_id", "side", "length_upper_arm_cm")
    entries: dict[str, Value] = {
        **{name: WOMAN[name] for name in names},
        "zero_mm": 0,
        "length_thigh_cm": 45.5,
        **{f"reading_{number}_{site}": 14.5 for number in (1, 2) for site in ("triceps", "thigh")},
    }
    examination = examined(sheet.issued, sheet_returned(entries, _stored(entries, sheet), sheet))
    assert examination.findings == ()
    assert examination.entries == entries
    results = examination.results
    assert (results.sum_mm, results.fat_percent, results.estimate_state) == (29.0, None, "under-18")


def test_sheet_without_its_hidden_tab_is_still_worked_out() -> None:
    state = sheet_returned(WOMAN)
    examination, findings = _examined(replace(state, tabs=state.tabs[:-1]))
    assert examination.results.sum_mm == 118.5
    assert ("sheet-tab-missing", "Calculator", "") in findings


def test_sheet_handed_in_as_it_was_handed_out() -> None:
    examination, findings = _examined(untouched())
    assert examination.results.estimate_state == "sum-missing"
    assert {code for code, _, _ in findings} == {"entry-nothing-typed"}
    assert len(findings) == 1


@pytest.mark.parametrize(("entries", "cells"), CASES)
def test_minor_today(entries: dict[str, str | float | None], cells: list[str]) -> None:
    findings = minor_today_findings(SHEET.issued, entries, MINORS)
    shown = {
        "C5": "Chest of P-9Q22, who counts as under 18",
        "C9": "Abdominal of P-9Q22, who counts as under 18",
    }
    assert list(said(findings)) == [
        Worded("procedure-minor-today", "", shown[cell], "limb sites only", "", "Readings", cell)
        for cell in cells
    ]
