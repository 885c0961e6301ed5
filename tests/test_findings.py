"""Every finding: a sample that provokes it, a line in the catalogue, a place in the sources that makes it."""

import io
import os
import re
import zipfile
from collections.abc import Callable, Mapping
from functools import cache, partial
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace

from sheetgen.class_folder.decisions import Decision
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import sample_entries
from sheetgen.commands.read import read_returned
from sheetgen.finding import Finding, Refusal
from sheetgen.protocols.recalculation import stored_results
from sheetgen.returned.corrections import corrected_entries
from sheetgen.returned.one_file import examined, minor_today_findings
from sheetgen.returned.whose import OnRecord, on_record
from sheetgen.review.rows import Reviewed
from sheetgen.review.taking_over import harvest_review, redraw_review
from sheetgen.statistics.analysis import class_findings
from sheetgen.texts.findings import load_catalogue, template_of
from sheetgen.texts.languages import languages, texts_in
from sheetgen.workbook.layout import Cell, Tab, Value
from sheetgen.workbook.packages import filled, with_parts_changed
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests import reviews, zips
from tests.class_samples import CLASSES
from tests.classes import (
    attempt_of,
    attempts_in,
    built_class,
    changed_setting,
    filled_sheet,
    record_of,
    returned,
    run,
    with_text_replaced,
)
from tests.sheets import CALIPERS, sheet_of

ROOT = Path(__file__).resolve().parents[1]
CODE = re.compile(r'"((?:file|identity|sheet|entry|procedure|working|class)-[a-z0-9-]+)"')
PLACE = re.compile(r"\{([a-z_0-9]*)\}")

Codes = list[str]
Ran = Callable[[str], tuple[Codes, list[Finding]]]


def sheet_entries() -> dict[str, Value]:
    sheet = sheet_of()
    sample = sample_entries(sheet.source.protocol, sheet.source.settings, CALIPERS[0], "findings")
    return {**sample, "caliper_id": "C1", "data_source": "measured", "side": "right"}


def returned_state(
    change: Mapping[str, Value] | None = None, stored: Mapping[str, Value] | None = None
) -> Snapshot:
    """The Snapshot of a sheet that was filled in well, then some of it otherwise."""
    sheet = sheet_of()
    entries = {**sheet_entries(), **(change or {})}
    results = stored_results(sheet.source.protocol, sheet.source.settings, entries)
    package = read_package_bytes(filled(sheet.data, sheet.layout, entries, {**results, **(stored or {})}))
    assert not isinstance(package, Refusal)
    state = snapshot(package)
    assert not isinstance(state, Refusal)
    return state


@cache
def untouched() -> Snapshot:
    """A sheet that was filled in well."""
    return returned_state()


def codes_of(state: Snapshot) -> Codes:
    return [finding.code for finding in examined(sheet_of().issued, state).findings]


# One returned file each: code, bytes from a class folder that holds four built sheets.


