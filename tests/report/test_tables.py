import csv
import io
import json
import math
from collections import defaultdict
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from frictionless import Package
from msgspec.structs import replace

from sheetgen.class_folder.scores import WHOLE, LineSlip, Score
from sheetgen.marking.marks import MarkRow
from sheetgen.protocols.names import change_words
from sheetgen.protocols.recalculation import zero_of
from sheetgen.report.precision_pages import measured_page
from sheetgen.report.tables import (
    attempts_table,
    datapackage_text,
    files_table,
    findings_table,
    items_table,
    marks_table,
    precision_table,
    readings_table,
    sites_table,
    slips_table,
)
from sheetgen.statistics.readings_frame import readings_frame
from sheetgen.statistics.repeatability import LIMITS_SOURCE
from tests.report.analysed import TITLES, compared
from tests.report.invented import (
    BOOK,
    PROTOCOL,
    TEXTS,
    accepted,
    entries,
    finding,
    record,
    refused_without_record,
    returned,
)

ATTEMPTS_HEADER = (
    "session,copy_code,student_id,participant_code,protocol,caliper_id,data_source,age_years,sex_equation,"
    "mass_kg,zero_mm,sum_mm,density_g_ml,fat_percent,fat_mass_kg,fat_free_mass_kg,status,file,sha256,exercise,no_estimate_because"
)
SITES_HEADER = (
    "session,copy_code,sha256,student_id,participant_code,site,rounds,site_mm,"
    "third_needed,kept_rounds,not_taken"
)
READINGS_HEADER = (
    "session,copy_code,sha256,student_id,participant_code,site,round,reading_mm,caliper_id,zero_mm,"
    "counts,left_out_because"
)
FINDINGS_HEADER = "session,copy_code,student_id,file,code,severity,tab,cell,count,found,expected,remedy"


def rows(table: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(table, newline="")))


def test_attempts_table_of_an_accepted_file() -> None:
    attempt = accepted(1)
    assert attempt.results is not None
    attempt = replace(
        attempt,
        results=replace(attempt.results, fat_percent=47.1, fat_mass_kg=28.4955, fat_free_mass_kg=32.0045),
    )
    assert attempts_table([attempt], 1) == (
        f"{ATTEMPTS_HEADER}\n"
        "1,K1,1001,P01,two-sites,C1,measured,20.0,female,60.5,-0.5,31.25,1.005859375,47.1,28.4955,32.0045,"
        "accepted,1001.xlsx,a1,circuit,\n"
    )


def test_attempts_table_of_a_refused_file_without_record() -> None:
    assert attempts_table([refused_without_record()], 3) == (
        f"{ATTEMPTS_HEADER}\n3,,,,,,,,,,,,,,,,refused,holiday.xlsx,a9,,\n"
    )


def test_attempts_table_of_a_refused_file_with_record_has_no_body_values() -> None:
    assert attempts_table([returned(1, "refused")], 1) == (
        f"{ATTEMPTS_HEADER}\n1,K1,1001,P01,two-sites,C1,measured,,,,-0.5,,,,,,refused,1001.xlsx,a1,circuit,\n"
    )


def test_attempts_table_takes_the_session_on_record() -> None:
    attempt = replace(accepted(1), record=record(1, session=2))
    assert rows(attempts_table([attempt], 1))[0]["session"] == "2"


def test_attempts_table_without_attempts_is_its_header() -> None:
    assert attempts_table([], 1) == f"{ATTEMPTS_HEADER}\n"


def test_attempts_table_in_any_order_of_files() -> None:
    attempts = [
        accepted(2),
        refused_without_record("b.xlsx"),
        returned(1, "superseded", file="z.xlsx"),
        accepted(1),
        refused_without_record("a.xlsx"),
    ]
    table = attempts_table(attempts, 1)
    assert [row["file"] for row in rows(table)] == ["a.xlsx", "b.xlsx", "1001.xlsx", "z.xlsx", "1002.xlsx"]
    assert attempts_table(attempts[::-1], 1) == table


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        # text as found, cell as written
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\n=1"),
        ("a\rb", "a\nb"),
        ("1=1", "1=1"),
        ("", ""),
        ("sheet\udcff", "sheet?"),
    ],
)
def test_text_that_a_spreadsheet_program_would_run(text: str, cell: str) -> None:
    attempt = returned(1, "review", finding("sheet-formula", "error", found=text), caliper_id=text)
    assert rows(findings_table([attempt], 1, TEXTS))[0]["found"] == cell
    assert rows(attempts_table([attempt], 1))[0]["caliper_id"] == cell


