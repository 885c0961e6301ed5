"""A broken variant for every fault that a rule can find: what stands in a part in place of what is right.

All are made of the sheet of one kind, which has a bit of everything.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

BASE = "sheet, seven-sites, en"

_SHEET, _DRAWN, _JOINED = "xl/worksheets/sheet5.xml", "xl/worksheets/sheet3.xml", "xl/worksheets/sheet1.xml"
_WORKBOOK, _STYLES, _TEXTS = "xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml"
_DRAWING, _CHART, _PICTURE = "xl/drawings/drawing1.xml", "xl/charts/chart1.xml", "xl/media/image1.png"
_TYPES, _RELATIONS = "[Content_Types].xml", "xl/worksheets/_rels/sheet5.xml.rels"
_LONG = "x" * 300
_AGAIN = '<Relationship Id="rId1" Type="drawing" Target="../drawings/drawing1.xml"/>'
_RULE = '<dataValidation type="whole" sqref="A1 {places}"{more}><formula1>1</formula1></dataValidation>'
_FORMULA = '<row r="{row}"><c r="A{row}"><f>{formula}</f><v>1</v></c></row></sheetData>'


@dataclass(frozen=True, slots=True)
class Break:
    """rule : that is to find it. old : a pattern, its first find replaced by new; empty: the part is new as a
    whole. gone : a part that is left out."""

    rule: str
    part: str
    old: str
    new: str
    gone: str = ""

    def made(self, parts: Mapping[str, bytes]) -> Mapping[str, bytes]:
        """The parts of a broken workbook; AssertionError where there is nothing to break."""
        changed = {name: part for name, part in parts.items() if name != self.gone}
        if self.old:
            text, count = re.subn(self.old, lambda _: self.new, parts[self.part].decode("latin-1"), count=1)
            assert count == 1, f"{self.part} has no {self.old}"
            changed[self.part] = text.encode("latin-1")
        elif self.part:
            changed[self.part] = self.new.encode("latin-1")
        return changed


def formula_of(text: str) -> Break:
    """A formula in a row of its own."""
    return Break("formulas", _SHEET, "</sheetData>", _FORMULA.format(row=9_999, formula=text))


def rule_of(places: str, more: str = "") -> Break:
    """One rule more for cells."""
    new = _RULE.format(places=places, more=more)
    return Break("rules of cells", _SHEET, "(?=<dataValidation )", new)


BREAKS = (
    Break("XML", _SHEET, "</sheetData>", ""),
    Break("XML", "docProps/app.xml", "(?=<Properties)", "<!DOCTYPE a>"),
    Break("names of parts", "XL/Workbook.xml", "", "<a/>"),
    Break("names of parts", "xl/../a.xml", "", "<a/>"),
    Break("content types", _TYPES, '<Override PartName="/xl/styles.xml"[^>]*/>', ""),
    Break("content types", _TYPES, "spreadsheetml.styles", "spreadsheetml.comments"),
    Break("content types", _TYPES, "/xl/styles.xml", "/xl/other.xml"),
    Break("content types", _TYPES, "(?=<Default)", '<Default Extension="XML" ContentType="text/xml"/>'),
    Break("relations", "", "", "", gone="xl/media/image1.png"),
    Break("relations", _RELATIONS, "rId1", "rId9"),
    Break("relations", _SHEET, '<drawing r:id="rId1"/>', ""),
    Break("relations", "xl/worksheets/_rels/sheet99.xml.rels", "", "<a/>"),
    Break("relations", _RELATIONS, "(?=<Relationship )", _AGAIN),
    Break("relations", "xl/lost.xml", "", "<a/>"),
    Break("drawings", _DRAWING, "<xdr:col>[^<]*", "<xdr:col>16384"),
    Break("drawings", _DRAWING, "<xdr:from><xdr:col>[^<]*", "<xdr:from><xdr:col>99"),
    Break("drawings", _DRAWING, "<xdr:rowOff>[^<]*", "<xdr:rowOff>-1"),
    Break("drawings", _DRAWING, ' descr="[^"]*"', ""),
    Break("drawings", _DRAWING, 'cNvPr id="2"', 'cNvPr id="3"'),
    Break("charts", _CHART, "<c:f>[^<]*", "<c:f>Nowhere!$A$1"),
    Break("charts", _CHART, "<c:f>[^<]*", "<c:f>Calculator!nothing"),
    Break("pictures", _PICTURE, "PNG", "GIF"),
    Break("order of elements", _WORKBOOK, "<bookViews>", "<calcPr/><bookViews>"),
    Break("order of elements", _STYLES, "<cellStyles", "<fonts/><cellStyles"),
    Break("titles of tabs", _WORKBOOK, 'name="Readings"', f'name="{_LONG[:32]}"'),
    Break("titles of tabs", _WORKBOOK, 'name="Readings"', 'name="Readings?"'),
    Break("titles of tabs", _WORKBOOK, 'name="Readings"', 'name="START"'),
    Break("titles of tabs", _WORKBOOK, 'sheetId="2"', 'sheetId="1"'),
    Break("titles of tabs", _WORKBOOK, 'r:id="rId2"', 'r:id="rId99"'),
    Break("titles of tabs", _WORKBOOK, "<workbookView ", '<workbookView activeTab="8" '),
    Break("defined names", _WORKBOOK, 'name="age_years"', 'name="age years"'),
    Break("defined names", _WORKBOOK, 'name="age_years"', 'name="AB12"'),
    Break("defined names", _WORKBOOK, 'name="age_years"', 'name="MASS_KG"'),
    Break("defined names", _WORKBOOK, "Start!\\$B\\$6", "Nowhere!$B$6"),
    Break("defined names", _WORKBOOK, "Start!\\$B\\$6", "Start!nothing"),
    Break("defined names", _WORKBOOK, 'name="age_years"', 'name="age_years" localSheetId="9"'),
    Break("defined names", _WORKBOOK, 'Print_Titles" localSheetId="\\d"', 'Print_Titles" localSheetId="0"'),
    Break("counts", _SHEET, 'dataValidations count="', 'dataValidations count="1'),
    Break("counts", _TEXTS, 'uniqueCount="', 'uniqueCount="1'),
    Break("styles", _SHEET, ' s="\\d+"', ' s="9999"'),
    Break("styles", _SHEET, 'dxfId="\\d+"', 'dxfId="99"'),
    Break("styles", _STYLES, 'fontId="[1-9]\\d*"', 'fontId="999"'),
    Break("styles", _STYLES, 'numFmtId="1\\d\\d" fontId', 'numFmtId="999" fontId'),
    Break("styles", _STYLES, 'formatCode="[^"]*"', f'formatCode="{_LONG}"'),
    Break("texts", _TEXTS, "<t>[^<]*", "<t>" + "x" * 32_768),
    Break("texts", _TEXTS, "<t>", "<t> "),
    Break("texts", _SHEET, 't="s"><v>\\d+', 't="s"><v>99999'),
    Break("texts", _SHEET, 't="s"><v>\\d+', 't="s"><v>one'),
    Break("order of elements of a tab", _SHEET, "(<drawing[^>]*/>)", '<cols/><drawing r:id="rId1"/>'),
    Break("order of elements of a tab", _SHEET, "<sheetFormatPr", "<other/><sheetFormatPr"),
    Break("rows and cells", _SHEET, '<row r="2"', '<row r="1"'),
    Break("rows and cells", _SHEET, '<c r="B1"', '<c r="A1"'),
    Break("rows and cells", _SHEET, ' ht="[^"]*"', ' ht="500"'),
    Break("rows and cells", _SHEET, "</f><v>\\d*</v>", "</f><v>NaN</v>"),
    Break("columns", _SHEET, '<col min="2" max="2"', '<col min="1" max="2"'),
    Break("columns", _SHEET, '<col min="1"', '<col min="0"'),
    Break("columns", _SHEET, ' width="[^"]*"', ' width="300"'),
    Break("joined cells", _JOINED, "(?=<mergeCell )", '<mergeCell ref="A1:XFD1048576"/>'),
    Break("joined cells", _JOINED, "(?=<mergeCell )", '<mergeCell ref="ZZ1"/>'),
    Break("joined cells", _JOINED, "(?=<mergeCell )", '<mergeCell ref="A1:A9"/>'),
    rule_of("C5:C6"),
    rule_of("Z1", f' promptTitle="{_LONG[:33]}"'),
    rule_of("Z1", f' errorTitle="{_LONG[:33]}"'),
    rule_of("Z1", f' prompt="{_LONG[:256]}"'),
    rule_of("Z1", f' error="{_LONG[:226]}"'),
    Break("rules of cells", _SHEET, "<formula1>[^<]*", f'<formula1>"{_LONG[:256]}"'),
    Break("rules of cells", _JOINED, "<formula1>[^<]*", "<formula1>"),
    Break("conditional formats", _SHEET, 'priority="2"', 'priority="1"'),
    Break("conditional formats", _SHEET, 'Formatting sqref="C5:C11"', 'Formatting sqref="C5:C11 C6"'),
    formula_of("A1&amp;" * 3_000 + "A1"),
    formula_of("(" * 65 + "1" + ")" * 65),
    formula_of("SUM(" + ",".join(["1"] * 256) + ")"),
    formula_of("SUM(1"),
    formula_of("1)"),
    formula_of("XLOOKUP(1,A1:A2,B1:B2)"),
    formula_of("#REF!+1"),
    formula_of("[1]Start!A1"),
    formula_of("Nowhere!A1"),
    Break("links", _SHEET, ' location="[^"]*"', " location=\"'Nowhere'!A1\""),
    Break("links", _SHEET, "(?=<hyperlink )", f'<hyperlink ref="Z1" location="Start!A1" tooltip="{_LONG}"/>'),
    Break("links", _SHEET, "(?=<hyperlink )", '<hyperlink ref="A1:XFD9" location="Start!A1"/>'),
    Break("pages", _SHEET, "<oddFooter>", f"<oddFooter>{_LONG}"),
    Break("pages", _DRAWN, '<brk id="\\d+"', '<brk id="0"'),
    Break("pages", _SHEET, "<pageSetup", '<pageSetup scale="500"'),
    Break("pages", _SHEET, 'activeCell="[^"]*"', 'activeCell="Z99"'),
    Break("pages", _SHEET, 'topLeftCell="[^"]*"', 'topLeftCell="C99"'),
)  # fmt: skip
