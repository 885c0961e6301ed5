"""One diff of a Snapshot against its Layout: what was changed in the locked parts of a sheet."""

import math
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache

from sheetgen.finding import Finding, Values, quoted, typed, written
from sheetgen.returned.whose import renamed_titles
from sheetgen.workbook.addresses import absolute, in_tab
from sheetgen.workbook.layout import Cell, Layout, Rule, Tab, Value
from sheetgen.workbook.snapshot import CellState, RuleState, Snapshot, TabState

_TOKEN = re.compile(
    r"""(?P<text>"(?:[^"]|"")*")          # a text
      |(?P<tab>'(?:[^']|'')*'!)           # a quoted tab
      |(?P<space>\s+)
      |(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?![A-Za-z_(]))
      |(?P<word>[A-Za-z_$.\\][\w.$\\]*!?)  # function, name, address, plain tab
      |(?P<other>.)""",
    re.VERBOSE | re.DOTALL,
)
_PREFIX = re.compile(r"^(_XLFN\.|_XLWS\.)+")

_RELATIVE = 1e-9

_EMPTY = CellState()


def loosened_rules(tab: Tab, state: TabState, titles: Mapping[str, str]) -> Iterator[Cell]:
    """Yield the entries whose rule was changed in what it lets through.

    A rule that only refuses blanks too is no change, and neither is one in a form that is not understood.

    Parameters
    ----------
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed.
    """
    for cell in tab.cells:
        if cell.role == "entry" and cell.rule is not None:
            expected, found = expected_rule(cell.rule), state.rule(cell.row, cell.column)
            if found is not None and found != expected and not _same_rule(expected, found, titles):
                yield cell


def expected_rule(rule: Rule) -> RuleState:
    """Return what a rule of the Layout lets through, as it is written into a sheet."""
    words = ",".join(rule.words).split(",") if rule.words else ()
    return RuleState(
        rule.kind,
        rule.minimum,
        rule.maximum,
        frozenset(map(str.strip, words)),
        rule.formula,
        rule.refuses,
        ignores_blank=rule.kind != "custom",
    )


def _same_rule(expected: RuleState, found: RuleState, titles: Mapping[str, str]) -> bool:
    if found.stops < expected.stops or found.kind != expected.kind:
        return False
    if found.kind == "custom":
        return not found.ignores_blank and same_formula(expected.formula, found.formula, titles)
    if found.kind == "list":
        # A list of cells instead of words is another program's way.
        return not found.words or found.words == expected.words
    if found.kind == "length":
        least, least_found = expected.minimum or 0, found.minimum or 0
        return least == max(0, least_found) and _same_limit(expected.maximum, found.maximum)
    return _same_limit(expected.minimum, found.minimum) and _same_limit(expected.maximum, found.maximum)


def _same_limit(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-12)


def same_formula(ours: str, theirs: str, titles: Mapping[str, str]) -> bool:
    """Tell whether two formulas mean the same.

    Parameters
    ----------
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed.

    Examples
    --------
    >>> same_formula('=IF($B$9="","",SUM(B9,2.50))', '=if( b9 = "" ; "" ; sum(B$9;2.5))', {})
    True
    >>> same_formula("=B9+1", "=B10+1", {})
    False
    """
    return ours == theirs or canonical(ours, ()) == canonical(theirs, tuple(titles.items()))


@lru_cache(maxsize=4096)
def canonical(formula: str, titles: tuple[tuple[str, str], ...]) -> str:
    """Return a formula without spaces, `$`, quotes round tab titles and `_xlfn.`, in upper case, with commas.

    Notes
    -----
    Texts in quotes stay as they are. Numbers are written the shortest way.
    """
    renamed = {found.casefold(): title for found, title in titles}
    parts = []
    for match in _TOKEN.finditer(formula.removeprefix("=")):
        kind, token = match.lastgroup, match.group()
        if kind == "space":
            continue
        if kind == "number":
            token = repr(float(token))
        elif kind == "tab" or (kind == "word" and token.endswith("!")):
            title = token[1:-2].replace("''", "'") if kind == "tab" else token[:-1]
            title = title.removeprefix("$")
            token = renamed.get(title.casefold(), title).upper() + "!"
        elif kind == "word":
            token = _PREFIX.sub("", token.upper().replace("$", ""))
        elif token == ";":
            token = ","
        parts.append(token)
    return "".join(parts)


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


def compared(
    layout: Layout, values: Mapping[str, Value], snapshot: Snapshot, tabs: Mapping[str, TabState]
) -> tuple[Finding, ...]:
    """Return a finding for every locked part that is not as it was handed out.

    Parameters
    ----------
    values : what this copy carried, by cell name.
    tabs : tab key to the tab as it came back.
    """
    titles = renamed_titles(layout, tabs)
    findings = [*_whole_file(layout, snapshot, tabs), *_name_findings(layout, snapshot, titles)]
    for tab in layout.tabs:
        state = tabs.get(tab.key)
        if state is not None:
            findings += _tab_findings(tab, state, values, titles, snapshot.formulas_comparable)
    return tuple(findings)


