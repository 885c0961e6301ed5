"""One class with four protocols side by side: built, filled, read, each by its own sites and equation."""

import csv
from pathlib import Path

import openpyxl

from sheetgen.commands.build import build_sheets
from sheetgen.commands.demo import fill_sheets
from sheetgen.commands.new import new_class
from sheetgen.commands.read import read_returned

ROSTER = "student_id,given_name,family_name,under_18\n" + "".join(
    f"T{number},Name{number},Test,{'yes' if number >= 7 else 'no'}\n" for number in range(1, 9)
)
# line on the tab Pairs (two people each measure each other), protocol
PROTOCOLS = ("seven-sites", "seven-sites", "three-sites-men", "three-sites-men", "four-sites", "four-sites",
             "youth-two-sites", "youth-two-sites")  # fmt: skip


def _class(root: Path) -> Path:
    roster = root / "roster.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    folder = new_class(root / "class", roster, secret="2b" * 32)
    book = openpyxl.load_workbook(folder.book)
    pairs = book["Pairs"]
    heading = next(cell for row in pairs.iter_rows() for cell in row if cell.value == "Protocol")
    for offset, protocol_id in enumerate(PROTOCOLS, start=1):
        pairs.cell(heading.row + offset, heading.column, protocol_id)
    book.save(folder.book)
    build_sheets(folder, 1)
    fill_sheets(folder, 1)
    read_returned(folder, 1)
    return folder.results(1)


def test_four_protocols_in_one_class(tmp_path: Path) -> None:
    results = _class(tmp_path)
    with open(results / "attempts.csv", encoding="utf-8", newline="") as stream:
        attempts = {row["student_id"]: row for row in csv.DictReader(stream)}
    with open(results / "sites.csv", encoding="utf-8", newline="") as stream:
        sites = [(row["student_id"], row["site"]) for row in csv.DictReader(stream)]
    assert [attempts[f"T{number}"]["protocol"] for number in range(1, 9)] == list(PROTOCOLS)
    assert {row["status"] for row in attempts.values()} == {"accepted"}
    assert [site for student, site in sites if student == "T3"] == ["chest", "abdominal", "thigh"]
    assert [site for student, site in sites if student == "T5"] == [
        "biceps", "triceps", "subscapular", "suprailiac",
    ]  # fmt: skip
    assert [site for student, site in sites if student == "T7"] == ["triceps", "calf"]
    # T7 measures T8, both under 18: the sum only, and nothing is asked but what the sum needs.
    minor = attempts["T7"]
    assert minor["sum_mm"] != ""
    assert {minor[name] for name in ("age_years", "sex_equation", "mass_kg", "fat_percent")} == {""}
    # T3 by Jackson & Pollock 1978, three sites, from the sum and the age that the table gives.
    total, age, found = (float(attempts["T3"][name]) for name in ("sum_mm", "age_years", "density_g_ml"))
    assert abs(found - (1.10938 - 0.0008267 * total + 0.0000016 * total**2 - 0.0002574 * age)) < 1e-9
