"""Protocol files: their faults one by one, what is loaded, and the shipped ones in another language."""

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from sheetgen.errors import TemplateError, UsageError
from sheetgen.measurement.composition import density_log10, fat_percent
from sheetgen.protocols import loading
from sheetgen.protocols.loading import (
    find_protocol,
    in_language,
    key_faults,
    load_protocol,
    protocol_faults,
    sense_faults,
    shipped_protocols,
)
from sheetgen.protocols.protocol import FORMS, Equation, Protocol
from sheetgen.texts.templates import read_template, templates_folder
from sheetgen.texts.toml_tables import Fault, FileFault
from tests.reference_values import rows

SMALL = """\
identifier = "two-limbs"
title = "Two limbs"
standard = "Follows one description."
default_conversion = "siri"
notes = ["A note."]
only = "female"
[[sites]]
word = "triceps"
title = "Triceps"
direction = "vertical"
trunk = false
landmark = "Back of the upper arm."
cues = ["Mark first."]

[[sites]]
word = "calf"
title = "Calf"
direction = "vertical"
trunk = false
landmark = "Inside of the calf."
cues = [
    "Mark first.",
    "Foot on a box.",
]

[[equations]]
identifier = "invented"
sex = "female"
form = "quadratic"
age_minimum = 18
age_maximum = 40
standard_error_density = 0.008
standard_error_percent = 3.5
sample = "Nobody: invented for a test"
source = "Invented for a test"

[equations.coefficients]
constant = 1.1
sum_linear = -0.001
sum_squared = 0.000002
age = -0.0001

[[conversions]]
identifier = "siri"
title = "Siri 1961"
numerator = 495
offset = 450
source = "Siri 1961"
"""


def message_of(tmp_path: Path, content: str | bytes) -> str:
    """Return the message of the refusal, the folder left out."""
    path = tmp_path / "protocol.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(TemplateError) as refusal:
        load_protocol(path)
    return str(refusal.value).replace(f"{tmp_path}/", "")


ALL = (
    "folds-only",
    "four-sites",
    "seven-sites",
    "three-sites-men",
    "three-sites-women",
    "youth-two-sites",
)


def second_equation(sex: str, ages: str) -> str:
    """Return the small protocol with another equation for a sex and ages such as `41 60`."""
    block = SMALL[SMALL.index("[[equations]]") : SMALL.index("[[conversions]]")]
    both = SMALL if sex == "female" else SMALL.replace('only = "female"', "")
    low, high = ages.split()
    changed = block.replace('"invented"', '"other"').replace('"female"', f'"{sex}"')
    changed = changed.replace("minimum = 18", f"minimum = {low}").replace("maximum = 40", f"maximum = {high}")
    return both + "\n" + changed


def test_shipped_protocols_are_named_after_their_files() -> None:
    assert shipped_protocols() == ALL
    assert tuple(find_protocol(identifier).identifier for identifier in shipped_protocols()) == ALL


def test_shipped_protocols_have_no_faults() -> None:
    for path in sorted((templates_folder() / "protocols").glob("*.toml")):
        assert protocol_faults(path) == ()


def test_the_commented_example_has_no_faults() -> None:
    example = load_protocol(templates_folder() / "protocol-example.toml")
    assert example.identifier not in ALL
    assert [equation.form for equation in example.equations] == ["quadratic", "log10"]


def test_seven_sites_stand_in_circuit_order_with_their_directions() -> None:
    """Common practice."""
    sites = find_protocol("seven-sites").sites
    assert [(site.word, site.direction) for site in sites] == [
        (row["site"], row["direction"]) for row in rows("fold_directions")
    ]


def test_folds_of_the_same_site_have_one_direction_in_every_protocol() -> None:
    """Common practice: biceps and calf are vertical, and no fold is horizontal."""
    practice = {row["site"]: row["direction"] for row in rows("fold_directions")}
    practice |= {"biceps": "vertical", "calf": "vertical"}
    for identifier in ALL:
        for site in find_protocol(identifier).sites:
            assert site.direction == practice[site.word]
            assert 1 <= len(site.cues) <= 4


