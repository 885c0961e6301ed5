from lxml import etree

from sheetgen.workbook.ods_styles import OdsStyles, read_ods_styles

_SPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("o", "office"), ("t", "table"), ("s", "style"))
)


def _styles(automatic: str, common: str = "") -> OdsStyles:
    return read_ods_styles(
        etree.fromstring(f"<o:document {_SPACES}><o:{group}>{text}</o:{group}></o:document>")
        for group, text in (("automatic-styles", automatic), ("styles", common))
    )


def _cell_style(name: str, protect: str = "", parent: str = "") -> str:
    said = f' s:cell-protect="{protect}"' if protect else ""
    derived = f' s:parent-style-name="{parent}"' if parent else ""
    return (
        f'<s:style s:name="{name}" s:family="table-cell"{derived}><s:table-cell-properties{said}/></s:style>'
    )


def test_locked_by_the_words_of_a_style() -> None:
    words = ("none", "protected", "formula-hidden", "hidden-and-protected", "protected formula-hidden")
    styles = _styles("".join(_cell_style(f"ce{number}", word) for number, word in enumerate(words)))
    assert [styles.locked(f"ce{number}") for number in range(5)] == [False, True, False, True, True]


def test_locked_where_no_style_says_anything() -> None:
    styles = _styles(_cell_style("ce1"))
    assert [styles.locked(name) for name in (None, "", "ce1", "unheard-of")] == [True] * 4


def test_locked_by_the_parent_of_a_style() -> None:
    styles = _styles(
        _cell_style("ce1", parent="Open") + _cell_style("ce2", "protected", "Open"),
        _cell_style("Open", "none"),
    )
    assert (styles.locked("ce1"), styles.locked("ce2")) == (False, True)


def test_locked_by_parents_that_go_round_in_a_circle() -> None:
    styles = _styles(_cell_style("a", parent="b") + _cell_style("b", parent="a"))
    assert styles.locked("a")


def test_locked_by_the_default_style() -> None:
    default = (
        '<s:default-style s:family="table-cell"><s:table-cell-properties s:cell-protect="none"/>'
        "</s:default-style>"
    )
    styles = _styles(_cell_style("ce1"), default)
    assert (styles.locked("ce1"), styles.locked(None)) == (False, False)


def test_hidden_tabs_by_their_style() -> None:
    tabs = "".join(
        f'<s:style s:name="ta{number}" s:family="table"><s:table-properties t:display="{shown}"/></s:style>'
        for number, shown in ((1, "true"), (2, "false"))
    )
    assert _styles(tabs).hidden == {"ta2"}
