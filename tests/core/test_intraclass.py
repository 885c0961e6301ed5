import importlib
import math
from itertools import product
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetgen.core.intraclass import ICC_FORMS, IccForm, IntraclassCorrelation, intraclass_correlation
from sheetgen.core.outcome import Interval, Undefined
from tests.reference_values import rows

JUDGES = [
    [float(row[name]) for name in ("first", "second", "third", "fourth")] for row in rows("four_judges")
]
PINGOUIN_LABELS = dict(
    zip(ICC_FORMS, ("ICC(1,1)", "ICC(A,1)", "ICC(C,1)", "ICC(1,k)", "ICC(A,k)", "ICC(C,k)"), strict=True)
)

ratings = st.integers(0, 60)
tables = st.integers(2, 5).flatmap(
    lambda count: st.lists(st.lists(ratings, min_size=count, max_size=count), min_size=2, max_size=12)
)


@pytest.fixture(scope="module")
def pingouin() -> ModuleType:
    """The reference library, imported only where it is used: it takes seconds."""
    return importlib.import_module("pingouin")


def found(table: list[list[float]], form: IccForm) -> IntraclassCorrelation:
    result = intraclass_correlation(table, form)
    assert isinstance(result, IntraclassCorrelation)
    return result


@pytest.mark.parametrize("row", rows("four_judges_correlations"), ids=lambda row: row["form"])
def test_intraclass_correlation_of_four_judges(row: dict[str, str]) -> None:
    """Shrout & Fleiss 1979; intervals McGraw & Wong 1996."""
    result = found(JUDGES, row["form"])
    assert f"{result.value:.2f}".removeprefix("0") == row["value"]
    assert (result.people, result.raters) == (6, 4)
    assert isinstance(result.interval, Interval)
    if row["lower"]:
        assert f"{result.interval.lower:.4f}" == row["lower"]
        assert f"{result.interval.upper:.4f}" == row["upper"]


def test_intraclass_correlation_from_printed_mean_squares() -> None:
    """Pederson & Gore in Norton & Olds: duplicates about means that give the printed square."""
    printed = {row["quantity"]: float(row["value"]) for row in rows("duplicate_results")}
    differences = [float(row["difference_mm"]) for row in rows("duplicate_differences")]
    # Ten means one apart have squared deviations 82.5 in sum; the mean square is twice that over 9.
    step = math.sqrt(printed["mean_square_between"] * 9 / 2 / 82.5)
    table = [
        [12 + step * place + difference / 2, 12 + step * place - difference / 2]
        for place, difference in enumerate(differences)
    ]
    assert round(found(table, "1,1").value, 2) == printed["intraclass_correlation"]


@pytest.mark.parametrize(
    ("name", "people", "rater", "rating", "wide"),
    [
        ("icc", "Wine", "Judge", "Scores", ()),
        ("pairwise_tests", "Subject", "Drug", "Scores", ()),
        ("rm_anova_wide", "Subject", "Time", "Scores", ("Before", "1 week", "2 week", "3 week")),
        ("cronbach_wide_missing", "Subject", "Item", "Scores", ("Q1", "Q2", "Q3", "Q4", "Q5")),
    ],
)
def test_intraclass_correlation_against_pingouin(
    pingouin: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    people: str,
    rater: str,
    rating: str,
    wide: tuple[str, ...],
) -> None:
    """On the data sets that pingouin brings; people with a gap are left out on both sides."""
    monkeypatch.setitem(pingouin.options, "round.column.CI95", 12)
    data = pingouin.read_dataset(name)
    if wide:
        data = data.reset_index(names=people)[[people, *wide]].melt(
            id_vars=people, var_name=rater, value_name=rating
        )
    table = data.pivot_table(index=people, columns=rater, values=rating).dropna().to_numpy().tolist()
    expected = pingouin.intraclass_corr(data, people, rater, rating, nan_policy="omit").set_index("Type")
    compared = 0
    for form in ICC_FORMS:
        line = expected.loc[PINGOUIN_LABELS[form]]
        result = intraclass_correlation(table, form)
        if isinstance(result, Undefined):
            assert form.endswith("k") and line["ICC"] < 0
            continue
        compared += 1
        assert result.value == pytest.approx(line["ICC"], abs=1e-10)
        assert isinstance(result.interval, Interval)
        assert (result.interval.lower, result.interval.upper) == pytest.approx(tuple(line["CI95"]), abs=1e-9)
    assert compared >= 3


