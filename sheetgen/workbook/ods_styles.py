"""What the styles of an OpenDocument spreadsheet say of cells and tabs: locked or open, shown or hidden."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from lxml import etree

from sheetgen.workbook.ods_names import OFFICE, STYLE, TABLE

__all__ = ["OdsStyles", "read_ods_styles"]

_LONGEST_LINEAGE = 20
_GROUPS = (f"{OFFICE}automatic-styles", f"{OFFICE}styles")
_PROTECTED_WORDS = frozenset(("protected", "hidden-and-protected"))


@dataclass(frozen=True, slots=True)
class OdsStyles:
    """Cell styles and tab styles by their names.

    own : what a cell style says itself of protection, None where it leaves that to its parent.
    parents : cell style to the style it is derived from.
    hidden : tab styles that hide their tab.
    default : whether cells are locked of which no style says anything.
    """

    own: dict[str, bool | None]
    parents: dict[str, str]
    hidden: frozenset[str]
    default: bool = True
    _locked: dict[str, bool] = field(default_factory=dict)

    def locked(self, name: str | None) -> bool:
        """Say whether a cell of this style is covered by its tab's protection."""
        if not name:
            return self.default
        if name not in self._locked:
            self._locked[name] = self._find(name)
        return self._locked[name]

    def _find(self, name: str) -> bool:
        # A loop of parents must end too.
        for _ in range(_LONGEST_LINEAGE):
            said = self.own.get(name)
            if said is not None:
                return said
            if name not in self.parents:
                break
            name = self.parents[name]
        return self.default


def read_ods_styles(roots: Iterable[etree._Element]) -> OdsStyles:
    """Return the styles of several parts; where two have one name, the first part's counts."""
    own: dict[str, bool | None] = {}
    parents: dict[str, str] = {}
    hidden: set[str] = set()
    default = True
    for root in roots:
        for group in root.iterchildren(*_GROUPS):
            for style in group:
                family = style.get(f"{STYLE}family")
                name = style.get(f"{STYLE}name", "")
                if family == "table-cell" and style.tag == f"{STYLE}default-style":
                    default = _protection(style) is not False
                elif family == "table-cell" and name not in own:
                    own[name] = _protection(style)
                    parents[name] = style.get(f"{STYLE}parent-style-name", "")
                elif family == "table" and _hides(style):
                    hidden.add(name)
    return OdsStyles(own, parents, frozenset(hidden), default)


def _protection(style: etree._Element) -> bool | None:
    for properties in style.iterchildren(f"{STYLE}table-cell-properties"):
        words = properties.get(f"{STYLE}cell-protect")
        if words is not None:
            return not _PROTECTED_WORDS.isdisjoint(words.split())
    return None


def _hides(style: etree._Element) -> bool:
    return any(
        properties.get(f"{TABLE}display") == "false"
        for properties in style.iterchildren(f"{STYLE}table-properties")
    )