def test_sites_on_limbs() -> None:
    limbs = {site.word for each in ALL for site in find_protocol(each).sites if not site.trunk}
    trunk = {site.word for each in ALL for site in find_protocol(each).sites if site.trunk}
    assert limbs == {"biceps", "triceps", "thigh", "calf"}
    assert trunk == {"chest", "midaxillary", "subscapular", "abdominal", "suprailiac"}


def test_protocols_for_the_young_and_without_equations_have_no_trunk_site() -> None:
    for identifier in ("youth-two-sites", "folds-only"):
        assert not any(site.trunk for site in find_protocol(identifier).sites)


def test_coefficients_are_the_published_ones_to_the_last_digit() -> None:
    """Compared as decimal text, before anything becomes binary."""
    shipped = {}
    for identifier in ALL:
        table = tomllib.loads(read_template(f"protocols/{identifier}.toml"), parse_float=Decimal)
        for equation in table.get("equations", ()):
            shipped[equation["identifier"]] = equation["coefficients"]
    assert shipped == {
        row["equation"]: {name: Decimal(row[name]) for name in FORMS[row["form"]].coefficients}
        for row in rows("equations")
    }


def test_equations_are_loaded_as_published() -> None:
    published = {row["equation"]: row for row in rows("equations")}
    for identifier in ALL:
        protocol = find_protocol(identifier)
        for equation in protocol.equations:
            row = published[equation.identifier]
            assert (equation.sex, equation.form) == (row["sex"], row["form"])
            assert equation.coefficients == tuple(
                (name, float(row[name])) for name in FORMS[row["form"]].coefficients
            )
            assert (equation.age_minimum, equation.age_maximum) == (
                float(row["age_minimum"]),
                float(row["age_maximum"]),
            )
            for name in ("sum_minimum", "sum_maximum", "standard_error_density"):
                assert getattr(equation, name) == (float(row[name]) if row[name] else None)
            if row["standard_error_percent"]:
                assert equation.standard_error_percent == float(row["standard_error_percent"])
            if row["sample_size"]:
                people = "men" if equation.sex == "male" else "women"
                assert equation.sample.startswith(f"{row['sample_size']} {people}")
            assert row["sites"].split() == [site.word for site in protocol.sites]


def test_four_sites_error_in_density_follows_from_the_error_in_per_cent() -> None:
    """Arithmetic: the slope of the Siri conversion, 495 / D^2, at 1.05 g/ml; to three decimals."""
    for equation in find_protocol("four-sites").equations:
        assert equation.standard_error_density == round(equation.standard_error_percent * 1.05**2 / 495, 3)


def test_the_note_about_large_sums_is_of_three_or_four_folds_of_adults_only() -> None:
    """A sum of 120 mm is an ordinary one of seven folds (checks of the trade)."""
    with_note = {name for name in ALL if any("120" in note for note in find_protocol(name).notes)}
    assert with_note == {"three-sites-men", "three-sites-women", "four-sites"}
    spanish = {
        name for name in ALL if any("120" in note for note in in_language(find_protocol(name), "es").notes)
    }
    assert spanish == with_note


# language, what its note about error says of two in three, of one in three, of measuring
@pytest.mark.parametrize(
    ("language", "said"),
    [
        (
            "en",
            (
                " in three ",
                "the true value lies within",
                "one in three it is out by more",
                "error comes on top",
            ),
        ),
        ("es", ("de cada tres", "el valor verdadero está", "la desviación es mayor", "de medición se suma")),
    ],
)
def test_notes_about_error_say_for_whom_how_much_and_what_comes_on_top(
    language: str, said: tuple[str, ...]
) -> None:
    for name in set(ALL) - {"folds-only"}:
        protocol = in_language(find_protocol(name), language)
        (note,) = [one for one in protocol.notes if said[-1] in one]
        assert all(part in note for part in said)
        for equation in protocol.equations:
            figure = f"{equation.standard_error_percent:g}"
            assert figure.replace(".", "." if language == "en" else ",") in note


