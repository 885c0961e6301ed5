"""One diff of a Snapshot against its Layout: what was changed in the locked parts of a sheet."""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from itertools import takewhile

from sheetgen.finding import Finding, Values, gathered, quoted, typed, written
from sheetgen.returned.attempt import about_cell, named_cells
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
_NUMBER = re.compile(r"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*")
_PREFIX = re.compile(r"^(_XLFN\.|_XLWS\.)+")

_TARGET = re.compile(r"'?(?P<title>(?:[^'!]|'')+)'?!(?P<cell>\$?[A-Z]{1,3}\$?[0-9]{1,7}|#REF!)")
"""What a defined name points at, where that is one cell."""
_LONGEST_WHOLE, _LONGEST_SHOWN = 80, 40
_SAME_BEFORE = 8

_EMPTY = CellState()

_Part = tuple[str, Values, str]  # Code, values and case of a finding about one cell.


def loosened_rules(tab: Tab, state: TabState, titles: Mapping[str, str]) -> Iterator[Cell]:
    """Yield the entries whose rule was changed in what it lets through.
    A rule that only refuses blanks too is no change, and neither is one in a form that is not understood.
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed."""
    for cell in tab.cells:
        if cell.role == "entry" and cell.rule is not None:
            found = state.rule(cell.row, cell.column)
            if found is not None and not _same_rule(expected_rule(cell.rule), found, titles):
                yield cell


def expected_rule(rule: Rule) -> RuleState:
    """Return what a rule of the Layout lets through, as it is written into a sheet."""
    words = ",".join(rule.words).split(",") if rule.words else ()
    listed, custom = frozenset(map(str.strip, words)), rule.kind == "custom"
    return RuleState(
        rule.kind, rule.minimum, rule.maximum, listed, rule.formula, rule.refuses, ignores_blank=not custom
    )


def _same_rule(expected: RuleState, found: RuleState, titles: Mapping[str, str]) -> bool:
    if found.stops < expected.stops or found.kind != expected.kind:
        return False
    if found.kind == "custom":
        return not found.ignores_blank and same_formula(expected.formula, found.formula, titles)
    if found.kind == "list":
        # A list of cells instead of words is another program's way.
        return not found.words or found.words == expected.words
    least, least_found = expected.minimum, found.minimum
    if found.kind == "length":
        # Nothing is shorter than an empty text.
        least, least_found = least or 0, max(0, least_found or 0)
    return _same(least, least_found) and _same(expected.maximum, found.maximum)


def _same(expected: Value, found: Value | bool, tolerance: float = 1e-12) -> bool:
    """Whether two values are equal: numbers within a tolerance, texts but for their spaces; none is empty.
    Text that looks like a number is that number: two writers store it so."""
    if isinstance(expected, str) and expected == found:
        return True
    one, other = _number(expected), _number(found)
    if one is not None and other is not None and not (isinstance(expected, str) and isinstance(found, str)):
        return math.isclose(one, other, rel_tol=tolerance, abs_tol=tolerance)
    expected, found = "" if expected is None else expected, "" if found is None else found
    if not isinstance(expected, str) or not isinstance(found, str):
        return False
    return (expected.split() or expected) == (found.split() or found)


def _number(value: Value | bool) -> float | None:
    if isinstance(value, str):
        return float(value) if _NUMBER.fullmatch(value) else None
    return None if value is None or isinstance(value, bool) else value


def same_formula(ours: str, theirs: str, titles: Mapping[str, str]) -> bool:
    """Tell whether two formulas mean the same.
    titles : tab title as found, in lower case, to the title at hand-out, for tabs that were renamed."""
    return ours == theirs or canonical(ours, ()) == canonical(theirs, tuple(titles.items()))


