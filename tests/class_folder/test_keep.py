"""Other classes beside a class folder, known by the code that their secret makes."""

import re
import stat
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from sheetgen.class_book.tabs import class_book_layout, default_settings
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.keep import class_code, class_folder_beside, first_seen
from sheetgen.class_folder.records import CopyRecord, Person
from sheetgen.errors import FolderError
from sheetgen.protocols.loading import find_protocol
from sheetgen.sheet.student import student_layout
from sheetgen.texts.languages import load_texts
from sheetgen.workbook.layout import Cell, Layout, Tab
from tests.class_books import default_class_book

SECRET = "0123456789abcdef" * 4
RECORD = CopyRecord(
    "ABCD-2345", 1, "s01", "s02", "P-2345", "C1", "0" * 16, "a.xlsx", "f" * 64,
    {"copy_code": "ABCD-2345", "caliper_zero_mm": -0.5, "reading_1": None},
)  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    return ClassFolder(tmp_path)


def test_make_secret_once(folder: ClassFolder) -> None:
    assert keep.load_secret(folder) is None
    secret = keep.make_secret(folder)
    assert re.fullmatch("[0-9a-f]{64}", secret)
    assert keep.make_secret(folder) == secret == keep.load_secret(folder)
    if sys.platform != "win32":
        assert stat.S_IMODE(folder.secret.stat().st_mode) == 0o600


def test_a_secret_differs_each_time(tmp_path: Path) -> None:
    assert keep.make_secret(ClassFolder(tmp_path / "a")) != keep.make_secret(ClassFolder(tmp_path / "b"))


@pytest.mark.parametrize("text", ["", "secret", "0" * 63, "é" * 64])
def test_load_secret_of_something_else(folder: ClassFolder, text: str) -> None:
    folder.keep.mkdir()
    folder.secret.write_text(text, encoding="utf-8")
    with pytest.raises(FolderError, match="expected 64 hexadecimal digits"):
        keep.make_secret(folder)


def test_codes_stay_as_they_were_handed_out() -> None:
    """A regression value: another code would belong to nobody on record."""
    assert keep.class_code(SECRET) == "W4K9Z9"
    assert keep.copy_code(SECRET, "s01", "s02", 1) == "6DX3-7F2Y"
    assert keep.participant_code(SECRET, "s01") == "P-66YQ"


def test_codes_have_their_shape_and_spell_no_word() -> None:
    signs = f"[{keep.ALPHABET}]"
    for number in range(300):
        code = keep.copy_code(SECRET, f"s{number}", "s02", 1)
        assert re.fullmatch(f"{signs}{{4}}-{signs}{{4}}", code)
        person = keep.participant_code(SECRET, f"s{number}")
        assert re.fullmatch(f"P-{signs}{{4}}", person)
        assert not re.search("[A-Z]{3}", f"{person} {code}")
    assert re.fullmatch(f"{signs}{{6}}", keep.class_code(SECRET))


def test_copy_code_differs_by_everything_it_belongs_to() -> None:
    codes = [
        keep.copy_code(SECRET, "s01", "s02", 1),
        keep.copy_code(SECRET, "s02", "s01", 1),
        keep.copy_code(SECRET, "s01", "s02", 2),
        keep.copy_code(SECRET, "s0", "1s02", 1),
        keep.copy_code("f" * 64, "s01", "s02", 1),
        keep.copy_code(SECRET, "s01", "s02", 1, "second-caliper"),
    ]
    assert len(set(codes)) == len(codes)


def test_distinct_counts_on_where_a_code_is_taken() -> None:
    assert keep.distinct({"0", "1"}, str) == "2"


def test_with_participant_codes_of_a_large_class() -> None:
    people = keep.with_participant_codes(SECRET, [Person(f"s{number}", "", "") for number in range(3_000)])
    assert len({person.participant_code for person in people}) == 3_000


def test_with_participant_codes_keeps_those_given() -> None:
    """Someone new whose code would be the one given out long ago gets another."""
    wanted = keep.participant_code(SECRET, "new")
    people = keep.with_participant_codes(
        SECRET, [Person("new", "", ""), Person("old", "", "", participant_code=wanted)]
    )
    assert [person.participant_code for person in people] == [
        keep.participant_code(SECRET, "new", attempt=1),
        wanted,
    ]


