"""A sheet with right own working, for the tests of marking: seven sites, zero -0.5 mm, sum 118.5 mm."""

from collections.abc import Collection, Mapping

from msgspec.structs import replace

from sheetgen.finding import Finding
from sheetgen.marking.marking import Seen, marked
from sheetgen.marking.scheme import ItemMark, Marking, MarkingScheme, StepMark
from sheetgen.marking.scheme_files import find_scheme
from sheetgen.protocols.recalculation import recalculate
from sheetgen.returned.entries import with_raw_differences
from sheetgen.workbook.layout import Value
from tests.own_working import lines_by_hand
from tests.returned.given import WOMAN, without
from tests.sheets import SETTINGS, sheet_of

PROTOCOL = sheet_of().source.protocol
SCHEME = find_scheme("usual")
BASE: dict[str, Value] = without(WOMAN, "reading_3_suprailiac")
RIGHT: dict[str, Value] = {**BASE, **lines_by_hand(PROTOCOL, SETTINGS, BASE)}


def mark_of(
    entries: Mapping[str, Value],
    scheme: MarkingScheme = SCHEME,
    formula_names: Collection[str] = (),
    codes: Collection[str] = (),
    criterion: Mapping[str, float] | None = None,
) -> Marking:
    """Return the marks of entries with findings of some codes."""
    results = with_raw_differences(PROTOCOL, SETTINGS, entries, recalculate(PROTOCOL, SETTINGS, entries))
    findings = [Finding(code) for code in codes]
    return marked(scheme, Seen(PROTOCOL, SETTINGS, entries, results, findings), formula_names, criterion)


def item_of(marking: Marking, word: str) -> ItemMark:
    """Return one item."""
    return next(item for item in marking.items if item.word == word)


def step_of(marking: Marking, step: str) -> StepMark:
    """Return one line."""
    return next(mark for item in marking.items for mark in item.steps if mark.step == step)


def changed(word: str, **changes: object) -> MarkingScheme:
    """Return the usual scheme with something of one item changed."""
    items = (replace(item, **changes) if item.word == word else item for item in SCHEME.items)  # type: ignore[arg-type]
    return replace(SCHEME, items=tuple(items))
