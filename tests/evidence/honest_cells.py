"""Cells, texts and formulas said in another way, tab by tab."""

import random
import re

from lxml import etree
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.formula.translate import Translator
from openpyxl.utils import coordinate_to_tuple, get_column_letter

from tests.evidence.honest_saved import MAIN, TEXTS, ByHand, Parts, for_tabs, is_tab, rewritten


def without_results(root: etree._Element, dice: random.Random) -> None:
    for cell in root.iter(f"{MAIN}c"):
        if cell.find(f"{MAIN}f") is not None:
            for value in cell.findall(f"{MAIN}v"):
                cell.remove(value)
            cell.attrib.pop("t", None)


def _own_texts(parts: Parts, dice: random.Random) -> Parts:
    """Every text in its own cell; the part that all share is gone."""
    texts = list(etree.fromstring(parts[TEXTS]).iterchildren(f"{MAIN}si"))

    def change(root: etree._Element, _: random.Random) -> None:
        for cell in root.iter(f"{MAIN}c"):
            value = cell.find(f"{MAIN}v")
            if cell.get("t") != "s" or value is None:
                continue
            inner = etree.SubElement(cell, f"{MAIN}is")
            for child in etree.fromstring(etree.tostring(texts[int(value.text or 0)])):
                inner.append(child)
            cell.remove(value)
            cell.set("t", "inlineStr")

    whole = for_tabs(change)(parts, dice)
    assert not isinstance(whole, bytes)
    whole.pop(TEXTS)
    whole["[Content_Types].xml"] = re.sub(
        rb"<Override[^>]*sharedStrings\.xml[^>]*/>", b"", whole["[Content_Types].xml"]
    )
    rels = "xl/_rels/workbook.xml.rels"
    whole[rels] = re.sub(rb"<Relationship [^>]*sharedStrings\.xml[^>]*/>", b"", whole[rels])
    return whole


def _rich_texts(parts: Parts, dice: random.Random) -> Parts:
    def change(root: etree._Element, _: random.Random) -> None:
        for item in root.iterchildren(f"{MAIN}si"):
            text = "".join(one.text or "" for one in item.iter(f"{MAIN}t"))
            for child in list(item):
                item.remove(child)
            at = dice.randint(0, len(text))
            for piece in (text[:at], text[at:]):
                run = etree.SubElement(item, f"{MAIN}r")
                etree.SubElement(etree.SubElement(run, f"{MAIN}rPr"), f"{MAIN}b")
                inner = etree.SubElement(run, f"{MAIN}t")
                inner.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
                inner.text = piece

    return {**parts, TEXTS: rewritten(parts[TEXTS], change, dice)} if TEXTS in parts else parts


def _kept_spaces(parts: Parts, dice: random.Random) -> Parts:
    mark = b'<t xml:space="preserve">'
    return {
        name: part.replace(b"<t>", mark) if is_tab(name) or name == TEXTS else part
        for name, part in parts.items()
    }


def _no_references(root: etree._Element, dice: random.Random) -> None:
    """Cells and rows that say nothing of their place stand where they come."""
    data = root.find(f"{MAIN}sheetData")
    assert data is not None
    at_row = 0
    for row in list(data):
        wanted = int(row.get("r", str(at_row + 1)))
        while at_row + 1 < wanted:
            row.addprevious(etree.Element(f"{MAIN}row"))
            at_row += 1
        at_row += 1
        row.attrib.pop("r", None)
        row.attrib.pop("spans", None)
        at = 0
        for cell in list(row):
            column = coordinate_to_tuple(str(cell.get("r")))[1]
            while at + 1 < column:
                cell.addprevious(etree.Element(f"{MAIN}c"))
                at += 1
            at += 1
            del cell.attrib["r"]