@lru_cache(maxsize=4096)
def canonical(formula: str, titles: tuple[tuple[str, str], ...]) -> str:
    """Return a formula without spaces, `$`, quotes round tab titles and `_xlfn.`, in upper case, with commas.
    Texts in quotes stay as they are. Numbers are written the shortest way."""
    renamed = dict(titles)
    parts = []
    for match in _TOKEN.finditer(formula.removeprefix("=")):
        kind, token = match.lastgroup, match.group()
        if kind == "space":
            token = ""
        elif kind == "number":
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
    """Return what the cached live results tell. handed_out : first results that this copy carried, by cell
    name. expected : live result name to what the core works out from the entries as the sheet saw them. A
    program that writes entries without working out formulas drops the cached results, or leaves the first
    ones. Both are "never recalculated", told apart from a result that differs."""
    named = named_cells(layout)
    cells = {name: named[name] for name in expected}
    if any(tab.key not in tabs for tab, _ in cells.values()):
        return ()
    cached = {name: tabs[tab.key].value(cell.row, cell.column) for name, (tab, cell) in cells.items()}
    different = [name for name, value in expected.items() if not _same(value, cached[name], 1e-9)]
    untouched = all(value is None for value in cached.values()) or all(
        _same(handed_out.get(name, cells[name][1].value), value, 1e-9) for name, value in cached.items()
    )
    if different and untouched:
        return (Finding("sheet-not-recalculated"),)
    return tuple(
        about_cell(
            "sheet-result-differs",
            {"name": name, "stored": typed(cached[name]), "result": typed(expected[name])},
            *cells[name],
        )
        for name in different
    )


def compared(
    layout: Layout, values: Mapping[str, Value], snapshot: Snapshot, tabs: Mapping[str, TabState]
) -> tuple[Finding, ...]:
    """Return what was found of locked parts that are not as they were handed out, gathered by code and tab.
    values : what this copy carried, by cell name. tabs : tab key to the tab as it came back."""
    titles = {tabs[tab.key].title.casefold(): tab.title for tab in layout.tabs if tab.key in tabs}

    def same(ours: str, theirs: str) -> bool:
        return not snapshot.formulas_comparable or same_formula(ours, theirs, titles)

    def changes() -> Iterator[Finding]:
        yield from _whole_file(layout, snapshot, tabs)
        yield from _name_findings(layout, snapshot, titles)
        for tab in layout.tabs:
            if tab.key in tabs:
                state = tabs[tab.key]
                yield from _of_its_cells(tab, state, values, same)
                yield from _of_its_rules(tab, state, titles)
                yield from _added(tab, state)

    return gathered(changes())


def _whole_file(layout: Layout, snapshot: Snapshot, tabs: Mapping[str, TabState]) -> Iterator[Finding]:
    known = {state.title for state in tabs.values()}
    for state in snapshot.tabs:
        if state.title not in known:
            yield Finding("sheet-tab-added", {"title": typed(state.title)})
    for tab in layout.tabs:
        found = tabs.get(tab.key)
        if found is None:
            yield Finding("sheet-tab-missing", {"title": quoted(tab.title)}, tab.title)
            continue
        if found.title != tab.title:
            titles = {"found": typed(found.title), "title": quoted(tab.title)}
            yield Finding("sheet-tab-renamed", titles, tab.title)
        if not found.protected:
            yield Finding("sheet-protection-off", tab=tab.title)
        if tab.hidden == (found.visibility == "visible"):
            yield Finding("sheet-tab-shown" if tab.hidden else "sheet-tab-hidden", tab=tab.title)
    if not snapshot.formulas_comparable:
        yield Finding("sheet-saved-as-ods")
    if not snapshot.structure_protected:
        yield Finding("sheet-structure-open")


def _name_findings(layout: Layout, snapshot: Snapshot, titles: Mapping[str, str]) -> Iterator[Finding]:
    """Names are a cross-check: a cut carries them along, so a name elsewhere tells of a cut."""
    named = ((tab, cell) for tab in layout.tabs for cell in tab.cells if cell.named)
    for tab, cell in named:
        expected = in_tab(tab.title, absolute(cell.row, cell.column))
        target = snapshot.names.get(cell.defined_name)
        if target is None:
            yield Finding("sheet-names-lost", {"name": cell.defined_name})
        elif not same_formula(expected, target, titles):
            code = "sheet-damaged-by-cut" if cell.role == "entry" else "sheet-name-moved"
            match = _TARGET.fullmatch(target)
            title = titles.get(match["title"].replace("''", "'").casefold()) if match else None
            # A name may point at anything, also at a text that somebody wrote.
            found = in_tab(title, match["cell"]) if match and title else written(target, _LONGEST_SHOWN)
            values = {"name": cell.defined_name, "found": found, "place": expected}
            yield about_cell(code, values, tab, cell)