def test_text_typed_for_a_number_is_left_out() -> None:
    row = rows(attempts_table([accepted(1, age_years="=1+1", mass_kg=float("nan"), zero_mm="-1")], 1))[0]
    assert (row["age_years"], row["mass_kg"], row["zero_mm"]) == ("", "", "")


def test_numbers_keep_what_they_are() -> None:
    row = rows(attempts_table([accepted(1, age_years=20, mass_kg=60.123456789012345, zero_mm=-0.0)], 1))[0]
    assert (row["age_years"], row["mass_kg"], row["zero_mm"]) == ("20", "60.123456789012344", "-0.0")


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        # participant_today, participant_code
        (None, "P01"),
        (" p01 ", "P01"),
        ("p02", "P02"),
        ("Odile", ""),
    ],
)
def test_participant_code_where_someone_else_was_measured(typed: str | None, code: str) -> None:
    """Readings never stand against the code of somebody who was not measured, and a name is not passed on."""
    attempts = [accepted(1, participant_today=typed)]
    codes = ("P01", "P02")
    tables = (
        attempts_table(attempts, 1, codes),
        sites_table(readings_frame(attempts, BOOK, codes)),
        readings_table(readings_frame(attempts, BOOK, codes)),
    )
    assert [rows(table)[0]["participant_code"] for table in tables] == [code] * 3


def test_sites_table_of_an_accepted_file() -> None:
    assert sites_table(readings_frame([accepted(1)], BOOK)) == (
        f"{SITES_HEADER}\n"
        "1,K1,a1,1001,P01,triceps,2,11.0,no,1+2,\n"
        "1,K1,a1,1001,P01,front_thigh,3,20.25,yes,1+3,\n"
    )


def test_sites_table_with_missing_sites() -> None:
    attempt = accepted(
        1, not_taken_triceps="declined", reading_2_front_thigh=None, reading_3_front_thigh=None
    )
    assert sites_table(readings_frame([attempt], BOOK)) == (
        f"{SITES_HEADER}\n1,K1,a1,1001,P01,triceps,0,,,,left-out\n1,K1,a1,1001,P01,front_thigh,1,,,,\n"
    )


def test_readings_table_with_one_caliper() -> None:
    assert readings_table(readings_frame([accepted(1)], BOOK)) == (
        f"{READINGS_HEADER}\n"
        "1,K1,a1,1001,P01,triceps,1,9.5,C1,-0.5,yes,\n"
        "1,K1,a1,1001,P01,front_thigh,1,19.5,C1,-0.5,yes,\n"
        "1,K1,a1,1001,P01,triceps,2,11.5,C1,-0.5,yes,\n"
        "1,K1,a1,1001,P01,front_thigh,2,22.5,C1,-0.5,yes,\n"
        "1,K1,a1,1001,P01,front_thigh,3,20.0,C1,-0.5,third,\n"
    )


def test_readings_table_with_a_second_caliper() -> None:
    """Order of taking is round by round, site by site: from the thigh of round 1 on."""
    attempt = accepted(1, caliper_id_2="C2", zero_2_mm=1.0, changed_from="1_front_thigh")
    found = [
        (row["site"], row["round"], row["caliper_id"], row["zero_mm"])
        for row in rows(readings_table(readings_frame([attempt], BOOK)))
    ]
    assert found == [
        ("triceps", "1", "C1", "-0.5"),
        ("front_thigh", "1", "C2", "1.0"),
        ("triceps", "2", "C2", "1.0"),
        ("front_thigh", "2", "C2", "1.0"),
        ("front_thigh", "3", "C2", "1.0"),
    ]


