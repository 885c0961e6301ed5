"""The sample of what a platform hands over: what happens to each of its entries, and why."""

import csv
import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from zipfile import ZipFile

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.read import ReadSummary, read_returned
from tests.wording import in_english

ROOT = Path(__file__).resolve().parents[1]
DAY = "2026-11-20"


def maker() -> ModuleType:
    """samples/bundle.py; samples are scripts, not a package."""
    spec = importlib.util.spec_from_file_location("sample_bundle", ROOT / "samples" / "bundle.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["sample_bundle"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> ClassFolder:
    """The sample class with everything taken in and read once."""
    root = tmp_path_factory.mktemp("sample bundle")
    made = maker()
    folder, last_term = made.make_classes(root)
    downloads = root / "downloads"
    downloads.mkdir()
    for name, data in made.downloads_of(folder, last_term).items():
        (downloads / name).write_bytes(data)
    assert isinstance(folder, ClassFolder)
    return folder


@pytest.fixture(scope="module")
def summary(folder: ClassFolder) -> ReadSummary:
    return read_returned(folder, 1, [folder.root.parent / "downloads"], today=DAY)


PLATFORM, FOLDERS, MAIL = "platform download.zip", "folders.zip", "mail attachments.zip"
LONG = f"The sheet of Gideon about his partner, {'measured again with great care ' * 6}final.xlsx"
NESTED = "nested.zip/level 5.zip/level 4.zip/level 3.zip/level 2.zip"

# entry, what became of it (status), the code that says so, or nothing where there is nothing to say
EXPECTED: tuple[tuple[str, str, str], ...] = (
    # a flat zip with prefixed names
    (f"{PLATFORM}/L01_4711_file_sheet.xlsx", "accepted", ""),
    # attempts: by number, by time in the name, by what the file says of itself, the newer one not complete
    (f"{PLATFORM}/L02_attempt_1_sheet.xlsx", "superseded", "identity-newer-counts"),
    (f"{PLATFORM}/L02_attempt_2_sheet.xlsx", "accepted", ""),
    (f"{PLATFORM}/L03_2026-11-13-09-05-00_sheet.xlsx", "superseded", "identity-newer-counts"),
    (f"{PLATFORM}/L03_2026-11-14-09-05-00_sheet.xlsx", "accepted", ""),
    (f"{PLATFORM}/L04 sheet.xlsx", "accepted", ""),
    (f"{PLATFORM}/L04 sheet again.xlsx", "superseded", "identity-newer-counts"),
    (f"{PLATFORM}/L05 sheet.xlsx", "superseded", "identity-newer-counts"),
    (f"{PLATFORM}/L05 the other one.xlsx", "accepted", ""),
    (f"{PLATFORM}/last term.xlsx", "refused", "file-other-class"),
    (f"{PLATFORM}/L18 half.xlsx", "refused", "file-truncated"),
    (f"{PLATFORM}/L19 empty.xlsx", "refused", "file-empty"),
    (f"{PLATFORM}/../../L06 climbs.xlsx", "accepted", "file-name-climbs"),
    (f"{PLATFORM}/link.xlsx", "refused", "file-shortcut"),
    # a folder a person, names that trouble some systems, zips in zips
    (f"{FOLDERS}/L07/{LONG}", "accepted", ""),
    (f"{FOLDERS}/L08/גיליון של מדידות.xlsx", "accepted", ""),
    (f"{FOLDERS}/L09/Fäden und Größen, Łódź.xlsx", "accepted", ""),
    (f"{FOLDERS}/L10/aux.xlsx", "accepted", ""),
    (f"{FOLDERS}/L11/CON/sheet.xlsx. . .", "accepted", ""),
    (f"{FOLDERS}/L12/handed in.zip/again.zip/my work/L12.xlsx", "accepted", ""),
    (f"{FOLDERS}/L13/sheet.xlsx", "superseded", "identity-newer-counts"),
    (f"{FOLDERS}/L13/copy of the sheet.xlsx", "accepted", ""),
    # nothing tells which of the two is the newer one
    (f"{FOLDERS}/L20/two of one.xlsx", "refused", "identity-copy-twice"),
    (f"{FOLDERS}/L20/one of two.xlsx", "refused", "identity-copy-twice"),
    # wrong formats
    (f"{MAIL}/sheet.xls", "refused", "file-old-format"),
    (f"{MAIL}/sheet.csv", "refused", "file-csv"),
    (f"{MAIL}/sheet.pdf", "refused", "file-pdf"),
    (f"{MAIL}/my sheet.numbers", "refused", "file-own-format"),
    (f"{MAIL}/old sheet.numbers", "refused", "file-own-format"),
    (f"{MAIL}/photo of the screen.png", "refused", "file-picture"),
    (f"{MAIL}/sheet.gsheet", "refused", "file-shortcut"),
    (f"{MAIL}/sheet.url", "refused", "file-shortcut"),
    (f"{MAIL}/locked sheet.xlsx", "refused", "file-encrypted"),
    # loose files; told by their contents, whatever they are called
    ("L14 (1).xlsx", "accepted", ""),
    ("L14.xlsx", "superseded", ""),
    ("sheet of L15.zip", "accepted", ""),
    ("bundle named.xlsx/inside/L16.xlsx", "accepted", ""),
    ("L21.ods", "accepted", "sheet-saved-as-ods"),
    # zips that are not opened
    ("locked.zip", "refused", "file-bundle-locked"),
    ("broken.zip", "refused", "file-bundle-damaged"),
    ("swollen.zip/L23.xlsx", "refused", "file-too-large"),
    (NESTED, "refused", "file-bundle-too-large"),
)

# Passed over, without a word but counted.
PASSED_OVER = (
    "platform download.zip/L01_4711_onlinetext.html",
    "platform download.zip/L01_4711_comment.txt",
    "platform download.zip/index.json",
    "platform download.zip/empty",
    "platform download.zip/Thumbs.db",
    "folders.zip/__MACOSX/L07/._sheet.xlsx",
    "folders.zip/L07/.DS_Store",
    "only notes.zip/notes/readme.txt",
    "only notes.zip/.DS_Store",
    "desktop.ini",
    "~$L14.xlsx",
    ".~lock.L14.xlsx#",
)


@pytest.mark.parametrize(("entry", "status", "code"), EXPECTED)
def test_what_happened_to_each_entry(summary: ReadSummary, entry: str, status: str, code: str) -> None:
    (attempt,) = (one for one in summary.attempts if one.came_as == entry)
    assert attempt.status == status, attempt.findings
    codes = [finding.code for finding in attempt.findings]
    assert code in codes if code else not any(one.startswith(("file-", "identity-")) for one in codes)


def test_every_entry_is_told_of_and_no_other(summary: ReadSummary) -> None:
    assert sorted(one.came_as for one in summary.attempts) == sorted(entry for entry, _, _ in EXPECTED)
    assert summary.passed_over == len(PASSED_OVER)
    assert len(EXPECTED) + len(PASSED_OVER) >= 40


def test_the_entries_passed_over_are_in_the_bundle(folder: ClassFolder, summary: ReadSummary) -> None:
    assert sorted(set(PASSED_OVER) - set(_names(folder.returned(1)))) == []


def test_nothing_that_came_back_is_changed_or_unpacked(folder: ClassFolder, summary: ReadSummary) -> None:
    downloads = folder.root.parent / "downloads"
    came = {path.name: path.read_bytes() for path in downloads.iterdir()}
    assert {path.name: path.read_bytes() for path in folder.returned(1).rglob("*")} == came
    assert not (folder.root.parent / "L06 climbs.xlsx").exists()


# of a superseded file: which counts, and why
REASONS = (
    (EXPECTED[1][0], EXPECTED[2][0], "its name says number 2, and that of this one 1"),
    (
        EXPECTED[3][0],
        EXPECTED[4][0],
        "its name says 2026-11-14 09:05:00, and that of this one 2026-11-13 09:05:00",
    ),
    (EXPECTED[6][0], EXPECTED[5][0], "it is complete, and this one is not"),
    (
        EXPECTED[7][0],
        EXPECTED[8][0],
        "it says that it was last saved on 2026-11-13 21:40:00, and this one on 2026-11-13 20:15:00",
    ),
    (
        EXPECTED[20][0],
        EXPECTED[21][0],
        "it was last changed on 2026-11-15 18:30, and this one on 2026-11-14 10:00",
    ),
)


@pytest.mark.parametrize(("older", "newer", "reason"), REASONS)
def test_why_another_file_counts_is_said_in_words(
    summary: ReadSummary, older: str, newer: str, reason: str
) -> None:
    attempt, counts = (
        next(one for one in summary.attempts if one.came_as == entry) for entry in (older, newer)
    )
    assert [one.found for one in in_english(attempt.findings) if one.code == "identity-newer-counts"] == [
        f"{counts.file} counts: {reason}"
    ]


def test_the_class_beside_is_named(summary: ReadSummary) -> None:
    (attempt,) = (one for one in summary.attempts if one.came_as.endswith("last term.xlsx"))
    assert "(the class in the folder last-term)" in in_english(attempt.findings)[0].found


def test_feedback_goes_back_under_names_that_every_system_takes(
    folder: ClassFolder, summary: ReadSummary
) -> None:
    with ZipFile(folder.feedback_zip(1)) as archive:
        names = set(archive.namelist())
    assert {
        "L01_4711_file_sheet.xlsx",
        "L06 climbs.xlsx",
        f"L07/{LONG}",
        "L08/גיליון של מדידות.xlsx",
        "L09/Fäden und Größen, Łódź.xlsx",
        "L10/_aux.xlsx",
        "L11/_CON/sheet.xlsx",
        "L12/handed in.zip/again.zip/my work/L12.xlsx",
        "L14 (1).xlsx",
        "sheet of L15.zip.xlsx",
        "L21.ods.xlsx",
    } <= names
    accepted = sum(one.status == "accepted" for one in summary.attempts)
    # A page for each sheet, and an answer to each file that cannot be used, but for whole bundles.
    answers = {name for name in names if name.startswith(("L18", "L19", "L20", "L23"))}
    answers |= {"last term.xlsx", "link.xlsx", "locked sheet.xlsx", "photo of the screen.png.xlsx"}
    answers |= {f"{name}.numbers.xlsx" for name in ("my sheet", "old sheet")}
    answers |= {f"sheet.{ending}.xlsx" for ending in ("csv", "gsheet", "pdf", "url", "xls")}
    assert answers <= names
    assert (accepted, len(answers), len(names)) == (17, 16, 33)


def test_who_is_missing_is_ready_to_paste(folder: ClassFolder, summary: ReadSummary) -> None:
    assert [one.record.student_id for one in summary.missing] == [
        "L17",
        "L18",
        "L19",
        "L20",
        "L22",
        "L23",
        "L24",
    ]
    text = folder.missing(1).read_text(encoding="utf-8")
    assert "\nQuynh Lagoon (L17)" in text
    assert summary.message == str(folder.missing(1))


def test_reading_again_gives_the_same_tables(folder: ClassFolder, summary: ReadSummary) -> None:
    before = {path: path.read_bytes() for path in folder.results(1).glob("*.csv")}
    again = read_returned(folder, 1, [folder.root.parent / "downloads"], today="2026-11-21")
    assert again.attempts == summary.attempts
    assert {path: path.read_bytes() for path in folder.results(1).glob("*.csv")} == before
    with folder.attempts(1).open(encoding="utf-8", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == len(EXPECTED)


def _names(root: Path) -> Iterator[str]:
    for path in root.iterdir():
        yield path.name
        if path.suffix == ".zip" and path.name not in ("broken.zip", "locked.zip"):
            with ZipFile(path) as archive:
                yield from (f"{path.name}/{name}" for name in archive.namelist())