@pytest.mark.parametrize(
    ("identifier", "sexes"),
    [
        ("folds-only", set()),
        ("four-sites", {"female", "male"}),
        ("seven-sites", {"female", "male"}),
        ("three-sites-men", {"male"}),
        ("three-sites-women", {"female"}),
        ("youth-two-sites", {"female", "male"}),
    ],
)
def test_sexes_with_an_equation(identifier: str, sexes: set[str]) -> None:
    assert {equation.sex for equation in find_protocol(identifier).equations} == sexes


@pytest.mark.parametrize("age", range(17, 73))
def test_four_sites_have_one_equation_for_every_whole_year_of_men(age: int) -> None:
    equations = find_protocol("four-sites").equations
    fitting = [
        each for each in equations if each.sex == "male" and each.age_minimum <= age <= each.age_maximum
    ]
    assert len(fitting) == 1


def test_conversions_are_the_published_ones() -> None:
    published = [
        (row["conversion"], float(row["numerator"]), float(row["offset"])) for row in rows("conversions")
    ]
    for identifier in ("four-sites", "seven-sites", "three-sites-men", "three-sites-women"):
        protocol = find_protocol(identifier)
        assert [(each.identifier, each.numerator, each.offset) for each in protocol.conversions] == published
        assert protocol.default_conversion == "siri"


@pytest.mark.parametrize("identifier", ["folds-only", "youth-two-sites"])
def test_protocols_without_a_density_have_no_conversion(identifier: str) -> None:
    protocol = find_protocol(identifier)
    assert (protocol.conversions, protocol.default_conversion) == ((), "")


def test_shipped_protocols_hold_none_of_the_misprints() -> None:
    shipped = {}
    for protocol in map(find_protocol, ALL):
        shipped |= {
            (each.identifier, name): value for each in protocol.equations for name, value in each.coefficients
        }
        shipped |= {(each.identifier, "offset"): each.offset for each in protocol.conversions}
    misprints = [row for row in rows("misprints") if (row["equation"], row["coefficient"]) in shipped]
    assert [(row["equation"], row["coefficient"]) for row in misprints] == [
        ("women-three-sites", "constant"),
        ("women-three-sites", "constant"),
        ("men-seven-sites", "age"),
        ("women-seven-sites", "sum_squared"),
        ("brozek", "offset"),
    ]
    for row in misprints:
        assert shipped[row["equation"], row["coefficient"]] == float(row["right"])
        assert float(row["right"]) != float(row["misprint"])


def test_sum_ranges_end_below_the_vertex() -> None:
    vertices = {row["equation"]: float(row["sum_mm"]) for row in rows("vertices")}
    equations = {each.identifier: each for one in ALL for each in find_protocol(one).equations}
    for identifier, vertex in vertices.items():
        sum_maximum = equations[identifier].sum_maximum
        assert sum_maximum is not None
        assert sum_maximum < 0.7 * vertex


@pytest.mark.parametrize(
    ("identifier", "remedy"),
    [
        ("seven-site", "Did you mean 'seven-sites'?"),
        ("zzz", "Choose one of these, or give the path of a .toml file."),
        ("seven-sites.tom", "Did you mean 'seven-sites'?"),
        ("../protocols/seven-sites", "Did you mean 'seven-sites'?"),
        ("", "Choose one of these, or give the path of a .toml file."),
    ],
)
def test_find_protocol_of_an_unknown_name(identifier: str, remedy: str) -> None:
    with pytest.raises(UsageError) as refusal:
        find_protocol(identifier)
    assert refusal.value.found == f"no protocol '{identifier}'"
    assert refusal.value.expected == " or ".join(ALL)
    assert refusal.value.remedy == remedy


