"""A Spanish sheet in the spreadsheet program: words of its lists are taken for the code words."""

from pathlib import Path

import pytest

from sheetgen.commands.demo import sample_entries
from sheetgen.workbook.layout import Value
from tests.office.client import Office
from tests.sheets import CALIPERS, SETTINGS, Sheet, settings_with, sheet_of

WORDS = (
    ("data_source", "práctica", "practice"),
    ("data_source", " MEDIDO ", "measured"),
    ("data_source", "practice", "practice"),
    ("data_source", "otra", "otra"),
    ("sex_equation", "Mujer", "female"),
    ("sex_equation", "hombre", "male"),
    ("sex_equation", "solo-suma", "sum-only"),
    ("side", "izquierdo", "left"),
    ("cautions_confirmed", "sí", "yes"),
    ("cautions_confirmed", "SÍ", "yes"),
    ("not_taken_chest", "Sin-Tomar", "left-out"),
)
LIVE = ("sum_mm", "density_g_ml", "fat_percent", "ready")


@pytest.fixture(scope="module")
def spanish() -> Sheet:
    return sheet_of(settings_with(language="es"))


def results(office: Office, path: Path, sheet: Sheet, entries: dict[str, Value]) -> list[Value]:
    path.write_bytes(sheet.data)
    with office.workbook(path) as handle:
        office.set(handle, [[*sheet.place(name), value] for name, value in entries.items()])
        return office.get(handle, [sheet.place(name) for name in LIVE])


def test_words_of_the_lists_are_taken_for_code_words(office: Office, tmp_path: Path, spanish: Sheet) -> None:
    """In whatever case; the code word itself is taken too, another word stays."""
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(spanish.data)
    found = []
    with office.workbook(path) as handle:
        for name, typed, _ in WORDS:
            office.set(handle, [[*spanish.place(name), typed]])
            found += office.get(handle, [spanish.place(f"in_{name}")])
    assert found == [code for _, _, code in WORDS]


def test_results_of_spanish_words_are_those_of_the_english_sheet(
    office: Office, tmp_path: Path, spanish: Sheet
) -> None:
    english = sheet_of()
    entries = {
        **sample_entries(english.source.protocol, SETTINGS, CALIPERS[0], "words"), "caliper_id": "C1",
    }  # fmt: skip
    entries = {name: value for name, value in entries.items() if value is not None}
    shown = {"yes": "sí", "female": "mujer", "male": "hombre"}
    translated = {name: shown.get(str(value), value) for name, value in entries.items()}
    in_spanish = results(office, tmp_path / "es.xlsx", spanish, translated)
    assert in_spanish == results(office, tmp_path / "en.xlsx", english, entries)
    assert in_spanish[-1] == "yes"
