import io
import zipfile
from pathlib import Path

import pytest

from sheetgen.errors import RosterError
from sheetgen.store import oneroster_roster_files
from sheetgen.store.oneroster_roster_files import holds_oneroster, oneroster_files
from tests.oneroster_samples import zipped

USERS = {"users.csv": b"sourcedId\n"}


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
    data = zipped({**USERS, "demographics.csv": b"birthDate\n1901-02-03\n"})
    path = tmp_path / "export.zip"
    path.write_bytes(data.replace(b"1901-02-03", b"1999-99-99"))
    with zipfile.ZipFile(path) as archive, pytest.raises(zipfile.BadZipFile):
        archive.read("demographics.csv")
    assert oneroster_files(path) == USERS


CASES = [
    # files, what the message says
    ({"orgs.csv": b""}, "no users.csv in it"),
    ({"a/users.csv": b"", "b/users.csv": b""}, "2 files users.csv"),
    ({"a/b/users.csv": b""}, "no users.csv in it"),
    ({**USERS, "../classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS, "/etc/classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS, "C:\\classes.csv": b""}, "a path that leads out of the zip"),
    ({**USERS, "classes.csv": b"", "CLASSES.csv": b""}, "the file classes.csv twice"),
    ({**USERS, **{f"{number}": b"" for number in range(500)}}, "more than 500 entries"),
]


@pytest.mark.parametrize(("files", "message"), CASES)
def test_a_zip_that_is_refused(tmp_path: Path, files: dict[str, bytes], message: str) -> None:
    with pytest.raises(RosterError, match=message):
        oneroster_files(zip_of(tmp_path, files))


def test_a_zip_that_unpacks_to_more_than_a_roster(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(oneroster_roster_files, "_LARGEST_PART", 100_000)
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