def _whole_file(layout: Layout, snapshot: Snapshot, tabs: Mapping[str, TabState]) -> Iterator[Finding]:
    found_titles = {state.title for state in tabs.values()}
    for state in snapshot.tabs:
        if state.title not in found_titles:
            yield Finding("sheet-tab-added", {"title": quoted(state.title)}, state.title)
    for tab in layout.tabs:
        found = tabs.get(tab.key)
        if found is None:
            yield Finding("sheet-tab-missing", {"title": quoted(tab.title)}, tab.title)
            continue
        if found.title != tab.title:
            titles = {"found": quoted(found.title), "title": quoted(tab.title)}
            yield Finding("sheet-tab-renamed", titles, tab.title)
        if not found.protected:
            yield Finding("sheet-protection-off", tab=tab.title)
        if tab.hidden and found.visibility == "visible":
            yield Finding("sheet-tab-shown", tab=tab.title)
        if not tab.hidden and found.visibility != "visible":
            yield Finding("sheet-tab-hidden", tab=tab.title)
    if not snapshot.formulas_comparable:
        yield Finding("sheet-saved-as-ods")
    if not snapshot.structure_protected:
        yield Finding("sheet-structure-open")


def _name_findings(layout: Layout, snapshot: Snapshot, titles: Mapping[str, str]) -> Iterator[Finding]:
    """Names are a cross-check: a cut carries them along, so a name elsewhere tells of a cut."""
    lost = []
    named = ((tab, cell) for tab in layout.tabs for cell in tab.cells if cell.named)
    for tab, cell in named:
        expected = in_tab(tab.title, absolute(cell.row, cell.column))
        target = snapshot.names.get(cell.defined_name)
        if target is None:
            lost.append(cell.defined_name)
        elif target != expected and not same_formula(expected, target, titles):
            code = "sheet-damaged-by-cut" if cell.role == "entry" else "sheet-name-moved"
            values = {"name": cell.defined_name, "found": target, "place": expected}
            yield _about_cell(code, values, tab, cell)
    if lost:
        yield Finding("sheet-names-lost", {"count": len(lost), "name": lost[0]})


def _tab_findings(
    tab: Tab, state: TabState, values: Mapping[str, Value], titles: Mapping[str, str], comparable: bool
) -> Iterator[Finding]:
    cells = state.cells
    bare_entries = []
    for cell in tab.cells:
        found = cells.get((cell.row, cell.column), _EMPTY)
        if cell.role != "entry":
            yield from _locked_cell(tab, cell, found, values, titles, comparable)
            continue
        if found.locked:
            yield _about_cell("sheet-entry-locked", {}, tab, cell)
        if not found.has_rule:
            bare_entries.append(cell)
    if bare_entries:
        yield _about_cell("sheet-rules-lost", {"count": len(bare_entries)}, tab, bare_entries[0])
    loosened = [cell for cell in loosened_rules(tab, state, titles) if cell not in bare_entries]
    if loosened:
        yield _about_cell("sheet-rules-changed", {"count": len(loosened)}, tab, loosened[0])
    places = {(cell.row, cell.column) for cell in tab.cells}
    open_places = []
    for (row, column), found in cells.items():
        if (row, column) in places:
            continue
        place = absolute(row, column).replace("$", "")
        if found.value is not None or found.formula:
            shown = found.formula or str(found.value)
            yield Finding("sheet-content-added", {"content": typed(shown)}, tab.title, place)
        elif not found.locked:
            open_places.append(place)
    if open_places:
        # One for all of them: a whole tab unlocked has thousands.
        count = {"count": len(open_places)}
        yield Finding("sheet-cell-unlocked", count, tab.title, open_places[0], case="empty")


def _locked_cell(
    tab: Tab,
    cell: Cell,
    found: CellState,
    values: Mapping[str, Value],
    titles: Mapping[str, str],
    comparable: bool,
) -> Iterator[Finding]:
    """What was changed in one locked cell; where formulas are not comparable, only that one is gone."""
    if cell.role == "formula":
        if not found.formula:
            there: Values = {"value": typed(str(found.value), 40), "formula": cell.formula[:80]}
            case = "gone" if found.value in (None, "") else ""
            yield _about_cell("sheet-formula-replaced", there, tab, cell, case)
        elif comparable and not same_formula(cell.formula, found.formula, titles):
            there = {"found": written(found.formula, 80), "formula": cell.formula[:80]}
            yield _about_cell("sheet-formula-changed", there, tab, cell)
    else:
        expected = values.get(cell.name, cell.value) if cell.role == "identity" else cell.value
        if found.formula or not _same_value(expected, found.value):
            # A printed identity is a code; in place of another text anything may stand.
            identity, content = cell.role == "identity", found.formula or found.value
            shown = {
                "found": quoted(content) if identity else typed(content, 80),
                "printed": quoted(expected),
            }
            yield _about_cell("identity-changed" if identity else "sheet-label-changed", shown, tab, cell)
    if not found.locked:
        yield _about_cell("sheet-cell-unlocked", {}, tab, cell)


def _same_value(expected: Value, found: Value | bool) -> bool:
    if expected is None or expected == "":
        return found is None or found == ""
    if isinstance(expected, str):
        return isinstance(found, str) and expected.split() == found.split()
    if isinstance(found, bool) or not isinstance(found, int | float):
        return False
    return math.isclose(expected, found, rel_tol=1e-12)


def _about_cell(code: str, values: Values, tab: Tab, cell: Cell, case: str = "") -> Finding:
    return Finding(code, values, tab.title, absolute(cell.row, cell.column).replace("$", ""), case)
