import io
import zipfile
from pathlib import Path

import pytest

from sheetgen.errors import RosterError
from sheetgen.roster.headings import load_wording
from sheetgen.roster.oneroster_people import holds_oneroster, oneroster_files, oneroster_roster
from sheetgen.roster.people import Roster
from tests.oneroster_samples import (
    CLASS_ID,
    CLASS_TITLE,
    EXPECTED,
    SAMPLES,
    VERSIONS,
    sample_tables,
    sample_zip,
    zipped,
)

WORDING = load_wording()

USERS = "sourcedId,givenName,familyName\nu1,Ada,Fen\nu2,Bo,Heath\n"
ENROLLMENTS = "classSourcedId,userSourcedId,role\nc1,u1,student\nc1,u2,teacher\n"


def read(tmp_path: Path, files: dict[str, str], school_class: str = "") -> Roster:
    path = tmp_path / "export.zip"
    path.write_bytes(zipped({name: text.encode("utf-8") for name, text in files.items()}))
    return oneroster_roster(path, WORDING, school_class)


def fault(tmp_path: Path, files: dict[str, str], school_class: str = "") -> str:
    with pytest.raises(RosterError) as caught:
        read(tmp_path, files, school_class)
    return str(caught.value).replace(str(tmp_path / "export.zip"), "export.zip")


@pytest.mark.parametrize("version", VERSIONS)
def test_the_sample_zips_are_what_their_maker_makes(version: str) -> None:
    assert (SAMPLES / f"oneroster-{version}.zip").read_bytes() == sample_zip(version)


def test_oneroster_1_1_and_1_2_give_the_same_class() -> None:
    """Preferred names, leading zeros, every script; leavers and another class's people are not in it."""
    rosters = [oneroster_roster(SAMPLES / f"oneroster-{one}.zip", WORDING, CLASS_TITLE) for one in VERSIONS]
    assert rosters[0].people == rosters[1].people
    people = rosters[0].people
    assert tuple((p.student_id, p.given_name, p.family_name, p.email, p.role) for p in people) == EXPECTED
    assert {p.under_18 for p in people} == {""}
    assert [(one.line, one.found) for one in rosters[0].troubles] == [
        (8, "in enrollments.csv, the user '00077', who is not active in users.csv")
    ]


@pytest.mark.parametrize("version", VERSIONS)
def test_oneroster_out_of_a_folder_by_the_id_of_the_class(tmp_path: Path, version: str) -> None:
    for name, text in sample_tables(version).items():
        (tmp_path / name).write_text(text, encoding="utf-8-sig", newline="")
    zipped_one = oneroster_roster(SAMPLES / f"oneroster-{version}.zip", WORDING, CLASS_ID)
    assert oneroster_roster(tmp_path, WORDING, f" {CLASS_TITLE.upper()} ") == zipped_one


def test_oneroster_with_several_classes_lists_them_by_title_and_id() -> None:
    with pytest.raises(RosterError) as caught:
        oneroster_roster(SAMPLES / "oneroster-1.1.zip", WORDING)
    assert caught.value.found == (
        "2 classes: 'Measuring by lamplight' (cls-lamp-07), 'Knots and splices' (cls-knot-02)"
    )
    assert caught.value.remedy == "Say which: --school-class TITLE_OR_ID."


def test_oneroster_with_a_class_that_is_not_there_names_a_near_miss() -> None:
    with pytest.raises(RosterError, match="Did you mean 'Knots and splices' \\(cls-knot-02\\)\\?"):
        oneroster_roster(SAMPLES / "oneroster-1.2.zip", WORDING, "Knots & splices")


def test_oneroster_with_two_classes_of_one_title(tmp_path: Path) -> None:
    files = {
        "users.csv": USERS,
        "classes.csv": "sourcedId,title\nc1,Lamps\nc2,LAMPS\nc3,Empty\n",
        "enrollments.csv": ENROLLMENTS + "c2,u1,student\n",
    }
    assert "2 classes: 'Lamps' (c1), 'LAMPS' (c2)" in fault(tmp_path, files, "lamps")
    assert "no class 'empty' with people in it" in fault(tmp_path, files, "empty")
    assert [person.student_id for person in read(tmp_path, files, "c2").people] == ["u1"]


def test_oneroster_without_optional_columns_and_tables(tmp_path: Path) -> None:
    """Columns in any order and case; the role of the school stands in where the enrollment has none."""
    files = {
        "Users.csv": "familyname;GIVENNAME;sourcedid;role\nFen;Ada;u1;student\nHeath;Bo;u2;teacher\n",
        "enrollments.csv": "userSourcedId;classSourcedId\nu1;c1\nu2;c1\n",
    }
    roster = read(tmp_path, files)
    assert [(person.family_name, person.role) for person in roster.people] == [
        ("Fen", "student"),
        ("Heath", "teacher"),
    ]


def test_oneroster_takes_roles_from_the_table_of_1_2(tmp_path: Path) -> None:
    files = {
        "users.csv": USERS,
        "enrollments.csv": "userSourcedId,classSourcedId\nu1,c1\nu2,c1\n",
        "roles.csv": "userSourcedId,roleType,role\nu2,aux,student\nu2,primary,teacher\nu1,primary,student\n",
    }
    assert [person.role for person in read(tmp_path, files).people] == ["student", "teacher"]


