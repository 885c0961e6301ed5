"""The small XML parts of a workbook: relations, shared strings, styles, names, properties.

Both namespaces of the standard are read (transitional and strict), under any prefix.
"""

import posixpath
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import unquote

from lxml import etree

from sheetgen.finding import RefusedError, amount, quoted, too_large, unreadable, unsafe
from sheetgen.workbook.addresses import column_letters, column_number
from sheetgen.workbook.read.guard import Package

Style = tuple[bool, bool]
"""Of one cell format: whether it is locked, and whether it shows numbers as dates."""

UNKNOWN_STYLE: Style = (True, False)
"""What a cell format means that the workbook does not define."""

Styles = Mapping[str | None, Style]
"""By the number in a cell's `s`; None stands for a cell without one."""

_MAIN_NAMESPACES = {
    "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}",
    "{http://purl.oclc.org/ooxml/spreadsheetml/main}",
}
_PARSER_OPTIONS = {
    "resolve_entities": False, "no_network": True, "huge_tree": False, "load_dtd": False,
    "remove_comments": True, "remove_pis": True, "collect_ids": False,
}  # fmt: skip
_PARSER = etree.XMLParser(**_PARSER_OPTIONS)

# A tree takes far more memory than its text, so a dense part is counted before it is parsed.
_SMALL_PART = 1_000_000
_MOST_TAGS = 1_500_000
_MOST_ATTRIBUTES = 3_000_000

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_SURROGATE = re.compile(r"[\ud800-\udfff]")
_BUILT_IN_DATES = frozenset((*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)))
# What is taken out of a format code before its letters are looked at: quoted text, single characters,
# fillers, colours, conditions and locales; but `[h]`, `[mm]`, `[ss]` are elapsed times.
_NOT_FORMAT_LETTERS = re.compile(r'(?is)"[^"]*"?|\\.|[_*].|\[(?!h+\]|m+\]|s+\])[^\]]*\]')
_DATE_LETTER = re.compile(r"[dmyhs]", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Relation:
    """A relation of one part to another: its key, the last word of its type, the other part's name."""

    key: str
    kind: str
    target: str


def part_bytes(package: Package, name: str) -> bytes | None:
    """Return a part, None where the package has none by that name."""
    data = package.parts.get(name)
    return package.parts.get(unquote(name)) if data is None else data


def parse_part(package: Package, name: str) -> etree._Element | None:
    """Return the root of a part, None where the package has none by that name."""
    data = part_bytes(package, name)
    return None if data is None else parse_bytes(data, name)


def parse_bytes(data: bytes, name: str) -> etree._Element:
    """Return the root of a part.

    Raises
    ------
    RefusedError : it is not well-formed, has a document type or far too many elements.
    """
    dense = len(data) > _SMALL_PART
    if dense and (data.count(b"<") > _MOST_TAGS or data.count(b"=") > _MOST_ATTRIBUTES):
        raise RefusedError(too_large("elements", part=quoted(name), most=amount(_MOST_TAGS)))
    try:
        root = etree.fromstring(data, _PARSER)
    except (etree.XMLSyntaxError, ValueError, LookupError) as error:
        raise RefusedError(unreadable("xml", part=quoted(name), why=str(error)[:240])) from error
    if root.getroottree().docinfo.doctype:
        raise RefusedError(unsafe("declaration", part=quoted(name)))
    return root


def namespace_of(root: etree._Element, part: str) -> str:
    """Return the root's namespace in braces.

    Raises
    ------
    RefusedError : the part is of another vocabulary.
    """
    namespace = root.tag[: root.tag.find("}") + 1]
    if namespace not in _MAIN_NAMESPACES:
        raise RefusedError(unreadable("other-part", part=quoted(part), tag=f"<{root.tag[:100]}>"))
    return str(namespace)


def number_or_text(text: str) -> str | float | None:
    """Return the number that a text is; what is not a finite one is kept as its text, nothing as None."""
    try:
        value = float(text)
    except ValueError:
        return text or None
    # Python also reads `nan`, `inf` and `1_0`, which no spreadsheet writes as a number.
    return value if value - value == 0 and "_" not in text else text


def local_name(element: etree._Element) -> str:
    """Return an element's name without its namespace."""
    return str(element.tag).rpartition("}")[2]


def attribute_true(element: etree._Element | None, name: str, default: bool = False) -> bool:
    """Return a true-or-false attribute, the default where it or the element is missing."""
    text = None if element is None else element.get(name)
    return default if text is None else text.strip().lower() in ("1", "true", "on")


def read_relations(package: Package, part: str) -> tuple[Relation, ...]:
    """Return the relations of a part (of the package itself where `part` is empty) to parts inside."""
    folder, _, file = part.rpartition("/")
    name = posixpath.join(folder, "_rels", f"{file}.rels")
    data = part_bytes(package, name)
    if data is None:
        return ()
    return tuple(
        Relation(
            element.get("Id", ""),
            # The strict edition joins words that the transitional one hyphenates.
            element.get("Type", "").rpartition("/")[2].replace("-", "").lower(),
            _target(folder, element.get("Target", "")),
        )
        for element in parse_bytes(data, name)
        if element.get("TargetMode", "").lower() != "external"
    )


def _target(folder: str, target: str) -> str:
    path = target.replace("\\", "/").partition("#")[0].lower()
    return posixpath.normpath(posixpath.join("/", folder, path)).lstrip("/")


def unescape(text: str) -> str:
    """Decode `_xHHHH_` escapes.

    Examples
    --------
    >>> unescape("a_x0009_b_x005F_x0009_")
    'a\\tb_x0009_'
    """
    if "_x" not in text:
        return text
    plain = _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)
    if _SURROGATE.search(plain):
        plain = plain.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return plain