@pytest.mark.parametrize("changed_from", [*change_words(PROTOCOL), "", "4_triceps"])
def test_readings_table_has_the_zero_that_was_deducted(changed_from: str) -> None:
    typed: dict[str, str | float | None] = {"zero_2_mm": 1.0, "changed_from": changed_from}
    for row in rows(readings_table(readings_frame([accepted(1, **typed)], BOOK))):
        zero = zero_of(PROTOCOL, entries(**typed), int(row["round"]), row["site"])
        assert float(row["zero_mm"]) == zero


def test_readings_table_leaves_out_what_is_no_number() -> None:
    attempt = accepted(1, reading_1_triceps="ten", reading_3_front_thigh=None)
    assert [(row["site"], row["round"]) for row in rows(readings_table(readings_frame([attempt], BOOK)))] == [
        ("front_thigh", "1"),
        ("triceps", "2"),
        ("front_thigh", "2"),
    ]


def test_refused_files_have_neither_sites_nor_readings() -> None:
    attempts = [returned(1, "refused"), refused_without_record()]
    assert sites_table(readings_frame(attempts, BOOK)) == f"{SITES_HEADER}\n"
    assert readings_table(readings_frame(attempts, BOOK)) == f"{READINGS_HEADER}\n"


def test_superseded_file_is_told_apart_by_its_digest() -> None:
    attempts = [accepted(1), returned(1, "superseded", file="old.xlsx", sha256="a0")]
    assert [row["sha256"] for row in rows(sites_table(readings_frame(attempts, BOOK)))] == [
        "a1",
        "a1",
        "a0",
        "a0",
    ]


def test_same_file_under_two_names_counts_once_in_sites_and_readings() -> None:
    attempts = [accepted(1), returned(1, "superseded", file="1001 (1).xlsx")]
    assert len(rows(attempts_table(attempts, 1))) == 2
    assert len(rows(sites_table(readings_frame(attempts, BOOK)))) == 2
    assert len(rows(readings_table(readings_frame(attempts, BOOK)))) == 5


def test_findings_table_with_and_without_record() -> None:
    attempts = [
        returned(1, "review", finding("sheet-formula-changed", "error", "Readings", "G12", "a, b")),
        refused_without_record(),
    ]
    assert findings_table(attempts, 1, TEXTS) == (
        f"{FINDINGS_HEADER}\n"
        "1,,,holiday.xlsx,file-not-ours,error,,,1,this,that,Do something about file-not-ours.\n"
        '1,K1,1001,1001.xlsx,sheet-formula-changed,error,Readings,G12,1,"a, b",that,'
        "Do something about sheet-formula-changed.\n"
    )


def test_practice_is_named_in_the_attempts_and_beside_the_readings_that_do_not_count() -> None:
    attempt = accepted(1, data_source="practice")
    row = rows(attempts_table([attempt], 1))[0]
    assert row["data_source"] == "practice"
    assert {row[name] for name in ("age_years", "sex_equation", "mass_kg", "sum_mm", "fat_percent")} == {""}
    frame = readings_frame([attempt], BOOK)
    assert "practice" not in sites_table(frame)
    told = {(row["counts"], row["left_out_because"]) for row in rows(readings_table(frame))}
    assert told == {("no", "practice")}


def test_whoever_works_out_the_error_from_the_readings_that_count_gets_the_figures_of_the_report() -> None:
    """TEM = sqrt(sum of squared differences / 2n) by site (Ulijaszek & Kerr 1999), zeros deducted."""
    *_, analysis = compared()
    pairs: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in rows(readings_table(analysis.readings)):
        if row["counts"] == "yes":
            pairs[row["site"], row["sha256"]].append(float(row["reading_mm"]) - float(row["zero_mm"]))
    squares: dict[str, list[float]] = defaultdict(list)
    for (site, _), values in pairs.items():
        first, second = values
        squares[site].append((first - second) ** 2)
    published = {row["site"]: row for row in rows(precision_table(analysis.sites, 1))}
    assert len(published) == 7
    for site, values in squares.items():
        assert float(published[site]["tem_mm"]) == pytest.approx(
            math.sqrt(sum(values) / (2 * len(values))), abs=1e-9
        )
    page = measured_page(analysis, "1", TITLES, {}, TEXTS)
    assert page is not None
    shown = {row[0]: row[2] for row in page.rows}
    assert {round(float(row["tem_mm"]), 6) for row in published.values()} == {
        round(float(tem), 6)
        for tem in shown.values()  # type: ignore[arg-type]
    }