def zipped(*names: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name in names:
            archive.writestr(name, b"")
    return stream.getvalue()


def compound(stream: str) -> bytes:
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504 + stream.encode("utf-16-le")


def with_entry(data: bytes, name: str, content: bytes) -> bytes:
    stream = io.BytesIO(data)
    with zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return stream.getvalue()


def plain_workbook(_: ClassFolder) -> bytes:
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    return stream.getvalue()


def of_another_class(folder: ClassFolder) -> bytes:
    other = built_class(folder.root.with_name("other"), secret="0b" * 32)
    return filled_sheet(other, "S01")


def with_two_codes(folder: ClassFolder) -> bytes:
    def inline(part: bytes) -> bytes:
        text = b'<c r="B1" t="inlineStr"><is><t>Sheet 2345-6789</t></is></c>'
        return re.sub(rb'<c r="B1"(?: s="\d+")? t="s"><v>\d+</v></c>', text, part)

    return with_parts_changed(filled_sheet(folder, "S01"), {"xl/worksheets/sheet2.xml": inline})


def good(folder: ClassFolder) -> bytes:
    return filled_sheet(folder, "S01")


def not_well_formed(folder: ClassFolder) -> bytes:
    return with_parts_changed(good(folder), {"xl/workbook.xml": lambda _: b"<workbook"})


def of_content_type(folder: ClassFolder, kind: bytes) -> bytes:
    """The sheet as a program saves it that is asked for another kind of workbook."""
    plain = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    return with_parts_changed(
        good(folder), {"[Content_Types].xml": lambda part: part.replace(plain, b"application/" + kind)}
    )


def copy_code(folder: ClassFolder) -> str:
    return record_of(folder, "S01").copy_code


FILES: dict[str, Callable[[ClassFolder], bytes]] = {
    "file-empty": lambda _: b"",
    "file-encrypted": lambda _: compound("EncryptedPackage"),
    "file-old-format": lambda _: compound("Workbook"),
    "file-xml-spreadsheet": lambda _: b'<?mso-application progid="Excel.Sheet"?><Workbook/>',
    "file-binary-workbook": lambda _: zipped("[Content_Types].xml", "_rels/.rels", "xl/workbook.bin"),
    "file-own-format": lambda _: zipped("Index/Document.iwa", "Index/CalculationEngine.iwa"),
    "file-web-table": lambda _: b"<html><body><table><tr><td>12.4</td></tr></table></body></html>",
    "file-web-page": lambda _: b"<!DOCTYPE html><html><head><title>Sign in</title></head></html>",
    "file-csv": lambda _: b"Site,Round 1,Round 2\nchest,12.4,12.6\n",
    "file-text": lambda _: b"see the other file",
    "file-pdf": lambda _: b"%PDF-1.7",
    "file-picture": lambda _: b"\xff\xd8\xff\xe0\x00\x10JFIF",
    "file-recording": lambda _: b"\x00\x00\x00\x18ftypisom",
    "file-shortcut": lambda _: b'{"doc_id": "1a", "resource_key": "", "email": "s01@lighthouse.example"}',
    "file-document": lambda _: zipped("[Content_Types].xml", "_rels/.rels", "word/document.xml"),
    "file-slides": lambda _: zipped("[Content_Types].xml", "_rels/.rels", "ppt/presentation.xml"),
    "file-mail": lambda _: b"From: s01@lighthouse.example\nSubject: my sheet\nDate: today\n\nhere it is",
    "file-archive": lambda _: b"Rar!\x1a\x07\x01\x00",
    "file-not-a-workbook": lambda _: b"\x01\x02\x03\x04",
    "file-truncated": lambda folder: good(folder)[:-2000],
    "file-too-large": lambda folder: with_entry(good(folder), "xl/worksheets/sheet9.xml", b" " * 3_000_000),
    "file-unsafe": lambda folder: with_entry(good(folder), "../climbs.xml", b"<a/>"),
    "file-unreadable": not_well_formed,
    "file-not-a-sheet": plain_workbook,
    "file-other-class": of_another_class,
    "file-foreign-content": lambda folder: with_entry(good(folder), "xl/vbaProject.bin", b"macros"),
    "file-macro-workbook": lambda folder: of_content_type(
        folder, b"vnd.ms-excel.sheet.macroEnabled.main+xml"
    ),
    "file-template": lambda folder: of_content_type(
        folder, b"vnd.openxmlformats-officedocument.spreadsheetml.template.main+xml"
    ),
    "identity-unknown-copy": lambda folder: with_text_replaced(good(folder), copy_code(folder), "2345-6789"),
    "identity-two-codes": with_two_codes,
    "identity-changed": lambda folder: with_text_replaced(good(folder), "S01", "S02"),
}  # fmt: skip

UNKNOWN: dict[str, Callable[[ClassFolder], bytes]] = {
    "identity-not-proven": good,
    "file-other-version": lambda folder: with_text_replaced(
        good(folder), '"layout_version":3', '"layout_version":4'
    ),
    "sheet-earlier-form": lambda folder: with_text_replaced(
        good(folder), '"layout_version":3', '"layout_version":2'
    ),
    "file-unknown-protocol": lambda folder: with_text_replaced(good(folder), '"settings":{', '"settings":['),
}


def of_file(data: Callable[[ClassFolder], bytes], root: Path, on_its_record: bool = True) -> Codes:
    folder = built_class(root / "class")
    path = returned(folder, "s.xlsx", data(folder))
    record = on_record(folder) if on_its_record else OnRecord(None, "", {})
    return [finding.code for finding in attempt_of(path, "s.xlsx", record).findings]


@pytest.mark.parametrize("code", FILES)
def test_a_file_that_provokes_it(ran: Ran, code: str) -> None:
    assert set(ran(code)[0]) == {code}


@pytest.mark.parametrize("code", UNKNOWN)
def test_a_file_of_which_nothing_is_on_record_provokes_it(ran: Ran, code: str) -> None:
    codes = set(ran(code)[0])
    assert codes - {"identity-not-proven"} == {code} - {"identity-not-proven"}
    assert ("identity-not-proven" in codes) is (code not in NOT_THE_STUDENTS)


# Found by comparing several files or sessions.


def read_twice(folder: ClassFolder) -> None:
    for name, change in (("a.xlsx", {}), ("b.xlsx", {"mass_kg": 71.5})):
        os.utime(returned(folder, name, filled_sheet(folder, "S01", change)), (1_790_000_000,) * 2)


def read_other_session(folder: ClassFolder) -> None:
    data = filled_sheet(folder, "S01")
    build_sheets(folder, 2)
    folder.returned(2).mkdir(parents=True, exist_ok=True)
    (folder.returned(2) / "s.xlsx").write_bytes(data)


def read_late(folder: ClassFolder, setting: str) -> None:
    changed_setting(folder, setting, "2000-01-01")
    returned(folder, "s.xlsx", good(folder))


def read_spare(folder: ClassFolder) -> None:
    data = (folder.spare(1) / record_of(folder, "spare-1").file_name).read_bytes()
    returned(folder, "s.xlsx", filled_sheet(folder, "spare-1", data=data))


def read_untouched(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", (folder.sheets(1) / record_of(folder, "S01").file_name).read_bytes())


def read_less(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", filled_sheet(folder, "S01", {"sex_equation": "sum-only"}))


RUNS: dict[str, tuple[Callable[[ClassFolder], None], int]] = {
    "entry-nothing-typed": (read_untouched, 1),
    "identity-copy-twice": (read_twice, 1),
    "identity-spare-unclaimed": (read_spare, 1),
    "procedure-late": (lambda folder: read_late(folder, "Due date"), 1),
    "procedure-less-measured": (read_less, 1),
    "procedure-after-feedback": (lambda folder: read_late(folder, "Feedback given"), 1),
}


def of_run(prepare: Callable[[ClassFolder], None], session: int, root: Path) -> Codes:
    folder = built_class(root / "class")
    prepare(folder)
    attempts = attempts_in(folder, session)
    assert all(one.findings for one in attempts)
    return [finding.code for one in attempts for finding in one.findings]


@pytest.mark.parametrize("code", RUNS)
def test_a_run_that_provokes_it(ran: Ran, code: str) -> None:
    assert set(ran(code)[0]) == {code}


def of_a_stray(root: Path) -> Codes:
    folder = built_class(root / "class")
    read_other_session(folder)
    summary = read_returned(folder, 2)
    assert summary.attempts == ()
    return [one.finding.code for one in summary.unusable]


STRAYS: dict[str, Callable[[Path], Codes]] = {"file-other-session": of_a_stray}


@pytest.mark.parametrize("code", STRAYS)
def test_a_sheet_in_the_folder_of_another_session_provokes_it(ran: Ran, code: str) -> None:
    assert ran(code)[0] == [code]


# Found in a bundle, or of one of several files: one run in which nothing else is found.


def read_newer(folder: ClassFolder) -> None:
    returned(folder, "s.xlsx", filled_sheet(folder, "S01"))
    returned(folder, "s (1).xlsx", filled_sheet(folder, "S01", {"mass_kg": 71.5}))


def read_bundle(data: bytes) -> Callable[[ClassFolder], None]:
    return lambda folder: returned(folder, "b.zip", data) and None


BUNDLES: dict[str, Callable[[ClassFolder], None]] = {
    "identity-newer-counts": read_newer,
    "file-bundle-locked": read_bundle(zips.locked(zips.zip_of({"s.xlsx": b"x"}))),
    "file-bundle-damaged": read_bundle(zips.zip_of({"s.xlsx": b"x" * 99})[:-40]),
    "file-bundle-too-large": read_bundle(zips.nested(b"x", 5)),
    "file-name-climbs": lambda folder: read_bundle(zips.zip_of({"../s.xlsx": good(folder)}))(folder),
}


def of_bundle(bundle: Callable[[ClassFolder], None], root: Path) -> Codes:
    folder = built_class(root / "class")
    bundle(folder)
    return [finding.code for one in attempts_in(folder) for finding in one.findings]


@pytest.mark.parametrize("code", BUNDLES)
def test_a_bundle_that_provokes_it(ran: Ran, code: str) -> None:
    assert ran(code)[0] == [code]


# Entries that provoke it, in a sheet that is otherwise filled in well; None: left empty.
ENTRIES: dict[str, Mapping[str, Value]] = {
    "entry-missing": {"age_years": None},
    "entry-number-as-text": {"mass_kg": "61,5 kg"},
    "entry-not-a-number": {"mass_kg": "sixty"},
    "entry-other-unit": {"mass_kg": "154 mm"},
    "working-not-a-number": {"own_sum_mm": "twelve"},
    "entry-unknown-word": {"side": "middle"},
    "entry-not-taken-with-readings": {"not_taken_chest": "skin"},
    "entry-out-of-range": {"mass_kg": 5000},
    "entry-not-above-zero": {"zero_mm": 0, "reading_1_chest": 0, "reading_2_chest": 0},
    "entry-beyond-opening": {"reading_1_chest": 61, "reading_2_chest": 60, "reading_3_chest": None},
    "entry-off-scale": {"reading_1_chest": 10.3, "reading_2_chest": 10.5, "reading_3_chest": None},
    "procedure-third-missing": {"reading_1_chest": 10, "reading_2_chest": 14, "reading_3_chest": None},
    "procedure-trunk-under-18": {"age_years": 17},
    "procedure-third-not-needed": {"reading_1_chest": 10, "reading_2_chest": 10, "reading_3_chest": 10},
    "procedure-measure-again": {"reading_1_chest": 10, "reading_2_chest": 14, "reading_3_chest": 18},
    "procedure-round-2-without-round-1": {"reading_1_chest": None, "reading_3_chest": None},
    "procedure-other-caliper": {"caliper_id": "C2", "zero_mm": -0.4},
    "procedure-zero-differs": {"zero_mm": 0.5},
    "procedure-change-incomplete": {"caliper_id_2": "C2"},
    "identity-other-participant": {"participant_today": "P-GUEST"},
}
# What comes with it, since one fault can be two facts.
BESIDE = {
    "entry-not-above-zero": {"entry-not-above-zero"},
    "procedure-round-2-without-round-1": {"entry-missing"},
    "procedure-other-caliper": {"entry-off-scale"},
}


@pytest.mark.parametrize("code", ENTRIES)
def test_entries_that_provoke_it(ran: Ran, code: str) -> None:
    found = set(ran(code)[0])
    assert code in found
    assert found - {code} <= BESIDE.get(code, set())


# A Snapshot that provokes it: something of a sheet that came back, done by hand or by a program.


def tab_of(key: str) -> Tab:
    return sheet_of().layout.tab(key)


def first(key: str, role: str, named: bool | None = None) -> Cell:
    """The first cell of a role that holds something, on a tab of the usual sheet."""
    return next(
        cell
        for cell in tab_of(key).cells
        if cell.role == role
        and named in (None, cell.named)
        and (role != "label" or cell.value not in (None, ""))
    )


def with_tab(state: Snapshot, key: str, **changes: object) -> Snapshot:
    title = tab_of(key).title
    tabs = tuple(
        replace(tab, **changes) if tab.title == title else tab  # type: ignore[arg-type]
        for tab in state.tabs
    )
    return replace(state, tabs=tabs)


def with_cell(state: Snapshot, key: str, row: int, column: int, **changes: object) -> Snapshot:
    (tab,) = (tab for tab in state.tabs if tab.title == tab_of(key).title)
    cell = replace(tab.cells.get((row, column), CellState()), **changes)  # type: ignore[arg-type]
    return with_tab(state, key, cells={**tab.cells, (row, column): cell})


def with_entry_cell(state: Snapshot, name: str, **changes: object) -> Snapshot:
    key, row, column = sheet_of().layout.places()[name]
    return with_cell(state, key, row, column, **changes)


def formula_changed(state: Snapshot) -> Snapshot:
    cell = first("results", "formula")
    return with_cell(state, "results", cell.row, cell.column, formula=cell.formula + "*2")


def formula_replaced(state: Snapshot) -> Snapshot:
    cell = first("results", "formula")
    return with_cell(state, "results", cell.row, cell.column, formula="", value=17.5)


def label_changed(state: Snapshot) -> Snapshot:
    cell = first("sites", "label")
    return with_cell(state, "sites", cell.row, cell.column, value="Other words")


def name_moved(state: Snapshot, name: str) -> Snapshot:
    return replace(state, names={**state.names, name: "Readings!$A$1"})


def without_rules(state: Snapshot) -> Snapshot:
    for cell in tab_of("readings").cells:
        if cell.role == "entry":
            state = with_cell(state, "readings", cell.row, cell.column, has_rule=False)
    return state


def rules_that_only_warn(state: Snapshot) -> Snapshot:
    title = tab_of("readings").title
    (tab,) = (tab for tab in state.tabs if tab.title == title)
    rules = {place: replace(rule, stops=False) for place, rule in tab.rules.items()}
    return with_tab(state, "readings", rules=rules)


def without_results(state: Snapshot) -> Snapshot:
    for cell in tab_of("calculator").cells:
        if cell.role == "formula":
            state = with_cell(state, "calculator", cell.row, cell.column, value=None)
    return state


def without_tab(state: Snapshot, key: str) -> Snapshot:
    return replace(state, tabs=tuple(tab for tab in state.tabs if tab.title != tab_of(key).title))


def one_more_tab(state: Snapshot) -> Snapshot:
    return replace(state, tabs=(*state.tabs, TabState("Notes", {}, False, "visible")))


SNAPSHOTS: dict[str, Callable[[Snapshot], Snapshot]] = {
    "sheet-formula-changed": formula_changed,
    "sheet-formula-replaced": formula_replaced,
    "sheet-label-changed": label_changed,
    "sheet-content-added": lambda state: with_cell(state, "sites", 90, 3, value="a note of mine"),
    "sheet-damaged-by-cut": lambda state: name_moved(state, "reading_1_chest"),
    "sheet-entry-locked": lambda state: with_entry_cell(state, "reading_1_chest", locked=True),
    "sheet-name-moved": lambda state: name_moved(state, "sum_mm"),
    "sheet-names-lost": lambda state: replace(state, names={}),
    "sheet-tab-missing": lambda state: without_tab(state, "sites"),
    "sheet-tab-added": one_more_tab,
    "sheet-tab-renamed": lambda state: with_tab(state, "sites", title="Places"),
    "sheet-tab-shown": lambda state: with_tab(state, "calculator", visibility="visible"),
    "sheet-tab-hidden": lambda state: with_tab(state, "sites", visibility="hidden"),
    "sheet-protection-off": lambda state: with_tab(state, "sites", protected=False),
    "sheet-structure-open": lambda state: replace(state, structure_protected=False),
    "sheet-cell-unlocked": lambda state: with_cell(state, "sites", 0, 0, locked=False),
    "sheet-rules-lost": without_rules,
    "sheet-rules-changed": rules_that_only_warn,
    "sheet-saved-as-ods": lambda state: replace(state, formulas_comparable=False),
    "sheet-not-recalculated": without_results,
    "sheet-result-differs": lambda _: returned_state(stored={"sum_mm": 987.5}),
    "entry-not-a-text": lambda state: with_entry_cell(state, "side", value=True),
    "entry-date": lambda state: with_entry_cell(state, "mass_kg", is_date=True),
    "entry-formula": lambda state: with_entry_cell(state, "mass_kg", formula="=30+31"),
    "working-takes-result": lambda state: with_entry_cell(state, "own_sum_mm", formula="=sum_mm"),
    "entry-reading-reference": lambda state: with_entry_cell(state, "reading_2_chest", formula="=B8"),
}


@pytest.mark.parametrize("code", SNAPSHOTS)
def test_a_sheet_that_provokes_it(ran: Ran, code: str) -> None:
    assert set(ran(code)[0]) == {code}


def test_a_sheet_filled_in_well_provokes_nothing() -> None:
    assert codes_of(untouched()) == []


# What a teacher did in the review, and the codes that are said of it.


def corrected(name: str, value: str) -> Codes:
    one = Decision(1, 1, "K1", "correction", name, value, "misread")
    return [finding.code for finding in corrected_entries(sheet_entries(), [one], sheet_of().layout)[1]]


def review_codes(root: Path, tab: str, changes: Mapping[tuple[str, str], Value], sha256: str = "a1") -> Codes:
    """The codes of a review that is drawn, typed into, and read with a file of another digest."""
    return reviewed(root, lambda folder: reviews.typed(folder, tab, changes), sha256)


def reviewed(root: Path, change: Callable[[ClassFolder], object], sha256: str = "a1") -> Codes:
    folder = built_class(root)
    findings: tuple[Finding, ...] = ()
    for digest in ("a1", sha256):
        attempts, marks = [reviews.attempt(1, digest)], {"K1": reviews.marking()}
        findings = redraw_review(
            folder, Reviewed(1, reviews.records(1), attempts, marks), harvest_review(folder, 1)
        )
        if digest == "a1":
            change(folder)
    harvested = harvest_review(folder, 1)
    said = redraw_review(
        folder, Reviewed(1, (), [reviews.attempt(1, sha256)], {"K1": reviews.marking()}), harvested
    )
    return [finding.code for finding in (*findings, *said)]


def cut_off(folder: ClassFolder) -> None:
    folder.review(1).write_bytes(folder.review(1).read_bytes()[:-2000])


def swapped_with_another_class(folder: ClassFolder) -> None:
    other = built_class(folder.root.with_name("other"), secret="0b" * 32)
    redraw_review(other, Reviewed(1, (), [reviews.attempt(1)], {}), harvest_review(other, 1))
    folder.review(1).write_bytes(other.review(1).read_bytes())


def open_elsewhere(folder: ClassFolder) -> None:
    reviews.typed(folder, "Review", {("K1", "Comment"): "well held"})
    folder.review(1).with_name("~$session-1.xlsx").write_bytes(b"")


def journal_torn(folder: ClassFolder) -> None:
    folder.decisions.write_text("7,1,K1,com", encoding="utf-8")


REVIEWS: dict[str, Callable[[Path], Codes]] = {
    "entry-corrected": lambda _: corrected("mass_kg", "61,5"),
    "entry-correction-unusable": lambda _: corrected("mass_kg", "sixty"),
    "file-review-damaged": lambda root: reviewed(root, cut_off),
    "file-review-other-class": lambda root: reviewed(root, swapped_with_another_class),
    "file-review-not-redrawn": lambda root: reviewed(root, open_elsewhere),
    "file-journal-damaged": lambda root: reviewed(root, journal_torn),
    "class-review-unplaced": lambda root: review_codes(root, "Corrections", {("new", "Value"): "61"}),
    "class-review-value": lambda root: review_codes(root, "Review", {("K1", "Adjusted mark"): "good"}),
    "class-review-ground-changed": lambda root: review_codes(
        root, "Review", {("K1", "Adjusted mark"): 41.5}, "b2"
    ),
}


@pytest.mark.parametrize("code", REVIEWS)
def test_a_review_that_provokes_it(ran: Ran, code: str) -> None:
    assert set(ran(code)[0]) == {code}


# A simulated class that provokes it.


@pytest.mark.parametrize("code", CLASSES)
def test_a_class_that_provokes_it(code: str) -> None:
    assert code in {
        finding.code for finding in class_findings(CLASSES[code](), texts_in("en", "findings", "report"))
    }


# The catalogue against samples, sources and pages.

OF_RETURNED_FILES = {code for code in load_catalogue() if not code.startswith("class-book-")}


# Entries that provoke it where the roster has P-9Q22 as under 18.
MINOR_TODAY: dict[str, Mapping[str, Value]] = {
    "procedure-minor-today": {"participant_today": "P-9Q22", "reading_1_chest": 12.0},
}


def of_a_minor(entries: Mapping[str, Value]) -> Codes:
    return [finding.code for finding in minor_today_findings(sheet_of().issued, entries, ["p-9q22"])]


@pytest.mark.parametrize("code", MINOR_TODAY)
def test_a_minor_today_that_provokes_it(ran: Ran, code: str) -> None:
    assert ran(code)[0] == [code]


SAMPLES: dict[str, Callable[[Path], Codes]] = {
    **{code: partial(of_file, data) for code, data in FILES.items()},
    **{code: partial(of_file, data, on_its_record=False) for code, data in UNKNOWN.items()},
    **{code: partial(of_run, *run_of) for code, run_of in RUNS.items()},
    **STRAYS,
    **{code: partial(of_bundle, bundle) for code, bundle in BUNDLES.items()},
    **{code: lambda _, given=given: codes_of(returned_state(given)) for code, given in ENTRIES.items()},
    **{code: lambda _, change=change: codes_of(change(untouched())) for code, change in SNAPSHOTS.items()},
    **{code: lambda root, review=review: review(root / "class") for code, review in REVIEWS.items()},
    **{code: lambda _, given=given: of_a_minor(given) for code, given in MINOR_TODAY.items()},
}


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """The codes that a sample gives, and every finding that is made meanwhile; each is run once."""
    initial = Finding.__init__

    @cache
    def once(code: str) -> tuple[Codes, list[Finding]]:
        made: list[Finding] = []

        def recorded(self: Finding, *arguments: str, **named: str) -> None:
            initial(self, *arguments, **named)
            made.append(self)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Finding, "__init__", recorded)
            return SAMPLES[code](tmp_path_factory.mktemp(code)), made

    return once


def test_every_finding_has_one_sample() -> None:
    kinds = (FILES, UNKNOWN, RUNS, STRAYS, BUNDLES, ENTRIES, SNAPSHOTS, REVIEWS, MINOR_TODAY, CLASSES)
    assert sorted(code for samples in kinds for code in samples) == sorted(OF_RETURNED_FILES)


def test_every_value_that_a_template_names_is_given_by_its_code(ran: Ran) -> None:
    """In every language; a value that no template names would be lost."""
    lost = {}
    made = [finding for code in SAMPLES for finding in ran(code)[1]]
    for language in languages():
        texts = texts_in(language, "findings")
        for finding in made:
            keys = [f"{finding.code}.{part}-{finding.case}" for part in ("found", "expected")]
            named = {name for key in keys for name in PLACE.findall(template_of(key, texts))}
            if not named <= set(finding.values):
                lost[language, finding.code, finding.case] = sorted(named - set(finding.values))
    assert lost == {}


def test_every_fault_of_a_class_book_has_a_test() -> None:
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "tests" / "class_book").glob("test_*.py")]
    tested = {code for text in texts for code in CODE.findall(text)}
    assert sorted(set(load_catalogue()) - OF_RETURNED_FILES - tested) == []


