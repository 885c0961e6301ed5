"""What a slip in a protocol file leads to, worked by hand, and what it names as likely meant."""

from pathlib import Path

import pytest

from sheetgen.protocols.loading import protocol_faults
from sheetgen.texts.templates import read_template

DENSITY = "a density from 0.95 to 1.11 g/ml"
PAIR = "1.06 to 1.12 for the fat-free mass and 0.88 to 0.91 g/ml for fat"


def faults_of(tmp_path: Path, identifier: str, *changes: tuple[str, str]) -> list[tuple[str, str, str, str]]:
    """Return (text of the line, place, found, expected) of a shipped protocol, renamed and with slips."""
    text = read_template(f"protocols/{identifier}.toml")
    text = text.replace(f'identifier = "{identifier}"', 'identifier = "own"')
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    lines = ["", *text.split("\n")]
    return [(lines[fault.line], fault.place, fault.found, fault.expected) for fault in protocol_faults(path)]


# By hand from the coefficients of tests/reference/equations.csv and Siri 1961; the second, for instance:
# D = 1.112 - 0.000043499 x 272 + 0.00000055 x 272^2 - 0.00028826 x 18 = 1.1357, and 495 / D - 450 = -14.1.
# protocol, slip, line, place, found, expected
SIX = [
    (
        "three-sites-women", ("constant = 1.0994921", "constant = 0.10994921"),
        "constant = 0.10994921", "equations 1 coefficients constant",
        "a density of 0.0137 g/ml and 35,675 % fat at a sum of 126 mm and 55 years",
        f"{DENSITY}; likely meant: 1.0994921 (ten times as much)",
    ),
    (
        "seven-sites", ("sum_linear = -0.00043499", "sum_linear = -0.000043499"),
        "sum_linear = -0.000043499", "equations 1 coefficients sum_linear",
        "a density of 1.14 g/ml and -14.1 % fat at a sum of 272 mm and 18 years",
        f"{DENSITY}; likely meant: -0.00043499 (ten times as much)",
    ),
    (
        "seven-sites", ("numerator = 457\noffset = 414.2", "numerator = 4.57\noffset = 4.142"),
        "numerator = 4.57", "conversions 2 numerator",
        "a fat-free mass of 1.103 and fat of 0.0439 g/ml, and to 0.0374 % fat at a sum of 32 mm and 18 years",
        f"{PAIR}; likely meant: 457 and 414.2 (both a hundred times as much: per cent, no fraction)",
    ),
    (
        "seven-sites", ("age = -0.00028826", "age = -0.028826"),
        "age = -0.028826", "equations 1 coefficients age",
        "a density of -0.724 g/ml at a sum of 272 mm and 61 years",
        f"{DENSITY}; likely meant: -0.00028826 (a hundredth)",
    ),
    (
        "four-sites", ("sum_log10 = -0.0678", "sum_log10 = -0.029445"),
        "sum_log10 = -0.029445", "equations 6 coefficients sum_log10",
        "a density of 1.12 g/ml and -6.69 % fat at a sum of 20 mm and 19 years",
        f"{DENSITY}; likely meant: -0.0678 (for the common logarithm, if it is the slope of a natural one)",
    ),
    (
        "four-sites", ("constant = 1.1549", "constant = 1.5149"),
        "constant = 1.5149", "equations 6 coefficients constant",
        "a density of 1.43 g/ml and -103 % fat at a sum of 20 mm and 19 years",
        f"{DENSITY}; likely meant: 1.1549 (two digits swapped)",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("identifier", "slip", "line", "place", "leads_to", "expected"), SIX)
def test_a_slip_is_named_with_its_line_what_follows_and_what_is_likely_meant(
    tmp_path: Path,
    identifier: str,
    slip: tuple[str, str],
    line: str,
    place: str,
    leads_to: str,
    expected: str,
) -> None:
    ((its_line, its_place, found, its_expected),) = faults_of(tmp_path, identifier, slip)
    assert (its_line, its_place) == (line, place)
    assert found.endswith(f"which leads to {leads_to}")
    assert its_expected == expected


# protocol, slips, line, start of found, end of expected
@pytest.mark.parametrize(
    ("identifier", "slip", "line", "found", "expected"),
    [
        # Slaughter et al. 1988: 5.1 + 0.061 x 10 = 5.71 and 5.1 + 0.061 x 80 = 9.98
        (
            "youth-two-sites", ("0.610", "0.0610"), "sum_linear = 0.0610",
            "0.061, which leads to 5.71 % fat at a sum of 10 mm and 9.98 % fat at a sum of 80 mm, at 8 years",
            "likely meant: 0.61 (ten times as much)",
        ),
        # Durnin & Womersley 1974: the bands are fine one by one; 1.1242 for 1.1422.
        (
            "four-sites", ("constant = 1.1422", "constant = 1.1242"), "[equations.coefficients]",
            "7.96 % fat at 29 years and 19.9 % at 30, at a sum of 20 mm",
            "at most 8 points between neighbouring bands; compare both with the print",
        ),
        # a pair with a misprint that circulates
        (
            "seven-sites", ("offset = 414.2", "offset = 424.2"), "numerator = 457",
            "457 with the offset 424.2, which leads to a fat-free mass of 1.077 and fat of 0.872 g/ml",
            "likely meant: 457 and 414.2 (Brozek et al. 1963)",
        ),
        (
            "seven-sites", ("sum_maximum = 266", "sum_maximum = 69"), "sum_maximum = 69",
            "69 mm", "at least 70 mm, 10 mm at each of 7 sites",
        ),
    ],
)  # fmt: skip
def test_other_slips(
    tmp_path: Path, identifier: str, slip: tuple[str, str], line: str, found: str, expected: str
) -> None:
    ((its_line, _, its_found, its_expected),) = faults_of(tmp_path, identifier, slip)
    assert its_line == line
    assert its_found.startswith(found)
    assert its_expected.endswith(expected)


def test_a_highest_sum_of_just_10_mm_a_site_is_taken(tmp_path: Path) -> None:
    assert faults_of(tmp_path, "seven-sites", ("sum_maximum = 266", "sum_maximum = 70")) == []


def test_a_highest_sum_in_cm(tmp_path: Path) -> None:
    found = faults_of(tmp_path, "seven-sites", ("sum_maximum = 272", "sum_maximum = 27.2"))
    assert [(place, expected) for _, place, _, expected in found] == [
        ("equations 1 sum_maximum", "at least sum_minimum, 32.0"),
        (
            "equations 1 sum_maximum",
            "at least 70 mm, 10 mm at each of 7 sites; likely meant: 272, typed in cm",
        ),
    ]


def test_two_slips_in_one_equation_are_both_named(tmp_path: Path) -> None:
    slips = ("constant = 1.0970", "constant = 0.1097"), ("age = -0.00012828", "age = -0.012828")
    found = faults_of(tmp_path, "seven-sites", *slips)
    assert [(line, expected.partition("likely meant: ")[2]) for line, _, _, expected in found] == [
        ("constant = 0.1097", "1.097 (ten times as much)"),
        ("age = -0.012828", "-0.00012828 (a hundredth)"),
    ]


def test_an_equation_beyond_any_one_or_two_slips_is_named_at_its_coefficients(tmp_path: Path) -> None:
    ((line, _, found, expected),) = faults_of(tmp_path, "three-sites-men", ("= 1.10938", "= 77777"))
    assert line == "[equations.coefficients]"
    assert found == "a density of 77,777 g/ml and -450 % fat at a sum of 14 mm and 18 years"
    assert expected == f"{DENSITY}; compare sign, decimal point and digits with the print"


def test_no_fault_hides_behind_decimal_commas(tmp_path: Path) -> None:
    commas = [
        ("constant = 1.", "constant = 1,"),
        ("= -0.0", "= -0,0"),
        ("error_percent = 5.", "error_percent = 5,"),
    ]
    found = faults_of(tmp_path, "four-sites", *commas, ("-0,0612", "-0,00612"))
    assert sum(found.startswith("a decimal comma: ") for _, _, found, _ in found) == len(found) - 1
    assert len(found) == 31
    assert ("constant = 1,1620", "constant", "a decimal comma: 1,1620", "a decimal point: 1.1620") in found
    (other,) = [one for one in found if "comma" not in one[2]]
    assert other[1] == "equations 9 coefficients sum_log10"
    assert other[3] == f"{DENSITY}; likely meant: -0.0612 (ten times as much)"


def test_limits_of_per_cent_fat_are_those_of_the_file(tmp_path: Path) -> None:
    """Siri, men, lowest sum and age: D = 1.112 - 0.0139197 + 0.0005632 - 0.0051887 = 1.0934548."""
    limits = ('default_conversion = "siri"', 'default_conversion = "siri"\nfat_minimum = 3\nfat_maximum = 50')
    ((line, place, found, expected),) = faults_of(tmp_path, "seven-sites", limits)
    assert (line, place) == ("[equations.coefficients]", "equations 1 coefficients")
    assert found == "2.69 % fat at a sum of 32 mm and 18 years"
    assert expected == "3 to 50 % fat; compare sign, decimal point and digits with the print"


def test_limits_of_per_cent_fat_the_wrong_way_round(tmp_path: Path) -> None:
    limits = ('default_conversion = "siri"', 'default_conversion = "siri"\nfat_minimum = 70')
    assert faults_of(tmp_path, "seven-sites", limits) == [
        ("fat_minimum = 70", "fat_minimum", "70", "fat_minimum below fat_maximum, 70 and 60 here")
    ]


def test_a_missing_line_does_not_hide_behind_one_that_is_no_toml(tmp_path: Path) -> None:
    slips = ("constant = 1.112\n", "constant = 1.112.0\n"), ("constant = 1.0970\n", "")
    places = [place for _, place, _, _ in faults_of(tmp_path, "seven-sites", *slips)]
    assert places == ["", "equations 2 coefficients constant"]
