"""Reading marking schemes from TOML."""

from pathlib import Path

from sheetgen.model.marking import MarkingScheme, SchemeItem
from sheetgen.store import template_files
from sheetgen.store.marking_scheme_faults import scheme_table_faults
from sheetgen.store.protocol_keys import Table
from sheetgen.store.template_files import TemplateFault, TemplateKind

__all__ = ["find_scheme", "load_scheme", "scheme_faults", "shipped_schemes"]

_LISTS = ("checks", "steps", "answers")
_NUMBERS = ("points", "limit_mm", "limit_percent")
_KIND = TemplateKind("marking scheme", "marking", scheme_table_faults)


def scheme_faults(path: Path) -> tuple[TemplateFault, ...]:
    """Return every fault of a marking scheme, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return template_files.examined(_KIND, path)[1]


def load_scheme(path: Path) -> MarkingScheme:
    """Return the marking scheme in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one.
    """
    return _scheme(template_files.table_of(_KIND, path))


def shipped_schemes() -> tuple[str, ...]:
    """Return the identifiers of the shipped marking schemes, sorted."""
    return template_files.shipped(_KIND)


def find_scheme(identifier: str) -> MarkingScheme:
    """Return a shipped marking scheme by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    return load_scheme(template_files.path_of(_KIND, identifier))


def _scheme(table: Table) -> MarkingScheme:
    """Return the record of a table in which no fault was found."""
    return MarkingScheme(
        identifier=table["identifier"],
        title=table["title"],
        total=float(table["total"]),
        not_assessable=table.get("not_assessable", "ask"),
        items=tuple(_item(item) for item in table["items"]),
        tolerances=_pairs(table.get("tolerances", {})),
        slip_shares=_pairs(table.get("slip_shares", {})),
    )


def _item(table: Table) -> SchemeItem:
    changed = {key: tuple(table[key]) for key in _LISTS if key in table}
    numbers = {key: float(table[key]) for key in _NUMBERS if key in table}
    if "bands" in table:
        changed["bands"] = tuple((float(limit), float(share)) for limit, share in table["bands"])
    if "weights" in table:
        changed["weights"] = tuple(float(weight) for weight in table["weights"])
    if "site_limits_mm" in table:
        changed["site_limits_mm"] = _pairs(table["site_limits_mm"])
    return SchemeItem(**{**table, **changed, **numbers})


def _pairs(table: Table) -> tuple[tuple[str, float], ...]:
    return tuple((key, float(value)) for key, value in table.items())
