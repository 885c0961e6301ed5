from typing import Any

import pytest

from sheetgen.protocols.checks import key_faults, sense_faults
from sheetgen.texts.toml_tables import Fault

SIRI = {"identifier": "siri", "numerator": 495, "offset": 450}
DENSITY = {"conversions": [SIRI], "default_conversion": "siri"}
COEFFICIENTS = {
    "quadratic": {"constant": 1.1, "sum_linear": -0.001, "sum_squared": 0.000002, "age": -0.0001},
    "log10": {"constant": 1.16, "sum_log10": -0.06},
    "linear-percent": {"constant": 1.0, "sum_linear": 0.7},
}

BENT = {**COEFFICIENTS["quadratic"], "sum_squared": 0.000005}
"""Turns back at 100 mm."""


def equation(
    form: str = "log10", sex: str = "male", ages: tuple[float, float] = (18, 40), **other: Any
) -> Any:
    """Return an equation without a fault."""
    error = {} if form == "linear-percent" else {"standard_error_density": 0.01}
    return {
        "identifier": f"{sex}-{ages[0]}",
        "sex": sex,
        "form": form,
        "coefficients": COEFFICIENTS[form],
        "age_minimum": ages[0],
        "age_maximum": ages[1],
        **error,
        **other,
    }


def faults_of(*equations: Any, **keys: Any) -> list[tuple[tuple[str | int, ...], str]]:
    """Return place and found of every fault of a protocol with these equations."""
    return [(fault.place, fault.found) for fault in sense_faults({"equations": list(equations), **keys})]


@pytest.mark.parametrize("form", ["quadratic", "log10"])
def test_forms_with_a_density(form: str) -> None:
    assert faults_of(equation(form), equation(form, "female"), **DENSITY) == []


def test_a_straight_line_needs_no_conversion() -> None:
    assert faults_of(equation("linear-percent"), equation("linear-percent", "female")) == []


# the equation, what else the file says, place, start of found
@pytest.mark.parametrize(
    ("one", "keys", "place", "found"),
    [
        # the sign of the slope
        (
            equation(coefficients={"constant": 1.16, "sum_log10": 0.06}), DENSITY,
            ("equations", 0, "coefficients", "sum_log10"), "0.06",
        ),
        (
            equation("linear-percent", coefficients={"constant": 1.0, "sum_linear": -0.7}), {},
            ("equations", 0, "coefficients", "sum_linear"), "-0.7",
        ),
        # turning back, at 250 mm here
        (
            equation("quadratic", sum_maximum=260), DENSITY,
            ("equations", 0, "coefficients"),
            "a density that does not fall at a sum of 260.0 mm: the equation turns back at 250 mm",
        ),
        (
            equation("quadratic", sum_minimum=255), DENSITY,
            ("equations", 0, "coefficients"),
            "a density that does not fall at a sum of 255.0 mm: the equation turns back at 250 mm",
        ),
        (
            equation("quadratic", coefficients=BENT), DENSITY,
            ("equations", 0, "coefficients"),
            "a density that does not fall at a sum of 120.0 mm: the equation turns back at 100 mm",
        ),
        (
            equation("quadratic", coefficients={**COEFFICIENTS["quadratic"], "sum_linear": 0.001}), DENSITY,
            ("equations", 0, "coefficients"), "a density that does not fall at a sum of 0.0 mm",
        ),
        # ranges the wrong way round
        (equation(ages=(40, 18)), DENSITY, ("equations", 0, "age_maximum"), "18.0"),
        (equation(sum_minimum=90, sum_maximum=9), DENSITY, ("equations", 0, "sum_maximum"), "9.0"),
        # the standard error belongs to the form
        (
            {key: value for key, value in equation().items() if key != "standard_error_density"}, DENSITY,
            ("equations", 0, "standard_error_density"), "missing",
        ),
        (
            equation("linear-percent", standard_error_density=0.01), {},
            ("equations", 0, "standard_error_density"), "0.01",
        ),
        # conversions belong to a density
        (equation(), {"default_conversion": "siri"}, ("conversions",), "missing"),
        (equation(), {"conversions": [SIRI]}, ("default_conversion",), "missing"),
        (equation(), {**DENSITY, "default_conversion": "sirri"}, ("default_conversion",), "'sirri'"),
        (equation("linear-percent"), {"conversions": [SIRI]}, ("conversions",), "a list of 1"),
        (
            equation(), {**DENSITY, "conversions": [{**SIRI, "offset": 4500}]},
            ("conversions", 0, "offset"), "4500.0",
        ),
    ],
)  # fmt: skip
def test_sense_faults_of_one_equation(
    one: Any, keys: dict[str, Any], place: tuple[str | int, ...], found: str
) -> None:
    assert faults_of(one, **keys, only="male") == [(place, found)]


def test_a_quadratic_without_a_sum_range_may_turn_back_above_120_mm() -> None:
    bent = {**COEFFICIENTS["quadratic"], "sum_squared": 0.000004}
    assert faults_of(equation("quadratic", coefficients=bent), only="male", **DENSITY) == []


def test_both_sexes_are_wanted_unless_the_file_says_only_one() -> None:
    assert faults_of(equation(), **DENSITY) == [(("equations",), "no equation for female")]
    assert faults_of(equation(sex="female"), **DENSITY) == [(("equations",), "no equation for male")]
    assert faults_of(equation(), only="male", **DENSITY) == []
    assert faults_of(equation(), only="female", **DENSITY) == [
        (("equations",), "no equation for female"),
        (("equations", 0, "sex"), "'male'"),
    ]