def test_load_protocol_of_a_teachers_file(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(SMALL, encoding="utf-8")
    protocol = load_protocol(path)
    assert [site.word for site in protocol.sites] == ["triceps", "calf"]
    assert protocol.sites[1].cues == ("Mark first.", "Foot on a box.")
    assert protocol.equations[0].sum_minimum is None
    assert protocol.equations[0].sum_maximum is None
    assert isinstance(protocol.equations[0].age_minimum, float)
    assert protocol.conversion("siri").offset == 450.0


@pytest.mark.parametrize("ages", ["41 60", "10 17"])
def test_load_protocol_with_an_equation_an_age_band(tmp_path: Path, ages: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(second_equation("female", ages), encoding="utf-8")
    assert [equation.identifier for equation in load_protocol(path).equations] == ["invented", "other"]


def test_load_protocol_does_not_depend_on_line_ends_and_byte_order_mark(tmp_path: Path) -> None:
    plain, other = tmp_path / "plain.toml", tmp_path / "other.toml"
    plain.write_text(SMALL, encoding="utf-8")
    other.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert load_protocol(plain) == load_protocol(other)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        # keys
        ('title = "Two limbs"', 'titel = "Two limbs"', "line 2, titel: unknown key"),
        ('title = "Two limbs"', 'titel = "Two limbs"', "(did you mean 'title'?)"),
        ('title = "Two limbs"\n', "", "title: missing; expected one line of text"),
        ('title = "Calf"\n', "", "line 15, sites 2 title: missing"),
        (
            "sum_linear = -0.001\n",
            "",
            "line 37, equations 1 coefficients sum_linear: missing; expected a number",
        ),
        ("age = -0.0001", "ages = -0.0001", "line 41, equations 1 coefficients ages: unknown key"),
        ("age = -0.0001", "age = -0.0001\nbmi = 1", "line 42, equations 1 coefficients bmi: unknown key"),
        # site words
        (
            'word = "calf"',
            'word = "triceps"',
            "line 16, sites 2 word: 'triceps' a second time; expected each only",
        ),
        (
            'word = "calf"',
            'word = "Calf"',
            "line 16, sites 2 word: 'Calf'; expected 1 to 30 lower case letters",
        ),
        ('word = "calf"', 'word = "calf-2"', "line 16, sites 2 word: 'calf-2'; expected"),
        ('word = "calf"', 'word = "_calf"', "line 16, sites 2 word: '_calf'; expected"),
        ('word = "calf"', 'word = "calf\\n"', "line 16, sites 2 word: 'calf\\n'; expected"),
        ('word = "calf"', 'word = "mm"', "line 16, sites 2 word: 'mm'; expected"),
        ('word = "calf"', 'word = ""', "line 16, sites 2 word: ''; expected"),
        # words of a list
        ('"vertical"', '"verticle"', "line 10, sites 1 direction: 'verticle'; expected vertical or diagonal"),
        ('"vertical"', '"verticle"', "(did you mean 'vertical'?)"),
        ('"quadratic"', '"cubic"', "line 29, equations 1 form: 'cubic'; expected quadratic"),
        ('sex = "female"', 'sex = "any"', "line 28, equations 1 sex: 'any'; expected female or male"),
        # kinds
        ("trunk = false", 'trunk = "no"', "line 11, sites 1 trunk: 'no'; expected true or false"),
        ("sum_linear = -0.001", 'sum_linear = "-0.001"', "sum_linear: '-0.001'; expected a number"),
        ("sum_linear = -0.001", "sum_linear = true", "sum_linear: true; expected a number"),
        ("sum_linear = -0.001", "sum_linear = nan", "sum_linear: nan; expected a number"),
        ("sum_linear = -0.001", "sum_linear = -inf", "sum_linear: -inf; expected a number"),
        (
            "sum_linear = -0.001",
            "sum_linear = 1" + "0" * 400,
            "coefficients sum_linear: a number of more than 60 digits",
        ),
        ("standard_error_percent = 3.5", "standard_error_percent = 0", "0; expected a number above 0"),
        ("age_minimum = 18", "age_minimum = -1", "-1; expected a number of at least 0"),
        (
            'word = "calf"',
            "word = []",
            "line 16, sites 2 word: a list of 0; expected 1 to 30 lower case letters",
        ),
        ('title = "Calf"', 'title = " "', "line 17, sites 2 title: ' '; expected one line of text"),
        (
            'title = "Calf"',
            'title = """Ca\nlf"""',
            "line 17, sites 2 title: 'Ca\\nlf'; expected one line of text",
        ),
        ('title = "Calf"', f'title = "{"x" * 501}"', "line 17, sites 2 title: 'xxx"),
        ('["Mark first."]', "[]", "line 13, sites 1 cues: a list of 0; expected a list of 1 to 8 texts"),
        ('["Mark first."]', '["a", 1]', "line 13, sites 1 cues: a list of 2; expected"),
        ('"Mark first."]', '"Mark first."]\n[sites.extra]', "line 14, sites 1 extra: unknown key"),
        (
            'identifier = "two-limbs"',
            'identifier = "Two limbs"',
            "line 1, identifier: 'Two limbs'; expected 1 to 40",
        ),
        # together
        (
            "age_maximum = 40",
            "age_maximum = 17",
            "line 31, equations 1 age_maximum: 17.0; expected at least",
        ),
        (
            "age_maximum = 40",
            "age_maximum = 40\nsum_minimum = 99\nsum_maximum = 9",
            "sum_maximum: 9.0; expected at least",
        ),
        ("age_maximum = 40", "age_maximum = 40\nsum_maximum = 250", "does not fall at a sum of 250 mm"),
        (
            "sum_linear = -0.001",
            "sum_linear = 0.001",
            "line 39, equations 1 coefficients sum_linear: 0.001, which leads to a density of 1.19 g/ml",
        ),
        (
            'conversion = "siri"',
            'conversion = "sirri"',
            "line 4, default_conversion: 'sirri'; expected siri (did you",
        ),
        ("offset = 450", "offset = 495", "line 47, conversions 1 offset: 495.0; expected less than 495.0"),
    ],
)
def test_load_protocol_names_the_fault(tmp_path: Path, old: str, new: str, expected: str) -> None:
    assert old in SMALL
    message = message_of(tmp_path, SMALL.replace(old, new, 1))
    assert message.startswith("protocol.toml: ")
    assert expected in message