def test_records_round_trip_with_earlier_builds_first(folder: ClassFolder) -> None:
    assert keep.load_records(folder) == {}
    later = replace(RECORD, file_sha256="e" * 64)
    other = replace(RECORD, copy_code="2345-ABCD")
    records = {"ABCD-2345": (RECORD, later), "2345-ABCD": (other,)}
    keep.save_records(folder, records)
    assert keep.load_records(folder) == records
    assert list(keep.load_records(folder)) == ["2345-ABCD", "ABCD-2345"]


@pytest.mark.parametrize("text", ["", "{", "{}", '[{"copy_code": 1}]', "\udcff"])
def test_load_records_of_something_else(folder: ClassFolder, text: str) -> None:
    folder.keep.mkdir()
    folder.handed_out.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(FolderError, match="expected the file as sheetgen wrote it"):
        keep.load_records(folder)


def layouts() -> list[Layout]:
    protocol = find_protocol("seven-sites")
    settings = default_settings(protocol, "en", "spring caliper")
    texts = {**load_texts("en"), **load_texts("class-book.en")}
    book = default_class_book("CODE23", "Class", settings, [Person("s01", "A", "B"), Person("s02", "C", "D")])
    return [student_layout(protocol, settings, "{}", texts), class_book_layout(texts, book, [protocol])]


@pytest.mark.parametrize("number", [0, 1])
def test_layout_round_trip(folder: ClassFolder, number: int) -> None:
    layout = layouts()[number]
    digest = keep.store_layout(folder, layout)
    stored = keep.load_layout(folder, digest)
    assert stored == layout
    assert re.fullmatch("[0-9a-f]{16}", digest)
    assert stored is not None
    assert keep.store_layout(folder, stored) == digest


def test_store_layout_of_1_and_of_1_point_0(folder: ClassFolder) -> None:
    """Equal Layouts have one digest, whatever kind of number they were made with."""

    def made(value: float) -> Layout:
        return Layout("", "", "en", (Tab("a", "A", (Cell(0, 0, "label", value),), widths=(value,)),))

    assert made(1) == made(1.0)
    assert keep.store_layout(folder, made(1)) == keep.store_layout(folder, made(1.0))
    assert keep.store_layout(folder, made(1)) != keep.store_layout(folder, made(1.5))


@pytest.mark.parametrize("digest", ["0" * 16, "", "../secret", "0" * 15])
def test_load_layout_that_is_not_there(folder: ClassFolder, digest: str) -> None:
    assert keep.load_layout(folder, digest) is None


def test_load_layout_that_was_changed(folder: ClassFolder) -> None:
    digest = keep.store_layout(folder, layouts()[0])
    path = folder.layouts / f"{digest}.json"
    path.write_bytes(path.read_bytes().replace(b"chest", b"waist"))
    with pytest.raises(FolderError, match="other contents than its name says"):
        keep.load_layout(folder, digest)


def test_store_layout_mends_a_damaged_file(folder: ClassFolder) -> None:
    digest = keep.store_layout(folder, layouts()[0])
    (folder.layouts / f"{digest}.json").write_bytes(b"{}")
    keep.store_layout(folder, layouts()[0])
    assert keep.load_layout(folder, digest) == layouts()[0]