def test_only_says_nothing_without_equations() -> None:
    assert faults_of(only="male") == [(("only",), "'male'")]
    assert faults_of() == []


def test_conversions_say_nothing_without_equations() -> None:
    assert faults_of(**DENSITY) == [(("conversions",), "a list of 1"), (("default_conversion",), "'siri'")]


def test_an_unknown_form_says_nothing_of_conversions() -> None:
    assert faults_of({**equation(), "form": "cubic"}, only="male", **DENSITY) == []


# ages of bands, what is found at the later one
@pytest.mark.parametrize(
    ("bands", "found"),
    [
        (((17, 19), (20, 29), (30, 39)), []),
        (((20, 29), (17, 19)), []),
        (((17, 19.9), (20, 29)), []),
        (((17, 19), (21, 29)), ["21.0, after a band that ends at 19.0"]),
        (((30, 39), (17, 19)), ["30.0, after a band that ends at 19.0"]),
        (((17, 20), (20, 29)), ["ages shared with an equation above"]),
        (((17, 29), (20, 25)), ["ages shared with an equation above"]),
    ],
)
def test_bands_of_ages_leave_no_gap_and_do_not_overlap(
    bands: tuple[tuple[float, float], ...], found: list[str]
) -> None:
    equations = [equation(ages=ages) for ages in bands]
    assert [one for _, one in faults_of(*equations, only="male", **DENSITY)] == found


def test_bands_of_the_other_sex_are_apart() -> None:
    assert faults_of(equation(), equation(sex="female", ages=(50, 60)), **DENSITY) == []


def test_what_is_named_twice() -> None:
    sites = [{"word": "calf"}, {"word": "calf"}]
    twice = faults_of(
        equation(), equation(ages=(41, 50), identifier="male-18"), only="male", sites=sites, **DENSITY
    )
    assert twice == [
        (("sites", 1, "word"), "'calf' a second time"),
        (("equations", 1, "identifier"), "'male-18' a second time"),
    ]


SITE = {
    "word": "calf",
    "title": "Calf",
    "direction": "vertical",
    "trunk": False,
    "landmark": "Inner side.",
    "cues": ["Mark first."],
}
PROTOCOL = {"identifier": "own", "title": "Own", "standard": "One.", "notes": ["A note."], "sites": [SITE]}


def test_key_faults_of_a_protocol_without_equations() -> None:
    assert list(key_faults(PROTOCOL)) == []


def test_key_faults_of_nothing() -> None:
    assert [(fault.place, fault.found) for fault in key_faults({})] == [
        ((key,), "missing") for key in ("identifier", "title", "standard", "notes", "sites")
    ]


# word, what is said besides the letters allowed
@pytest.mark.parametrize(
    ("word", "reason"),
    [
        ("abc1", "looks like the address of a cell"),
        ("r1c1", "looks like the address of a cell"),
        ("R12C3", "looks like the address of a cell"),
        ("xfd1048576", "looks like the address of a cell"),
        ("r", "cannot be the name of a cell"),
        ("c", "cannot be the name of a cell"),
        ("true", "cannot be the name of a cell"),
        ("mm", "cannot be the name of a cell"),
        ("mid calf", "a letter first"),
        ("calf.inner", "a letter first"),
        ("wade", ""),
        ("a_b", ""),
    ],
)
def test_site_words_that_cannot_be_cell_names(word: str, reason: str) -> None:
    faults = list(key_faults({**PROTOCOL, "sites": [{**SITE, "word": word}]}))
    assert [fault.place for fault in faults] == ([("sites", 0, "word")] if reason else [])
    assert all(reason in fault.expected for fault in faults)


def test_key_faults_name_the_text_of_a_list() -> None:
    (fault,) = key_faults({**PROTOCOL, "notes": ["One.", "Two\tthree."]})
    assert fault.place == ("notes",)
    assert fault.expected.endswith("without a tab; look at number 2")


# form, coefficients given, places of the faults
@pytest.mark.parametrize(
    ("form", "given", "wrong"),
    [
        ("log10", {"constant": 1.1, "sum_log10": -0.06}, []),
        ("log10", {"constant": 1.1}, ["sum_log10"]),
        ("log10", {"constant": 1.1, "sum_linear": -0.06}, ["sum_linear", "sum_log10"]),
        ("linear-percent", {"constant": 1, "sum_linear": 0.7}, []),
        ("linear-percent", {"constant": 1, "sum_linear": 0.7, "age": 0.1}, ["age"]),
        ("quadratic", {"constant": 1.1}, ["sum_linear", "sum_squared", "age"]),
    ],
)
def test_coefficients_are_those_of_the_form(form: str, given: dict[str, float], wrong: list[str]) -> None:
    equation = {
        "identifier": "one",
        "sex": "male",
        "form": form,
        "coefficients": given,
        "age_minimum": 18,
        "age_maximum": 30,
        "standard_error_percent": 4,
        "sample": "Nobody",
        "source": "Invented",
    }
    faults = key_faults({**PROTOCOL, "equations": [equation]})
    assert [fault.place for fault in faults] == [("equations", 0, "coefficients", name) for name in wrong]


def test_an_unknown_form_is_named_with_those_there_are() -> None:
    faults = list(key_faults({**PROTOCOL, "equations": [{"form": "log"}]}))
    assert (
        Fault(
            ("equations", 0, "form"), "'log'", "quadratic or log10 or linear-percent (did you mean 'log10'?)"
        )
        in faults
    )