def rich_text(item: etree._Element, namespace: str) -> str:
    """Return the text of a string item: its runs joined, phonetic runs left out."""
    text_tag, run_tag = f"{namespace}t", f"{namespace}r"
    if len(item) == 1 and item[0].tag == text_tag:
        return unescape(item[0].text or "")
    pieces = []
    for child in item:
        if child.tag == text_tag:
            pieces.append(child.text or "")
        elif child.tag == run_tag:
            pieces += [piece.text or "" for piece in child.iterchildren(text_tag)]
    return unescape("".join(pieces))


def read_shared_strings(package: Package, part: str) -> dict[str, str]:
    """Return the shared strings by their number as cells write it; none where the part is missing."""
    root = parse_part(package, part)
    if root is None:
        return {}
    namespace = namespace_of(root, part)
    items = root.iterchildren(f"{namespace}si")
    return {str(index): rich_text(item, namespace) for index, item in enumerate(items)}


def read_styles(package: Package, part: str) -> Styles:
    """Return lock and date-ness of each cell format; an unknown format is locked and no date.

    The cell format itself decides, as spreadsheet programs do; its parent style is not asked.
    """
    data = part_bytes(package, part)
    if data is None:
        return {}
    styles: dict[str | None, Style] = {}
    root = parse_bytes(data, part)
    namespace = namespace_of(root, part)
    codes = {
        element.get("numFmtId"): element.get("formatCode", "")
        for element in root.iterfind(f"{namespace}numFmts/{namespace}numFmt")
    }
    for index, element in enumerate(root.iterfind(f"{namespace}cellXfs/{namespace}xf")):
        protection = element.find(f"{namespace}protection")
        number = element.get("numFmtId", "0")
        is_date = _is_date_code(codes[number]) if number in codes else _is_built_in_date(number)
        styles[str(index)] = (attribute_true(protection, "locked", default=True), is_date)
    styles[None] = styles.get("0", UNKNOWN_STYLE)
    return styles


def _is_built_in_date(number: str) -> bool:
    return number.isdecimal() and len(number) < 4 and int(number) in _BUILT_IN_DATES


