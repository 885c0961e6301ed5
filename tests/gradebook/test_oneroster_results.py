"""Marks as OneRoster CSV."""

import csv
import io
import zipfile
from datetime import date

import pytest
from msgspec.structs import replace

from sheetgen.errors import UsageError
from sheetgen.gradebook.oneroster_results import ResultsFrame, oneroster_zip
from sheetgen.marking.marks import MarkRow

MARKS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final"),
    MarkRow("-S02", "Bo", "Heath", 12.0, 20.0, "to be marked"),
    MarkRow("S03", "Cy", "Moor", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", None, 20.0, "exempt"),
    MarkRow("S05", "Ed", "Marsh", 0.0, 20.0, "final"),
    MarkRow("S06", "Fay", "Tarn", None, 20.0, "unusable", "", "file-pdf"),
    MarkRow("S07", "Gil", "Vale", None, 20.0, "unusable", "", "entry-nothing-typed"),
)
FRAME = ResultsFrame("K7Q2", 1, "Evening class", date(2026, 11, 20), "", "cat-1", "term-1")


def parts(data: bytes) -> dict[str, list[dict[str, str]]]:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        texts = {name: package.read(name).decode("utf-8") for name in package.namelist()}
    return {name: list(csv.DictReader(io.StringIO(text, newline=""))) for name, text in texts.items()}


def test_zip_holds_a_manifest_and_the_two_tables() -> None:
    assert list(parts(oneroster_zip(MARKS, FRAME))) == ["manifest.csv", "lineItems.csv", "results.csv"]


@pytest.mark.parametrize("version", ("1.1", "1.2"))
def test_manifest_names_the_version_and_the_files(version: str) -> None:
    rows = parts(oneroster_zip(MARKS, replace(FRAME, version=version)))["manifest.csv"]
    said = {row["propertyName"]: row["value"] for row in rows}
    assert said["oneroster.version"] == version
    assert {name for name, value in said.items() if value == "bulk"} == {"file.lineItems", "file.results"}
    assert said["file.users"] == "absent"
    assert ("file.roles" in said) == (version == "1.2")


def test_line_item_is_the_session() -> None:
    (item,) = parts(oneroster_zip(MARKS, FRAME))["lineItems.csv"]
    assert item == {
        "sourcedId": item["sourcedId"],
        "status": "",
        "dateLastModified": "",
        "title": "Evening class, session 1",
        "description": "Skinfold measurement: method and arithmetic",
        "assignDate": "2026-11-20",
        "dueDate": "2026-11-20",
        "classSourcedId": "K7Q2",
        "categorySourcedId": "cat-1",
        "gradingPeriodSourcedId": "term-1",
        "resultValueMin": "0",
        "resultValueMax": "20",
    }


@pytest.mark.parametrize("version", ("1.1", "1.2"))
def test_results_give_missing_and_exempt_no_score(version: str) -> None:
    read = parts(oneroster_zip(MARKS, replace(FRAME, version=version)))
    rows = read["results.csv"]
    assert [(row["studentSourcedId"], row["scoreStatus"], row["score"]) for row in rows] == [
        ("S01", "fully graded", "17.5"),
        ("-S02", "submitted", ""),
        ("S03", "not submitted", ""),
        ("S04", "exempt", ""),
        ("S05", "fully graded", "0"),
        ("S06", "submitted", ""),
        ("S07", "submitted", ""),
    ]
    assert {row["lineItemSourcedId"] for row in rows} == {read["lineItems.csv"][0]["sourcedId"]}
    assert {row["scoreDate"] for row in rows} == {"2026-11-20"}


def test_a_partial_score_goes_out_only_where_asked() -> None:
    rows = parts(oneroster_zip(MARKS, replace(FRAME, partial=True)))["results.csv"]
    assert (rows[1]["scoreStatus"], rows[1]["score"]) == ("partially graded", "12")


def test_work_whose_score_was_taken_away_is_never_called_not_submitted() -> None:
    taken = (*MARKS[:2], MarkRow("S03", "Cy", "Moor", None, 20.0, "missing", "2026-11-18"))
    row = parts(oneroster_zip(taken, replace(FRAME, version="1.2")))["results.csv"][2]
    assert (row["scoreStatus"], row["score"], row["missing"]) == ("submitted", "", "false")


def test_columns_of_the_first_version_in_order() -> None:
    assert list(parts(oneroster_zip(MARKS, FRAME))["results.csv"][0]) == [
        "sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId", "scoreStatus",
        "score", "scoreDate", "comment",
    ]  # fmt: skip


def test_results_of_the_second_version_say_what_is_missing() -> None:
    rows = parts(oneroster_zip(MARKS, replace(FRAME, version="1.2")))["results.csv"]
    assert [row["missing"] for row in rows] == ["false", "false", "true", *["false"] * 4]


# language, what is said of work that cannot be used
COMMENTS = (
    ("en", "The file is a PDF, a picture of the printed page; the entries cannot be taken from it."),
    ("es", "El archivo es un PDF, una imagen de la página impresa; de él no se pueden tomar las entradas."),
)


@pytest.mark.parametrize(("language", "words"), COMMENTS)
def test_results_say_why_what_was_handed_in_cannot_be_used(language: str, words: str) -> None:
    rows = parts(oneroster_zip(MARKS, replace(FRAME, language=language)))["results.csv"]
    assert [row["comment"] for row in rows[:6]] == ["", "", "", "", "", words]
    assert rows[6]["comment"] not in ("", words)


def ids(frame: ResultsFrame) -> list[str]:
    read = parts(oneroster_zip(MARKS, frame))
    return [row["sourcedId"] for row in (*read["lineItems.csv"], *read["results.csv"])]


def test_sourced_ids_are_the_same_again_and_others_for_another_session_or_class() -> None:
    every = ids(FRAME) + ids(replace(FRAME, session=2)) + ids(replace(FRAME, class_code="K7Q3"))
    assert ids(replace(FRAME, title="Renamed", day=date(2027, 1, 1))) == ids(FRAME)
    assert len(set(every)) == 24


def test_equal_marks_give_equal_bytes() -> None:
    assert oneroster_zip(MARKS, FRAME) == oneroster_zip(MARKS, FRAME)


def test_title_that_a_spreadsheet_program_would_run_is_made_harmless() -> None:
    (item,) = parts(oneroster_zip(MARKS, replace(FRAME, title="=1+1")))["lineItems.csv"]
    assert item["title"] == "'=1+1, session 1"


def test_marks_out_of_different_scores_are_refused() -> None:
    with pytest.raises(UsageError, match="2 different highest scores"):
        oneroster_zip((*MARKS, MarkRow("S06", "", "", 1.0, 10.0, "final")), FRAME)
    with pytest.raises(UsageError, match="no highest score"):
        oneroster_zip((), FRAME)


def test_unknown_version_is_refused() -> None:
    with pytest.raises(UsageError, match=r"version '2\.0'; expected 1\.1 or 1\.2"):
        oneroster_zip(MARKS, replace(FRAME, version="2.0"))
