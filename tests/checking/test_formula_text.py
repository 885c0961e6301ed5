import pytest

from sheetgen.checking.formula_text import canonical, same_formula

# ours, theirs: written another way
SAME = (
    ("=SUM(B9,B10)", "=sum( B9 ; $B$10 )"),
    ("=SUM(B9,B10)", "SUM(B9,B10)"),
    ('=IF($B$9="","",1)', '=IF(B9="";"";1)'),
    ("=B9*2.50", "=B9*2.5"),
    ("=B9*0.5", "=B9*.5"),
    ("=B9*1000000", "=B9*1E6"),
    ("=MEDIAN(B9,B10)", "=_xlfn.MEDIAN(B9,B10)"),
    ("=Readings!$B$9", "='Readings'!B9"),
    ("='My tab'!$B$9", "='my tab'!$B$9"),
    ("='it''s'!$B$9", "='It''s'!B9"),
    ("=Readings!$B$9", "=$Readings.$B$9".replace(".", "!")),
    ("=A1\n+A2", "=A1+A2"),
)

# ours, theirs: another meaning
DIFFERENT = (
    ("=B9+1", "=B10+1"),
    ("=B9+1", "=B9+2"),
    ("=B9+1", "=B9-1"),
    ("=SUM(B9,B10)", "=MAX(B9,B10)"),
    ('=IF(B9="yes",1,0)', '=IF(B9="Yes",1,0)'),
    ('=IF(B9="a b",1,0)', '=IF(B9="ab",1,0)'),
    ("=Readings!B9", "=Results!B9"),
    ("=Readings!B9", "=B9"),
    ("=B9", ""),
    ("=B9*0.5", "=B9*5"),
    ("=A1+A2", "=A1+#REF!"),
)


@pytest.mark.parametrize(("ours", "theirs"), SAME)
def test_same_formula_written_another_way(ours: str, theirs: str) -> None:
    assert same_formula(ours, theirs, {})


@pytest.mark.parametrize(("ours", "theirs"), DIFFERENT)
def test_same_formula_of_another_meaning(ours: str, theirs: str) -> None:
    assert not same_formula(ours, theirs, {})


def test_same_formula_on_a_tab_that_was_renamed() -> None:
    titles = {"round two": "Readings"}
    assert same_formula("=Readings!$B$9", "='Round two'!B9", titles)
    assert not same_formula("=Readings!$B$9", "='Round two'!B9", {})


def test_same_formula_on_tabs_that_swapped_their_names() -> None:
    titles = {"results": "Readings", "readings": "Results"}
    assert same_formula("=Readings!B9", "=Results!B9", titles)
    assert not same_formula("=Readings!B9", "=Readings!B9 ", titles)


def test_canonical_keeps_texts_and_shortens_numbers() -> None:
    assert canonical("=if( $B$9 = \"a b\" ; 2.50 ; 'My tab'!c3 )", ()) == 'IF(B9="a b",2.5,MY TAB!C3)'
