import pytest

from sheetgen.texts.toml_tables import (
    FileFault,
    line_of,
    lines_of,
    near,
    number,
    number_in,
    parsed,
    shown,
    tables_of,
)

TEXT = """\
title = "a"
'quoted' = 1
[[sites]]
word = "x"
[[sites]]
  word = \'\'\'
no_key = 1
\'\'\'
[sites.inner]
deep.er = 1
"""


def test_lines_of_keys_and_tables() -> None:
    assert lines_of(TEXT) == {
        ("title",): 1,
        ("quoted",): 2,
        ("sites",): 3,
        ("sites", 0): 3,
        ("sites", 0, "word"): 4,
        ("sites", 1): 5,
        ("sites", 1, "word"): 6,
        ("sites", 1, "inner"): 9,
        ("sites", 1, "inner", "deep", "er"): 10,
    }


def test_line_of_a_place_or_what_is_around_it() -> None:
    lines = lines_of(TEXT)
    assert line_of(("sites", 1, "word"), lines) == 6
    assert line_of(("sites", 1, "missing"), lines) == 5
    assert line_of(("nowhere",), lines) == 0


def test_parsed_of_a_right_text() -> None:
    content = parsed("a = 1\n[b]\nc = 2\n")
    assert content.table == {"a": 1, "b": {"c": 2}}
    assert content.faults == ()


def test_parsed_keeps_the_first_of_a_key_given_twice() -> None:
    content = parsed("a = 1\na = 2\nb = 3\nb = 4\n")
    assert content.table == {"a": 1, "b": 3}
    assert content.faults == (
        FileFault(2, "", "the key 'a' a second time", "each key once in its table"),
        FileFault(4, "", "the key 'b' a second time", "each key once in its table"),
    )


def test_parsed_leaves_out_a_line_that_is_wrong_alone() -> None:
    content = parsed("a = one\nb = 2\nc = 1;5\n")
    assert content.table == {"b": 2}
    assert [fault.line for fault in content.faults] == [1, 3]


def test_parsed_names_a_decimal_comma_and_reads_on_with_the_point() -> None:
    content = parsed("a = 1,0970\n[b]\nc = -0,5 # slope\nd = [1,5]\n")
    assert content.table == {"a": 1.097, "b": {"c": -0.5, "d": [1, 5]}}
    assert content.faults == (
        FileFault(1, "a", "a decimal comma: 1,0970", "a decimal point: 1.0970"),
        FileFault(3, "c", "a decimal comma: -0,5", "a decimal point: -0.5"),
    )


def test_parsed_stops_at_a_list_that_does_not_end() -> None:
    content = parsed("a = [1,\nb = 2\n")
    assert content.table is None
    assert [fault.line for fault in content.faults] == [2]


def test_parsed_stops_at_a_table_given_twice() -> None:
    content = parsed("[a]\nb = 1\n[a]\nb = 2\n")
    assert content.table is None
    assert [fault.line for fault in content.faults] == [3]


def test_parsed_names_at_most_200_faults() -> None:
    content = parsed("\n".join(f"key_{number} = ?" for number in range(300)))
    assert content.table is None
    assert [fault.line for fault in content.faults] == list(range(1, 201))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("1,0970", "a number, without quotes and with a decimal point: 1.0970"),
        ("-3", "a number, without quotes and with a decimal point: -3"),
        ("twelve", "a number"),
        (1.5, ""),
    ],
)
def test_a_number_in_quotes(value: str | float, expected: str) -> None:
    assert number(value) == expected


def test_parsed_of_a_depth_that_no_parser_takes_has_no_line() -> None:
    (fault,) = parsed("a = " + "[" * 5000).faults
    assert fault.line == 0


def test_tables_and_numbers_of_something_else() -> None:
    assert tables_of({"sites": [1]}, "sites") == []
    assert tables_of({}, "sites") == []
    assert number_in({"age": True}, "age") is None
    assert number_in({"age": float("nan")}, "age") is None
    assert number_in(3, "age") is None
    assert number_in({"age": 3}, "age") == 3.0


def test_shown_values_are_short() -> None:
    assert [shown(value) for value in (True, {}, [1], "a", "x" * 99)] == [
        "true",
        "a table of 0",
        "a list of 1",
        "'a'",
        "'" + "x" * 56 + "...",
    ]


def test_near_words() -> None:
    assert near("mal", ("female", "male")) == " (did you mean 'male'?)"
    assert near("zzz", ("female", "male")) == near(3, ("female", "male")) == ""