def _shared_formulas(root: etree._Element, dice: random.Random) -> None:
    """Formulas that follow from the one above or to the left are written as sharing it; others alone."""
    formulas = {
        str(cell.get("r")): inner for cell in root.iter(f"{MAIN}c") for inner in cell.iterchildren(f"{MAIN}f")
    }
    texts = {reference: inner.text or "" for reference, inner in formulas.items()}
    taken: set[str] = set()
    for index, (reference, inner) in enumerate(formulas.items()):
        if reference in taken:
            continue
        row, column = coordinate_to_tuple(reference)
        block = [reference]
        for next_row in range(row + 1, row + 40):
            other = f"{get_column_letter(column)}{next_row}"
            if other not in texts or other in taken:
                break
            if (
                Translator(f"={texts[reference]}", origin=reference).translate_formula(other)
                != f"={texts[other]}"
            ):
                break
            block.append(other)
        taken.update(block)
        inner.set("t", "shared")
        inner.set("si", str(index))
        inner.set("ref", f"{block[0]}:{block[-1]}" if len(block) > 1 else reference)
        for other in block[1:]:
            formulas[other].set("t", "shared")
            formulas[other].set("si", str(index))
            formulas[other].text = None


def _formulas_rewritten(root: etree._Element, dice: random.Random) -> None:
    """Spacing, case, `$`, quotes, prefixes and how numbers are written, as other programs have them."""
    for inner in root.iter(f"{MAIN}f"):
        if inner.text:
            inner.text = "".join(_respelt(token, dice) for token in Tokenizer("=" + inner.text).items)


def _respelt(token: Token, dice: random.Random) -> str:
    text = str(token.value)
    if token.type == Token.OPERAND and token.subtype == Token.NUMBER:
        return dice.choice((text, text + ".0" if text.isdigit() else text, f"{float(text)!r}"))
    if token.type == Token.OPERAND and token.subtype == Token.RANGE:
        tab, mark, address = text.rpartition("!")
        if mark and not tab.startswith("'"):
            tab = dice.choice((tab, f"'{tab}'"))
        return tab + mark + dice.choice((address, address.replace("$", ""), address.lower()))
    if token.type == Token.FUNC and token.subtype == Token.OPEN:
        return dice.choice((text, text.lower(), "_xlfn." + text))
    if token.type in (Token.OP_IN, Token.SEP):
        return dice.choice((text, f" {text} ", f"{text} "))
    return text


def _numbers_respelt(root: etree._Element, dice: random.Random) -> None:
    for cell in root.iter(f"{MAIN}c"):
        value = cell.find(f"{MAIN}v")
        if cell.get("t", "n") == "n" and value is not None and value.text:
            number = float(value.text)
            spellings = (repr(number), f"{number:.15e}", f"{number:.17g}")
            value.text = dice.choice([one for one in spellings if float(one) == number])


def _more_attributes(root: etree._Element, dice: random.Random) -> None:
    root.set("{http://schemas.openxmlformats.org/markup-compatibility/2006}Ignorable", "zz")
    for row in root.iter(f"{MAIN}row"):
        row.set("{http://example.org/zz}descent", "0.25")
        for cell in row:
            cell.set("{http://example.org/zz}uid", str(dice.randint(1, 10**9)))
            cell.set("cm", "0")
    extensions = etree.SubElement(etree.SubElement(root, f"{MAIN}extLst"), f"{MAIN}ext", uri="{zz}")
    etree.SubElement(extensions, "{http://example.org/zz}thing").text = "kept"


CELL_WAYS: dict[str, ByHand] = {
    "results not stored": for_tabs(without_results),
    "texts in cells": _own_texts,
    "rich texts": _rich_texts,
    "spaces kept": _kept_spaces,
    "cells without reference": for_tabs(_no_references),
    "shared formulas": for_tabs(_shared_formulas),
    "formulas respelt": for_tabs(_formulas_rewritten),
    "numbers respelt": for_tabs(_numbers_respelt),
    "more attributes": for_tabs(_more_attributes),
}
"""A way of saving to the parts that it makes."""
