"""A CSV text cut into cells that know their place."""

import csv
import io
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.texts.csv_cells import CsvFault, as_meant, cut, decoded, encoded, harmless, with_value


def values(text: str, delimiter: str = ",") -> list[list[str]]:
    return [[cell.value for cell in row.cells] for row in cut(text, delimiter)]


# text, its cells
@pytest.mark.parametrize(
    ("text", "cells"),
    (
        ("", []),
        ("a,b", [["a", "b"]]),
        ("a,b\n", [["a", "b"]]),
        ("a,\n,b", [["a", ""], ["", "b"]]),
        ("a,b,", [["a", "b", ""]]),
        ("a\r\n\r\nb\rc", [["a"], [""], ["b"], ["c"]]),
        ('"a,b","c ""d""",""', [["a,b", 'c "d"', ""]]),
        ('"a\r\nb",c', [["a\r\nb", "c"]]),
        ('a , "b, c" ,d', [["a ", "b, c", "d"]]),
        ('5" fold,="007"', [['5" fold', '="007"']]),
    ),
)
def test_cut_gives_the_cells(text: str, cells: list[list[str]]) -> None:
    assert values(text) == cells


def test_cut_by_bar_and_tab() -> None:
    assert values("a|b,c|\td\n", "|") == [["a", "b,c", "\td"]]
    assert values("a\tb c\t\n", "\t") == [["a", "b c", ""]]


def test_cut_counts_the_lines_inside_quotes() -> None:
    rows = tuple(cut('a\n"b\r\nb\nb",c\n\nd', ","))
    assert [row.line for row in rows] == [1, 2, 5, 6]
    assert [row.blank for row in rows] == [False, False, True, False]


# text, line of the fault
@pytest.mark.parametrize(("text", "line"), (('a\n"b', 2), ('a,b\nc,"d"e\n', 2), ('"a" "b"', 1)))
def test_cut_refuses_quotes_out_of_place(text: str, line: int) -> None:
    with pytest.raises(CsvFault) as caught:
        tuple(cut(text, ","))
    assert caught.value.line == line


CELLS = st.text(st.sampled_from('ab ,;"\n\r='), max_size=6)


@given(st.lists(st.lists(CELLS, min_size=2, max_size=4), min_size=1, max_size=4), st.sampled_from(",;"))
def test_cut_of_what_the_standard_library_writes(rows: list[list[str]], delimiter: str) -> None:
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, quoting=csv.QUOTE_ALL).writerows(rows)
    assert values(stream.getvalue(), delimiter) == rows


@given(st.text(st.sampled_from('ab ,"\n\r'), max_size=30))
def test_cells_and_what_is_between_them_are_the_whole_text(text: str) -> None:
    try:
        rows = tuple(cut(text, ","))
    except CsvFault:
        return
    cells = [cell for row in rows for cell in row.cells]
    between = [text[first.end : second.start] for first, second in pairwise(cells)]
    assert set(between) <= {",", "\n", "\r", "\r\n"}
    assert with_value(text, [], ",") == text


# row, new value of its second cell, the row afterwards
@pytest.mark.parametrize(
    ("before", "value", "after"),
    (
        ("a,7,b", "8", "a,8,b"),
        ("a,,b", "8", "a,8,b"),
        ("a, 7\t,b", "8", "a, 8\t,b"),
        ('a,"7",b', "8", 'a,"8",b'),
        ('a,"",b', "8", 'a,"8",b'),
        ('a, " 7 " ,b', "8", 'a, " 8 " ,b'),
        ('a,"7 ""x""",b', "8", 'a,"8",b'),
        ("a,7,b", "8,5", 'a,"8,5",b'),
        ('a,"7,5",b', "8,5", 'a,"8,5",b'),
        ("a,77.0,77.0", "7", "a,7,77.0"),
    ),
)
def test_with_value_keeps_quotes_and_blanks(before: str, value: str, after: str) -> None:
    (row,) = cut(before, ",")
    assert with_value(before, [(row.cells[1], value)], ",") == after


# bytes, encoding, text
@pytest.mark.parametrize(
    ("data", "encoding", "text"),
    (
        ("Zoë".encode(), "utf-8", "Zoë"),
        (b"\xef\xbb\xbfZo\xc3\xab", "utf-8", "Zoë"),
        ("Zoë".encode("cp1252"), "cp1252", "Zoë"),
        (b"\x81", "latin-1", "\x81"),
        (b"\xff\xfe" + "Zoë".encode("utf-16-le"), "utf-16-le", "Zoë"),
        (b"\xfe\xff" + "Zoë".encode("utf-16-be"), "utf-16-be", "Zoë"),
        ("id,score".encode("utf-16-le"), "utf-16-le", "id,score"),
        ("id,score".encode("utf-16-be"), "utf-16-be", "id,score"),
        (b"\xff\xfe\x00\x00" + "Zoë".encode("utf-32-le"), "utf-32-le", "Zoë"),
        (b"", "utf-8", ""),
    ),
)
def test_decoded_finds_the_encoding_and_goes_back_to_the_same_bytes(
    data: bytes, encoding: str, text: str
) -> None:
    source = decoded(data)
    assert (source.encoding, source.text) == (encoding, text)
    assert encoded(source.text, source) == data


@given(st.binary(max_size=40))
def test_decoded_goes_back_to_the_same_bytes_whatever_they_are(data: bytes) -> None:
    try:
        source = decoded(data)
    except CsvFault as fault:
        assert fault.line == 1
        return
    assert encoded(source.text, source) == data


def test_decoded_refuses_a_broken_promise() -> None:
    with pytest.raises(CsvFault, match="line 1: bytes that are not UTF-16-LE"):
        decoded(b"\xff\xfea")


# text, as it stands in a table
TEXTS = (
    ("=1+1", "'=1+1"),
    ("+44 20", "'+44 20"),
    ("-Ada", "'-Ada"),
    ("@home", "'@home"),
    ("\tAda", "'\tAda"),
    ("Ada-Lou", "Ada-Lou"),
    ("'tis", "'tis"),
    ("", ""),
)


@pytest.mark.parametrize(("text", "expected"), TEXTS)
def test_harmless_and_back(text: str, expected: str) -> None:
    assert harmless(text) == expected
    assert as_meant(expected) == text