def test_every_code_in_the_sources_is_in_the_catalogue_and_the_other_way_round() -> None:
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "sheetgen").rglob("*.py")]
    # The class book is a workbook of that name, no finding.
    used = {code for text in texts for code in CODE.findall(text)} - {"class-book"}
    assert sorted(used) == sorted(load_catalogue())


def test_every_finding_has_a_page() -> None:
    for code, kind in load_catalogue().items():
        page = run("explain", code).stdout
        assert kind.means in page
        assert kind.remedy in page
        for sentence in (kind.means, kind.remedy):
            assert sentence[0].isupper() or sentence[0] == "`"
            assert sentence.removesuffix('"').endswith(".")


# The teacher's to put right, not the student's.
NOT_THE_STUDENTS = {"file-unknown-protocol", "file-other-version"}


@pytest.mark.parametrize("code", sorted(code for code in {*FILES, *STRAYS} if code.startswith("file-")))
def test_every_refused_file_has_a_ready_answer_to_the_student(code: str) -> None:
    """In the second person, asking for something, and naming no program."""
    kind = load_catalogue()[code]
    if kind.severity == "error" and code not in NOT_THE_STUDENTS:
        answer = re.search(r'nswer the student: "(Your [^"]+\.)"$', kind.remedy)
        assert answer is not None
        assert "lease " in answer[1]
