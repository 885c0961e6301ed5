"""Trunk sites of someone under 18, taken on another person's sheet."""

import pytest

from sheetgen.checking.minor_today import minor_today_findings
from sheetgen.model.finding import Worded
from tests.sheets import sheet_of
from tests.wording import said

SHEET = sheet_of()
MINORS = ("p-9q22",)

# entries, cells of the findings
CASES: tuple[tuple[dict[str, str | float | None], list[str]], ...] = (
    ({"participant_today": "P-9Q22", "reading_1_chest": 12.0}, ["B8"]),
    ({"participant_today": "p-9q22 ", "reading_2_abdominal": 12.0, "reading_1_thigh": 20.0}, ["B12"]),
    ({"participant_today": "P-9Q22", "reading_1_triceps": 12.0}, []),
    ({"participant_today": "P-7777", "reading_1_chest": 12.0}, []),
    ({"reading_1_chest": 12.0}, []),
)


@pytest.mark.parametrize(("entries", "cells"), CASES)
def test_minor_today(entries: dict[str, str | float | None], cells: list[str]) -> None:
    findings = minor_today_findings(SHEET.layout, SHEET.source.protocol, entries, MINORS)
    shown = {
        "B8": "Chest of P-9Q22, who counts as under 18",
        "B12": "Abdominal of P-9Q22, who counts as under 18",
    }
    assert list(said(findings)) == [
        Worded("procedure-minor-today", "", shown[cell], "limb sites only", "", "Readings", cell)
        for cell in cells
    ]
