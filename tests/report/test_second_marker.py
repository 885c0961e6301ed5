from pathlib import Path

import openpyxl

from sheetgen.report.second_marker import MarkedLine, compared, sampled
from tests.classes import built_class, filled_sheet, record_of, returned, run


def test_a_tenth_of_the_sheets_five_at_least_the_same_for_the_same_seed() -> None:
    codes = [f"K{number:03}" for number in range(93)]
    assert [len(sampled(codes[:count], "a")) for count in (0, 3, 5, 24, 93)] == [0, 3, 5, 5, 10]
    assert sampled(codes, "a") == sampled(codes[::-1], "a")
    assert sampled(codes, "a") != sampled(codes, "b")


def line(code: str, item: str, name: str, points: float | None) -> MarkedLine:
    return MarkedLine((code, item, name, "", "", "", 10.0), points)


def test_agreement_by_item_and_every_line_that_differs() -> None:
    first = (
        line("K1", "Sum", "own_sum_mm", 10.0), line("K2", "Sum", "own_sum_mm", 0.0),
        line("K1", "Questions", "answer_zero", 4.0), line("K2", "Questions", "answer_zero", None),
    )  # fmt: skip
    second = {
        ("K1", "own_sum_mm"): 10.0, ("K2", "own_sum_mm"): 2.5,
        ("K1", "answer_zero"): 4.0, ("K2", "answer_zero"): 5.0,
    }  # fmt: skip
    assert list(compared(first, second)) == [
        "Sum: 1 of 2 lines marked alike",
        "Questions: 1 of 1 lines marked alike",
        "K2 own_sum_mm: 0 and 2.5 of 10 points",
    ]
    assert list(compared(first, {})) == ["nothing to compare yet: no line has points of both markers"]


def test_the_sample_is_blind_is_never_written_again_and_what_comes_back_is_compared(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    returned(folder, "S01.xlsx", filled_sheet(folder, "S01", {"own_sum_mm": 99.0}))
    returned(folder, "S02.xlsx", filled_sheet(folder, "S02"))
    assert "2 sheets without scores" in run("read", folder.root, "--second-marker").stderr
    path = folder.review(1).with_name("session-1-second-marker.xlsx")
    book = openpyxl.load_workbook(path)
    sheet = book.active
    assert sheet is not None
    assert [cell.value for cell in sheet[4]][-2:] == ["Points possible", "Points given"]
    rows = list(sheet.iter_rows(min_row=5))
    assert {row[-1].value for row in rows} == {None}
    for row in rows:
        row[-1].value = row[-2].value if row[2].value == "own_sum_mm" else None
    book.save(path)
    typed = path.read_bytes()
    said = run("read", folder.root, "--second-marker").stderr.splitlines()
    assert said == [
        "Sum: 1 of 2 lines marked alike",
        f"{record_of(folder, 'S01').copy_code} own_sum_mm: 0 and 10 of 10 points",
    ]
    assert path.read_bytes() == typed
    book = openpyxl.load_workbook(path)
    book.worksheets[0]["H4"] = "Marks"
    book.save(path)
    assert "move it away to have it written anew" in run("read", folder.root, "--second-marker").stderr


def test_forgetting_takes_the_sample_away(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    returned(folder, "S01.xlsx", filled_sheet(folder, "S01"))
    run("read", folder.root, "--second-marker")
    path = folder.review(1).with_name("session-1-second-marker.xlsx")
    assert path.is_file()
    run("forget", folder.root, "--before", "2099-01-01", "--write")
    assert not path.exists()