def _of_its_cells(
    tab: Tab, state: TabState, values: Mapping[str, Value], same: Callable[[str, str], bool]
) -> Iterator[Finding]:
    """What was changed in the cells of a tab that the Layout has, rules aside; locks only where protected."""
    for cell in tab.cells:
        found = state.cells.get((cell.row, cell.column), _EMPTY)
        if cell.role == "formula":
            parts = _formula(cell, found, same)
        elif cell.role == "entry":
            parts = [("sheet-entry-locked", {}, "")] if found.locked and state.protected else []
        else:
            parts = _printed(cell, found, values)
        for code, shown, case in parts:
            yield about_cell(code, shown, tab, cell, case)
        if cell.role != "entry" and not found.locked and state.protected:
            yield about_cell("sheet-cell-unlocked", {}, tab, cell)


def _formula(cell: Cell, found: CellState, same: Callable[[str, str], bool]) -> list[_Part]:
    if not found.formula:
        case = "gone" if found.value in (None, "") else ""
        shown: Values = {"value": typed(str(found.value), 40), "formula": cell.formula[:80]}
        return [("sheet-formula-replaced", shown, case)]
    if same(cell.formula, found.formula):
        return []
    theirs, ours = _where_apart(found.formula, cell.formula)
    return [("sheet-formula-changed", {"found": written(theirs), "formula": ours}, "")]


def _where_apart(theirs: str, ours: str) -> tuple[str, str]:
    """Two long texts from just before the place where they differ, each cut short."""
    if max(len(theirs), len(ours)) <= _LONGEST_WHOLE:
        return theirs, ours
    same = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(theirs, ours, strict=False)))
    start = max(0, same - _SAME_BEFORE)
    first, second = (text[start : start + _LONGEST_SHOWN] for text in (theirs, ours))
    return (f"...{first}", f"...{second}") if start else (first, second)


def _printed(cell: Cell, found: CellState, values: Mapping[str, Value]) -> list[_Part]:
    """A label or an identity; in its place anything may stand."""
    identity = cell.role == "identity"
    expected = values.get(cell.name, cell.value) if identity else cell.value
    if not found.formula and _same(expected, found.value):
        return []
    content = found.formula or found.value
    if isinstance(content, str) and isinstance(expected, str):
        content, expected = _where_apart(content, expected)
    printed: Values = {"found": typed(content), "printed": quoted(expected)}
    return [("identity-changed" if identity else "sheet-label-changed", printed, "")]


def _of_its_rules(tab: Tab, state: TabState, titles: Mapping[str, str]) -> Iterator[Finding]:
    entries = [cell for cell in tab.cells if cell.role == "entry"]
    bare = [cell for cell in entries if not state.cells.get((cell.row, cell.column), _EMPTY).has_rule]
    loosened = [cell for cell in loosened_rules(tab, state, titles) if cell not in bare]
    yield from (about_cell("sheet-rules-lost", {}, tab, cell) for cell in bare)
    yield from (about_cell("sheet-rules-changed", {}, tab, cell) for cell in loosened)


def _added(tab: Tab, state: TabState) -> Iterator[Finding]:
    """What stands where the Layout has no cell, and such places unlocked."""
    places = {(cell.row, cell.column) for cell in tab.cells}
    for (row, column), found in state.cells.items():
        if (row, column) in places:
            continue
        if found.value is not None or found.formula:
            content = {"content": typed(found.formula or str(found.value))}
            yield about_cell("sheet-content-added", content, tab, Cell(row, column, ""))
        elif not found.locked and state.protected:
            yield about_cell("sheet-cell-unlocked", {}, tab, Cell(row, column, ""))
