"""`sheetgen protocols`: what it lists, shows, and says of a teacher's file."""

import json
from pathlib import Path

import pytest

from sheetgen.store.templates import read_template
from tests.classes import only_line, run

EXAMPLE = read_template("protocol-example.toml")


def written(folder: Path, text: str) -> Path:
    """A teacher's file."""
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_list_names_every_protocol_on_a_line() -> None:
    result = run("protocols", "list")
    assert (result.exit_code, result.stderr) == (0, "")
    assert [line.split()[0] for line in result.stdout.splitlines()] == [
        "folds-only", "four-sites", "seven-sites", "three-sites-men", "three-sites-women", "youth-two-sites",
    ]  # fmt: skip


def test_list_as_json() -> None:
    listed = json.loads(run("protocols", "list", "--json").stdout)
    assert listed[1] == {
        "identifier": "four-sites",
        "title": "Four sites",
        "sites": ["biceps", "triceps", "subscapular", "suprailiac"],
        "ages": {"female": "16-68", "male": "17-72"},
    }


def test_show_prints_equations_with_source_sample_error_and_range() -> None:
    result = run("protocols", "show", "three-sites-men")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = [line.strip() for line in result.stdout.splitlines()]
    assert "men-three-sites (male, 18 to 61 years, sum 14 to 118 mm):" in lines
    assert "D = 1.10938 - 0.0008267 S + 0.0000016 S^2 - 0.0002574 A" in lines
    assert "Standard error: 0.0077 g/ml, about 3.4 points of per cent fat" in lines
    assert "Source: Jackson & Pollock 1978, Br J Nutr 40:497-504" in lines


def test_show_as_json_of_a_teachers_file(tmp_path: Path) -> None:
    shown = json.loads(run("protocols", "show", written(tmp_path, EXAMPLE), "--json").stdout)
    assert shown["identifier"] == "my-two-sites"
    assert shown["equations"][1]["coefficients"] == {"constant": 1.15, "sum_log10": -0.06}


def test_show_of_an_unknown_name() -> None:
    result = run("protocols", "show", "four-site")
    assert result.exit_code == 2
    assert only_line(result).endswith("Did you mean 'four-sites'?")


def test_check_of_a_file_without_faults(tmp_path: Path) -> None:
    path = written(tmp_path, EXAMPLE)
    result = run("protocols", "check", path)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == f"{path}: no faults; my-two-sites, 2 sites, 2 equations\n"
    assert run("protocols", "check", path, "--json").stdout == "[]\n"


def test_check_names_all_faults_with_their_lines(tmp_path: Path) -> None:
    broken = (
        EXAMPLE.replace('form = "log10"', 'form = "log"')
        .replace("sum_squared = 0.000002\n", "")
        .replace("sum_maximum = 90", "sum_maximum = 9")
        .replace('word = "front_forearm"', 'word = "abc1"')
        .replace('title = "Forearm"', 'title = "Fore\tarm"\ntitle = "Forearm"')
    )
    path = written(tmp_path, broken)
    result = run("protocols", "check", path)
    assert (result.exit_code, result.stdout) == (1, f"{path}: 6 faults\n")
    lines = broken.splitlines()
    # the line that begins so, and where in the protocol that is
    expected = [
        ('word = "abc1"', ": sites 2 word:"),
        ('title = "Fore\t', ": sites 2 title:"),
        ('title = "Forearm"', ":"),
        ("sum_maximum = 9", ": equations 1 sum_maximum:"),
        ("[equations.coefficients]", ": equations 1 coefficients sum_squared:"),
        ('form = "log"', ": equations 2 form:"),
    ]
    numbers = [next(n for n, line in enumerate(lines, 1) if line.startswith(start)) for start, _ in expected]
    assert [line.split(" found ")[0] for line in result.stderr.splitlines()] == [
        f"{path}:{number}{place}" for number, (_, place) in zip(numbers, expected, strict=True)
    ]


def test_check_as_json_leaves_the_line_open_where_there_is_none(tmp_path: Path) -> None:
    path = written(tmp_path, EXAMPLE.replace('title = "Two sites, my course"\n', ""))
    result = run("protocols", "check", path, "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout) == [
        {
            "file": str(path),
            "line": None,
            "place": "title",
            "found": "missing",
            "expected": "one line of text, 1 to 500 characters, without a tab",
        }
    ]


def test_check_of_an_enormous_file(tmp_path: Path) -> None:
    path = written(tmp_path, EXAMPLE + "#" * 200_000)
    result = run("protocols", "check", path)
    assert result.exit_code == 1
    assert result.stderr == f"{path}: found more than 200 kB; expected a protocol file of a few kB\n"


def test_check_of_no_file(tmp_path: Path) -> None:
    result = run("protocols", "check", tmp_path / "none.toml")
    assert result.exit_code == 2
    assert "it cannot be read" in only_line(result)


@pytest.mark.parametrize("arguments", [("list",), ("show",), ("check",), ()])
def test_help_has_an_example(arguments: tuple[str, ...]) -> None:
    result = run("protocols", *arguments, "--help")
    assert result.exit_code == 0
    assert "Example:\n" in result.stdout
    assert f"sheetgen protocols {' '.join(arguments)}" in result.stdout
