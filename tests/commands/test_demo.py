"""The sample class: its results against hand calculation, its faults against what is found."""

import csv
import math
import shutil
from collections import defaultdict
from datetime import date
from pathlib import Path
from statistics import median

import openpyxl
import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.cli import output
from sheetgen.commands.demo import FAULTS, fill_sheets, sample_entries
from sheetgen.commands.forget import forget_before
from sheetgen.commands.new import new_class
from sheetgen.commands.read import ReadSummary, read_returned
from sheetgen.errors import FolderError
from sheetgen.finding import Refusal
from sheetgen.protocols.recalculation import stored_results
from sheetgen.protocols.settings import Caliper
from sheetgen.returned.one_file import examined
from sheetgen.workbook.packages import filled
from sheetgen.workbook.read.guard import read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from tests.classes import only_line, run
from tests.sheets import CALIPERS, SETTINGS, sheet_of

SITES = 7


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


def test_every_density_equals_a_hand_calculation(demo: ReadSummary) -> None:
    values = values_by_hand(demo)
    compared = 0
    for row in rows(demo, "attempts.csv"):
        sites = values.get(row["copy_code"], {})
        if row["sum_mm"]:
            # L23 measures somebody under 18.
            assert len(sites) == (2 if row["student_id"] == "L23" else SITES)
            assert math.isclose(float(row["sum_mm"]), sum(sites.values()), rel_tol=0, abs_tol=1e-9)
        if row["density_g_ml"]:
            by_hand = density_by_hand(row["sex_equation"], sum(sites.values()), float(row["age_years"]))
            assert math.isclose(float(row["density_g_ml"]), by_hand, rel_tol=0, abs_tol=1e-9)
            compared += 1
    # 24 files, less two refused, one site declined, one without an age, one sum only, one of practice, one
    # of two limb sites.
    assert compared == 17


def test_every_estimate_equals_a_hand_calculation(demo: ReadSummary) -> None:
    """Siri 1961: fat % = 495 / D - 450."""
    compared = 0
    for row in rows(demo, "attempts.csv"):
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
    assert compared == 17


def test_a_site_value_equals_the_hand_calculation_or_is_missing(demo: ReadSummary) -> None:
    values = values_by_hand(demo)
    practice = {row["copy_code"] for row in rows(demo, "attempts.csv") if row["data_source"] == "practice"}
    for row in rows(demo, "sites.csv"):
        by_hand = values[row["copy_code"]].get(row["site"])
        if row["site_mm"]:
            assert by_hand is not None
            assert math.isclose(float(row["site_mm"]), by_hand, rel_tol=0, abs_tol=1e-9)
        else:
            assert row["not_taken"] == "left-out" or row["copy_code"] in practice


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
    ("L14", "accepted", {"procedure-less-measured"}),
    ("L15", "accepted", {"entry-missing"}),
    ("L16", "accepted", {"sheet-not-recalculated"}),
    ("L17", "accepted", {"procedure-less-measured"}),
    ("L18", "accepted", {"identity-other-participant"}),
    ("L21", "accepted", set()),
    ("L22", "review", {"sheet-formula-replaced"}),
    ("L23", "accepted", set()),
)


@pytest.mark.parametrize(("student", "status", "codes"), EXPECTED)
def test_each_fault_gives_its_finding(demo: ReadSummary, student: str, status: str, codes: set[str]) -> None:
    attempt = next(
        one
        for one in demo.attempts
        if one.record is not None and one.record.student_id == student and one.status != "superseded"
    )
    assert attempt.status == status
    found = {finding.code for finding in attempt.findings}
    # A second difference may be a site to measure again: a plausible accident of invented readings.
    assert found - {"procedure-measure-again"} == codes


def test_what_is_no_sheet_is_refused_and_a_copy_counts_once(demo: ReadSummary) -> None:
    refused = {
        one.came_as: {finding.code for finding in one.findings}
        for one in demo.attempts
        if one.status == "refused"
    }
    assert sorted(map(sorted, refused.values())) == [["file-picture"], ["file-truncated"]]
    assert "photo of my sheet.xlsx" in refused
    (superseded,) = (one for one in demo.attempts if one.status == "superseded")
    assert superseded.record is not None
    assert superseded.record.student_id == "L21"


def test_sheets_of_which_nothing_came_back_are_missing(demo: ReadSummary) -> None:
    assert [one.record.student_id for one in demo.missing] == ["L19", "L20", "L24"]


def test_the_screen_of_a_class_of_24_has_at_most_fifteen_lines(
    demo: ReadSummary, capsys: pytest.CaptureFixture[str]
) -> None:
    output.print_read(demo, Path("class"), 1)
    said = capsys.readouterr()
    assert len([*said.out.splitlines(), *said.err.splitlines()]) <= 15
    assert (
        "  L02, thigh: rounds 1 and 2 are 4 mm apart and there is no third reading." in said.err.splitlines()
    )
    assert "Missing (3): L19, L20 (cannot be used), L24" in said.out.splitlines()
    assert said.out.splitlines()[-1].startswith("Next: open ")


