"""What is passed over: side-files by name, empty files; never what may be somebody's sheet."""

import pytest

from sheetgen.store.side_files import is_side_file

ZIP = b"PK\x03\x04"

# steps, head, passed over
CASES = (
    (["__MACOSX", "Ada", "._s.xlsx"], b"x", True),
    ([".git", "s.xlsx"], ZIP, True),
    (["..", "s.xlsx"], ZIP, False),
    ([".DS_Store"], b"x", True),
    (["._s.xlsx"], ZIP, True),
    ([".s.xlsx"], ZIP, False),
    (["~$s.xlsx"], b"x", True),
    ([".~lock.s.xlsx#"], b"x", True),
    (["Thumbs.db"], b"x", True),
    (["Desktop.ini"], b"x", True),
    (["onlinetext.HTML"], b"<html>", True),
    (["comment.txt"], b"thanks", True),
    (["comment.txt"], ZIP, False),
    (["sheet.xml"], b'<?mso-application progid="Excel.Sheet"?>', False),
    (["manifest.xml"], b"<manifest/>", True),
    (["sheet.csv"], b"a;b", False),
    (["sheet.url"], b"[InternetShortcut]", False),
    (["empty"], b"", True),
    (["empty.pdf"], b"", True),
    (["empty.xlsx"], b"", False),
    (["empty.ods"], b"", False),
    (["empty.zip"], b"", False),
)


@pytest.mark.parametrize(("steps", "head", "passed_over"), CASES)
def test_is_side_file(steps: list[str], head: bytes, passed_over: bool) -> None:
    assert is_side_file(steps, head) is passed_over
