"""The sample class: its results against hand calculation, its faults against what is found."""

import csv
import math
from collections import defaultdict
from pathlib import Path
from statistics import median

import openpyxl
import pytest

from sheetgen.errors import FolderError
from sheetgen.flows.demo import fill_sheets, run_demo
from sheetgen.flows.new import new_class
from sheetgen.flows.read import ReadSummary
from tests.classes import only_line, run

SITES = 7


@pytest.fixture(scope="module")
def summary(tmp_path_factory: pytest.TempPathFactory) -> ReadSummary:
    return run_demo(tmp_path_factory.mktemp("demo") / "class")


def rows(summary: ReadSummary, name: str) -> list[dict[str, str]]:
    with (Path(summary.results) / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def density_by_hand(sex: str, sum_mm: float, age_years: float) -> float:
    """Body density [g/ml] from the sum of seven skinfolds [mm] and age [years].

    Men: Jackson & Pollock 1978, Br J Nutr 40:497-504. Women: Jackson, Pollock & Ward 1980, Med Sci Sports
    Exerc 12:175-182. Typed here from the papers' equations, not read from the protocol.
    """
    if sex == "male":
        return 1.112 - 0.00043499 * sum_mm + 0.00000055 * sum_mm**2 - 0.00028826 * age_years
    return 1.0970 - 0.00046971 * sum_mm + 0.00000056 * sum_mm**2 - 0.00012828 * age_years


def values_by_hand(summary: ReadSummary) -> dict[str, dict[str, float]]:
    """Copy code to site to the median of its corrected readings [mm], from readings.csv alone.

    The middle of two is their mean; of three, the middle one. One reading gives no value. The one third
    reading that was not needed (L03) equals the first two.
    """
    corrected: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    for row in rows(summary, "readings.csv"):
        # By round, as a file that came back twice stands here twice.
        one = corrected[row["copy_code"], row["site"]]
        one[row["round"]] = float(row["reading_mm"]) - float(row["zero_mm"])
    values: dict[str, dict[str, float]] = defaultdict(dict)
    for (code, site), readings in corrected.items():
        if len(readings) > 1:
            values[code][site] = median(readings.values())
    return values


def test_every_density_equals_a_hand_calculation(summary: ReadSummary) -> None:
    values = values_by_hand(summary)
    compared = 0
    for row in rows(summary, "attempts.csv"):
        sites = values.get(row["copy_code"], {})
        if row["sum_mm"]:
            assert len(sites) == SITES
            assert math.isclose(float(row["sum_mm"]), sum(sites.values()), rel_tol=0, abs_tol=1e-9)
        if row["density_g_ml"]:
            by_hand = density_by_hand(row["sex_equation"], sum(sites.values()), float(row["age_years"]))
            assert math.isclose(float(row["density_g_ml"]), by_hand, rel_tol=0, abs_tol=1e-9)
            compared += 1
    # 24 files, less two refused, one site declined, one without an age, one sum only.
    assert compared == 19


def test_every_estimate_equals_a_hand_calculation(summary: ReadSummary) -> None:
    """Siri 1961: fat % = 495 / D - 450."""
    compared = 0
    for row in rows(summary, "attempts.csv"):
        if not row["fat_percent"]:
            continue
        percent = 495 / float(row["density_g_ml"]) - 450
        mass = float(row["mass_kg"])
        assert math.isclose(float(row["fat_percent"]), percent, rel_tol=0, abs_tol=1e-9)
        assert math.isclose(float(row["fat_mass_kg"]), mass * percent / 100, rel_tol=0, abs_tol=1e-9)
        assert math.isclose(
            float(row["fat_free_mass_kg"]), mass * (1 - percent / 100), rel_tol=0, abs_tol=1e-9
        )
        compared += 1
    assert compared == 19


def test_a_site_value_equals_the_hand_calculation_or_is_missing(summary: ReadSummary) -> None:
    values = values_by_hand(summary)
    for row in rows(summary, "sites.csv"):
        by_hand = values[row["copy_code"]].get(row["site"])
        if row["site_mm"]:
            assert by_hand is not None
            assert math.isclose(float(row["site_mm"]), by_hand, rel_tol=0, abs_tol=1e-9)
        else:
            assert row["not_taken"] == "declined"


# student, status, code of every finding
EXPECTED: tuple[tuple[str, str, set[str]], ...] = (
    ("L01", "accepted", set()),
    ("L02", "accepted", {"procedure-third-missing"}),
    ("L03", "accepted", {"procedure-third-not-needed"}),
    ("L04", "accepted", set()),
    ("L05", "accepted", {"entry-off-scale"}),
    ("L06", "accepted", {"entry-number-as-text"}),
    ("L07", "accepted", set()),
    ("L08", "accepted", {"entry-off-scale"}),
    ("L09", "accepted", {"entry-beyond-opening"}),
    ("L10", "accepted", set()),
    ("L11", "accepted", {"procedure-zero-differs"}),
    ("L12", "accepted", {"procedure-other-caliper", "procedure-zero-differs"}),
    ("L13", "accepted", set()),
    ("L14", "accepted", set()),
    ("L15", "accepted", {"entry-missing"}),
    ("L16", "accepted", {"sheet-not-recalculated"}),
    ("L17", "accepted", set()),
    ("L18", "accepted", {"identity-other-participant"}),
    ("L21", "accepted", set()),
    ("L22", "review", {"sheet-formula-replaced"}),
    ("L23", "accepted", set()),
)


@pytest.mark.parametrize(("student", "status", "codes"), EXPECTED)
def test_each_fault_gives_its_finding(
    summary: ReadSummary, student: str, status: str, codes: set[str]
) -> None:
    attempt = next(
        one
        for one in summary.attempts
        if one.record is not None and one.record.student_id == student and one.status != "superseded"
    )
    assert attempt.status == status
    found = {finding.code for finding in attempt.findings}
    # A second difference may be a site to measure again: a plausible accident of invented readings.
    assert found - {"procedure-measure-again"} == codes


def test_what_is_no_sheet_is_refused_and_a_copy_counts_once(summary: ReadSummary) -> None:
    refused = {
        one.file: {finding.code for finding in one.findings}
        for one in summary.attempts
        if one.status == "refused"
    }
    assert sorted(map(sorted, refused.values())) == [["file-picture"], ["file-truncated"]]
    assert "photo of my sheet.xlsx" in refused
    (superseded,) = (one for one in summary.attempts if one.status == "superseded")
    assert superseded.record is not None
    assert superseded.record.student_id == "L21"


def test_sheets_of_which_nothing_came_back_are_missing(summary: ReadSummary) -> None:
    assert [record.student_id for record in summary.missing] == ["L19", "L20", "L24"]


def test_the_report_opens_in_another_library(summary: ReadSummary) -> None:
    report = openpyxl.load_workbook(Path(summary.results) / "report.xlsx")
    assert len(report.sheetnames) >= 3


def test_the_command_says_where_to_look_and_leaves_a_full_folder_alone(tmp_path: Path) -> None:
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "mine.txt").write_text("mine")
    result = run("demo", tmp_path / "class")
    assert result.exit_code == 2
    assert "it holds something already" in only_line(result)
    assert [path.name for path in (tmp_path / "class").iterdir()] == ["mine.txt"]


def test_a_session_without_sheets_cannot_be_filled(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match="no sheet on record"):
        fill_sheets(new_class(tmp_path / "class"), 1)