def test_a_roster_is_known_again_as_it_was_taken_over(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    assert keep.load_roster_before(folder) is None
    people = (Person("007", "Ada", "Fen", apart=("008",)), Person("008", "Zoë", "Åse", under_18="yes"))
    keep.save_roster(folder, people)
    assert keep.load_roster_before(folder) == people


def test_a_roster_on_record_that_is_damaged_is_named(tmp_path: Path) -> None:
    folder = ClassFolder(tmp_path)
    keep.save_roster(folder, ())
    folder.roster.write_bytes(b"[{]")
    with pytest.raises(FolderError, match="expected the file as sheetgen wrote it"):
        keep.load_roster_before(folder)


def test_a_code_that_stands_for_someone_else_is_given_to_nobody() -> None:
    person = Person("S01", "Ada", "Fen")
    (plain,) = keep.with_participant_codes("ab" * 32, [person])
    (other,) = keep.with_participant_codes("ab" * 32, [person], {plain.participant_code})
    assert other.participant_code not in ("", plain.participant_code)


SECRET_of_sections = "0b" * 32


@pytest.fixture
def folder_of_sections(tmp_path: Path) -> ClassFolder:
    for name, secret in (("monday", "0a" * 32), ("tuesday", SECRET_of_sections), ("broken", "no secret")):
        (tmp_path / name / "keep").mkdir(parents=True)
        (tmp_path / name / "keep" / "secret.txt").write_text(f"{secret}\n", encoding="ascii")
    (tmp_path / "a file").write_text("mine")
    return ClassFolder(tmp_path / "monday")


def test_the_folder_of_a_class_code_is_named(folder_of_sections: ClassFolder) -> None:
    assert class_folder_beside(folder_of_sections, class_code(SECRET_of_sections)) == "tuesday"


def test_an_unknown_code_its_own_and_none_name_no_folder(folder_of_sections: ClassFolder) -> None:
    assert class_folder_beside(folder_of_sections, "222222") == ""
    assert class_folder_beside(folder_of_sections, class_code("0a" * 32)) == ""
    assert class_folder_beside(folder_of_sections, "") == ""


def test_a_parent_that_cannot_be_listed_is_no_fault(
    folder_of_sections: ClassFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", closed)
    assert class_folder_beside(folder_of_sections, class_code(SECRET_of_sections)) == ""


A, B, C = ("a" * 64, "b" * 64, "c" * 64)


def test_first_seen_keeps_the_first_day_and_forgets_nothing(folder: ClassFolder) -> None:
    assert first_seen(folder, [A, "", A], "2027-03-01") == {A: "2027-03-01"}
    assert first_seen(folder, [B, A], "2027-03-05") == {B: "2027-03-05", A: "2027-03-01"}
    assert first_seen(folder, [C], "2027-03-09") == {C: "2027-03-09"}
    assert folder.arrivals.read_text(encoding="ascii").splitlines() == [
        "sha256,first_read", f"{A},2027-03-01", f"{B},2027-03-05", f"{C},2027-03-09",
    ]  # fmt: skip


def test_first_seen_of_nothing_new_writes_nothing(folder: ClassFolder) -> None:
    assert first_seen(folder, [], "2027-03-01") == {}
    assert not folder.keep.exists()
    first_seen(folder, [A], "2027-03-01")
    before = folder.arrivals.stat().st_mtime_ns, folder.arrivals.stat().st_ino
    first_seen(folder, [A], "2027-03-02")
    assert (folder.arrivals.stat().st_mtime_ns, folder.arrivals.stat().st_ino) == before


# what a spreadsheet program or a person made of the file
SAVED = (
    f"\ufeffsha256,first_read\r\n{A},2027-03-01\r\n",
    f'"sha256";"first_read"\n"{A}";"2027-03-01"',
    f"{A},2027-03-01\n\n,\n",
    f"sha256,first_read\n{A},2027-03-04\n{A},2027-03-01\n",
)


@pytest.mark.parametrize("text", SAVED)
def test_first_seen_in_a_file_saved_by_another_program(folder: ClassFolder, text: str) -> None:
    folder.keep.mkdir()
    folder.arrivals.write_bytes(text.encode("utf-8"))
    assert first_seen(folder, [A, B], "2027-03-09") == {A: "2027-03-01", B: "2027-03-09"}
    assert folder.arrivals.read_bytes().startswith(text.encode("utf-8"))
    assert first_seen(folder, [A, B], "2027-03-10") == {A: "2027-03-01", B: "2027-03-09"}


@pytest.mark.parametrize("line", [f"{A},1.3.2027", f"{A[:-1]},2027-03-01", A, "\udcff"])
def test_first_seen_of_a_line_that_is_damaged_names_it(folder: ClassFolder, line: str) -> None:
    """Left out, the file would count as new, and so as late."""
    data = f"sha256,first_read\n{line}\n".encode("utf-8", "surrogateescape")
    folder.keep.mkdir()
    folder.arrivals.write_bytes(data)
    with pytest.raises(FolderError, match=r"arrivals\.csv:2: .* expected a digest and a day"):
        first_seen(folder, [B], "2027-03-09")
    assert folder.arrivals.read_bytes() == data


def test_a_day_still_to_come_is_put_back_to_the_day_of_reading(tmp_path: Path) -> None:
    """A clock was ahead once: the file was read in June, and that was never."""
    folder = ClassFolder(tmp_path)
    one, other = "a" * 64, "b" * 64
    assert keep.first_seen(folder, [one], "2027-06-01") == {one: "2027-06-01"}
    assert keep.days_to_come(folder, "2027-03-01") == 1
    assert keep.first_seen(folder, [one, other], "2027-03-01") == {one: "2027-03-01", other: "2027-03-01"}
    assert keep.days_to_come(folder, "2027-03-01") == 0
    assert keep.first_seen(folder, [one], "2027-07-01") == {one: "2027-03-01"}