def test_oneroster_lists_every_row_it_leaves_out(tmp_path: Path) -> None:
    rows = "c1,u1,student\nc1,u1,teacher\nc1,u3,proctor\nc1,u4,student\n"
    files = {"users.csv": USERS + "u3,Cy,Moor\n", "enrollments.csv": ENROLLMENTS + rows}
    roster = read(tmp_path, files)
    assert [(person.student_id, person.role) for person in roster.people] == [
        ("u1", "teacher"),
        ("u2", "teacher"),
    ]
    assert [(one.line, one.found) for one in roster.troubles] == [
        (4, "in enrollments.csv, the user 'u1' again as student, after line 2"),
        (5, "in enrollments.csv, the user 'u1' as student too, line 2"),
        (6, "in enrollments.csv, the user 'u3' with the role 'proctor'"),
        (7, "in enrollments.csv, the user 'u4', who is not active in users.csv"),
    ]


def test_oneroster_with_two_people_of_one_id(tmp_path: Path) -> None:
    files = {"users.csv": USERS + "u1,Cy,Moor\n", "enrollments.csv": ENROLLMENTS}
    assert fault(tmp_path, files) == (
        "export.zip/users.csv:4: student_id 'u1', which line 2 has too; "
        "expected each id once. Correct one of the two."
    )


FAULTS = [
    # files, what the message says
    ({"users.csv": USERS}, "export.zip: no enrollments.csv in it"),
    ({"users.csv": "sourcedId\n", "enrollments.csv": ""}, "users.csv:1: no column givenName"),
    ({"users.csv": USERS, "enrollments.csv": ""}, "enrollments.csv:1: no column classSourcedId"),
    (
        {"users.csv": USERS, "enrollments.csv": 'a\n"b'},
        "enrollments.csv:2: a cell whose quotes",
    ),
    (
        {"users.csv": USERS, "enrollments.csv": "classSourcedId,userSourcedId\n"},
        "export.zip: no class with people in it",
    ),
    (
        {"users.csv": USERS, "enrollments.csv": "classSourcedId,userSourcedId,role\nc1,u1,guardian\n"},
        "export.zip:1: nobody in the class 'c1'",
    ),
]


@pytest.mark.parametrize(("files", "message"), FAULTS)
def test_oneroster_that_cannot_be_used(tmp_path: Path, files: dict[str, str], message: str) -> None:
    assert message in fault(tmp_path, files)


USERS_ALONE = {"users.csv": b"sourcedId\n"}


def zip_of(tmp_path: Path, files: dict[str, bytes]) -> Path:
    path = tmp_path / "export.zip"
    path.write_bytes(zipped(files))
    return path


@pytest.mark.parametrize("folder", ["", "export/"])
def test_files_at_the_top_or_in_one_folder(tmp_path: Path, folder: str) -> None:
    files = {"USERS.csv": b"u", "enrollments.csv": b"e", "orgs.csv": b"o", "__MACOSX/users.csv": b"x"}
    path = zip_of(tmp_path, {(name if "/" in name else folder + name): data for name, data in files.items()})
    assert holds_oneroster(path)
    assert oneroster_files(path) == {"users.csv": b"u", "enrollments.csv": b"e"}


def test_files_out_of_a_folder_in_a_folder(tmp_path: Path) -> None:
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "Users.csv").write_bytes(b"u")
    (tmp_path / "classes.csv").write_bytes(b"another export's")
    assert oneroster_files(tmp_path) == {"users.csv": b"u"}


def test_birth_dates_are_never_opened(tmp_path: Path) -> None:
    """A demographics.csv that no reader could unpack does no harm."""
    data = zipped({**USERS_ALONE, "demographics.csv": b"birthDate\n1901-02-03\n"})
    path = tmp_path / "export.zip"
    path.write_bytes(data.replace(b"1901-02-03", b"1999-99-99"))
    with zipfile.ZipFile(path) as archive, pytest.raises(zipfile.BadZipFile):
        archive.read("demographics.csv")
    assert oneroster_files(path) == USERS_ALONE


CASES = [
    # files, what the message says
    ({"orgs.csv": b""}, "no users.csv in it"),
    ({"a/users.csv": b"", "b/users.csv": b""}, "2 files users.csv"),
    ({"a/b/users.csv": b""}, "no users.csv in it"),
    ({**USERS_ALONE, "../classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS_ALONE, "/etc/classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS_ALONE, "C:\\classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS_ALONE, "classes.csv": b"", "CLASSES.csv": b""}, "the file classes.csv twice"),
    ({**USERS_ALONE, **{f"{number}": b"" for number in range(500)}}, "more than 500 entries"),
]


@pytest.mark.parametrize(("files", "message"), CASES)
def test_a_zip_that_is_refused(tmp_path: Path, files: dict[str, bytes], message: str) -> None:
    with pytest.raises(RosterError, match=message):
        oneroster_files(zip_of(tmp_path, files))


def test_a_zip_that_unpacks_to_more_than_a_roster(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sheetgen.roster.oneroster_people._LARGEST_PART", 100_000)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("users.csv", b"0" * 100_001)
    path = tmp_path / "export.zip"
    path.write_bytes(stream.getvalue())
    with pytest.raises(RosterError, match="more than 100,000 bytes"):
        oneroster_files(path)


def test_a_damaged_zip(tmp_path: Path) -> None:
    path = zip_of(tmp_path, {"users.csv": b"sourcedId,givenName\n"})
    path.write_bytes(path.read_bytes().replace(b"givenName", b"gIvenName"))
    with pytest.raises(RosterError, match="damaged"):
        oneroster_files(path)
    path.write_bytes(path.read_bytes()[:40])
    assert not holds_oneroster(path)


def test_a_folder_without_users(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match=r"no users\.csv in it"):
        oneroster_files(tmp_path)
    assert not holds_oneroster(tmp_path)
    assert not holds_oneroster(tmp_path / "gone.zip")
