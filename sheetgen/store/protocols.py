"""Reading measuring protocols from TOML. Every fault of a file is named at once, with its line."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.errors import TemplateError, UsageError
from sheetgen.model.protocol import FORMS, Conversion, Equation, Protocol, Site
from sheetgen.store.protocol_faults import sense_faults
from sheetgen.store.protocol_keys import Fault, Table, key_faults
from sheetgen.store.templates import templates_folder
from sheetgen.store.toml_lines import line_of, lines_of, parsed

__all__ = ["ProtocolFault", "find_protocol", "load_protocol", "protocol_faults", "shipped_protocols"]

_LARGEST_FILE = 200_000  # bytes
_NONE_WHERE_LEFT_OUT = ("sum_minimum", "sum_maximum", "standard_error_density")


@dataclass(frozen=True, slots=True, order=True)
class ProtocolFault:
    """A fault of a protocol file.

    line : counted from 1; 0 where it has none, such as a key that is missing at the top.
    place : keys that lead there, tables counted from 1: `sites 3 direction`; empty for the file itself.
    """

    line: int
    place: str
    found: str
    expected: str


def protocol_faults(path: Path) -> tuple[ProtocolFault, ...]:
    """Return every fault of a protocol file, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return _examined(path)[1]


def load_protocol(path: Path) -> Protocol:
    """Return the protocol in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one, with its line where
        that can be found.
    """
    table, faults = _examined(path)
    if faults:
        raise _error(path, faults)
    return _protocol(table)


def shipped_protocols() -> tuple[str, ...]:
    """Return the identifiers of the shipped protocols, sorted."""
    return tuple(sorted(path.stem for path in (templates_folder() / "protocols").glob("*.toml")))


def find_protocol(identifier: str) -> Protocol:
    """Return a shipped protocol by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    if identifier.endswith(".toml"):
        return load_protocol(Path(identifier))
    shipped = shipped_protocols()
    if identifier not in shipped:
        near = difflib.get_close_matches(identifier, shipped, n=1)
        remedy = (
            f"Did you mean '{near[0]}'?" if near else "Choose one of these, or give the path of a .toml file."
        )
        raise UsageError("protocol", f"no protocol '{identifier}'", " or ".join(shipped), remedy)
    return load_protocol(_shipped_path(identifier))


def _shipped_path(identifier: str) -> Path:
    return templates_folder() / "protocols" / f"{identifier}.toml"


def _examined(path: Path) -> tuple[Table, tuple[ProtocolFault, ...]]:
    """Return what a file says, and its faults; the table makes a protocol where there are none."""
    text = _read(path)
    if isinstance(text, ProtocolFault):
        return {}, (text,)
    content = parsed(text)
    faults = [ProtocolFault(fault.line, "", fault.found, fault.expected) for fault in content.faults]
    table = content.table
    if table is not None:
        lines = lines_of(text)
        found = [*key_faults(table), *sense_faults(table), *_taken_name_faults(path, table)]
        faults += [
            ProtocolFault(line_of(fault.place, lines), _words(fault), fault.found, fault.expected)
            for fault in found
            # A line that is no TOML was left out; that its key is missing follows from it.
            if not (fault.found == "missing" and fault.place[-1] in content.left_out)
        ]
    return table or {}, tuple(sorted(faults))


def _read(path: Path) -> str | ProtocolFault:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or str(fault)
        raise TemplateError(
            path, f"it cannot be read ({why})", "a protocol file", "Check the path."
        ) from fault
    if len(data) > _LARGEST_FILE:
        return ProtocolFault(0, "", "more than 200 kB", "a protocol file of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return ProtocolFault(line, "", f"byte {fault.start + 1} is not UTF-8", "a file saved as UTF-8 text")


def _taken_name_faults(path: Path, table: Table) -> list[Fault]:
    """A copy of a shipped protocol needs a name of its own: a sheet is known by it."""
    identifier = table.get("identifier")
    if identifier not in shipped_protocols() or path.resolve() == _shipped_path(identifier).resolve():
        return []
    return [Fault(("identifier",), f"'{identifier}', the name of a shipped protocol", "a name of its own")]


def _words(fault: Fault) -> str:
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in fault.place)


def _error(path: Path, faults: Sequence[ProtocolFault]) -> TemplateError:
    listed = ""
    for fault in faults:
        line = f"line {fault.line}, " if fault.line else ""
        place = f"{fault.place}: " if fault.place else ""
        listed += f"\n  {line}{place}{fault.found}; expected {fault.expected}"
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return TemplateError(path, count, "a protocol without faults", f"Correct what is named here:{listed}")


def _protocol(table: Table) -> Protocol:
    """Return the record of a table in which no fault was found."""
    return Protocol(
        identifier=table["identifier"],
        title=table["title"],
        standard=table["standard"],
        sites=tuple(Site(**{**site, "cues": tuple(site["cues"])}) for site in table["sites"]),
        equations=tuple(_equation(equation) for equation in table.get("equations", ())),
        conversions=tuple(
            Conversion(**{**each, "numerator": float(each["numerator"]), "offset": float(each["offset"])})
            for each in table.get("conversions", ())
        ),
        default_conversion=table.get("default_conversion", ""),
        notes=tuple(table["notes"]),
    )


def _equation(table: Table) -> Equation:
    numbers = {key: float(value) for key, value in table.items() if isinstance(value, int | float)}
    coefficients = tuple((name, float(table["coefficients"][name])) for name in FORMS[table["form"]])
    return Equation(
        **{**dict.fromkeys(_NONE_WHERE_LEFT_OUT), **table, **numbers, "coefficients": coefficients}
    )
