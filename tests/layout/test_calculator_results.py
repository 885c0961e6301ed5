from sheetgen.layout.calculator_results import result_lines
from sheetgen.layout.lines import Line
from tests.sheets import settings_with, sheet_of

PROTOCOL = sheet_of().source.protocol


def _formulas(**changes: object) -> dict[str, str]:
    return {line.name: line.formula for line in result_lines(PROTOCOL, settings_with(**changes))}


def test_lines_use_only_lines_above_them_mirrors_and_tables() -> None:
    """No circle: a program works the lines out in one pass."""
    known: set[str] = set()
    for line in result_lines(PROTOCOL, settings_with(site_rule="closest-pair")):
        names = {part.partition("}")[0] for part in line.formula.split("{")[1:]}
        tables = {
            name for name in names if name.startswith(("in_", "register_", "change_first", "change_last"))
        }
        tables |= {
            name for name in names if name.startswith("equation_") and name.endswith(("_first", "_last"))
        }
        assert names - tables - known == set(), line.name
        known.add(line.name)


def test_lookup_compares_what_match_found() -> None:
    """MATCH takes * and ? in what was typed for any text."""
    assert _formulas()["change_row"] == (
        '=IF({in_changed_from}="","",IF(ISNUMBER(MATCH({in_changed_from},{change_first}:{change_last},0)),'
        "IF(INDEX({change_first}:{change_last},MATCH({in_changed_from},{change_first}:{change_last},0))"
        '={in_changed_from},MATCH({in_changed_from},{change_first}:{change_last},0),""),""))'
    )


def test_corrected_reading_takes_the_second_zero_from_its_place_in_the_circuit_on() -> None:
    formulas = _formulas()
    assert formulas["zero_2_chest"] == (
        "=IF(AND(ISNUMBER({change_row}),{change_row}<=8),{in_zero_2_mm},{in_zero_mm})"
    )
    assert formulas["corrected_1_thigh"] == (
        '=IF(AND({left_out_thigh}="no",ISNUMBER({in_reading_1_thigh}),ISNUMBER({zero_1_thigh})),'
        'IF(ROUND({in_reading_1_thigh}-{zero_1_thigh},2)>0,ROUND({in_reading_1_thigh}-{zero_1_thigh},2),""),"")'
    )


def test_age_below_18_leaves_the_trunk_sites_out() -> None:
    formulas = _formulas()
    assert formulas["under_18"] == '=IF(ISNUMBER({in_age_years}),IF({in_age_years}<18,"yes","no"),"no")'
    assert formulas["left_out_chest"] == '=IF(OR({in_not_taken_chest}<>"",{under_18}="yes"),"yes","no")'
    assert formulas["left_out_triceps"] == '=IF({in_not_taken_triceps}<>"","yes","no")'


def test_sheet_that_asks_for_no_age_has_no_trunk_site_to_leave_out() -> None:
    protocol = sheet_of(settings_with(under_18=True)).source.protocol
    formulas = {line.name: line.formula for line in result_lines(protocol, settings_with(under_18=True))}
    assert formulas["under_18"] == '="no"'
    assert [name for name in formulas if name.startswith("left_out_")] == [
        "left_out_triceps",
        "left_out_thigh",
    ]


def test_third_compares_whole_hundredths() -> None:
    both = "AND(ISNUMBER({corrected_1_chest}),ISNUMBER({corrected_2_chest}))"
    gap = "ROUND(ABS({corrected_1_chest}-{corrected_2_chest})*100,0)"
    assert _formulas(tolerance=1.5)["third_chest"] == f'=IF({both},IF({gap}>150,"yes","no"),"")'
    mean = "ROUND(({corrected_1_chest}+{corrected_2_chest})*100,0)"
    assert _formulas(tolerance_kind="percent", tolerance=7.5)["third_chest"] == (
        f'=IF({both},IF({gap}*20000>750*{mean},"yes","no"),"")'
    )


def test_site_value_of_the_median_rule_has_no_gaps() -> None:
    formulas = _formulas()
    assert "MEDIAN({corrected_1_chest},{corrected_2_chest},{corrected_3_chest})" in formulas["site_chest"]
    assert "gap_12_chest" not in formulas
    assert "smallest_gap_chest" in _formulas(site_rule="closest-pair")


def test_sum_needs_every_site() -> None:
    sites = "{site_chest},{site_midaxillary},{site_triceps},{site_subscapular},{site_abdominal}"
    sites += ",{site_suprailiac},{site_thigh}"
    assert _formulas()["sum_mm"] == f'=IF(COUNT({sites})=7,SUM({sites}),"")'


def test_conversion_comes_from_the_settings() -> None:
    lines = {line.name: line for line in result_lines(PROTOCOL, settings_with(conversion="brozek"))}
    assert lines["conversion_numerator"] == Line("conversion_numerator", "", 457)
    assert lines["conversion_offset"] == Line("conversion_offset", "", 414.2)


def test_no_coefficient_stands_in_a_formula() -> None:
    text = " ".join(_formulas().values())
    assert "0.0004" not in text
    assert "1.112" not in text
    assert "495" not in text


def test_state_is_the_missing_sum_at_first() -> None:
    firsts = {line.name: line.first for line in result_lines(PROTOCOL, settings_with())}
    assert firsts["estimate_state"] == "sum-missing"
    assert firsts["density_g_ml"] == ""
    assert firsts["again_chest"] == "no"
