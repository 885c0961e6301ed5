"""Cached results against the core: equal, different, or never recalculated."""

import math
from collections.abc import Iterator, Mapping

from sheetgen.layout.address import absolute
from sheetgen.model.finding import Finding, Values, typed
from sheetgen.model.layout import Layout, Value
from sheetgen.model.snapshot import TabState

__all__ = ["cached_findings"]

_RELATIVE = 1e-9


def cached_findings(
    layout: Layout,
    handed_out: Mapping[str, Value],
    tabs: Mapping[str, TabState],
    expected: Mapping[str, float | str],
) -> tuple[Finding, ...]:
    """Return what the cached live results tell.

    Parameters
    ----------
    handed_out : first results that this copy carried, by cell name.
    expected : live result name to what the core works out from the entries as the sheet saw them.

    Notes
    -----
    A program that writes entries without working out formulas drops the cached results, or leaves the first
    ones. Both are "never recalculated", told apart from a result that differs.
    """
    places = layout.places()
    cached: dict[str, str | float | bool | None] = {}
    for name in expected:
        key, row, column = places[name]
        if key not in tabs:
            return ()
        cached[name] = tabs[key].value(row, column)
    different = [name for name, value in expected.items() if not _equal(value, cached[name])]
    if not different:
        return ()
    first_values = {
        cell.name: handed_out.get(cell.name, cell.value)
        for tab in layout.tabs
        for cell in tab.cells
        if cell.name
    }
    untouched = all(value is None for value in cached.values()) or all(
        _equal("" if first_values[name] is None else first_values[name], value)
        for name, value in cached.items()
    )
    if untouched:
        return (Finding("sheet-not-recalculated"),)
    return tuple(_differences(layout, different, cached, expected))


def _differences(
    layout: Layout,
    names: list[str],
    cached: Mapping[str, str | float | bool | None],
    expected: Mapping[str, float | str],
) -> Iterator[Finding]:
    places = layout.places()
    for name in names:
        key, row, column = places[name]
        cell = absolute(row, column).replace("$", "")
        values: Values = {"name": name, "stored": typed(cached[name]), "result": typed(expected[name])}
        yield Finding("sheet-result-differs", values, layout.tab(key).title, cell)


def _equal(expected: object, found: object) -> bool:
    if isinstance(expected, str) or isinstance(found, str) or expected is None or found is None:
        return ("" if expected is None else expected) == ("" if found is None else found)
    if isinstance(found, bool) or isinstance(expected, bool):
        return False
    if isinstance(found, int | float) and isinstance(expected, int | float):
        return math.isclose(expected, found, rel_tol=_RELATIVE, abs_tol=_RELATIVE)
    return False
