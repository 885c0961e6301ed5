import pytest
from sheetgen.sheet.entry_tabs import start_rule

from sheetgen.protocols.names import start_entries
from sheetgen.protocols.settings import Caliper
from sheetgen.sheet.working import own_rule
from sheetgen.workbook.cells import (
    column_pixels,
    entry,
    formula,
    heading_row,
    height_for,
    identity,
    label,
    lines_needed,
    number_rule,
    text_pixels,
    text_rule,
    words_rule,
)
from sheetgen.workbook.layout import Cell, Rule
from tests.sheets import SETTINGS, settings_with, sheet_of

RULE = Rule("whole", "Age", "Whole years.", "A whole number.", minimum=5, maximum=110)


def test_label_is_fixed_and_not_named() -> None:
    assert label(2, 1, "Site") == Cell(2, 1, "label", "Site")


def test_entry_is_named_and_has_its_rule() -> None:
    assert entry(2, 1, "age_years", RULE, "entry_number") == Cell(
        2, 1, "entry", None, name="age_years", format="entry_number", rule=RULE, named=True
    )


def test_formula_starts_with_an_empty_result() -> None:
    assert formula(2, 1, "={sum_mm}") == Cell(2, 1, "formula", "", formula="={sum_mm}")


def test_identity_has_no_value_of_its_own() -> None:
    assert identity(2, 1, "copy_code", named=True) == Cell(
        2, 1, "identity", None, name="copy_code", named=True
    )


def test_heading_row_starts_at_column_a() -> None:
    assert heading_row(3, ["Site", "Fold"]) == [
        Cell(3, 0, "label", "Site", format="heading"),
        Cell(3, 1, "label", "Fold", format="heading"),
    ]


PROTOCOL, TEXTS = sheet_of().source.protocol, sheet_of().source.texts


def _caliper(identifier: str) -> Caliper:
    return Caliper(identifier, "spring caliper", 0.5, 60.0, 0.0)


def test_words_rule_offers_a_list() -> None:
    assert words_rule(TEXTS, ("right", "left"), "Side", "Which side.") == Rule(
        "list", "Side", "Which side.", "Choose one of: right, left.", words=("right", "left")
    )


def test_words_rule_cuts_a_message_that_is_too_long() -> None:
    words = tuple(f"word-{at:03}" for at in range(60))
    assert len(words_rule(TEXTS, words, "Word", "A word.").error) == 255


def test_number_rule_says_the_range_before_and_after() -> None:
    assert number_rule(TEXTS, "whole", 5, 110, "Age", "whole years") == Rule(
        "whole",
        "Age",
        "whole years. Type a whole number from 5 to 110.",
        "Type a whole number from 5 to 110.",
        minimum=5,
        maximum=110,
    )


def test_text_rule_limits_the_length() -> None:
    assert text_rule(TEXTS, 12, "Code", "A code.") == Rule(
        "length", "Code", "A code.", "Type at most 12 characters.", minimum=0, maximum=12
    )


def test_own_rule_takes_any_number() -> None:
    rule = own_rule("A title that is longer than a title may be", TEXTS)
    assert (rule.kind, rule.minimum, rule.maximum) == ("decimal", -100000, 100000)
    assert rule.title == "A title that is longer than a ti"


# entry, kind, words, minimum, maximum
START = (
    ("cautions_confirmed", "list", ("yes",), None, None),
    ("data_source", "list", ("measured", "practice"), None, None),
    ("participant_today", "length", (), 0, 12),
    ("age_years", "whole", (), 5, 110),
    ("sex_equation", "list", ("female", "male", "sum-only"), None, None),
    ("mass_kg", "decimal", (), 10, 350),
    ("caliper_id", "list", ("C1", "C2", "7"), None, None),
    ("zero_mm", "decimal", (), -10, 10),
    ("side", "list", ("right", "left"), None, None),
    ("length_upper_arm_cm", "decimal", (), 10, 60),
    ("length_thigh_cm", "decimal", (), 15, 80),
    ("caliper_id_2", "list", ("C1", "C2", "7"), None, None),
    ("zero_2_mm", "decimal", (), -10, 10),
    ("changed_from", "custom", (), None, None),
)