def test_items_and_slips_go_by_codes_and_hold_no_body_value() -> None:
    assert items_table(SCORES) == (
        "session,student_id,item,points,out_of,status,copy_code\n"
        "1,1001,sum,7.5,10.0,final,K1\n"
        "1,1001,density,,15.0,exempt,K1\n"
    )
    assert slips_table(SLIPS_FOUND) == (
        "session,student_id,line,slip,points_lost,copy_code\n"
        "1,1001,site_thigh,truncated,0.25,K1\n"
        "1,1001,sum_mm,none-fits,10.0,K1\n"
    )


def test_source_of_the_limits_is_the_one_beside_their_values() -> None:
    assert TEXTS["report_data.limits_source"] == LIMITS_SOURCE


FILES = [
    accepted(1),
    returned(1, "superseded", file="old.xlsx", sha256="a0"),
    returned(2, "review", finding("entry-missing", "warning"), not_taken_triceps="skin"),
    returned(3, "refused", finding("identity-copy", "error")),
    refused_without_record(),
]
SCORES = (
    Score(1, "1001", "sum", 7.5, 10.0, "final", "2026-11-30", "K1"),
    Score(1, "1001", "density", None, 15.0, "exempt", "2026-11-30", "K1"),
    # neither the whole of a sheet nor that of a student is an item
    Score(1, "1001", WHOLE, 7.5, 10.0, "final", "2026-11-30", "K1"),
    Score(1, "1001", WHOLE, 75.0, 100.0, "final", "2026-11-30"),
)
SLIPS_FOUND = (
    LineSlip(1, "1001", "site_thigh", "truncated", 0.25, "K1"),
    LineSlip(1, "1001", "sum_mm", "none-fits", 10.0, "K1"),
)
PATHS = (
    "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "precision.csv", "files.csv", "marks.csv",
    "marks-by-item.csv", "slips.csv",
)  # fmt: skip


@cache
def table_texts() -> dict[str, str]:
    """Every table by its name."""
    frame = readings_frame(FILES, BOOK)
    marks = [
        MarkRow("1001", "=Odile", "Marsh", 12.5, 20.0, "final"),
        MarkRow("1002", "Tam", "Reeve", None, 20.0, "missing"),
    ]
    return {
        "attempts.csv": attempts_table(FILES, 1),
        "sites.csv": sites_table(frame),
        "readings.csv": readings_table(frame),
        "findings.csv": findings_table(FILES, 1, TEXTS),
        "precision.csv": precision_table(compared()[2].sites, 1),
        "files.csv": files_table(FILES, 1),
        "marks.csv": marks_table(marks),
        "marks-by-item.csv": items_table(SCORES),
        "slips.csv": slips_table(SLIPS_FOUND),
    }


def resources() -> dict[str, dict[str, Any]]:
    return {resource["path"]: resource for resource in json.loads(datapackage_text(TEXTS))["resources"]}


def fields(path: str) -> list[dict[str, Any]]:
    return list(resources()[path]["schema"]["fields"])


def units(path: str) -> Mapping[str, str]:
    return {field["name"]: field["unit"] for field in fields(path) if "unit" in field}


def test_datapackage_is_a_tabular_package_of_nine_files() -> None:
    package = json.loads(datapackage_text(TEXTS))
    assert package["profile"] == "tabular-data-package"
    assert tuple(resources()) == tuple(table_texts()) == PATHS
    assert {resource["profile"] for resource in package["resources"]} == {"tabular-data-resource"}


@pytest.mark.parametrize("path", PATHS)
def test_datapackage_fields_are_the_headers(path: str) -> None:
    assert [field["name"] for field in fields(path)] == table_texts()[path].splitlines()[0].split(",")


