"""Entries worked out by hand, and Snapshots of sheets that came back, for the tests of this floor."""

from collections.abc import Mapping
from functools import lru_cache

from msgspec.structs import replace

from sheetgen.workbook.layout import Value
from sheetgen.workbook.packages import filled
from sheetgen.workbook.read.guard import Package, read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.snapshot import CellState, Snapshot, TabState
from tests.sheets import Sheet, sheet_of

SITES = ("chest", "midaxillary", "triceps", "subscapular", "abdominal", "suprailiac", "thigh")


def _readings(*rows: tuple[float | None, float | None, float | None]) -> dict[str, Value]:
    return {
        f"reading_{number}_{site}": value
        for site, row in zip(SITES, rows, strict=True)
        for number, value in enumerate(row, start=1)
        if value is not None
    }


# The zero of -0.5 mm adds half a millimetre to every reading.
# Corrected: 10.5 11.5 | 12.5 14.5, exactly the tolerance | 16 18.5 17.5 | 13 13
#            | 20.5 23.5 26.5, no two agree | 14.5 15 and a third nobody asked for | 24.5 26
# Site values: 11 + 13.5 + 17.5 + 13 + 23.5 + 14.75 + 25.25 = 118.5 mm
WOMAN: dict[str, Value] = {
    "cautions_confirmed": "yes",
    "data_source": "measured",
    "age_years": 24,
    "sex_equation": "female",
    "mass_kg": 60,
    "caliper_id": "C1",
    "zero_mm": -0.5,
    "side": "right",
    "length_upper_arm_cm": 33,
    "length_thigh_cm": 45.5,
    **_readings(
        (10, 11, None),
        (12, 14, None),
        (15.5, 18, 17),
        (12.5, 12.5, None),
        (20, 23, 26),
        (14, 14.5, 15),
        (24, 25.5, None),
    ),
}

# The zero of 3 mm is deducted from every reading; the closest pair of three counts.
# Corrected: 19 22 21, the last two lie closest | 22 22 | 15 18 21, equal gaps: the middle one | 28 28 | 35 33
#            | 29 31, exactly the tolerance | 24 25
# Site values: 21.5 + 22 + 18 + 28 + 34 + 30 + 24.5 = 178 mm
MAN: dict[str, Value] = {
    "cautions_confirmed": "yes",
    "data_source": "measured",
    "age_years": 34,
    "sex_equation": "Male",
    "mass_kg": 80.5,
    "caliper_id": "7",
    "zero_mm": 3,
    "side": "right",
    "length_upper_arm_cm": 40,
    "length_thigh_cm": 42,
    **_readings(
        (22, 25, 24),
        (25, 25, None),
        (18, 21, 24),
        (31, 31, None),
        (38, 36, None),
        (32, 34, None),
        (27, 28, None),
    ),
}


def without(entries: Mapping[str, Value], *names: str) -> dict[str, Value]:
    """Return entries with some of them left empty."""
    return {name: value for name, value in entries.items() if name not in names}


def state_of(data: bytes) -> Snapshot:
    """Return the Snapshot of a workbook."""
    package = read_package_bytes(data)
    assert isinstance(package, Package), package
    state = snapshot(package)
    assert isinstance(state, Snapshot), state
    return state


@lru_cache(maxsize=1)
def untouched() -> Snapshot:
    """Return the Snapshot of the usual sheet as it was handed out."""
    return state_of(sheet_of().data)


def returned(
    entries: Mapping[str, Value], results: Mapping[str, Value] | None = None, sheet: Sheet | None = None
) -> Snapshot:
    """Return the Snapshot of a sheet with entries typed in and results stored."""
    sheet = sheet or sheet_of()
    return state_of(filled(sheet.data, sheet.layout, entries, results))


def with_tab(state: Snapshot, tab_title: str, **changes: object) -> Snapshot:
    """Return a Snapshot with something of one tab changed."""
    tabs = (
        replace(tab, **changes) if tab.title == tab_title else tab  # type: ignore[arg-type]
        for tab in state.tabs
    )
    return replace(state, tabs=tuple(tabs))


def with_cell(tab: TabState, row: int, column: int, **changes: object) -> TabState:
    """Return a tab with something of one cell changed."""
    state = replace(tab.cells.get((row, column), CellState()), **changes)  # type: ignore[arg-type]
    return replace(tab, cells={**tab.cells, (row, column): state})
