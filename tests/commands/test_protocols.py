import pytest
from msgspec.structs import replace

from sheetgen.commands.protocols import as_values, page_of, summary_line, summary_values
from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.sheet.working import equation_text


def test_summary_line_of_a_protocol_without_equations() -> None:
    assert summary_line(find_protocol("folds-only")) == (
        "folds-only         Folds only: biceps triceps thigh calf; sum only"
    )


def test_summary_of_one_sex() -> None:
    assert summary_line(find_protocol("three-sites-men")).endswith("chest abdominal thigh; male 18-61")
    assert summary_values(find_protocol("three-sites-men"))["ages"] == {"male": "18-61"}


def test_page_names_every_source_sample_and_error() -> None:
    for protocol in map(find_protocol, shipped_protocols()):
        page = "\n".join(page_of(protocol))
        for equation in protocol.equations:
            assert f"Source: {equation.source}" in page
            assert f"Sample: {equation.sample}" in page
            assert equation_text(equation) in page
        assert all(f"Source: {conversion.source}" in page for conversion in protocol.conversions)
        assert all(site.landmark in page for site in protocol.sites)
        assert all(note in page for note in protocol.notes)


def test_page_of_a_protocol_without_equations() -> None:
    page = page_of(find_protocol("folds-only"))
    assert "  none: the sum only" in page
    assert "Density to per cent fat" not in page


# range of the sum, how it reads
@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (None, None, "no published range of the sum"),
        (10.0, None, "sum from 10 mm"),
        (None, 90.5, "sum up to 90.5 mm"),
        (10.0, 90.5, "sum 10 to 90.5 mm"),
    ],
)
def test_page_with_the_range_of_the_sum(low: float | None, high: float | None, text: str) -> None:
    protocol = find_protocol("three-sites-men")
    equation = replace(protocol.equations[0], sum_minimum=low, sum_maximum=high)
    page = page_of(replace(protocol, equations=(equation,)))
    assert f"  men-three-sites (male, 18 to 61 years, {text}):" in page


def test_values_hold_the_whole_protocol() -> None:
    values = as_values(find_protocol("youth-two-sites"))
    assert values["equations"][0]["text"] == "fat % = 1.0 + 0.735 S"
    assert values["equations"][0]["coefficients"] == {"constant": 1.0, "sum_linear": 0.735}
    assert values["equations"][0]["standard_error_density"] is None
    assert [site["word"] for site in values["sites"]] == ["triceps", "calf"]


# protocol, equation, as it is written
@pytest.mark.parametrize(
    ("name", "identifier", "written"),
    [
        ("seven-sites", "men-seven-sites", "D = 1.112 - 0.00043499 S + 0.00000055 S^2 - 0.00028826 A"),
        ("seven-sites", "women-seven-sites", "D = 1.0970 - 0.00046971 S + 0.00000056 S^2 - 0.00012828 A"),
        ("four-sites", "men-17-19", "D = 1.1620 - 0.0630 log10(S)"),
        ("youth-two-sites", "girls-two-sites", "fat % = 5.1 + 0.610 S"),
    ],
)
def test_equations_are_shown_with_all_published_digits(name: str, identifier: str, written: str) -> None:
    protocol = find_protocol(name)
    assert f"      {written}" in page_of(protocol)
    texts = {each["identifier"]: each["text"] for each in as_values(protocol)["equations"]}
    assert texts[identifier] == written


def test_an_equation_whose_digits_are_not_known_is_shown_without_a_power_of_ten() -> None:
    men = find_protocol("seven-sites").equations[0]
    turned = replace(men, coefficients=(("constant", -1.5), ("sum_squared", 5.5e-07)), digits=())
    assert equation_text(turned) == "D = - 1.5 + 0.00000055 S^2"
