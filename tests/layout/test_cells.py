from sheetgen.layout.cells import entry, formula, heading_row, identity, label
from sheetgen.model.layout import Cell, Rule

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
