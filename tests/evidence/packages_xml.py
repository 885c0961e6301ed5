"""Damage to the XML of one part; the zip around it is whole."""

import random
import re
from collections.abc import Callable, Sequence

from tests.evidence.packages_bytes import Mutation, part_gone, parts_changed, some_part

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRANGE = (
    "", "0", "-1", "1e999", "NaN", "INF", "99999999999999999999", "4294967295", "1048577", "A0", "XFD1048576",
    "ZZZZ9999999999", "A1:XFD1048576", "A:A", "'", "&#0;", "&amp;", "\u202e", "../../x", "x" * 50_000,
    "1" * 5_000,
    "#REF!", "true", "s", "shared", "array", "1.5", "0x10", "9" * 400, "--", "=" * 300, "A1 " * 3_000,
    "urn:x", "http://127.0.0.1/", "/", "xl/workbook.xml", "{}", "%s", "\ud7ff",
)  # fmt: skip


def _xml(change: Callable[[str, random.Random], str]) -> Mutation:
    """One part's XML as text changed; the zip around it is whole."""

    def make(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
        name = some_part(parts, dice)
        text = parts[name].decode("utf-8", "replace")
        parts[name] = change(text, dice).encode("utf-8", "surrogatepass")
        return parts

    return parts_changed(make)


def _chosen(pattern: str, text: str, dice: random.Random) -> re.Match[str] | None:
    found = list(re.finditer(pattern, text))
    return dice.choice(found) if found else None


def _value_strange(text: str, dice: random.Random) -> str:
    match = _chosen(r'="([^"]*)"', text, dice)
    return text if match is None else text[: match.start(1)] + dice.choice(_STRANGE) + text[match.end(1) :]


def _content_strange(text: str, dice: random.Random) -> str:
    match = _chosen(r">([^<]*)<", text, dice)
    return text if match is None else text[: match.start(1)] + dice.choice(_STRANGE) + text[match.end(1) :]


def _values_strange(text: str, dice: random.Random) -> str:
    for _ in range(dice.randint(2, 30)):
        text = _value_strange(text, dice)
    return text


def _attribute_everywhere(text: str, dice: random.Random) -> str:
    """The same attribute changed on every element that has it."""
    match = _chosen(r'\s([\w:-]+)="', text, dice)
    if match is None:
        return text
    value = dice.choice([one for one in _STRANGE if len(one) < 100])
    return re.sub(rf'(\s{re.escape(match[1])}=")[^"]*"', lambda found: f'{found[1]}{value}"', text)


def _tag_gone(text: str, dice: random.Random) -> str:
    match = _chosen(r"<[^>]*>", text, dice)
    return text if match is None else text[: match.start()] + text[match.end() :]


def _tag_twice(text: str, dice: random.Random) -> str:
    match = _chosen(r"<[^>]*/>", text, dice)
    many = dice.choice((2, 1000, 20_000))
    return text if match is None else text[: match.end()] + match[0] * many + text[match.end() :]


def _element_other(text: str, dice: random.Random) -> str:
    match = _chosen(r"</?([\w:-]+)", text, dice)
    new = dice.choice(("x", "c", "row", "f", "v", "sheetData", "sheets", "si", "xf", "Relationship"))
    return text if match is None else re.sub(rf"(</?){re.escape(match[1])}(?=[\s/>])", rf"\g<1>{new}", text)


def _inserted(pieces: Sequence[str]) -> Callable[[str, random.Random], str]:
    def make(text: str, dice: random.Random) -> str:
        match = _chosen(r">", text, dice)
        at = len(text) if match is None else match.end()
        return text[:at] + dice.choice(pieces) + text[at:]

    return make


_NESTED = (
    "<a>" * 300 + "</a>" * 300, "<a>" * 5_000 + "</a>" * 5_000, "<!-- " + "x" * 9_000 + " -->",
    "<![CDATA[<a>]]>",
    "<?x y?>", "&unknown;", "&#x110000;", "\x00", "<row r='1'><c r='A1'><v>1</v></c></row>", "]]>",
    "<c r='XFD1048576'><v>1</v></c>", "<c r='A1' t='s'><v>99999999</v></c>", "<f t='shared' si='9'/>",
    "<f t='array' ref='A1:XFD1048576'>1+1</f>", f"<mergeCell xmlns='{_MAIN}' ref='A1:XFD1048576'/>",
    "<table:table-row table:number-rows-repeated='1000000'/>",
    "<table:table-cell table:number-columns-repeated='99999999'/>", "<text:s text:c='999999999'/>",
)  # fmt: skip


def _with_entities(text: str, dice: random.Random) -> str:
    lines = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "ha"}">' for n in range(10))
    kind = dice.choice(
        (
            f"<!DOCTYPE x [{lines}]>",
            '<!DOCTYPE x SYSTEM "file:///etc/passwd">',
            '<!DOCTYPE x [<!ENTITY e0 SYSTEM "file:///etc/hostname">]>',
            f'<!DOCTYPE x [<!ENTITY e0 "{"a" * 30_000}">]>',
        )
    )
    head, mark, rest = text.partition("?>")
    body = rest if mark else text
    at = body.rfind("</")
    return (
        (head + mark if mark else "") + kind + body[:at] + dice.choice(("&e9;", "&e0;" * 2_000)) + body[at:]
    )


def _doctype_hidden(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    """A document type in another text encoding."""
    name = some_part(parts, dice)
    text = re.sub(r"<\?xml[^>]*\?>", "", parts[name].decode("utf-8", "replace"))
    encoding = dice.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-7", "cp037", "latin-1"))
    head = f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE x [<!ENTITY e0 "a">]>'
    parts[name] = (head + text).encode(encoding, "replace")
    return parts


def _relations_odd(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    """Parts that point at themselves, at each other, outside, or nowhere."""
    names = [name for name in parts if name.endswith(".rels")]
    if not names:
        return part_gone(parts, dice)
    name = dice.choice(names)
    text = parts[name].decode("utf-8", "replace")
    target = dice.choice(
        ("workbook.xml", "/xl/workbook.xml", "../../../../etc/passwd", "file:///etc/passwd", "http://127.0.0.1/x",
         "", ".", "worksheets/sheet1.xml", "_rels/workbook.xml.rels", "%2e%2e/x", "\\\\host\\share")
    )  # fmt: skip
    many = dice.choice((1, 0))
    text = re.sub(r'Target="[^"]*"', lambda _: f'Target="{target}"', text, count=many)
    if dice.random() < 0.3:
        text = text.replace("/>", ' TargetMode="External"/>')
    parts[name] = text.encode()
    return parts


XML_MUTATIONS: dict[str, Mutation] = {
    "value strange": _xml(_value_strange),
    "values strange": _xml(_values_strange),
    "content strange": _xml(_content_strange),
    "attribute everywhere": _xml(_attribute_everywhere),
    "tag gone": _xml(_tag_gone),
    "tag many times": _xml(_tag_twice),
    "element other": _xml(_element_other),
    "inserted": _xml(_inserted(_NESTED)),
    "entities": _xml(_with_entities),
    "doctype hidden": parts_changed(_doctype_hidden),
    "relations odd": parts_changed(_relations_odd),
}
"""A kind of damage to what does it to the bytes of a file."""
