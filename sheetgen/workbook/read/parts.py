"""The small XML parts of a workbook: relations, shared strings, styles, names, properties; validation rules.

Both namespaces of the standard are read (transitional and strict), under any prefix.
"""

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from functools import lru_cache
from itertools import chain, product
from urllib.parse import unquote

from lxml import etree
from msgspec import Struct
from msgspec.structs import replace

from sheetgen.finding import RefusedError, amount, quoted, too_large, unreadable, unsafe
from sheetgen.workbook.addresses import place_of, shift_formula
from sheetgen.workbook.read.guard import Package
from sheetgen.workbook.snapshot import Block, RuleState, holds

Style = tuple[bool, bool]  # Of one cell format: whether it is locked, and whether it shows numbers as dates.

UNKNOWN_STYLE: Style = (True, False)  # What a cell format means that the workbook does not define.

Styles = Mapping[str | None, Style]  # By the number in a cell's `s`; None stands for a cell without one.

_MAIN_NAMESPACES = {
    "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}",
    "{http://purl.oclc.org/ooxml/spreadsheetml/main}",
}
_PARSER = etree.XMLParser(
    resolve_entities=False, no_network=True, huge_tree=False, load_dtd=False,
    remove_comments=True, remove_pis=True, collect_ids=False,
)  # fmt: skip

# A tree takes far more memory than its text, so a dense part is counted before it is parsed.
_SMALL_PART = 1_000_000
_MOST_TAGS = 1_500_000
_MOST_ATTRIBUTES = 3_000_000

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_SURROGATE = re.compile(r"[\ud800-\udfff]")
_BUILT_IN_DATES = frozenset(map(str, (*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59))))
# What is taken out of a format code before its letters are looked at: quoted text, single characters,
# fillers, colours, conditions and locales; but `[h]`, `[mm]`, `[ss]` are elapsed times.
_NOT_FORMAT_LETTERS = re.compile(r'(?is)"[^"]*"?|\\.|[_*].|\[(?!h+\]|m+\]|s+\])[^\]]*\]')
_DATE_LETTER = re.compile(r"[dmyhs]", re.IGNORECASE)
_DAY_ZERO = date(1899, 12, 30)


class Relation(Struct, frozen=True):
    """A relation of one part to another: its key, the last word of its type, the other part's name."""

    key: str
    kind: str
    target: str


def part_bytes(package: Package, name: str) -> bytes | None:
    """Return a part, None where the package has none by that name."""
    return package.parts.get(name, package.parts.get(unquote(name)))


def parse_part(package: Package, name: str) -> etree._Element | None:
    """Return the root of a part, None where the package has none by that name."""
    data = part_bytes(package, name)
    return None if data is None else parse_bytes(data, name)


def parse_bytes(data: bytes, name: str) -> etree._Element:
    """Return the root of a part; RefusedError where it is not well-formed, has a document type or far too
    many elements."""
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
    """Return the root's namespace in braces; RefusedError where the part is of another vocabulary."""
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


def date_serial(text: str) -> float | None:
    """Return the serial number of an ISO date, or date with time, counted from 30 December 1899 [days]."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    seconds = moment.hour * 3600 + moment.minute * 60 + moment.second
    return (moment.date() - _DAY_ZERO).days + seconds / 86_400


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
    root = parse_part(package, posixpath.join(folder, "_rels", f"{file}.rels"))
    return tuple(
        Relation(
            element.get("Id", ""),
            # The strict edition joins words that the transitional one hyphenates.
            element.get("Type", "").rpartition("/")[2].replace("-", "").lower(),
            _target(folder, element.get("Target", "")),
        )
        for element in (() if root is None else root)
        if element.get("TargetMode", "").lower() != "external"
    )


def _target(folder: str, target: str) -> str:
    path = target.replace("\\", "/").partition("#")[0].lower()
    return posixpath.normpath(posixpath.join("/", folder, path)).lstrip("/")


def unescape(text: str) -> str:
    """Decode `_xHHHH_` escapes.

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
    runs = (child.iterchildren(text_tag) if child.tag == run_tag else (child,) for child in item)
    pieces = (piece.text or "" for run in runs for piece in run if piece.tag == text_tag)
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
    """Return lock and date-ness of each cell format; an unknown format is locked and no date. The cell format
    itself decides, as spreadsheet programs do; its parent style is not asked."""
    root = parse_part(package, part)
    if root is None:
        return {}
    styles: dict[str | None, Style] = {}
    namespace = namespace_of(root, part)
    codes = {
        element.get("numFmtId"): element.get("formatCode", "")
        for element in root.iterfind(f"{namespace}numFmts/{namespace}numFmt")
    }
    for index, element in enumerate(root.iterfind(f"{namespace}cellXfs/{namespace}xf")):
        protection = element.find(f"{namespace}protection")
        number = element.get("numFmtId", "0")
        is_date = _is_date_code(codes[number]) if number in codes else number in _BUILT_IN_DATES
        styles[str(index)] = (attribute_true(protection, "locked", default=True), is_date)
    styles[None] = styles.get("0", UNKNOWN_STYLE)
    return styles