@pytest.mark.parametrize(("name", "kind", "words", "minimum", "maximum"), START)
def test_start_rule(
    name: str, kind: str, words: tuple[str, ...], minimum: float | None, maximum: float | None
) -> None:
    rule = start_rule(name, PROTOCOL, SETTINGS, TEXTS)
    assert (rule.kind, rule.words, rule.minimum, rule.maximum) == (kind, words, minimum, maximum)


def test_start_rules_are_all_listed_here() -> None:
    assert tuple(row[0] for row in START) == start_entries(PROTOCOL)


def test_start_rule_of_an_unknown_entry() -> None:
    with pytest.raises(KeyError, match="shoe_size"):
        start_rule("shoe_size", PROTOCOL, SETTINGS, TEXTS)


# protocol, words offered
EQUATIONS_USED = (
    ("three-sites-men", ("male", "sum-only")),
    ("three-sites-women", ("female", "sum-only")),
    ("four-sites", ("female", "male", "sum-only")),
)


@pytest.mark.parametrize(("protocol_id", "words"), EQUATIONS_USED)
def test_start_rule_offers_the_equations_that_the_protocol_has(
    protocol_id: str, words: tuple[str, ...]
) -> None:
    protocol = sheet_of(settings_with(protocol_id=protocol_id)).source.protocol
    assert start_rule("sex_equation", protocol, SETTINGS, TEXTS).words == words


# identifiers: a comma or a quote would end a word of the list, and a list is at most 255 characters long
REGISTERS = (
    (tuple(f"caliper-{at:02}" for at in range(40)),),
    (("C1", "left, old"),),
    (("C1", 'the "old" one'),),
)


@pytest.mark.parametrize(("identifiers",), REGISTERS)
@pytest.mark.parametrize("name", ["caliper_id", "caliper_id_2"])
def test_caliper_rule_looks_into_the_register_where_a_list_cannot_hold_it(
    identifiers: tuple[str, ...], name: str
) -> None:
    settings = settings_with(calipers=tuple(_caliper(identifier) for identifier in identifiers))
    rule = start_rule(name, PROTOCOL, settings, TEXTS)
    assert (rule.kind, rule.words) == ("custom", ())
    table = "{register_identifier_first}:{register_identifier_last}"
    assert rule.formula == f'=ISNUMBER(MATCH({{{name}}}&"",{table},0))'


# Widths of the letters of Helvetica in thousandths of the font size, as its public metrics file gives them.
HELVETICA = {
    "a": 556, "e": 556, "i": 222, "m": 833, "t": 278, "w": 722, "A": 667, "M": 833, "W": 944, "0": 556,
    " ": 278, ".": 278, ",": 278, "%": 889,
}  # fmt: skip
HELVETICA_BOLD = {"a": 556, "e": 556, "i": 278, "m": 889, "t": 333, "w": 778, "A": 722, "M": 833, "W": 944}


def test_letters_are_measured_at_least_as_wide_as_in_a_usual_typeface() -> None:
    narrow = [letter for letter, width in HELVETICA.items() if text_pixels(letter) < width * 16 / 1000]
    bold = [
        letter for letter, width in HELVETICA_BOLD.items() if text_pixels(letter, True) < width * 16 / 1000
    ]
    assert (narrow, bold) == ([], [])


def test_width_grows_with_the_size_and_with_bold_letters() -> None:
    assert text_pixels("mm", points=24.0) == 2 * text_pixels("mm", points=12.0)
    assert text_pixels("mm", bold=True) > text_pixels("mm")


def test_accents_are_as_wide_as_their_letter_and_an_unknown_letter_is_wide() -> None:
    assert text_pixels("é") == text_pixels("e")
    assert text_pixels("字") == 16.0


def test_column_in_pixels() -> None:
    assert [column_pixels(width) for width in (0, 8.43, 12)] == [5, 64, 89]


# text, width in characters, lines
WRAPPED = (
    ("", 10, 1),
    ("one two", 10, 1),
    ("one two three four", 10, 3),
    ("Donaudampfschifffahrt", 10, 3),
)


@pytest.mark.parametrize(("text", "width", "lines"), WRAPPED)
def test_lines_of_a_wrapped_text(text: str, width: float, lines: int) -> None:
    assert lines_needed(text, width) == lines


def test_indent_takes_room() -> None:
    assert (lines_needed("one two", 10), lines_needed("one two", 10, indent=2)) == (1, 2)


def test_height_of_a_row_has_an_end() -> None:
    assert [height_for(lines) for lines in (1, 3, 100)] == [19.0, 49.0, 409.0]
