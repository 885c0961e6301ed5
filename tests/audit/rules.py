"""Hand rules about every workbook: each gives what it found in a package, nothing where all is well.

From ECMA-376 part 1 and 2, and from what spreadsheet programs say of their limits; a file that breaks one is
repaired on opening, refused, or loses something unseen.
"""

from collections.abc import Callable, Iterator, Mapping

from tests.audit import book_rules, package_rules, tab_rules
from tests.audit.package import Package

RULES: Mapping[str, Callable[[Package], Iterator[str]]] = {
    "XML": package_rules.well_formed,
    "names of parts": package_rules.part_names,
    "content types": package_rules.content_types,
    "relations": package_rules.relations,
    "drawings": package_rules.drawings,
    "charts": package_rules.charts,
    "pictures": package_rules.pictures,
    "order of elements": book_rules.order_of_elements,
    "titles of tabs": book_rules.titles,
    "defined names": book_rules.defined_names,
    "counts": book_rules.counts,
    "styles": book_rules.styles,
    "texts": book_rules.texts,
    "order of elements of a tab": tab_rules.order_of_tabs,
    "rows and cells": tab_rules.rows_and_cells,
    "columns": tab_rules.columns,
    "joined cells": tab_rules.merges,
    "rules of cells": tab_rules.validations,
    "conditional formats": tab_rules.conditional_formats,
    "formulas": tab_rules.formulas,
    "links": tab_rules.links,
    "pages": tab_rules.pages,
}


def found_in(data: bytes) -> list[str]:
    """Everything that the rules find in a workbook, each with its rule."""
    package = Package.read(data)
    return [f"{name}: {said}" for name, rule in RULES.items() for said in rule(package)]