@given(tables, st.data())
def test_consistency_with_raters_shifted(table: list[list[float]], data: st.DataObject) -> None:
    """ICC(3,1) and ICC(3,k) do not see what a rater adds to everyone."""
    count = len(table[0])
    offsets = data.draw(st.lists(st.integers(-30, 30), min_size=count, max_size=count))
    shifted = [[value + offset for value, offset in zip(row, offsets, strict=True)] for row in table]
    for form in ("3,1", "3,k"):
        before, after = (intraclass_correlation(values, form) for values in (table, shifted))
        assert type(before) is type(after)
        if isinstance(before, IntraclassCorrelation) and isinstance(after, IntraclassCorrelation):
            assert after.value == pytest.approx(before.value, abs=1e-9)
            assert type(before.interval) is type(after.interval)


@given(tables, st.floats(0.01, 100), st.floats(-100, 100))
def test_intraclass_correlation_in_another_unit(
    table: list[list[float]], scale: float, origin: float
) -> None:
    for form in ICC_FORMS:
        plain = intraclass_correlation(table, form)
        other = intraclass_correlation([[scale * value + origin for value in row] for row in table], form)
        if isinstance(plain, IntraclassCorrelation) and abs(plain.value) > 1e-6:
            assert isinstance(other, IntraclassCorrelation)
            assert other.value == pytest.approx(plain.value, abs=1e-6)


@given(tables)
def test_intraclass_correlation_within_its_bounds(table: list[list[float]]) -> None:
    """Never above 1, never below -1 / (k - 1), the interval in order around the value."""
    for form in ICC_FORMS:
        result = intraclass_correlation(table, form)
        if isinstance(result, Undefined):
            continue
        lowest = 0 if form.endswith("k") else -1 / (result.raters - 1)
        assert lowest - 1e-9 <= result.value <= 1 + 1e-12
        if isinstance(result.interval, Interval):
            assert result.interval.lower <= result.value + 1e-9
            assert result.value <= result.interval.upper + 1e-9
            assert result.interval.upper <= 1 + 1e-12


@pytest.mark.parametrize("form", ICC_FORMS)
def test_intraclass_correlation_names_its_form_and_confidence(form: IccForm) -> None:
    result = intraclass_correlation(JUDGES, form, 0.9)
    assert isinstance(result, IntraclassCorrelation)
    assert isinstance(result.interval, Interval)
    assert (result.form, result.interval.confidence) == (form, 0.9)


@pytest.mark.parametrize("form", ICC_FORMS)
def test_intraclass_correlation_of_ratings_far_from_nought(form: IccForm) -> None:
    """What all ratings have in common takes no digits from what they differ by."""
    plain = found(JUDGES, form).value
    far = found([[1e8 + value for value in row] for row in JUDGES], form).value
    close = found([[1 + value / 1e7 for value in row] for row in JUDGES], form).value
    assert far == pytest.approx(plain, abs=1e-12)
    assert close == pytest.approx(plain, abs=1e-8)


@pytest.mark.parametrize("form", ICC_FORMS)
def test_raters_who_agree_exactly(form: IccForm) -> None:
    result = found([[10.1, 10.1], [12.3, 12.3], [20.7, 20.7]], form)
    assert result.value == 1
    assert isinstance(result.interval, Undefined)
    assert result.interval.reason == "no-error-left"


