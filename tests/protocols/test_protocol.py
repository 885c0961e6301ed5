"""Every form of equation: what a sheet adds up term by term is what the core works out in its own way."""

import math
from collections import defaultdict

import pytest
from msgspec.structs import replace

from sheetgen.measurement.composition import density_log10, density_quadratic, percent_linear
from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.protocols.protocol import FORMS, TERMS, Conversion, Equation
from tests.reference_values import rows

COEFFICIENTS = {"constant": 1.5, "sum_linear": -0.25, "sum_squared": 0.125, "sum_log10": -0.5, "age": 0.0625}


def _as_the_sheet_has_it(form: str, sum_mm: float, age: float) -> float:
    names = FORMS[form].coefficients
    text = "+".join(f"({COEFFICIENTS[name]}){TERMS[name].formula}" for name in names)
    text = text.format(sum_mm=sum_mm, in_age_years=age).replace("^", "**")
    return float(eval(text, {"LOG10": math.log10}))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("sum_mm", "age"), [(40.0, 34.0), (120.5, 18.0), (7.25, 61.0)])
def test_terms_of_a_form_add_up_to_its_value(form: str, sum_mm: float, age: float) -> None:
    given = {name: COEFFICIENTS[name] for name in FORMS[form].coefficients}
    value = FORMS[form].value(sum_mm, age, **given)
    assert value == pytest.approx(_as_the_sheet_has_it(form, sum_mm, age), rel=1e-12)


def _equation(form: str, **coefficients: float) -> Equation:
    named = tuple(coefficients.items())
    return Equation("men", "male", form, named, 18, 61, None, None, None, 3.5, "", "")


def test_equation_by_its_form() -> None:
    """Coefficients: Durnin & Womersley 1974; Slaughter et al. 1988; Jackson & Pollock 1978."""
    log = _equation("log10", constant=1.1631, sum_log10=-0.0632)
    assert log.gives_density
    assert log.value(40, 25) == density_log10(40, constant=1.1631, sum_log10=-0.0632)
    line = _equation("linear-percent", constant=1.0, sum_linear=0.735)
    assert not line.gives_density
    assert line.value(20, 12) == percent_linear(20, constant=1.0, sum_linear=0.735)
    given = {"constant": 1.112, "sum_linear": -0.00043499, "sum_squared": 0.00000055, "age": -0.00028826}
    assert _equation("quadratic", **given).value(178, 34) == density_quadratic(178, 34, **given)


def test_conversion_of_a_density() -> None:
    """495 / 1.06145 - 450 = 16.34: Siri 1961."""
    siri = Conversion("siri", "Siri", 495, 450, "")
    assert siri.percent(1.06145) == pytest.approx(16.34, abs=0.005)
    with pytest.raises(ValueError, match="above 0"):
        siri.percent(0)


SHIPPED = {each.identifier: each for one in shipped_protocols() for each in find_protocol(one).equations}


def _outcomes() -> dict[str, list[tuple[float, float, float]]]:
    """Equation to (sum, age, what it gives), worked by hand from the published form."""
    found: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
    for row in rows("equation_outcomes"):
        found[row["equation"]].append((float(row["sum_mm"]), float(row["age_years"]), float(row["value"])))
    return found


def _agrees(equation: Equation, outcomes: list[tuple[float, float, float]]) -> bool:
    return all(abs(equation.value(sum_mm, age) - value) < 1e-10 for sum_mm, age, value in outcomes)


def test_every_shipped_equation_gives_what_is_worked_by_hand() -> None:
    outcomes = _outcomes()
    assert outcomes.keys() == SHIPPED.keys()
    assert [name for name, equation in SHIPPED.items() if not _agrees(equation, outcomes[name])] == []


def test_one_slip_in_the_last_digit_of_a_coefficient_is_caught() -> None:
    """The last digit as published (tests/reference/equations.csv); whatever the reference row says then."""
    outcomes = _outcomes()
    for row in rows("equations"):
        equation = SHIPPED[row["equation"]]
        for name, value in equation.coefficients:
            last = 10.0 ** -len(row[name].partition(".")[2])
            for slipped in (value + last, value - last):
                changed = {**dict(equation.coefficients), name: slipped}
                assert not _agrees(
                    replace(equation, coefficients=tuple(changed.items())), outcomes[row["equation"]]
                )
