"""Two more spreadsheet engines work out filled sheets as the core does: every live result, to 1e-9.

Each engine reads the file that is handed out, takes the entries as a person types them, and recalculates.
Nothing is left out: no bug of either engine is known that a sheet meets.
"""

import random
from collections.abc import Callable, Iterator
from pathlib import Path

import formualizer
import ironcalc
import pytest

from sheetgen.commands.demo import sample_entries
from sheetgen.protocols.loading import shipped_protocols
from sheetgen.protocols.names import entry_names, live_names
from sheetgen.protocols.recalculation import recalculate
from sheetgen.texts.languages import languages
from sheetgen.workbook.layout import Value
from tests.office.test_differential import Case, equal, expected_of, random_case
from tests.sheets import Sheet, settings_with, sheet_of

FILLED = 30
"""Of each protocol and language: sheets filled as a careful student fills them."""

ODD = 10
"""As many more with gaps, edges and slips."""

# site rule, kind of tolerance, tolerance, conversion, when results are shown: in turn over the languages
RULES = (
    ("median", "mm", 2.0, "siri", "after-working"),
    ("closest-pair", "percent", 7.5, "brozek", "always"),
    ("closest-pair", "mm", 1.0, "siri", "never"),
)
VARIANTS = [
    (protocol_id, language, RULES[(number + turn) % len(RULES)])
    for number, protocol_id in enumerate(shipped_protocols())
    for turn, language in enumerate(languages())
]

Answers = Callable[[Path, Sheet, list[Case]], Iterator[list[Value]]]


def by_ironcalc(path: Path, sheet: Sheet, cases: list[Case]) -> Iterator[list[Value]]:
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    tabs = [tab.title for tab in sheet.layout.tabs]

    def at(name: str) -> tuple[int, int, int]:
        title, row, column = sheet.places[name]
        return tabs.index(title), row + 1, column + 1

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

    def at(name: str) -> tuple[str, int, int]:
        title, row, column = sheet.places[name]
        return title, row + 1, column + 1

    for case in cases:
        for name, value in case.items():
            book.set_value(*at(name), formualizer.LiteralValue.empty() if value is None else value)
        book.evaluate_all()
        yield [book.get_value(*at(name)) for name in live_names(sheet.source.protocol)]


def cases_of(sheet: Sheet) -> list[Case]:
    """Entries of every sheet, those filled with care first; the same each time."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    seed = f"engines {protocol.identifier} {settings.language}"
    dice = random.Random(seed)
    handed_out: Case = dict.fromkeys(entry_names(protocol)) | {
        "data_source": "measured",
        "side": "right",
        "caliper_id": "C1",
    }
    young = [{"age_years": 8 + number % 10} if settings.under_18 else {} for number in range(FILLED)]
    with_care = [
        sample_entries(protocol, settings, settings.calipers[0], f"{seed} {number}") | age
        for number, age in enumerate(young)
    ]
    return [{**handed_out, **case} for case in (*with_care, *(random_case(dice, sheet) for _ in range(ODD)))]


@pytest.fixture(
    scope="module",
    params=VARIANTS,
    ids=lambda variant: f"{variant[0]}-{variant[1]}",
)
def sheet(request: pytest.FixtureRequest) -> Sheet:
    protocol_id, language, (rule, kind, tolerance, conversion, shown) = request.param
    youth = {"under_18": True, "youth_estimate": "on"} if protocol_id == "youth-two-sites" else {}
    return sheet_of(
        settings_with(
            **youth, protocol_id=protocol_id, language=language, site_rule=rule, tolerance_kind=kind,
            tolerance=tolerance, conversion=conversion, show_results=shown,
        )
    )  # fmt: skip


@pytest.mark.parametrize("answers", [by_ironcalc, by_formualizer])
def test_filled_sheets_equal_the_core(tmp_path: Path, answers: Answers, sheet: Sheet) -> None:
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    cases = cases_of(sheet)
    names = live_names(sheet.source.protocol)
    differences = [
        f"{name}: engine {found!r}, core {expected[name]!r}, entries {case}"
        for case, answer in zip(cases, answers(path, sheet, cases), strict=True)
        for expected in [expected_of(sheet, case)]
        for name, found in zip(names, answer, strict=True)
        if not equal("" if found is None else found, expected[name])
    ]
    assert differences == []


def test_sheets_filled_with_care_have_what_their_protocol_can_give(sheet: Sheet) -> None:
    """Else little but empty cells would be compared."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    results = [recalculate(protocol, settings, case) for case in cases_of(sheet)[:FILLED]]
    assert {(result.sum_mm is None, result.estimate_state) for result in results} == {
        (False, "ok" if protocol.equations else "no-equation")
    }
