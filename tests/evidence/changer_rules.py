"""Rules of entries: gone, or letting other things through."""

import random
from collections.abc import Callable

from lxml import etree
from openpyxl.utils.cell import rows_from_range

from tests.evidence.changer_book import MAIN, Book, Change, Draft, Maker, parent
from tests.evidence.changer_formulas import other_operator, other_reference, same_meaning


def _rule(kind: str, change: Callable[[etree._Element, random.Random], bool]) -> Maker:
    def make(book: Book, dice: random.Random) -> Change | None:
        rules = [
            (part, number)
            for part in book.titles
            for number, _ in enumerate(book.trees[part].iter(f"{MAIN}dataValidation"))
        ]
        if not rules:
            return None
        part, number = dice.choice(rules)
        draft = Draft(book)
        rule = list(draft.tree(part).iter(f"{MAIN}dataValidation"))[number]
        # Cells that share a rule are one block of the file.
        blocks = (rows_from_range(block) for block in str(rule.get("sqref")).split())
        cells = frozenset(cell for rows in blocks for row in rows for cell in row)
        if not change(rule, dice):
            return None
        return Change(kind, draft.parts(), book.titles[part], cells)

    return make


def _rule_gone(rule: etree._Element, dice: random.Random) -> bool:
    if dice.random() < 0.5:
        parent(rule).remove(rule)
    else:
        rule.set("type", "none")
    return True


def _rule_limits(rule: etree._Element, dice: random.Random) -> bool:
    if rule.get("type") not in ("decimal", "whole", "textLength"):
        return False
    (limit,) = dice.choice((list(rule.iter(f"{MAIN}formula1")), list(rule.iter(f"{MAIN}formula2"))))
    old = float(limit.text or 0)
    new = old + dice.choice((-1000, 1, 5000))
    limit.text = repr(new)
    # No text is shorter than an empty one.
    return rule.get("type") != "textLength" or max(new, 0) != max(old, 0)


def _rule_list(rule: etree._Element, dice: random.Random) -> bool:
    (words,) = rule.iter(f"{MAIN}formula1")
    if rule.get("type") != "list" or not (words.text or "").startswith('"'):
        return False
    words.text = (words.text or "")[:-1] + dice.choice((',other"', ',x"'))
    return True


def _rule_formula(rule: etree._Element, dice: random.Random) -> bool:
    if rule.get("type") != "custom":
        return False
    (formula,) = rule.iter(f"{MAIN}formula1")
    old = formula.text or ""
    new = other_operator(old, dice) or other_reference(old, dice) or "TRUE"
    formula.text = new
    return not same_meaning(new, old)


def _rule_toothless(rule: etree._Element, dice: random.Random) -> bool:
    if dice.random() < 0.5:
        rule.attrib.pop("showErrorMessage", None)
    else:
        rule.set("errorStyle", dice.choice(("warning", "information")))
    return True


def _rule_blanks(rule: etree._Element, dice: random.Random) -> bool:
    """A test that looks at a blank cell lets anything through then."""
    rule.set("allowBlank", dice.choice(("1", "true")))
    return rule.get("type") == "custom"


RULE_KINDS: dict[str, Maker] = {
    "rule-gone": _rule("rule-gone", _rule_gone),
    "rule-limits": _rule("rule-limits", _rule_limits),
    "rule-list": _rule("rule-list", _rule_list),
    "rule-formula": _rule("rule-formula", _rule_formula),
    "rule-toothless": _rule("rule-toothless", _rule_toothless),
    "rule-blanks": _rule("rule-blanks", _rule_blanks),
}
"""Kind of change to what makes one; None where the pick did not come to one."""