def test_the_report_opens_in_another_library(demo: ReadSummary) -> None:
    report = openpyxl.load_workbook(Path(demo.results) / "report.xlsx")
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


def test_the_same_seed_gives_the_same_entries() -> None:
    protocol = sheet_of().source.protocol
    first, again, other = (sample_entries(protocol, SETTINGS, CALIPERS[0], seed) for seed in ("a", "a", "b"))
    assert first == again
    assert first != other


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
def test_readings_lie_on_the_scale_and_inside_the_opening(caliper: Caliper) -> None:
    entries = sample_entries(sheet_of().source.protocol, SETTINGS, caliper, "a")
    readings = [value for name, value in entries.items() if name.startswith("reading_")]
    assert len(readings) >= 14
    for reading in readings:
        assert isinstance(reading, float)
        steps = reading / caliper.division
        assert math.isclose(steps, round(steps), abs_tol=1e-9)
        assert caliper.zero < reading <= caliper.opening


@pytest.mark.parametrize("caliper", CALIPERS, ids=lambda caliper: caliper.identifier)
@pytest.mark.parametrize("seed", ("a", "b", "c", "d"))
def test_a_sheet_filled_with_them_has_no_finding(caliper: Caliper, seed: str) -> None:
    sheet = sheet_of(caliper_id=caliper.identifier)
    protocol, settings = sheet.source.protocol, sheet.source.settings
    entries = {
        "caliper_id": caliper.identifier,
        "data_source": "measured",
        "side": "right",
        **sample_entries(protocol, settings, caliper, seed),
    }
    data = filled(sheet.data, sheet.layout, entries, stored_results(protocol, settings, entries))
    package = read_package_bytes(data)
    assert not isinstance(package, Refusal)
    state = snapshot(package)
    assert not isinstance(state, Refusal)
    examination = examined(sheet.issued, state)
    assert [finding for finding in examination.findings if finding.code != "procedure-measure-again"] == []
    assert examination.results.sum_mm is not None
    assert examination.results.fat_free_mass_kg is not None


def test_each_fault_changes_the_entries() -> None:
    protocol = sheet_of().source.protocol
    caliper = Caliper("C2", "spring", 0.5, 60.0, 0.5)
    for student, fault in FAULTS.items():
        entries = sample_entries(protocol, SETTINGS, caliper, student)
        assert {**entries, **fault(entries)} != entries, student


def test_results_stored_are_those_of_the_entries_as_a_sheet_sees_them() -> None:
    """A number typed as text is none to a formula, so a program stores no sum."""
    sheet = sheet_of()
    protocol = sheet.source.protocol
    entries = sample_entries(protocol, SETTINGS, CALIPERS[0], "a")
    assert stored_results(protocol, SETTINGS, {**entries, "caliper_id": "C1"})["ready"] == "yes"
    text = stored_results(protocol, SETTINGS, {**entries, "caliper_id": "C1", "reading_1_chest": "12,5"})
    assert (text["site_chest"], text["sum_mm"], text["density_g_ml"], text["ready"]) == ("", "", "", "no")


def _scores(folder: ClassFolder) -> list[tuple[str, ...]]:
    """Student, score, out of, and the day: a file that could not be used is nothing once it is forgotten."""
    lines = csv.DictReader(folder.marks(1).read_text(encoding="utf-8-sig").splitlines())
    return [tuple(line[key] for key in ("student_id", "score", "max_score", "scored_on")) for line in lines]


def test_forget_keeps_precision_and_scores_and_shows_them_again(demo: ReadSummary, tmp_path: Path) -> None:
    folder = ClassFolder(shutil.copytree(Path(demo.results).parents[1], tmp_path / "class"))
    before, marks = folder.precision(1).read_text(encoding="utf-8").splitlines(), _scores(folder)
    kept = folder.kept_precision.read_bytes()
    forget_before(folder, date(2099, 1, 1), write=True)
    for _ in range(2):
        again = read_returned(folder, 1, today="2098-01-01")
        lines = folder.precision(1).read_text(encoding="utf-8").splitlines()
        # The figures, with the day they were worked out.
        assert lines[1:] == [f"{line}2026-01-16" for line in before[1:]]
        assert (_scores(folder), folder.kept_precision.read_bytes()) == (marks, kept)
        assert (again.attempts, again.kept) == ((), 21)
    page = openpyxl.load_workbook(folder.report(1))["How we measured"]
    said = [cell.value for row in page.iter_rows(max_row=12) for cell in row]
    assert "Sheets are gone since: figures as they were worked out on 2026-01-16." in said
