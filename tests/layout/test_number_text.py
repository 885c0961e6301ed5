"""Numbers inside texts."""

from sheetgen.layout.number_text import DECIMAL_SIGN, shown_number, with_decimal_sign


def test_number_with_the_decimal_sign_of_the_language() -> None:
    texts = {DECIMAL_SIGN: ","}
    assert shown_number(0.5, texts) == "0,5"
    assert shown_number(120.0, texts) == "120"
    assert with_decimal_sign("0.00043499", texts) == "0,00043499"


def test_number_in_texts_without_a_sign_keeps_its_point() -> None:
    assert shown_number(-0.4, {}) == "-0.4"