@pytest.mark.parametrize("ages", ["18 40", "40 60", "10 18", "20 30", "10 60", "18 18"])
def test_load_protocol_refuses_two_equations_for_a_sex_and_an_age(tmp_path: Path, ages: str) -> None:
    message = message_of(tmp_path, second_equation("female", ages))
    assert message.startswith("protocol.toml: 1 fault;")
    assert "equations 2 age_minimum: ages shared with an equation above" in message


@pytest.mark.parametrize(("key", "count"), [("sites", 2), ("equations", 1), ("conversions", 1)])
def test_load_protocol_with_the_same_table_twice(tmp_path: Path, key: str, count: int) -> None:
    parts = SMALL.replace('"female"\n[[', '"female"\n\n[[').split("\n\n")
    block = "\n\n".join(part for part in parts if part.startswith((f"[[{key}", f"[{key}.")))
    message = message_of(tmp_path, SMALL + "\n" + block)
    assert message.count("a second time") == count


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("", "5 faults"),
        ("sites = 1", "sites: 1; expected 1 to 30 tables"),
        ("equations = 1", "equations: 1; expected 0 to 30 tables"),
        ("sites = []", "sites: a list of 0; expected 1 to 30 tables"),
        ("sites = [1, 2]", "sites: a list of 2; expected 1 to 30 tables"),
        ("[sites]", "line 1, sites: a table of 0; expected 1 to 30 tables"),
        ("sites = [{}]", "line 1, sites 1 word: missing"),
        ("[[equations]]\ncoefficients = 3", "line 2, equations 1 coefficients: 3; expected a table"),
        ("[[equations]]\nform = []", "line 2, equations 1 form: a list of 0; expected quadratic"),
        ("[[equations]]\nsex = {}", "line 2, equations 1 sex: a table of 0; expected female or male"),
        ("title = 2024-02-30", "not TOML"),
        ("title = 2024-02-03", "line 1, title: datetime.date(2024, 2, 3); expected one line"),
    ],
)
def test_load_protocol_of_something_else(tmp_path: Path, content: str, found: str) -> None:
    assert found in message_of(tmp_path, content)


