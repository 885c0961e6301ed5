from sheetgen.layout.lines import Line


def test_line_starts_with_the_empty_text() -> None:
    assert Line("sum_mm", "=1") == Line("sum_mm", "=1", "")
