"""The workbook part, the other parts and the zip said in another way."""

import random
import re
import zipfile

from lxml import etree

from tests.evidence.honest_saved import (
    MAIN,
    MAIN_NAME,
    STYLES,
    TEXTS,
    WORKBOOK,
    ByHand,
    Parts,
    is_tab,
    rewritten,
)
from tests.evidence.twins import zipped

_STRICT = (
    (MAIN_NAME, "http://purl.oclc.org/ooxml/spreadsheetml/main"),
    (
        "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
        "http://purl.oclc.org/ooxml/officeDocument/relationships",
    ),
)


def _prefixed(parts: Parts, dice: random.Random) -> Parts:
    def one(part: bytes) -> bytes:
        named = re.sub(rb"<(/?)([A-Za-z][\w.]*)(?=[\s/>])", rb"<\1x:\2", part)
        return named.replace(b' xmlns="', b' xmlns:x="', 1)

    wanted = (WORKBOOK, TEXTS, STYLES)
    return {name: one(part) if is_tab(name) or name in wanted else part for name, part in parts.items()}


def _absolute_names(parts: Parts, dice: random.Random) -> Parts:
    name = "xl/_rels/workbook.xml.rels"
    inner = re.sub(rb'Target="(?!/)', b'Target="/xl/', parts[name])
    outer = re.sub(rb'Target="(?!/)', b'Target="/', parts["_rels/.rels"])
    return {**parts, name: inner, "_rels/.rels": outer}


def _other_keys(parts: Parts, dice: random.Random) -> Parts:
    """The keys by which the workbook finds its tabs are others, in another order."""
    name = "xl/_rels/workbook.xml.rels"
    start = dice.randint(100, 900)

    def renamed(match: re.Match[bytes]) -> bytes:
        return match[1] + b"Key" + str(start - int(match[2])).encode() + b'"'

    root = etree.fromstring(re.sub(rb'(Id=")rId(\d+)"', renamed, parts[name]))
    children = list(root)
    dice.shuffle(children)
    for child in children:
        root.append(child)
    return {
        **parts,
        name: etree.tostring(root, xml_declaration=True, encoding="UTF-8"),
        WORKBOOK: re.sub(rb'(r:id=")rId(\d+)"', renamed, parts[WORKBOOK]),
    }


def _strict(parts: Parts, dice: random.Random) -> Parts:
    whole = dict(parts)
    for name in whole:
        if name.endswith((".xml", ".rels")):
            for old, new in _STRICT:
                whole[name] = whole[name].replace(old.encode(), new.encode())
    return whole


def counted_from_1904(parts: Parts, dice: random.Random) -> Parts:
    plain = re.sub(rb' date1904="[^"]*"', b"", parts[WORKBOOK])
    return {**parts, WORKBOOK: plain.replace(b"<workbookPr", b'<workbookPr date1904="1"', 1)}


def _byte_order_mark(parts: Parts, dice: random.Random) -> Parts:
    return {
        name: b"\xef\xbb\xbf" + part if name.endswith((".xml", ".rels")) else part
        for name, part in parts.items()
    }


def _two_bytes_a_sign(parts: Parts, dice: random.Random) -> Parts:
    return {
        name: etree.tostring(etree.fromstring(part), xml_declaration=True, encoding="UTF-16")
        if is_tab(name) or name in (TEXTS, WORKBOOK)
        else part
        for name, part in parts.items()
    }


def _properties_lost(parts: Parts, dice: random.Random) -> Parts:
    whole = {name: part for name, part in parts.items() if not name.startswith("docProps/")}
    whole["_rels/.rels"] = re.sub(rb"<Relationship [^>]*docProps/[^>]*/>", b"", parts["_rels/.rels"])
    whole["[Content_Types].xml"] = re.sub(
        rb"<Override[^>]*docProps/[^>]*/>", b"", parts["[Content_Types].xml"]
    )
    return whole


def _in_workbook(pattern: bytes, new: bytes) -> ByHand:
    def make(parts: Parts, dice: random.Random) -> Parts:
        return {**parts, WORKBOOK: re.sub(pattern, new, parts[WORKBOOK])}

    return make


def _tabs_reordered(parts: Parts, dice: random.Random) -> Parts:
    def change(root: etree._Element, _: random.Random) -> None:
        (sheets,) = root.iter(f"{MAIN}sheets")
        children = list(sheets)
        # Names that hold for one tab only say which by its number.
        for name in list(root.iter(f"{MAIN}definedName")):
            if name.get("localSheetId") is not None:
                above = name.getparent()
                assert above is not None
                above.remove(name)
        dice.shuffle(children)
        for child in children:
            sheets.append(child)

    return {**parts, WORKBOOK: rewritten(parts[WORKBOOK], change, dice)}