@lru_cache(maxsize=256)
def _is_date_code(code: str) -> bool:
    """Say whether a format code shows a date or a time; its first section counts.

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
        root = parse_part(package, part)
        for element in () if root is None else root:
            custom = local_name(element) == "property"
            leaf = element[0] if custom and len(element) == 1 else element
            if not len(leaf) and custom == (leaf is not element):
                key = element.get("name", "") if custom else local_name(element)
                properties[key] = unescape(leaf.text or "")
    return properties


ROW_LIMIT = 5_000
COLUMN_LIMIT = 256
"""Cells from here on are left out."""

_LARGEST_SPREAD_BLOCK = 2_000
_MOST_SPREAD_PLACES = 200_000
_MOST_WIDE_BLOCKS = 200
# Beyond so many cells of a tab a rule that reads differently in each is left alone: a sheet has some dozens.
_MOST_MOVED = 1_000
_MOST_READ = 2_000

_EXTENSION_RULE = "{http://schemas.microsoft.com/office/spreadsheetml/2009/9/main}dataValidation"

_Place = tuple[int, int]
_Understood = tuple[RuleState | None, _Place | None]
"""A rule and, where it reads differently from cell to cell, the cell it is written for."""
_NOT_UNDERSTOOD: _Understood = (None, None)

_TYPES = ("list", "whole", "decimal", "textLength", "custom", "date", "time")
_KINDS = {word: "length" if word == "textLength" else word for word in _TYPES}
# Longer ones are none of a sheet handed out, and would take long to move from cell to cell.
_LONGEST_FORMULA = 2_000
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?")
_WORDS = re.compile(r'"((?:[^"]|"")*)"')


class RuledPlaces(Struct, frozen=True):
    """Places that a validation covers with its rule, None where it is not understood: small blocks place by
    place, wide ones as blocks."""

    rules: Mapping[_Place, RuleState | None]
    wide: tuple[tuple[Block, RuleState | None], ...]

    def covers(self, place: _Place) -> bool:
        """Say whether any validation covers a place."""
        return place in self.rules or any(holds(block, *place) for block, _ in self.wide)


def read_rules(root: etree._Element, namespace: str) -> RuledPlaces:
    """Return the places that a tab's validation covers, those in the extension list included, and the rules.
    A validation of type `none` only shows a message and refuses nothing, so it does not count. Where several
    cover a place, the last one that is understood tells the rule."""
    rules: dict[_Place, RuleState | None] = {}
    wide: list[tuple[Block, RuleState | None]] = []
    moves_left = _MOST_MOVED
    for text, (rule, base) in _by_block(root, namespace).items():
        block = _block_of(text)
        if block is None:
            continue
        top, left, bottom, right = block
        size = (bottom - top + 1) * (right - left + 1)
        moves_left -= 0 if base is None else size
        understood = None if base is not None and moves_left < 0 else rule
        if size > _LARGEST_SPREAD_BLOCK:
            wide.append((block, understood))
        else:
            for place in product(range(top, bottom + 1), range(left, right + 1)):
                rules[place] = _at(place, understood, base) if understood else rules.get(place)
        if len(rules) > _MOST_SPREAD_PLACES or len(wide) > _MOST_WIDE_BLOCKS:
            raise RefusedError(too_large("rules", most=_MOST_WIDE_BLOCKS))
    return RuledPlaces(rules, tuple(wide))


def _at(place: _Place, rule: RuleState, base: _Place | None) -> RuleState:
    if base is None:
        return rule
    return replace(rule, formula=shift_formula(rule.formula, place[0] - base[0], place[1] - base[1]))


def _by_block(root: etree._Element, namespace: str) -> dict[str, _Understood]:
    """Return what the last rule over each block means, as far as rules are read."""
    by_block: dict[str, _Understood] = {}
    for number, (rule, texts) in enumerate(_validations(root, namespace)):
        meaning = _meaning(rule, texts) if number < _MOST_READ else _NOT_UNDERSTOOD
        for text in texts:
            by_block.pop(text, None)
            by_block[text] = meaning
    return by_block


def _validations(root: etree._Element, namespace: str) -> Iterator[tuple[etree._Element, list[str]]]:
    """Every validation that refuses something, and the texts of its blocks."""
    listed = root.iterfind(f"{namespace}dataValidations/{namespace}dataValidation")
    plain = ((rule, rule.get("sqref", "")) for rule in listed)
    extended = (
        (rule, " ".join(child.text or "" for child in rule if local_name(child) == "sqref"))
        for extensions in root.iterchildren(f"{namespace}extLst")
        for rule in extensions.iter(_EXTENSION_RULE)
    )
    for rule, text in chain(plain, extended):
        if rule.get("type", "none") != "none":
            yield rule, list(dict.fromkeys(text.split()))


def _meaning(rule: etree._Element, texts: list[str]) -> _Understood:
    state = rule_state(rule)
    if state is None or shift_formula(state.formula, 1, 1) == state.formula:
        return state, None
    corners = [block[:2] for text in texts if (block := _block_of(text)) is not None]
    # Programs differ in which corner counts, the first block's or that of them all.
    if not corners or corners[0] != tuple(map(min, zip(*corners, strict=True))):
        return _NOT_UNDERSTOOD
    return state, corners[0]


def _block_of(text: str) -> Block | None:
    """Return a block cut down to the kept addresses, None where none of it is kept or it is not one."""
    first_text, colon, last_text = text.partition(":")
    first = place_of(first_text)
    last = place_of(last_text) if colon else first
    if first is None or last is None:
        return None
    top, bottom = sorted((first[0], last[0]))
    left, right = sorted((first[1], last[1]))
    if top >= ROW_LIMIT or left >= COLUMN_LIMIT:
        return None
    return top, left, min(bottom, ROW_LIMIT - 1), min(right, COLUMN_LIMIT - 1)


def rule_state(rule: etree._Element) -> RuleState | None:
    """Return what a validation lets through; None where it is written in a form that is not understood. A
    list that is no text of words but a reference has no words. A limit that is no number is not
    understood."""
    first, second = _formula(rule, "formula1"), _formula(rule, "formula2")
    if max(len(first), len(second)) > _LONGEST_FORMULA:
        return None
    stops = rule.get("errorStyle", "stop") == "stop" and attribute_true(rule, "showErrorMessage")
    kind, operator = _KINDS.get(rule.get("type", ""), ""), rule.get("operator", "between")
    return _state(kind, operator, first, second, stops, attribute_true(rule, "allowBlank"))


@lru_cache(maxsize=1024)
def _state(
    kind: str, operator: str, first: str, second: str, stops: bool, ignores_blank: bool
) -> RuleState | None:
    """The sheets of a class have the same few dozen rules."""
    state = RuleState(kind, stops=stops, ignores_blank=ignores_blank)
    if not kind:
        return None
    if kind == "custom":
        return replace(state, formula=f"={first}")
    if kind == "list":
        inside = _WORDS.fullmatch(first)
        words = inside[1].replace('""', '"').split(",") if inside else ()
        return replace(state, words=frozenset(map(str.strip, words)))
    if kind in ("date", "time"):
        return state
    step = 1 if kind in ("whole", "length") else 0
    limits = _limits(operator, first, second, step)
    return None if limits is None else replace(state, minimum=limits[0], maximum=limits[1])


def _formula(rule: etree._Element, name: str) -> str:
    """In the extension list the text stands one element deeper."""
    texts = ("".join(map(str, child.itertext())) for child in rule if local_name(child) == name)
    return next(texts, "").strip()


def _limits(operator: str, first: str, second: str, step: int) -> tuple[float | None, float | None] | None:
    """Return the least and the most that is let through, None for a side that is open.
    step : to the next number, where only whole ones count; 0 where there is no next one."""
    pair = operator in ("between", "notBetween")
    if not _NUMBER.fullmatch(first) or (pair and not _NUMBER.fullmatch(second)):
        return None
    limit = float(first)
    return {
        "between": (limit, float(second) if pair else None),
        "equal": (limit, limit),
        "greaterThanOrEqual": (limit, None),
        "lessThanOrEqual": (None, limit),
        "greaterThan": (limit + step, None),
        "lessThan": (None, limit - step),
        "notBetween": (None, None),
        "notEqual": (None, None),
    }.get(operator)
