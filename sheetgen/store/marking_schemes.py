"""Reading marking schemes from TOML. Every fault of a file is named at once, with its line."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.errors import TemplateError, UsageError
from sheetgen.model.marking import MarkingScheme, SchemeItem
from sheetgen.store.marking_scheme_faults import scheme_table_faults
from sheetgen.store.protocol_keys import Fault, Table
from sheetgen.store.templates import templates_folder
from sheetgen.store.toml_lines import line_of, lines_of, parsed

__all__ = ["SchemeFault", "find_scheme", "load_scheme", "scheme_faults", "shipped_schemes"]

_LARGEST_FILE = 200_000  # bytes
_LISTS = ("checks", "steps", "answers")
_NUMBERS = ("points", "limit_mm", "limit_percent")


@dataclass(frozen=True, slots=True, order=True)
class SchemeFault:
    """A fault of a marking scheme.

    line : counted from 1; 0 where it has none, such as a key that is missing at the top.
    place : keys that lead there, tables counted from 1: `items 3 points`; empty for the file itself.
    """

    line: int
    place: str
    found: str
    expected: str


def scheme_faults(path: Path) -> tuple[SchemeFault, ...]:
    """Return every fault of a marking scheme, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return _examined(path)[1]


def load_scheme(path: Path) -> MarkingScheme:
    """Return the marking scheme in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one, with its line where
        that can be found.
    """
    table, faults = _examined(path)
    if faults:
        raise _error(path, faults)
    return _scheme(table)


def shipped_schemes() -> tuple[str, ...]:
    """Return the identifiers of the shipped marking schemes, sorted."""
    return tuple(sorted(path.stem for path in (templates_folder() / "marking").glob("*.toml")))


def find_scheme(identifier: str) -> MarkingScheme:
    """Return a shipped marking scheme by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    if identifier.endswith(".toml"):
        return load_scheme(Path(identifier))
    shipped = shipped_schemes()
    if identifier not in shipped:
        close = difflib.get_close_matches(identifier, shipped, n=1)
        remedy = (
            f"Did you mean '{close[0]}'?"
            if close
            else "Choose one of these, or give the path of a .toml file."
        )
        raise UsageError("marking scheme", f"no marking scheme '{identifier}'", " or ".join(shipped), remedy)
    return load_scheme(_shipped_path(identifier))


def _shipped_path(identifier: str) -> Path:
    return templates_folder() / "marking" / f"{identifier}.toml"


def _examined(path: Path) -> tuple[Table, tuple[SchemeFault, ...]]:
    """Return what a file says, and its faults; the table makes a scheme where there are none."""
    text = _read(path)
    if isinstance(text, SchemeFault):
        return {}, (text,)
    content = parsed(text)
    faults = [SchemeFault(fault.line, "", fault.found, fault.expected) for fault in content.faults]
    table = content.table
    if table is not None:
        lines = lines_of(text)
        found = [*scheme_table_faults(table), *_taken_name_faults(path, table)]
        faults += [
            SchemeFault(line_of(fault.place, lines), _words(fault), fault.found, fault.expected)
            for fault in found
            # A line that is no TOML was left out; that its key is missing follows from it.
            if not (fault.found == "missing" and fault.place[-1] in content.left_out)
        ]
    return table or {}, tuple(sorted(faults))


def _read(path: Path) -> str | SchemeFault:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or str(fault)
        raise TemplateError(
            path, f"it cannot be read ({why})", "a marking scheme", "Check the path."
        ) from fault
    if len(data) > _LARGEST_FILE:
        return SchemeFault(0, "", "more than 200 kB", "a marking scheme of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return SchemeFault(line, "", f"byte {fault.start + 1} is not UTF-8", "a file saved as UTF-8 text")


def _taken_name_faults(path: Path, table: Table) -> list[Fault]:
    """A copy of a shipped scheme needs a name of its own: marks are known by it."""
    identifier = table.get("identifier")
    if identifier not in shipped_schemes() or path.resolve() == _shipped_path(str(identifier)).resolve():
        return []
    return [Fault(("identifier",), f"'{identifier}', the name of a shipped scheme", "a name of its own")]


def _words(fault: Fault) -> str:
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in fault.place)


def _error(path: Path, faults: Sequence[SchemeFault]) -> TemplateError:
    listed = ""
    for fault in faults:
        line = f"line {fault.line}, " if fault.line else ""
        place = f"{fault.place}: " if fault.place else ""
        listed += f"\n  {line}{place}{fault.found}; expected {fault.expected}"
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return TemplateError(
        path, count, "a marking scheme without faults", f"Correct what is named here:{listed}"
    )


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
