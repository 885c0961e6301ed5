"""Templates, data and not code: where they are, and how a shipped one or a teacher's own is read.

Every fault of a teacher's own is named at once, with its line.
"""

import difflib
import tomllib
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

from msgspec import Struct

from sheetgen.errors import TemplateError, UsageError
from sheetgen.texts.toml_tables import Fault, FileFault, Table, line_of, lines_of, parsed

_PACKAGE = Path(__file__).resolve().parent.parent
_LARGEST_FILE = 200_000  # bytes


class TemplateKind(Struct, frozen=True):
    """A kind of template.
    what : its name in messages. folder : of the shipped ones, in templates/. faults : finds what is wrong in
    the table of a file."""

    what: str
    folder: str
    faults: Callable[[Table], Iterable[Fault]]


def templates_folder() -> Path:
    """Return the folder of the shipped templates. Installed it lies inside the package, in a checkout beside
    it; TemplateError where it is in neither place."""
    for place in (_PACKAGE / "templates", _PACKAGE.parent / "templates"):
        # Beside an installed package a folder of this name may belong to something else.
        if (place / "protocols").is_dir():
            return place
    expected = "a folder `templates` with protocols in it"
    raise TemplateError(_PACKAGE / "templates", "no templates here", expected, "Install sheetgen again.")


def read_template(relative: str) -> str:
    """Return the text of a shipped template by its path below the templates folder, with forward slashes;
    TemplateError where there is no such file, or it is not UTF-8."""
    path = templates_folder() / relative
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        found = f"it cannot be read ({fault})"
        raise TemplateError(path, found, "a text file in UTF-8", "Install sheetgen again.") from fault


def read_tables(relative: str) -> Table:
    """Return the tables of a shipped file of texts; TemplateError where it cannot be read or is no TOML."""
    try:
        return tomllib.loads(read_template(relative))
    except tomllib.TOMLDecodeError as error:
        raise TemplateError(relative, str(error), "a TOML file of texts", "Mend the line named.") from error


@lru_cache(maxsize=2)
def style_tables(text: str) -> tuple[dict[str, dict[str, Any]], dict[str, str]]:
    """Return the format words of a style with all their properties, and the colours of charts by name.
    text : of templates/style.toml."""
    style = tomllib.loads(text)
    base, colours = style.pop("base"), style.pop("chart", {})
    return {word: {**base, **table} for word, table in style.items()}, colours


def shipped(kind: TemplateKind) -> tuple[str, ...]:
    """Return the identifiers of the shipped templates of a kind, sorted."""
    return tuple(sorted(path.stem for path in (templates_folder() / kind.folder).glob("*.toml")))


def path_of(kind: TemplateKind, identifier: str) -> Path:
    """Return the file of a shipped template by its identifier, or of a teacher's own by its path; UsageError
    where there is none of that name; a near miss is named."""
    if identifier.endswith(".toml"):
        return Path(identifier)
    known = shipped(kind)
    if identifier not in known:
        near = difflib.get_close_matches(identifier, known, n=1)
        choose = "Choose one of these, or give the path of a .toml file."
        remedy = f"Did you mean '{near[0]}'?" if near else choose
        raise UsageError(kind.what, f"no {kind.what} '{identifier}'", " or ".join(known), remedy)
    return _shipped_path(kind, identifier)


def table_of(kind: TemplateKind, path: Path) -> Table:
    """Return the table in a template file; TemplateError where the file cannot be read, or has faults; the
    message lists every one, with its line where that can be found."""
    table, faults = examined(kind, path)
    if faults:
        listed = ""
        for fault in faults:
            line, place = f"line {fault.line}, " * bool(fault.line), f"{fault.place}: " * bool(fault.place)
            listed += f"\n  {line}{place}{fault.found}; expected {fault.expected}"
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        remedy = f"Correct what is named here:{listed}"
        raise TemplateError(path, count, f"a {kind.what} without faults", remedy)
    return table


def examined(kind: TemplateKind, path: Path) -> tuple[Table, tuple[FileFault, ...]]:
    """Return what a template file says, and its faults in the order of its lines; TemplateError where the
    file cannot be read."""
    text = _read(kind, path)
    if isinstance(text, FileFault):
        return {}, (text,)
    content = parsed(text)
    if content.table is None:
        return {}, tuple(sorted(content.faults))
    lines = lines_of(text)
    faults = [
        FileFault(
            line_of(fault.place, lines),
            " ".join(str(part + 1) if isinstance(part, int) else part for part in fault.place),
            fault.found,
            fault.expected,
        )
        for fault in (*kind.faults(content.table), *_taken_name_faults(kind, path, content.table))
        # A line that is no TOML was left out; that its key is missing follows from it.
        if not (fault.found == "missing" and fault.place in lines)
    ]
    return content.table, tuple(sorted((*content.faults, *faults)))


def _shipped_path(kind: TemplateKind, identifier: str) -> Path:
    return templates_folder() / kind.folder / f"{identifier}.toml"


def _read(kind: TemplateKind, path: Path) -> str | FileFault:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE + 1)
    except (OSError, ValueError) as fault:
        found = f"it cannot be read ({getattr(fault, 'strerror', None) or fault})"
        raise TemplateError(path, found, f"a {kind.what} file", "Check the path.") from fault
    if len(data) > _LARGEST_FILE:
        return FileFault(0, "", "more than 200 kB", f"a {kind.what} file of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return FileFault(line, "", f"byte {fault.start + 1} is not UTF-8", "a file saved as UTF-8 text")


def _taken_name_faults(kind: TemplateKind, path: Path, table: Table) -> list[Fault]:
    """A copy of a shipped template needs a name of its own: sheets and marks are known by it."""
    identifier = table.get("identifier")
    if identifier not in shipped(kind) or path.resolve() == _shipped_path(kind, str(identifier)).resolve():
        return []
    found = f"'{identifier}', the name of a shipped {kind.what}"
    return [Fault(("identifier",), found, "a name of its own")]