@pytest.mark.parametrize("path", PATHS)
def test_datapackage_types_and_constraints_hold_for_the_rows(path: str) -> None:
    readers = {"integer": int, "number": float, "string": str}
    assert rows(table_texts()[path]) != []
    for row in rows(table_texts()[path]):
        for field in fields(path):
            cell, constraints = row[field["name"]], field.get("constraints", {})
            if cell == "":
                assert not constraints.get("required", False), field["name"]
                continue
            readers[field["type"]](cell)
            assert cell in constraints.get("enum", [cell])


@pytest.mark.parametrize("path", ["attempts.csv", "sites.csv", "readings.csv"])
def test_datapackage_keys_name_one_row(path: str) -> None:
    key = resources()[path]["schema"]["primaryKey"]
    found = [tuple(row[name] for name in key) for row in rows(table_texts()[path])]
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("path", ["sites.csv", "readings.csv", "findings.csv"])
def test_datapackage_rows_belong_to_an_attempt(path: str) -> None:
    (foreign,) = resources()[path]["schema"]["foreignKeys"]
    assert foreign["reference"]["resource"] == "attempts"
    names, theirs = foreign["fields"], foreign["reference"]["fields"]
    known = {tuple(row[name] for name in theirs) for row in rows(table_texts()["attempts.csv"])}
    assert {tuple(row[name] for name in names) for row in rows(table_texts()[path])} <= known


def test_datapackage_units() -> None:
    """Codes of UCUM; `a` is the year."""
    assert units("attempts.csv") == {
        "age_years": "a",
        "mass_kg": "kg",
        "zero_mm": "mm",
        "sum_mm": "mm",
        "density_g_ml": "g/mL",
        "fat_percent": "%",
        "fat_mass_kg": "kg",
        "fat_free_mass_kg": "kg",
    }
    assert units("sites.csv") == {"site_mm": "mm"}
    assert units("readings.csv") == {"reading_mm": "mm", "zero_mm": "mm"}
    assert units("findings.csv") == {}


def test_datapackage_words_of_status_and_severity() -> None:
    status = next(field for field in fields("attempts.csv") if field["name"] == "status")
    severity = next(field for field in fields("findings.csv") if field["name"] == "severity")
    assert status["constraints"]["enum"] == ["accepted", "review", "refused", "superseded"]
    assert severity["constraints"]["enum"] == ["error", "warning", "note"]


def package_in(folder: Path, **changed: str) -> Path:
    """A whole package on disk. changed : text of a table, by its name."""
    for path, text in table_texts().items():
        (folder / path).write_text(changed.get(path.removesuffix(".csv"), text), encoding="utf-8", newline="")
    (folder / "datapackage.json").write_text(datapackage_text(TEXTS), encoding="utf-8")
    return folder / "datapackage.json"


def test_datapackage_is_accepted_by_the_reference_validator(tmp_path: Path) -> None:
    report = Package(str(package_in(tmp_path))).validate()
    assert report.flatten(["title", "message"]) == []
    assert [task.name for task in report.tasks] == [
        "attempts", "sites", "readings", "findings", "precision", "files", "marks", "marks-by-item",
        "slips",
    ]  # fmt: skip


TWICE = marks_table([MarkRow("1001", "A", "B", 1.0, 2.0, "final")] * 2)
# table, what stands there in place of what, what the validator says
FAULTS = (
    ("sites", ",a1,", ",a7,", "foreign-key"),
    ("attempts", ",accepted,", ",taken,", "constraint-error"),
    ("marks", "", TWICE, "primary-key"),
)


@pytest.mark.parametrize(("table", "old", "new", "kind"), FAULTS)
def test_the_reference_validator_refuses_a_faulty_table(
    tmp_path: Path, table: str, old: str, new: str, kind: str
) -> None:
    text = table_texts()[f"{table}.csv"].replace(old, new) if old else new
    report = Package(str(package_in(tmp_path, **{table: text}))).validate()
    assert [kind] in report.flatten(["type"])
