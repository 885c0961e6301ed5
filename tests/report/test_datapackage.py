import csv
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from frictionless import Package

from sheetgen.marking.marks import MarkRow
from sheetgen.report.datapackage import data_page, datapackage_text
from sheetgen.report.marks_pages import marks_table
from sheetgen.report.tables import (
    attempts_table,
    findings_table,
    precision_table,
    readings_table,
    sites_table,
)
from sheetgen.statistics.agreement import ACCEPTABLE_LIMITS
from sheetgen.statistics.readings_frame import readings_frame
from tests.report.analysed import compared
from tests.report.invented import BOOK, TEXTS, accepted, finding, refused_without_record, returned


def test_data_page_lists_the_tables_with_their_keys() -> None:
    assert [(row[0], row[2]) for row in data_page(1, TEXTS).rows] == [
        ("attempts.csv", "session, file"),
        ("sites.csv", "session, copy_code, sha256, site"),
        ("readings.csv", "session, copy_code, sha256, site, round"),
        ("findings.csv", ""),
        ("precision.csv", "session, site"),
        ("marks.csv", "student_id"),
    ]


def test_data_page_gives_a_source_for_every_statistic() -> None:
    (sources,) = data_page(1, TEXTS).more
    assert all(row[1] for row in sources.rows)


def test_source_of_the_limits_is_the_one_beside_their_values() -> None:
    assert {limit.source for limit in ACCEPTABLE_LIMITS} == {TEXTS["report_data.limits_source"]}


FILES = [
    accepted(1),
    returned(1, "superseded", file="old.xlsx", sha256="a0"),
    returned(2, "review", finding("entry-missing", "warning"), not_taken_triceps="skin"),
    returned(3, "refused", finding("identity-copy", "error")),
    refused_without_record(),
]
FRAME = readings_frame(FILES, BOOK)
TABLES = {
    "attempts.csv": attempts_table(FILES, 1),
    "sites.csv": sites_table(FRAME),
    "readings.csv": readings_table(FRAME),
    "findings.csv": findings_table(FILES, 1, TEXTS),
    "precision.csv": precision_table(compared()[2].sites, 1),
}


def resources() -> dict[str, dict[str, Any]]:
    return {resource["path"]: resource for resource in json.loads(datapackage_text(TEXTS))["resources"]}


def fields(path: str) -> list[dict[str, Any]]:
    return list(resources()[path]["schema"]["fields"])


def units(path: str) -> Mapping[str, str]:
    return {field["name"]: field["unit"] for field in fields(path) if "unit" in field}


def rows(path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(TABLES[path], newline="")))


def test_datapackage_is_a_tabular_package_of_five_files() -> None:
    package = json.loads(datapackage_text(TEXTS))
    assert package["profile"] == "tabular-data-package"
    assert list(resources()) == [
        "attempts.csv", "sites.csv", "readings.csv", "findings.csv", "precision.csv",
    ]  # fmt: skip
    assert {resource["profile"] for resource in package["resources"]} == {"tabular-data-resource"}


@pytest.mark.parametrize("path", list(TABLES))
def test_datapackage_fields_are_the_headers(path: str) -> None:
    assert [field["name"] for field in fields(path)] == TABLES[path].splitlines()[0].split(",")


@pytest.mark.parametrize("path", list(TABLES))
def test_datapackage_types_and_constraints_hold_for_the_rows(path: str) -> None:
    readers = {"integer": int, "number": float, "string": str}
    assert rows(path) != []
    for row in rows(path):
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
    found = [tuple(row[name] for name in key) for row in rows(path)]
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("path", ["sites.csv", "readings.csv", "findings.csv"])
def test_datapackage_rows_belong_to_an_attempt(path: str) -> None:
    (foreign,) = resources()[path]["schema"]["foreignKeys"]
    assert foreign["reference"]["resource"] == "attempts"
    names, theirs = foreign["fields"], foreign["reference"]["fields"]
    known = {tuple(row[name] for name in theirs) for row in rows("attempts.csv")}
    assert {tuple(row[name] for name in names) for row in rows(path)} <= known


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
    """A whole package on disk, marks.csv among it. changed : text of a table, by its name."""
    marks = [
        MarkRow("1001", "=Odile", "Marsh", 12.5, 20.0, "final"),
        MarkRow("1002", "Tam", "Reeve", None, 20.0, "missing"),
    ]
    texts = {**TABLES, "marks.csv": marks_table(marks)}
    for path, text in texts.items():
        (folder / path).write_text(changed.get(path.removesuffix(".csv"), text), encoding="utf-8", newline="")
    (folder / "datapackage.json").write_text(datapackage_text(TEXTS, marks=True), encoding="utf-8")
    return folder / "datapackage.json"


def test_datapackage_with_marks_is_accepted_by_the_reference_validator(tmp_path: Path) -> None:
    report = Package(str(package_in(tmp_path))).validate()
    assert report.flatten(["title", "message"]) == []
    assert [task.name for task in report.tasks] == [
        "attempts", "sites", "readings", "findings", "precision", "marks",
    ]  # fmt: skip


# table, its text, what the validator says
FAULTS = (
    ("sites", TABLES["sites.csv"].replace(",a1,", ",a7,"), "foreign-key"),
    ("attempts", TABLES["attempts.csv"].replace(",accepted,", ",taken,"), "constraint-error"),
    ("marks", marks_table([MarkRow("1001", "A", "B", 1.0, 2.0, "final")] * 2), "primary-key"),
)


@pytest.mark.parametrize(("table", "text", "kind"), FAULTS)
def test_the_reference_validator_refuses_a_faulty_table(
    tmp_path: Path, table: str, text: str, kind: str
) -> None:
    report = Package(str(package_in(tmp_path, **{table: text}))).validate()
    assert [kind] in report.flatten(["type"])
