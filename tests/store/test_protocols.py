import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from sheetgen.errors import TemplateError, UsageError
from sheetgen.store.protocols import find_protocol, load_protocol, shipped_protocols
from sheetgen.store.templates import read_template
from tests.reference_values import rows

COEFFICIENTS = ("constant", "sum_linear", "sum_squared", "age")
SHIPPED = read_template("protocols/seven-sites.toml")

SMALL = """\
identifier = "two-limbs"
title = "Two limbs"
standard = "Follows one description."
default_conversion = "siri"
notes = ["A note."]

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


def second_equation(sex: str, ages: str) -> str:
    """Return the small protocol with another equation for a sex and ages such as `41 60`."""
    block = SMALL[SMALL.index("[[equations]]") : SMALL.index("[[conversions]]")]
    low, high = ages.split()
    changed = block.replace('"invented"', '"other"').replace('"female"', f'"{sex}"')
    changed = changed.replace("minimum = 18", f"minimum = {low}").replace("maximum = 40", f"maximum = {high}")
    return SMALL + "\n" + changed


def test_shipped_protocols_are_named_after_their_files() -> None:
    assert shipped_protocols() == ("seven-sites",)
    assert [find_protocol(identifier).identifier for identifier in shipped_protocols()] == ["seven-sites"]


def test_seven_sites_stand_in_circuit_order_with_their_directions() -> None:
    """Common practice."""
    sites = find_protocol("seven-sites").sites
    assert [(site.word, site.direction) for site in sites] == [
        (row["site"], row["direction"]) for row in rows("fold_directions")
    ]
    assert [site.word for site in sites if not site.trunk] == ["triceps", "thigh"]
    assert all(2 <= len(site.cues) <= 4 for site in sites)


def test_seven_sites_coefficients_are_the_published_ones_to_the_last_digit() -> None:
    """Compared as decimal text, before anything becomes binary."""
    table = tomllib.loads(SHIPPED, parse_float=Decimal)
    published = {row["equation"]: row for row in rows("equations")}
    assert {
        equation["identifier"]: {name: equation["coefficients"][name] for name in COEFFICIENTS}
        for equation in table["equations"]
    } == {
        identifier: {name: Decimal(published[identifier][name]) for name in COEFFICIENTS}
        for identifier in ("men-seven-sites", "women-seven-sites")
    }


def test_seven_sites_equations_are_loaded_as_published() -> None:
    published = {row["equation"]: row for row in rows("equations")}
    protocol = find_protocol("seven-sites")
    assert [(equation.identifier, equation.sex) for equation in protocol.equations] == [
        ("men-seven-sites", "male"),
        ("women-seven-sites", "female"),
    ]
    for equation in protocol.equations:
        row = published[equation.identifier]
        assert equation.form == "quadratic"
        assert equation.coefficients == tuple((name, float(row[name])) for name in COEFFICIENTS)
        for name in ("age_minimum", "age_maximum", "sum_minimum", "sum_maximum"):
            assert getattr(equation, name) == float(row[name])
        for name in ("standard_error_density", "standard_error_percent"):
            assert getattr(equation, name) == float(row[name])
        assert equation.sample.startswith(
            f"{row['sample_size']} {'men' if equation.sex == 'male' else 'women'}"
        )
        assert row["sites"].split() == [site.word for site in protocol.sites]


def test_seven_sites_conversions_are_the_published_ones() -> None:
    protocol = find_protocol("seven-sites")
    assert [(each.identifier, each.numerator, each.offset) for each in protocol.conversions] == [
        (row["conversion"], float(row["numerator"]), float(row["offset"])) for row in rows("conversions")
    ]
    assert protocol.default_conversion == "siri"


def test_seven_sites_hold_none_of_the_misprints() -> None:
    protocol = find_protocol("seven-sites")
    shipped = {
        (each.identifier, name): value for each in protocol.equations for name, value in each.coefficients
    }
    shipped |= {(each.identifier, "offset"): each.offset for each in protocol.conversions}
    misprints = [row for row in rows("misprints") if (row["equation"], row["coefficient"]) in shipped]
    assert [(row["equation"], row["coefficient"]) for row in misprints] == [
        ("men-seven-sites", "age"),
        ("women-seven-sites", "sum_squared"),
        ("brozek", "offset"),
    ]
    for row in misprints:
        assert shipped[row["equation"], row["coefficient"]] == float(row["right"])
        assert float(row["right"]) != float(row["misprint"])


def test_seven_sites_sum_ranges_end_below_the_vertex() -> None:
    vertices = {row["equation"]: float(row["sum_mm"]) for row in rows("vertices")}
    for equation in find_protocol("seven-sites").equations:
        assert equation.sum_maximum is not None
        assert equation.sum_maximum < 0.7 * vertices[equation.identifier]


@pytest.mark.parametrize(
    ("identifier", "remedy"),
    [
        ("seven-site", "Did you mean 'seven-sites'?"),
        ("zzz", "Choose one of these, or give the path of a file."),
        ("../protocols/seven-sites", "Did you mean 'seven-sites'?"),
        ("", "Choose one of these, or give the path of a file."),
    ],
)
def test_find_protocol_of_an_unknown_name(identifier: str, remedy: str) -> None:
    with pytest.raises(UsageError) as refusal:
        find_protocol(identifier)
    assert refusal.value.found == f"no protocol '{identifier}'"
    assert refusal.value.expected == "seven-sites"
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
        ("sum_linear = -0.001", "sum_linear = 1" + "0" * 400, "coefficients sum_linear: 1000"),
        ("standard_error_percent = 3.5", "standard_error_percent = 0", "0; expected a number above 0"),
        ("age_minimum = 18", "age_minimum = -1", "-1; expected a number of at least 0"),
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
        ("age_maximum = 40", "age_maximum = 40\nsum_maximum = 250", "does not fall at a sum of 250.0 mm"),
        (
            "sum_linear = -0.001",
            "sum_linear = 0.001",
            "line 37, equations 1 coefficients: a density that does not",
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
    block = "\n\n".join(part for part in SMALL.split("\n\n") if part.startswith((f"[[{key}", f"[{key}.")))
    message = message_of(tmp_path, SMALL + "\n" + block)
    assert message.count("a second time") == count


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("", "8 faults"),
        ("sites = 1", "sites: 1; expected 1 to 30 tables"),
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
        ('identifier = "a"\nidentifier = "b"\n', "protocol.toml:2: not TOML"),
        ('identifier = "a"\ntitle = \n', "protocol.toml:2: not TOML"),
        ('identifier = "a"\n[sites\n', "protocol.toml:2: not TOML"),
        ('identifier = "a"\ntitle = """b\n\n', "protocol.toml:4: not TOML"),
        ("a = " + "[" * 5000, "protocol.toml: not TOML"),
        ("a = " + "9" * 5000, "protocol.toml: not TOML"),
        ('identifier = "a"\ntitle = "caf\xe9"\n'.encode("latin-1"), "protocol.toml:2: byte 30 is not UTF-8"),
        (b"\x00\x01", "protocol.toml:1: not TOML"),
        (b"#" * 200_001, "protocol.toml: more than 200 kB"),
    ],
)
def test_load_protocol_of_a_file_that_cannot_be_read(
    tmp_path: Path, content: str | bytes, place: str
) -> None:
    assert message_of(tmp_path, content).startswith(place)


def test_load_protocol_of_just_200_kb_is_read(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(SMALL.encode() + b"#" * (200_000 - len(SMALL)))
    assert load_protocol(path).identifier == "two-limbs"


@pytest.mark.parametrize("name", ["nothing.toml", "."])
def test_load_protocol_of_no_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(TemplateError, match="cannot be read"):
        load_protocol(tmp_path / name)