@lru_cache(maxsize=256)
def _is_date_code(code: str) -> bool:
    """Say whether a format code shows a date or a time; its first section counts.

    Examples
    --------
    >>> [_is_date_code(code) for code in ("dd/mm/yyyy", "[h]:mm", '0.0 "mm"', "[Red]0")]
    [True, True, False, False]
    """
    section = _NOT_FORMAT_LETTERS.sub("", code).partition(";")[0]
    return section.strip().lower() != "general" and _DATE_LETTER.search(section) is not None


def defined_names(workbook: etree._Element, namespace: str) -> dict[str, str]:
    """Return the names that hold in the whole workbook, with their target text."""
    return {
        unescape(element.get("name", "")): element.text or ""
        for element in workbook.iterfind(f"{namespace}definedNames/{namespace}definedName")
        if element.get("localSheetId") is None
    }


def read_properties(package: Package, parts: Iterable[str]) -> dict[str, str]:
    """Return the document properties of several parts; a later part wins over an earlier one."""
    properties: dict[str, str] = {}
    for part in parts:
        data = part_bytes(package, part)
        if data is not None:
            properties |= _properties(data, part)
    return properties


def _properties(data: bytes, part: str) -> dict[str, str]:
    properties: dict[str, str] = {}
    for element in parse_bytes(data, part):
        custom = local_name(element) == "property"
        children = len(element)
        if custom and children == 1 and len(element[0]) == 0:
            properties[element.get("name", "")] = unescape(element[0].text or "")
        elif not custom and not children:
            properties[local_name(element)] = unescape(element.text or "")
    return properties


_MOST_ROWS = 1_048_576
_MOST_COLUMNS = 16_384

# Strings, quoted tab names and bracketed parts match first, so nothing inside them is taken for a
# reference. A word before `(` is a function, before `!` a tab.
_TOKEN = re.compile(
    r"""
    "(?:[^"]|"")*" | '(?:[^']|'')*' | \[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | (?<![\w.\\?$])(?:
        (?P<cell>(?P<column_mark>\$?)(?P<column>[A-Za-z]{1,3})(?P<row_mark>\$?)(?P<row>[1-9][0-9]{0,6}))
        | (?P<columns>\$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3})
        | (?P<rows>\$?[1-9][0-9]{0,6}:\$?[1-9][0-9]{0,6})
    )(?![\w.\\?(!$]|:[^\W\d][\w.]*!)
    """,
    re.VERBOSE,
)


def shift_formula(formula: str, rows: int, columns: int) -> str:
    """Return a formula with its relative references moved; a reference moved off the sheet is `#REF!`.

    Examples
    --------
    >>> shift_formula('A1+$B$2&"C3"', 1, 2)
    'C2+$B$2&"C3"'
    """

    def moved(match: re.Match[str]) -> str:
        if match["cell"]:
            column = _moved_column(match["column_mark"] + match["column"], columns)
            row = _moved_row(match["row_mark"] + match["row"], rows)
            return "#REF!" if column is None or row is None else column + row
        if match["columns"]:
            return _moved_pair(match["columns"], columns, _moved_column)
        if match["rows"]:
            return _moved_pair(match["rows"], rows, _moved_row)
        return match[0]

    return _TOKEN.sub(moved, formula)


def _moved_column(text: str, by: int) -> str | None:
    if text.startswith("$"):
        return text
    number = column_number(text) + by
    return column_letters(number) if 0 <= number < _MOST_COLUMNS else None


def _moved_row(text: str, by: int) -> str | None:
    if text.startswith("$"):
        return text
    number = int(text) + by
    return str(number) if 1 <= number <= _MOST_ROWS else None


def _moved_pair(text: str, by: int, move: Callable[[str, int], str | None]) -> str:
    first, _, last = text.partition(":")
    ends = move(first, by), move(last, by)
    return "#REF!" if ends[0] is None or ends[1] is None else f"{ends[0]}:{ends[1]}"
