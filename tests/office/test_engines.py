"""Two more spreadsheet engines work out filled sheets as the core does: every live result, to 1e-9.

Each engine reads the file that is handed out, takes the entries as a person types them, and recalculates.
"""

import random
from collections.abc import Callable, Iterator
from pathlib import Path

import formualizer
import ironcalc
import pytest

from sheetgen.protocols.names import entry_names, live_names
from sheetgen.workbook.layout import Value
from tests.office.test_differential import Case, equal, expected_of, random_case
from tests.sheets import Sheet, settings_with, sheet_of

SHEETS = 10
"""Of each protocol and language."""

VARIANTS = (
    ("seven-sites", "en"), ("seven-sites", "es"), ("four-sites", "en"), ("three-sites-women", "es"),
    ("folds-only", "en"), ("youth-two-sites", "es"),
)  # fmt: skip

Answers = Callable[[Path, Sheet, list[Case]], Iterator[list[Value]]]


def by_ironcalc(path: Path, sheet: Sheet, cases: list[Case]) -> Iterator[list[Value]]:
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    tabs = [tab.title for tab in sheet.layout.tabs]

    def at(name: str) -> tuple[int, int, int]:
        title, row, column = sheet.place(name)
        return tabs.index(str(title)), int(row) + 1, int(column) + 1

    for case in cases:
        for name, value in case.items():
            if value is None:
                model.clear_cell_contents(*at(name))
            elif isinstance(value, str):
                model.update_cell_with_text(*at(name), value)
            else:
                model.update_cell_with_number(*at(name), float(value))
        model.evaluate()
        yield [model.get_cell_value(*at(name)) for name in live_names(sheet.source.protocol)]


def by_formualizer(path: Path, sheet: Sheet, cases: list[Case]) -> Iterator[list[Value]]:
    book = formualizer.Workbook.from_bytes(path.read_bytes())
    for case in cases:
        for name, value in case.items():
            title, row, column = sheet.place(name)
            typed = formualizer.LiteralValue.empty() if value is None else value
            book.set_value(title, int(row) + 1, int(column) + 1, typed)
        book.evaluate_all()
        places = (sheet.place(name) for name in live_names(sheet.source.protocol))
        yield [book.get_value(title, int(row) + 1, int(column) + 1) for title, row, column in places]


@pytest.mark.parametrize("answers", [by_ironcalc, by_formualizer])
@pytest.mark.parametrize(("protocol_id", "language"), VARIANTS)
def test_filled_sheets_equal_the_core(
    tmp_path: Path, answers: Answers, protocol_id: str, language: str
) -> None:
    sheet = sheet_of(settings_with(protocol_id=protocol_id, language=language))
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    dice = random.Random(f"engines {protocol_id} {language}")
    handed_out = dict.fromkeys(entry_names(sheet.source.protocol)) | {
        "data_source": "measured",
        "side": "right",
    }
    cases = [{**handed_out, **random_case(dice, sheet)} for _ in range(SHEETS)]
    names = live_names(sheet.source.protocol)
    differences = [
        f"{name}: engine {found!r}, core {expected[name]!r}, entries {case}"
        for case, answer in zip(cases, answers(path, sheet, cases), strict=True)
        for expected in [expected_of(sheet, case)]
        for name, found in zip(names, answer, strict=True)
        if not equal("" if found is None else found, expected[name])
    ]
    assert differences == []