def test_load_protocol_lists_all_faults_by_line(tmp_path: Path) -> None:
    broken = (
        SMALL.replace('word = "calf"', 'word = "triceps"')
        .replace('direction = "vertical"', 'direction = "up"', 1)
        .replace("age_maximum = 40", "age_maximum = 8")
        .replace("constant = 1.1\n", "")
        .replace('conversion = "siri"', 'conversion = "none"')
    )
    assert message_of(tmp_path, broken) == (
        "protocol.toml: 5 faults; expected a protocol without faults. Correct what is named here:\n"
        "  line 4, default_conversion: 'none'; expected siri\n"
        "  line 10, sites 1 direction: 'up'; expected vertical or diagonal or horizontal\n"
        "  line 16, sites 2 word: 'triceps' a second time; expected each only once\n"
        "  line 31, equations 1 age_maximum: 8.0; expected at least age_minimum, 18.0\n"
        "  line 37, equations 1 coefficients constant: missing; expected a number"
    )


@pytest.mark.parametrize(
    ("content", "place"),
    [
        (
            'identifier = "a"\nidentifier = "b"\n',
            "line 2, the key 'identifier' a second time; expected each key",
        ),
        ('identifier = "a"\ntitle = \n', "line 2, not TOML"),
        ('identifier = "a"\n[sites\n', "line 2, not TOML"),
        ('identifier = "a"\ntitle = """b\n\n', "line 4, not TOML"),
        ("a = " + "[" * 5000, "here:\n  not TOML"),
        ("a = " + "9" * 5000, "here:\n  not TOML"),
        ('identifier = "a"\ntitle = "caf\xe9"\n'.encode("latin-1"), "line 2, byte 30 is not UTF-8"),
        (b"\x00\x01", "line 1, not TOML"),
        (b"#" * 200_001, "here:\n  more than 200 kB; expected a protocol file of a few kB"),
    ],
)
def test_load_protocol_of_a_file_that_cannot_be_read(
    tmp_path: Path, content: str | bytes, place: str
) -> None:
    assert place in message_of(tmp_path, content)