def _tab_renamed(parts: Parts, dice: random.Random) -> Parts:
    """As a program does it: title, formulas and names."""
    title = dice.choice(
        [str(one.get("name")) for one in etree.fromstring(parts[WORKBOOK]).iter(f"{MAIN}sheet")]
    )
    new = dice.choice((f"{title} (2)", f"Copy of {title}", f"{title[:4]}'s"))
    quoted = "'" + new.replace("'", "''") + "'!"
    pattern = re.compile(rf"(?<![\w'])(?:{re.escape(title)}|'{re.escape(title)}')!")

    def change(root: etree._Element, _: random.Random) -> None:
        for one in root.iter(f"{MAIN}f", f"{MAIN}definedName", f"{MAIN}formula1", f"{MAIN}formula"):
            one.text = pattern.sub(lambda _: quoted, one.text) if one.text else one.text
        for sheet in root.iter(f"{MAIN}sheet"):
            if sheet.get("name") == title:
                sheet.set("name", new)

    return {
        name: rewritten(part, change, dice) if is_tab(name) or name == WORKBOOK else part
        for name, part in parts.items()
    }


def _tab_added(parts: Parts, dice: random.Random) -> Parts:
    tab = (
        f'<worksheet xmlns="{MAIN_NAME}"><sheetData><row r="1">'
        '<c r="A1" t="inlineStr"><is><t>notes of mine</t></is>'
        '</c><c r="B1"><f>1+1</f><v>2</v></c></row></sheetData></worksheet>'
    )
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
    rels, types = "xl/_rels/workbook.xml.rels", "[Content_Types].xml"
    office = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    sheet = b'<sheet name="Sheet1" sheetId="99" r:id="rIdNew"/>'
    at_front = dice.random() < 0.5
    pattern, new = (rb"(<sheets>)", rb"\1" + sheet) if at_front else (rb"(</sheets>)", sheet + rb"\1")
    return {
        **parts,
        "xl/worksheets/sheet99.xml": tab.encode(),
        rels: parts[rels].replace(
            b"</Relationships>",
            b'<Relationship Id="rIdNew" Type="' + office + b'/worksheet" Target="worksheets/sheet99.xml"/>'
            b"</Relationships>",
        ),
        types: parts[types].replace(
            b"</Types>",
            b'<Override PartName="/xl/worksheets/sheet99.xml" ContentType="' + kind + b'"/></Types>',
        ),
        WORKBOOK: re.sub(pattern, new, parts[WORKBOOK]),
    }


def _packed_otherwise(parts: Parts, dice: random.Random) -> bytes:
    return zipped(parts, zipfile.ZIP_STORED, dice)


def _packed_again(parts: Parts, dice: random.Random) -> bytes:
    """Unpacked and packed by hand: folder marks, shadow files, and one folder mark of a desktop."""
    more = {"xl/": b"", "__MACOSX/._sheet": b"\x00\x05", ".DS_Store": b"\x00\x00\x00\x01Bud1"}
    return zipped({**more, **parts}, zipfile.ZIP_DEFLATED, dice)


def _template(parts: Parts, dice: random.Random) -> Parts:
    name = "[Content_Types].xml"
    return {**parts, name: parts[name].replace(b"spreadsheetml.sheet.main", b"spreadsheetml.template.main")}


def _same_parts(parts: Parts, dice: random.Random) -> Parts:
    return parts


PACKAGE_WAYS: dict[str, ByHand] = {
    "as it was": _same_parts,
    "absolute part names": _absolute_names,
    "other keys": _other_keys,
    "counted from 1904": counted_from_1904,
    "byte-order mark": _byte_order_mark,
    "properties lost": _properties_lost,
    "names lost": _in_workbook(rb"<definedNames>.*</definedNames>", b""),
    "hidden tab shown": _in_workbook(rb' state="[a-zA-Z]+"', b""),
    "very hidden is hidden": _in_workbook(rb'state="veryHidden"', b'state="hidden"'),
    "structure open": _in_workbook(rb"<workbookProtection[^>]*/>", b""),
    "tabs in another order": _tabs_reordered,
    "tab renamed": _tab_renamed,
    "tab added": _tab_added,
    "stored and in another order": _packed_otherwise,
    "packed again by hand": _packed_again,
    "as a template": _template,
    "prefixed names": _prefixed,
    "strict names": _strict,
    "two bytes a sign": _two_bytes_a_sign,
}
"""A way of saving to the parts, or the whole package, that it makes."""
