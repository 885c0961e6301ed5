"""Sheets of the first layout, of every protocol and language: read as they were when they were new."""

import io
import json
import shutil
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.read import read_returned
from sheetgen.returned.attempt import Attempt

KEPT = Path(__file__).with_name("first-layout-class.zip")
EXPECTED: Mapping[str, Mapping[str, Any]] = json.loads(KEPT.with_suffix(".json").read_text(encoding="utf-8"))
"""A regression record, no published values: class to file to what the first version read."""

NUMBERS = ("sum_mm", "density_g_ml", "fat_percent")
PROTOCOLS = {
    "folds-only",
    "four-sites",
    "seven-sites",
    "three-sites-men",
    "three-sites-women",
    "youth-two-sites",
}


@pytest.fixture(scope="module")
def classes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("first")
    with zipfile.ZipFile(KEPT) as outer:
        (inner,) = outer.namelist()
        with zipfile.ZipFile(io.BytesIO(outer.read(inner))) as archive:
            archive.extractall(place)
    return place


def as_recorded(attempt: Attempt) -> dict[str, Any]:
    results = attempt.results
    return {
        "student_id": attempt.record.student_id if attempt.record else "",
        "protocol_id": attempt.protocol_id,
        "status": attempt.status,
        "sum_mm": results and results.sum_mm,
        "density_g_ml": results and results.density_g_ml,
        "fat_percent": results and results.fat_percent,
        "findings": [finding.code for finding in attempt.findings],
        "entries": dict(attempt.entries),
    }


@pytest.mark.parametrize("named", EXPECTED)
def test_every_sheet_is_read_as_when_it_was_new(classes: Path, tmp_path: Path, named: str) -> None:
    language, _, without = named.partition(", no ")
    shutil.copytree(classes / language, tmp_path / "class")
    if without:
        shutil.rmtree(tmp_path / "class" / without)
    attempts = read_returned(ClassFolder(tmp_path / "class"), 1, today="2027-01-15").attempts
    read = {one.came_as: as_recorded(one) for one in attempts}
    assert read.keys() == EXPECTED[named].keys()
    for file, recorded in EXPECTED[named].items():
        numbers = {
            key: pytest.approx(recorded[key], rel=1e-9) for key in NUMBERS if recorded[key] is not None
        }
        assert read[file] == {**recorded, **numbers}, file


def test_the_record_is_of_every_protocol_and_kind() -> None:
    """Else it would prove less than it says."""
    sheets = [sheet for of in EXPECTED.values() for sheet in of.values()]
    for language in ("en", "es"):
        assert {sheet["protocol_id"] for sheet in EXPECTED[language].values()} - {""} == PROTOCOLS
    assert {sheet["entries"].get("data_source") for sheet in sheets} >= {"measured", "practice"}
    assert {Path(file).suffix for of in EXPECTED.values() for file in of} == {".xlsx", ".ods"}
    assert {sheet["student_id"] for sheet in sheets} >= {"L23", "L25"}