def test_raters_a_constant_apart() -> None:
    """Consistency is complete; absolute agreement is not."""
    table = [[10.1, 12.2], [12.3, 14.4], [20.7, 22.8]]
    assert found(table, "3,1").value == 1
    assert found(table, "3,1").interval == Undefined("no-error-left")
    assert 0 < found(table, "2,1").value < 1


@pytest.mark.parametrize(("form", "table"), list(product(ICC_FORMS, ([], [[1, 2]], [[1], [2]], [[], []]))))
def test_too_few_people_or_raters(form: IccForm, table: list[list[float]]) -> None:
    result = intraclass_correlation(table, form)
    assert result == Undefined("icc-two-people")


@pytest.mark.parametrize("form", ICC_FORMS)
@pytest.mark.parametrize("table", [[[0.1, 0.3], [0.1, 0.3], [0.1, 0.3]], [[7, 7], [7, 7]]])
def test_people_who_do_not_differ(form: IccForm, table: list[list[float]]) -> None:
    result = intraclass_correlation(table, form)
    assert isinstance(result, Undefined)
    assert result.reason == "people-alike"


def test_mean_of_raters_whose_people_differ_as_by_error() -> None:
    """Both mean squares are 1: no reliability at all, but no negative one."""
    assert found([[0, 2], [2, 2]], "1,k").value == 0


def test_mean_of_raters_whose_people_differ_less_than_by_error() -> None:
    table = [[1, 9], [9, 2], [2, 8], [8, 1.5]]
    assert found(table, "1,1").value < 0
    result = intraclass_correlation(table, "1,k")
    assert isinstance(result, Undefined)
    assert result.reason == "no-reliability"


def test_absolute_agreement_below_what_there_can_be() -> None:
    """(1/6 - 2/3) / (1/6 + 4/3 - 3/4) = -2/3, where three raters allow -1/2."""
    result = intraclass_correlation([[0, 0, 1], [0, 2, 0]], "2,1")
    assert isinstance(result, Undefined)
    assert result.reason == "few-for-estimate"


def test_interval_of_absolute_agreement_without_degrees_of_freedom() -> None:
    """The approximate degrees of freedom fall below 1 for an estimate below 0."""
    result = found([[3, 6, 6], [2, 5, 8], [5, 1, 7]], "2,1")
    assert result.value < 0
    assert isinstance(result.interval, Undefined)
    assert result.interval.reason == "raters-differ-too-much"


def test_interval_of_absolute_agreement_for_two_people() -> None:
    """One degree of freedom on each side: the formula would run below any ICC there can be."""
    interval = found([[1, 2], [4, 3]], "2,1").interval
    assert interval == Undefined("few-for-interval")


def test_interval_of_absolute_agreement_below_what_three_raters_allow() -> None:
    """The lower end would be -0.70, where three raters allow -0.5."""
    interval = found([[2, 2, 8], [3, 0, 3], [8, 8, 3]], "2,1").interval
    assert interval == Undefined("few-for-interval")


def test_interval_of_absolute_agreement_just_within_what_three_raters_allow() -> None:
    """The lower end is -0.46 of at least -0.5: it is given, as by pingouin."""
    interval = found([[4, 3, 9], [1, 5, 0], [0, 0, 8]], "2,1").interval
    assert isinstance(interval, Interval)
    assert (interval.lower, interval.upper) == pytest.approx((-0.46242, 0.90122), abs=5e-6)


@pytest.mark.parametrize(
    ("table", "form", "confidence", "message"),
    [
        ([[1, 2], [3]], "1,1", 0.95, "a rating from each rater"),
        ([[1, 2], [3, None]], "1,1", 0.95, "a rating must be a finite number"),
        ([[1, 2], [3, math.nan]], "1,1", 0.95, "a rating must be a finite number"),
        ([[1, 2], [3, 4]], "4,1", 0.95, "a form is one of"),
        ([[1, 2], [3, 4]], "1,1", 1, "a confidence must lie"),
    ],
)
def test_intraclass_correlation_refuses_a_bad_argument(
    table: list[list[float]], form: IccForm, confidence: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        intraclass_correlation(table, form, confidence)
