"""CSV cut into cells that know their place, so that one can change; and cells that no program runs."""

import codecs
import re
from collections.abc import Iterable, Iterator

from msgspec import Struct

DELIMITERS = ",;\t|"  # Those that a table may have.

_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_ANNOUNCED = re.compile(r"sep=([^\"\r\n])[ \t]*(?=[\r\n]|\Z)", re.IGNORECASE)
_AS_TEXT = re.compile(r'="(.*)"', re.DOTALL)  # how some exports keep leading zeros
_SAMPLE = 4096
_MOST_CELLS = 16_384  # Of a row: what a workbook has columns.


class CsvFault(ValueError):
    """The text cannot be cut into cells: `line` counts from 1, `found` says what stands there."""

    def __init__(self, line: int, found: str) -> None:
        self.line, self.found = line, found
        super().__init__(f"line {line}: {found}")


class Decoded(Struct, frozen=True):
    """mark : the byte-order mark, empty where there is none."""

    text: str
    encoding: str
    mark: bytes


class CsvCell(Struct, frozen=True):
    """start, end : where the cell stands in the text, quotes and blanks around it included."""

    start: int
    end: int
    value: str
    quoted: bool


class CsvRow(Struct, frozen=True):
    """line : counted from 1, where the row begins. A blank line is a row of one empty cell."""

    line: int
    cells: tuple[CsvCell, ...]

    @property
    def values(self) -> list[str]:
        """What the cells say."""
        return [cell.value for cell in self.cells]

    @property
    def blank(self) -> bool:
        """Whether no cell holds anything."""
        return not any(cell.value.strip() for cell in self.cells)


def decoded(data: bytes) -> Decoded:
    """Return the text of some bytes: by byte-order mark, UTF-16 without one, UTF-8, Windows-1252, Latin-1.
    Encoding the text again gives the same bytes; CsvFault where the bytes do not keep what their byte-order
    mark promises."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                return Decoded(data[len(mark) :].decode(encoding), encoding, mark)
            except UnicodeDecodeError as fault:
                raise CsvFault(1, f"bytes that are not {encoding.upper()} ({fault.reason})") from fault
    for encoding in (*_unmarked_utf16(data), "utf-8", "cp1252"):
        try:
            return Decoded(data.decode(encoding), encoding, b"")
        except UnicodeDecodeError:
            continue
    return Decoded(data.decode("latin-1"), "latin-1", b"")


def encoded(text: str, source: Decoded) -> bytes:
    """Return a text as bytes, in the encoding and with the byte-order mark of the source."""
    return source.mark + text.encode(source.encoding)


def announced_delimiter(text: str) -> str:
    """Return the delimiter that a first line `sep=;` announces, empty where there is no such line."""
    found = _ANNOUNCED.match(text)
    return found[1] if found else ""


def unwrapped(value: str) -> str:
    """Return what stands in a value such as `="007"`, else the value itself."""
    as_text = _AS_TEXT.fullmatch(value.strip())
    return as_text[1] if as_text else value


def cut(text: str, delimiter: str) -> Iterator[CsvRow]:
    """Cut a text into rows, one after the other. A cell in quotes may have blanks around it; quotes inside
    are doubled. A row ends with a line feed, a carriage return, or both. CsvFault for a quote that is not
    closed, text after a closing one, or a row without end."""
    separator = re.escape(delimiter)
    cell = rf'(?: *+("[^"]*+(?:""[^"]*+)*+") *+|([^{separator}\r\n]*+))({separator}|\r\n|\r|\n|\Z)'
    cells: list[CsvCell] = []
    line = first_line = 1
    for found in re.finditer(cell, text):
        if found.start() == len(text) and not cells:
            break
        quoted, plain, end = found.groups()
        if quoted is None and plain.startswith('"'):
            raise CsvFault(line, "a cell whose quotes are not closed, or text after the closing quote")
        value = plain if quoted is None else quoted[1:-1].replace('""', '"')
        cells.append(CsvCell(found.start(), found.start(3), value, quoted is not None))
        line += len(re.findall(r"\r\n|\r|\n", quoted or ""))
        if end != delimiter:
            yield CsvRow(first_line, tuple(cells))
            cells = []
            line += 1
            first_line = line
        elif len(cells) > _MOST_CELLS:
            raise CsvFault(line, f"more than {_MOST_CELLS:,} cells in one row")


def with_value(text: str, changes: Iterable[tuple[CsvCell, str]], delimiter: str) -> str:
    """Return a text with new values in some cells; quotes and blanks around an old value stay."""
    pieces, position = [], 0
    for cell, value in sorted(changes, key=lambda change: change[0].start):
        new = _cell_text(text[cell.start : cell.end], cell.quoted, value, delimiter)
        pieces += [text[position : cell.start], new]
        position = cell.end
    return "".join((*pieces, text[position:]))


def _cell_text(old: str, quoted: bool, value: str, delimiter: str) -> str:
    inner = value.replace('"', '""')
    if quoted:
        before, _, rest = old.partition('"')
        content, _, after = rest.rpartition('"')
        return f'{before}"{_padded(content, inner)}"{after}'
    needs_quotes = any(sign in value for sign in (delimiter, '"', "\r", "\n"))
    return f'"{inner}"' if needs_quotes else _padded(old, value)


def _padded(old: str, value: str) -> str:
    """The value with the blanks that stood around the old one."""
    core = old.strip()
    if not core:
        return value
    before, _, after = old.partition(core)
    return f"{before}{value}{after}"


def _unmarked_utf16(data: bytes) -> tuple[str, ...]:
    """UTF-16 without a byte-order mark shows by a zero in every other byte."""
    sample = data[:_SAMPLE]
    half = 0.6 * (len(sample) // 2)
    places = (("utf-16-le", 1), ("utf-16-be", 0))
    return tuple(encoding for encoding, start in places if sample[start::2].count(0) > half)


_RUN_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def harmless(text: str) -> str:
    """Return a text with an apostrophe in front where a spreadsheet program would run it."""
    return "'" + text if text.startswith(_RUN_AS_FORMULA) else text


def as_meant(text: str) -> str:
    """Return a text without the apostrophe that made it harmless."""
    return text[1:] if text.startswith("'") and text[1:].startswith(_RUN_AS_FORMULA) else text
