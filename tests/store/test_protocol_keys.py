import pytest

from sheetgen.store.protocol_keys import Fault, key_faults, near, number_in, shown, tables_of

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


def test_tables_and_numbers_of_something_else() -> None:
    assert tables_of({"sites": [1]}, "sites") == []
    assert tables_of({}, "sites") == []
    assert number_in({"age": True}, "age") is None
    assert number_in({"age": float("nan")}, "age") is None
    assert number_in(3, "age") is None
    assert number_in({"age": 3}, "age") == 3.0


def test_shown_values_are_short() -> None:
    assert [shown(value) for value in (True, {}, [1], "a", "x" * 99)] == [
        "true",
        "a table of 0",
        "a list of 1",
        "'a'",
        "'" + "x" * 56 + "...",
    ]


def test_near_words() -> None:
    assert near("mal", ("female", "male")) == " (did you mean 'male'?)"
    assert near("zzz", ("female", "male")) == near(3, ("female", "male")) == ""
