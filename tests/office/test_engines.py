"""Two more spreadsheet engines work out filled sheets as the core does: every live result, to 1e-9.

Each engine reads the file that is handed out, takes the entries as a person types them, words of lists in the
sheet's language too, and recalculates.
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
Variant = tuple[str, str, tuple[str, str, float, str, str]]
VARIANTS: list[Variant] = [
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
    """Entries of every sheet in code words, those filled with care first; the same each time."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    seed = f"engines {protocol.identifier} {settings.language}"
    dice = random.Random(seed)
    handed_out: Case = {"data_source": "measured", "side": "right", "caliper_id": "C1"}
    young = [{"age_years": 8 + number % 10} if settings.under_18 else {} for number in range(FILLED)]
    with_care = [
        sample_entries(protocol, settings, settings.calipers[0], f"{seed} {number}") | age
        for number, age in enumerate(young)
    ]
    odd = [random_case(dice, sheet) for _ in range(ODD)]
    return [{**dict.fromkeys(entry_names(protocol)), **handed_out, **case} for case in (*with_care, *odd)]


def as_typed(sheet: Sheet, case: Case) -> Case:
    """The words that the sheet's lists show in place of code words."""
    shown = {
        (cell.name, code): word
        for tab in sheet.layout.tabs
        for cell in tab.cells
        if cell.rule and cell.rule.codes
        for code, word in zip(cell.rule.codes, cell.rule.words, strict=True)
    }
    return {name: shown.get((name, str(value)), value) for name, value in case.items()}


def different(sheet: Sheet, case: Case, answer: list[Value]) -> list[str]:
    """Every live result that is not the core's, with the entries."""
    expected = expected_of(sheet, case)
    return [
        f"{name}: engine {found!r}, core {expected[name]!r}, entries {case}"
        for name, found in zip(live_names(sheet.source.protocol), answer, strict=True)
        if not equal("" if found is None else found, expected[name])
    ]


def sheet_of_variant(variant: Variant) -> Sheet:
    protocol_id, language, (rule, kind, tolerance, conversion, shown) = variant
    youth = {"under_18": True, "youth_estimate": "on"} if protocol_id == "youth-two-sites" else {}
    return sheet_of(
        settings_with(
            **youth, protocol_id=protocol_id, language=language, site_rule=rule, tolerance_kind=kind,
            tolerance=tolerance, conversion=conversion, show_results=shown,
        )
    )  # fmt: skip


@pytest.fixture(scope="module", params=VARIANTS, ids=lambda variant: "-".join(variant[:2]))
def sheet(request: pytest.FixtureRequest) -> Sheet:
    return sheet_of_variant(request.param)


@pytest.mark.parametrize("answers", [by_ironcalc, by_formualizer])
def test_filled_sheets_equal_the_core(tmp_path: Path, answers: Answers, sheet: Sheet) -> None:
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(sheet.data)
    cases = cases_of(sheet)
    typed = [as_typed(sheet, case) for case in cases]
    answered = zip(cases, answers(path, sheet, typed), strict=True)
    assert [one for case, answer in answered for one in different(sheet, case, answer)] == []


def test_sheets_filled_with_care_have_what_their_protocol_can_give(sheet: Sheet) -> None:
    """Else little but empty cells would be compared."""
    protocol, settings = sheet.source.protocol, sheet.source.settings
    results = [recalculate(protocol, settings, case) for case in cases_of(sheet)[:FILLED]]
    assert {(result.sum_mm is None, result.estimate_state) for result in results} == {
        (False, "ok" if protocol.equations else "no-equation")
    }