def test_load_protocol_of_just_200_kb_is_read(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(SMALL.encode() + b"#" * (200_000 - len(SMALL)))
    assert load_protocol(path).identifier == "two-limbs"


@pytest.mark.parametrize("name", ["nothing.toml", "."])
def test_load_protocol_of_no_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(TemplateError, match="cannot be read"):
        load_protocol(tmp_path / name)


def test_load_protocol_reads_on_after_a_key_given_twice(tmp_path: Path) -> None:
    broken = SMALL.replace('title = "Calf"', 'title = "Calf"\ntitle = "Leg"').replace(
        "offset = 450", "offset = 500"
    )
    assert message_of(tmp_path, broken) == (
        "protocol.toml: 2 faults; expected a protocol without faults. Correct what is named here:\n"
        "  line 18, the key 'title' a second time; expected each key once in its table\n"
        "  line 48, conversions 1 offset: 500.0; expected less than 495.0"
    )


def test_load_protocol_does_not_call_a_key_missing_whose_line_is_wrong(tmp_path: Path) -> None:
    broken = SMALL.replace('title = "Calf"', "title = Calf").replace('"vertical"', '"level"', 1)
    message = message_of(tmp_path, broken)
    assert "line 17, not TOML" in message
    assert "line 10, sites 1 direction: 'level'" in message
    assert "missing" not in message


def test_load_protocol_names_a_tab_in_a_text_and_takes_one_between(tmp_path: Path) -> None:
    message = message_of(tmp_path, SMALL.replace('"Calf"', '"Ca\tlf"'))
    assert "line 17, sites 2 title: 'Ca\\tlf'; expected one line of text" in message
    assert "without a tab" in message
    path = tmp_path / "own.toml"
    path.write_text(SMALL.replace('title = "Calf"', '\ttitle\t=\t"Calf"'), encoding="utf-8")
    assert load_protocol(path).sites[1].title == "Calf"


def test_load_protocol_refuses_the_name_of_a_shipped_one(tmp_path: Path) -> None:
    message = message_of(tmp_path, SMALL.replace('"two-limbs"', '"seven-sites"'))
    assert "line 1, identifier: 'seven-sites', the name of a shipped protocol; expected a name" in message


def test_protocol_faults_as_records(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(SMALL.replace("trunk = false", "trunk = 0", 1), encoding="utf-8")
    assert protocol_faults(path) == (FileFault(11, "sites 1 trunk", "0", "true or false"),)


def test_find_protocol_of_a_teachers_file_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert find_protocol(str(path)) == load_protocol(path)
    with pytest.raises(TemplateError, match="cannot be read"):
        find_protocol(str(tmp_path / "other.toml"))


def log_protocol(bands: dict[str, tuple[str, str]]) -> str:
    """A protocol as a teacher would write it: an equation a band, `male 30 39` to constant and slope."""
    text = SMALL[: SMALL.index("[[equations]]")].replace('only = "female"', "")
    site = SMALL[SMALL.index("[[sites]]") : SMALL.index("[[sites]]", SMALL.index("[[sites]]") + 1)]
    text += "".join(site.replace('"triceps"', f'"{word}"') for word in ("biceps", "forearm"))
    for name, (constant, slope) in bands.items():
        sex, low, high = name.split()
        text += (
            f'[[equations]]\nidentifier = "{sex}-{low}"\nsex = "{sex}"\nform = "log10"\n'
            f"age_minimum = {low}\nage_maximum = {high}\nstandard_error_density = 0.01\n"
            f'standard_error_percent = 5\nsample = "Typed by a teacher"\nsource = "See the test"\n'
            f"[equations.coefficients]\nconstant = {constant}\nsum_log10 = {slope}\n\n"
        )
    return text + SMALL[SMALL.index("[[conversions]]") :]


def percent_of(protocol: Protocol, equation: Equation, sum_mm: float) -> float:
    """Per cent fat by what was loaded."""
    conversion = protocol.conversion(protocol.default_conversion)
    density = density_log10(sum_mm, **dict(equation.coefficients))
    return fat_percent(density, numerator=conversion.numerator, offset=conversion.offset)


def test_a_teachers_log_equation_that_is_not_shipped_gives_the_published_per_cent(tmp_path: Path) -> None:
    """Durnin & Rahaman 1967, from memory; printed to half a point."""
    typed = {row["equation"]: (row["constant"], row["sum_log10"]) for row in rows("durnin_rahaman_1967")}
    shipped = {
        each.coefficients for one in ALL for each in find_protocol(one).equations if each.form == "log10"
    }
    path = tmp_path / "own.toml"
    bands = {"male 16 39": typed["men"], "female 16 39": typed["women"]}
    bands |= {"male 12 15": typed["boys"], "female 13 15": typed["girls"]}
    path.write_text(log_protocol(bands), encoding="utf-8")
    protocol = load_protocol(path)
    assert not shipped & {equation.coefficients for equation in protocol.equations}
    for row in rows("durnin_rahaman_1967_percents"):
        percent = percent_of(protocol, protocol.equations[0], float(row["sum_mm"]))
        assert abs(percent - float(row["men"])) <= 0.25


def test_a_teachers_log_equation_typed_from_the_print_gives_the_printed_per_cent(tmp_path: Path) -> None:
    """Durnin & Womersley 1974, the bands of 40 to 49 years, within 0.3 points."""
    path = tmp_path / "own.toml"
    path.write_text(
        log_protocol({"male 40 49": ("1.1620", "-0.0700"), "female 40 49": ("1.1333", "-0.0612")}),
        encoding="utf-8",
    )
    protocol = load_protocol(path)
    for row in rows("durnin_womersley_1974"):
        for equation, column in zip(protocol.equations, ("men_40_49", "women_40_49"), strict=True):
            assert abs(percent_of(protocol, equation, float(row["sum_mm"])) - float(row[column])) <= 0.3


def test_shipped_protocol_in_spanish() -> None:
    protocol = in_language(find_protocol("seven-sites"), "es")
    assert protocol.title == "Siete sitios"
    assert [site.title for site in protocol.sites][:2] == ["Pectoral", "Axilar medio"]
    assert [site.word for site in protocol.sites][:2] == ["chest", "midaxillary"]


def test_shipped_protocol_in_english_is_the_very_same() -> None:
    protocol = find_protocol("four-sites")
    assert in_language(protocol, "en") == protocol


def test_protocol_that_is_in_spanish_already_stays() -> None:
    once = in_language(find_protocol("four-sites"), "es")
    assert in_language(once, "es") is once


def test_own_protocol_under_a_shipped_name_stays_as_it_is_written() -> None:
    own = replace(find_protocol("four-sites"), notes=())
    assert in_language(own, "es") is own


TWO = [{"word": "calf"}, {"word": "thigh"}]
SIRI = {"identifier": "siri", "numerator": 495, "offset": 450}
DENSITY = {"conversions": [SIRI], "default_conversion": "siri"}
COEFFICIENTS = {
    "quadratic": {"constant": 1.1, "sum_linear": -0.001, "sum_squared": 0.000002, "age": -0.0001},
    "log10": {"constant": 1.15, "sum_log10": -0.06},
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
    table = {"sites": TWO, "equations": list(equations), **keys}
    return [(fault.place, fault.found) for fault in sense_faults(table)]


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
            equation(coefficients={"constant": 1.15, "sum_log10": 0.06}), DENSITY,
            ("equations", 0, "coefficients", "sum_log10"),
            "0.06, which leads to a density of 1.26 g/ml and -58.4 % fat at a sum of 80 mm and 40 years",
        ),
        (
            equation("linear-percent", coefficients={"constant": 1.0, "sum_linear": -0.7}), {},
            ("equations", 0, "coefficients", "sum_linear"),
            "-0.7, which leads to -55 % fat at a sum of 80 mm and 40 years",
        ),
        # turning back, at 250 mm here
        (
            equation("quadratic", sum_maximum=260), DENSITY,
            ("equations", 0, "coefficients"),
            "a density that does not fall at a sum of 260 mm: the equation turns back at 250 mm",
        ),
        (
            equation("quadratic", sum_minimum=255), DENSITY,
            ("equations", 0, "coefficients"),
            "a density that does not fall at a sum of 255 mm: the equation turns back at 250 mm",
        ),
        (
            equation("quadratic", coefficients=BENT), DENSITY,
            ("equations", 0, "coefficients", "sum_squared"),
            "0.000005, which leads to a density that does not fall at a sum of 120 mm:"
            " the equation turns back at 100 mm",
        ),
        (
            equation("quadratic", coefficients={**COEFFICIENTS["quadratic"], "sum_linear": 0.001}), DENSITY,
            ("equations", 0, "coefficients", "sum_linear"),
            "0.001, which leads to a density of 1.19 g/ml and -34.4 % fat at a sum of 80 mm and 18 years",
        ),
        # ranges the wrong way round
        (equation(ages=(40, 18)), DENSITY, ("equations", 0, "age_maximum"), "18.0"),
        (equation(sum_minimum=90, sum_maximum=29), DENSITY, ("equations", 0, "sum_maximum"), "29.0"),
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
        (["calf"], "a letter first"),
        ("calf.inner", "a letter first"),
        ("wade", ""),
        ("a_b", ""),
    ],
)
def test_site_words_that_cannot_be_cell_names(word: Any, reason: str) -> None:
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


def test_a_site_word_that_is_no_text_has_no_fault_of_sense() -> None:
    assert faults_of(sites=[{"word": ["chest"], "trunk": False}]) == []


@pytest.mark.parametrize(
    "texts",
    [
        {"title": 5},
        {"sites": "none"},
        {"sites": {"triceps": {"cues": "One."}}},
        {"samples": {"women-three-sites": 1}},
    ],
)
def test_texts_of_the_wrong_kind_name_file_and_protocol(
    monkeypatch: pytest.MonkeyPatch, texts: dict[str, Any]
) -> None:
    monkeypatch.setattr(loading, "protocol_texts", lambda language: {"three-sites-women": texts})
    in_language.cache_clear()
    with pytest.raises(TemplateError, match=r"text/protocols\.es\.toml: three-sites-women"):
        in_language(find_protocol("three-sites-women"), "es")
    in_language.cache_clear()
