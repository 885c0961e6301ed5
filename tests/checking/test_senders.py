"""Who handed a file in, as far as its name tells."""

import pytest

from sheetgen.checking.senders import senders_of
from sheetgen.model.attempt import Attempt, CopyRecord


def attempt(file: str, code: str) -> Attempt:
    record = CopyRecord(code, 1, "S01", "S02", "P-2A3B", "C1", "", f"{code}_sheet.xlsx", "", {})
    return Attempt(file, file, "accepted", record, "seven-sites", {}, None, ())


# files and the copy each is of, who handed each in
FILES: tuple[tuple[dict[str, str], dict[str, str]], ...] = (
    # a folder a person, one with another one's sheet beside their own
    (
        {"in.zip/Ada/s.xlsx": "A", "in.zip/Bo/s.xlsx": "B", "in.zip/Cy/s.xlsx": "C",
         "in.zip/Bo/t.xlsx": "A"},
        {"in.zip/Ada/s.xlsx": "ada", "in.zip/Bo/s.xlsx": "bo", "in.zip/Cy/s.xlsx": "cy",
         "in.zip/Bo/t.xlsx": "bo"},
    ),
    # folders inside a person's own are theirs; so is their folder of another download
    (
        {"1.zip/Ada/old/s.xlsx": "A", "1.zip/Ada/new/s.xlsx": "A", "1.zip/Bo/s.xlsx": "B",
         "1.zip/Cy/s.xlsx": "C",
         "2.zip/Ada/s.xlsx": "A", "2.zip/Bo/s.xlsx": "B", "2.zip/Cy/s.xlsx": "C"},
        {"1.zip/Ada/old/s.xlsx": "ada", "1.zip/Ada/new/s.xlsx": "ada", "1.zip/Bo/s.xlsx": "bo",
         "1.zip/Cy/s.xlsx": "cy",
         "2.zip/Ada/s.xlsx": "ada", "2.zip/Bo/s.xlsx": "bo", "2.zip/Cy/s.xlsx": "cy"},
    ),
    # folders of weeks, of one copy only, zips, and loose files tell nothing
    (
        {"1/a.xlsx": "A", "1/b.xlsx": "B", "2/a.xlsx": "A", "2/b.xlsx": "B", "3/a.xlsx": "A",
         "3/b.xlsx": "B"},
        {},
    ),
    ({"old/a.xlsx": "A", "new/a.xlsx": "A"}, {}),
    ({"a.zip/s.xlsx": "A", "b.zip/s.xlsx": "B", "c.zip/s.xlsx": "C", "a2.zip/s.xlsx": "A"}, {}),
    ({"a.xlsx": "A", "a (1).xlsx": "A", "A_sheet.xlsx": "A", "Copy of A_sheet.xlsx": "A"}, {}),
    # prefixes before the sheet's own name
    (
        {"in.zip/Ada_4711_file_A_sheet.xlsx": "A", "in.zip/Bo_4712_file_A_sheet (1).xlsx": "A"},
        {"in.zip/Ada_4711_file_A_sheet.xlsx": "ada", "in.zip/Bo_4712_file_A_sheet (1).xlsx": "bo"},
    ),
    # times and numbers of attempts are nobody's
    ({"attempt 2_A_sheet.xlsx": "A", "2027-03-01 10.30_A_sheet.xlsx": "A"}, {}),
)  # fmt: skip


@pytest.mark.parametrize(("files", "expected"), FILES)
def test_senders_of(files: dict[str, str], expected: dict[str, str]) -> None:
    assert senders_of([attempt(file, code) for file, code in files.items()]) == expected


def test_a_file_of_no_copy_has_no_sender() -> None:
    assert senders_of([Attempt("Ada/s.xlsx", "aa", "refused", None, "", {}, None, ())]) == {}
