"""A formula with another operator, reference, number, text or function; and when two mean the same."""

import random
import re
from collections.abc import Callable

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.utils import coordinate_to_tuple, get_column_letter

from tests.evidence.changer_book import MAIN, Book, Change, Draft, Maker, chosen

_OPERATORS = {
    "+": "-*", "-": "+*", "*": "/+", "/": "*-", "^": "*+", "&": "+=", "=": ("<>", "<"), "<>": ("=", ">"),
    "<": (">", "<="), ">": ("<", ">="), "<=": ("<", ">="), ">=": (">", "<="),
}  # fmt: skip
_FUNCTIONS = ("SUM(", "MAX(", "MIN(", "AVERAGE(", "COUNT(", "ABS(", "INT(", "AND(", "OR(", "MEDIAN(", "LN(")


def same_meaning(one: str, other: str) -> bool:
    """Tell whether two formulas have the same tokens but for what the rule above leaves out."""
    return _plain(one) == _plain(other)


def _plain(formula: str) -> list[str]:
    plain = []
    for token in _tokens(formula):
        if token.type == Token.WSPACE:
            continue
        text = token.value
        if token.subtype == Token.NUMBER:
            text = repr(float(text))
        elif token.subtype != Token.TEXT:
            text = re.sub(r"[$'\s]|_XLFN\.", "", text.upper())
        plain.append(text)
    return plain


def _tokens(formula: str) -> list[Token]:
    return list(Tokenizer("=" + formula.removeprefix("=")).items)


def _formula(kind: str, rewrite: Callable[[str, random.Random], str | None]) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        spot = chosen(dice, [one for one in book.spots if one.locked and one.formula])
        if spot is None:
            return None
        new = rewrite(spot.formula, dice)
        if new is None or same_meaning(new, spot.formula):
            return None
        draft = Draft(book)
        (inner,) = draft.cell(spot).iter(f"{MAIN}f")
        inner.text = new
        return draft.change(kind, spot, f"{spot.formula[:60]} > {new[:60]}")

    return make


def _rewritten(
    formula: str, dice: random.Random, fits: Callable[[Token], bool], new: Callable[[Token], str]
) -> str | None:
    tokens = _tokens(formula)
    places = [number for number, token in enumerate(tokens) if fits(token)]
    if not places:
        return None
    at = dice.choice(places)
    return "".join(new(token) if number == at else token.value for number, token in enumerate(tokens))


def other_operator(formula: str, dice: random.Random) -> str | None:
    return _rewritten(
        formula, dice, lambda one: one.type == Token.OP_IN and one.value in _OPERATORS,
        lambda one: dice.choice(_OPERATORS[one.value]),
    )  # fmt: skip


_ADDRESS = re.compile(r"(\$?)([A-Z]{1,2})(\$?)(\d+)(?![\d(])")


def other_reference(formula: str, dice: random.Random) -> str | None:
    def moved(token: Token) -> str:
        tab, mark, addresses = token.value.rpartition("!")
        match = dice.choice(list(_ADDRESS.finditer(addresses)))
        column, row = coordinate_to_tuple(match[2] + match[4])[::-1]
        if dice.random() < 0.5:
            row = max(1, row + dice.choice((-3, -2, -1, 1, 2, 3, 10)))
        else:
            column = max(1, column + dice.choice((-1, 1, 2)))
        new = f"{match[1]}{get_column_letter(column)}{match[3]}{row}"
        return tab + mark + addresses[: match.start()] + new + addresses[match.end() :]

    return _rewritten(
        formula, dice,
        lambda one: one.subtype == Token.RANGE and bool(_ADDRESS.search(one.value.rpartition("!")[2])),
        moved,
    )  # fmt: skip


def _other_constant(formula: str, dice: random.Random) -> str | None:
    def other(token: Token) -> str:
        number = float(token.value)
        return dice.choice((repr(number + 1), repr(number * 10), repr(number * 1.001 or 0.5), f"{number:g}5"))

    return _rewritten(formula, dice, lambda one: one.subtype == Token.NUMBER, other)


def _other_text(formula: str, dice: random.Random) -> str | None:
    def other(token: Token) -> str:
        inner = token.value[1:-1]
        return f'"{dice.choice((inner + "x", inner[1:], "yes", "no", ""))}"'

    return _rewritten(
        formula, dice, lambda one: one.subtype == Token.TEXT and one.type == Token.OPERAND, other
    )


def _other_function(formula: str, dice: random.Random) -> str | None:
    return _rewritten(
        formula, dice, lambda one: one.type == Token.FUNC and one.subtype == Token.OPEN,
        lambda _: dice.choice(_FUNCTIONS),
    )  # fmt: skip


def _argument_gone(formula: str, dice: random.Random) -> str | None:
    return _rewritten(
        formula, dice, lambda one: one.type == Token.OPERAND and one.subtype != Token.TEXT, lambda _: '""'
    )


def _other_whole(formula: str, dice: random.Random) -> str:
    return dice.choice(
        (f"({formula})+1", f"IF(TRUE,{formula},0)", "1+1", f"-({formula})", 'IF(1,"yes","no")', "#REF!+1")
    )


FORMULA_KINDS: dict[str, Maker] = {
    "formula-operator": _formula("formula-operator", other_operator),
    "formula-reference": _formula("formula-reference", other_reference),
    "formula-constant": _formula("formula-constant", _other_constant),
    "formula-text": _formula("formula-text", _other_text),
    "formula-function": _formula("formula-function", _other_function),
    "formula-argument": _formula("formula-argument", _argument_gone),
    "formula-whole": _formula("formula-whole", _other_whole),
}
"""Kind of change to what makes one; None where the pick did not come to one."""
