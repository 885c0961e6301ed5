"""Templates in TOML, shipped or a teacher's own; every fault of a file is named at once, with its line."""

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.errors import TemplateError, UsageError
from sheetgen.store.protocol_keys import Fault, Table
from sheetgen.store.templates import templates_folder
from sheetgen.store.toml_lines import line_of, lines_of, parsed

__all__ = ["TemplateFault", "TemplateKind", "examined", "path_of", "shipped", "table_of"]

_LARGEST_FILE = 200_000  # bytes


@dataclass(frozen=True, slots=True)
class TemplateKind:
    """A kind of template.

    what : its name in messages. folder : of the shipped ones, in templates/.
    faults : finds what is wrong in the table of a file.
    """

    what: str
    folder: str
    faults: Callable[[Table], Iterable[Fault]]


@dataclass(frozen=True, slots=True, order=True)
class TemplateFault:
    """A fault of a template file.

    line : counted from 1; 0 where it has none, such as a key that is missing at the top.
    place : keys that lead there, tables counted from 1: `sites 3 direction`; empty for the file itself.
    """

    line: int
    place: str
    found: str
    expected: str


def shipped(kind: TemplateKind) -> tuple[str, ...]:
    """Return the identifiers of the shipped templates of a kind, sorted."""
    return tuple(sorted(path.stem for path in (templates_folder() / kind.folder).glob("*.toml")))


def path_of(kind: TemplateKind, identifier: str) -> Path:
    """Return the file of a shipped template by its identifier, or of a teacher's own by its path.

    Raises
    ------
    UsageError : there is none of that name; a near miss is named.
    """
    if identifier.endswith(".toml"):
        return Path(identifier)
    known = shipped(kind)
    if identifier not in known:
        near = difflib.get_close_matches(identifier, known, n=1)
        remedy = "Choose one of these, or give the path of a .toml file."
        if near:
            remedy = f"Did you mean '{near[0]}'?"
        raise UsageError(kind.what, f"no {kind.what} '{identifier}'", " or ".join(known), remedy)
    return _shipped_path(kind, identifier)


def table_of(kind: TemplateKind, path: Path) -> Table:
    """Return the table in a template file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one, with its line where
        that can be found.
    """
    table, faults = examined(kind, path)
    if faults:
        raise _error(kind, path, faults)
    return table


def examined(kind: TemplateKind, path: Path) -> tuple[Table, tuple[TemplateFault, ...]]:
    """Return what a template file says, and its faults in the order of its lines.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    text = _read(kind, path)
    if isinstance(text, TemplateFault):
        return {}, (text,)
    content = parsed(text)
    faults = [TemplateFault(fault.line, "", fault.found, fault.expected) for fault in content.faults]
    table = content.table
    if table is not None:
        lines = lines_of(text)
        found = [*kind.faults(table), *_taken_name_faults(kind, path, table)]
        faults += [
            TemplateFault(line_of(fault.place, lines), _words(fault), fault.found, fault.expected)
            for fault in found
            # A line that is no TOML was left out; that its key is missing follows from it.
            if not (fault.found == "missing" and fault.place[-1] in content.left_out)
        ]
    return table or {}, tuple(sorted(faults))


def _shipped_path(kind: TemplateKind, identifier: str) -> Path:
    return templates_folder() / kind.folder / f"{identifier}.toml"


def _read(kind: TemplateKind, path: Path) -> str | TemplateFault:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or str(fault)
        raise TemplateError(
            path, f"it cannot be read ({why})", f"a {kind.what} file", "Check the path."
        ) from fault
    if len(data) > _LARGEST_FILE:
        return TemplateFault(0, "", "more than 200 kB", f"a {kind.what} file of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return TemplateFault(line, "", f"byte {fault.start + 1} is not UTF-8", "a file saved as UTF-8 text")


def _taken_name_faults(kind: TemplateKind, path: Path, table: Table) -> list[Fault]:
    """A copy of a shipped template needs a name of its own: sheets and marks are known by it."""
    identifier = table.get("identifier")
    if identifier not in shipped(kind) or path.resolve() == _shipped_path(kind, str(identifier)).resolve():
        return []
    found = f"'{identifier}', the name of a shipped {kind.what}"
    return [Fault(("identifier",), found, "a name of its own")]


def _words(fault: Fault) -> str:
    return " ".join(str(part + 1) if isinstance(part, int) else part for part in fault.place)


def _error(kind: TemplateKind, path: Path, faults: Sequence[TemplateFault]) -> TemplateError:
    listed = ""
    for fault in faults:
        line = f"line {fault.line}, " if fault.line else ""
        place = f"{fault.place}: " if fault.place else ""
        listed += f"\n  {line}{place}{fault.found}; expected {fault.expected}"
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    remedy = f"Correct what is named here:{listed}"
    return TemplateError(path, count, f"a {kind.what} without faults", remedy)
