"""`sheetgen gradebook`: what it says, and that nothing is written without --write."""

import json
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.marking.marks import MarkRow
from sheetgen.report.tables import marks_table
from sheetgen.texts.templates import read_template
from tests.classes import built_class, only_line, run

MARKS = (
    MarkRow("S01", "Ada", "Fen", 17.5, 20.0, "final"),
    MarkRow("S02", "Bo", "Heath", 12.0, 20.0, "final"),
    MarkRow("S03", "Cy", "Moor", None, 20.0, "missing"),
    MarkRow("S04", "Di", "Wold", 6.0, 20.0, "to be marked"),
)
BOOK = b"ID,Skinfold\nPoints,100\nS01,\nS02,7\nS03,2\nX\x1b9,1\n"


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    made = built_class(tmp_path / "class")
    made.results(1).mkdir(parents=True)
    made.marks(1).write_text(marks_table(MARKS), encoding="utf-8")
    (tmp_path / "book.csv").write_bytes(BOOK)
    return made


def test_preview_lists_every_row_and_writes_nothing(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    result = run("gradebook", folder.root, book)
    assert result.stdout.splitlines() == [
        "key column: ID (student_id); score column: Skinfold",
        "matched: 3",
        "line 3: S01: would fill in: 17.5",
        "line 4: S02: would overwrite: 7 -> 12",
        "line 5: S03: left as it is (missing)",
        "in the file, not in the marks: line 2: Points",
        "in the file, not in the marks: line 6: X?9",
        "in the marks, not in the file: S04",
        f"{book}: 1 filled in, 1 overwritten, 0 as they were, 1 left, 2 rows without a mark, "
        "1 marks without a row",
        "Nothing was written. Add --write to do it.",
    ]
    assert result.stderr == (
        f"{book}: this column is out of 100, and the marks are out of 20: put in as they are; "
        "--scale puts them in out of that\n"
    )
    assert (result.exit_code, book.read_bytes(), (tmp_path / "book.csv.bak-1").exists()) == (0, BOOK, False)


def test_write(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    result = run("gradebook", folder.root, book, "--write")
    assert (result.exit_code, "line 4: S02: overwritten: 7 -> 12" in result.stdout.splitlines()) == (0, True)
    assert book.read_bytes() == b"ID,Skinfold\nPoints,100\nS01,17.5\nS02,12\nS03,2\nX\x1b9,1\n"
    assert (tmp_path / "book.csv.bak-1").read_bytes() == BOOK


def test_partial_and_key_and_column(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "own.csv"
    book.write_bytes(b"a,b,c\nS04,,S01\n")
    result = run("gradebook", folder.root, book, "--key", "a", "--column", "b", "--partial", "--write")
    assert (result.exit_code, book.read_bytes()) == (0, b"a,b,c\nS04,6,S01\n")


def test_no_column_fits(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "own.csv"
    book.write_bytes(b"id,quiz\nS01,\n")
    result = run("gradebook", folder.root, book, "--write")
    assert (result.exit_code, only_line(result)) == (
        2,
        f"sheetgen: {book}: no column whose heading names the class or the word skinfold; expected one of "
        "#1 'id', #2 'quiz'. Name it with --column, or make the assignment in the gradebook and export "
        "again.",
    )
    assert book.read_bytes() == b"id,quiz\nS01,\n"


def test_before_anything_was_read(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("gradebook", folder.root, tmp_path / "book.csv", "--session", "2")
    assert result.exit_code == 2
    assert only_line(result).endswith(f"Run `sheetgen read {folder.root} --session 2` first.")


def test_neither_file_nor_zip(folder: ClassFolder) -> None:
    result = run("gradebook", folder.root)
    assert (result.exit_code, result.stderr.splitlines()[-1]) == (
        2,
        "Error: Name the gradebook export, or --oneroster with the zip to write.",
    )


def test_oneroster_alone(folder: ClassFolder, tmp_path: Path) -> None:
    target = tmp_path / "out.zip"
    options = ("--oneroster", target, "--date", "2026-11-20", "--oneroster-ids", "c", "k", "p")
    result = run("gradebook", folder.root, *options)
    assert (result.exit_code, result.stderr, target.exists()) == (0, "", False)
    assert result.stdout.splitlines() == [
        f"{target}: would be written, OneRoster 1.1: "
        "2 fully graded, 0 partially graded, 1 submitted, 1 not submitted, 0 exempt",
        "Nothing was written. Add --write to do it.",
    ]
    assert run("gradebook", folder.root, *options, "--write").exit_code == 0
    assert target.read_bytes()[:2] == b"PK"


def test_oneroster_asks_for_the_class_and_guesses_none(folder: ClassFolder, tmp_path: Path) -> None:
    result = run("gradebook", folder.root, "--oneroster", tmp_path / "out.zip", "--write")
    assert (result.exit_code, (tmp_path / "out.zip").exists()) == (2, False)
    assert "found" not in only_line(result) and "--oneroster-ids" in only_line(result)


def test_oneroster_without_a_category_says_so(folder: ClassFolder, tmp_path: Path) -> None:
    options = ("--oneroster", tmp_path / "out.zip", "--oneroster-ids", "c", "", "")
    assert "found no category or grading period" in run("gradebook", folder.root, *options).stderr


@pytest.mark.parametrize(
    ("text", "options"),
    (("id,skinfold\n4411,\n", ()), ("id,skinfold\nS01,\n", ("--key", "skinfold", "--column", "id"))),
)
def test_nobody_matched_is_said_with_the_likely_reason(
    folder: ClassFolder, tmp_path: Path, text: str, options: tuple[str, ...]
) -> None:
    book = tmp_path / "own.csv"
    book.write_text(text, encoding="utf-8")
    result = run("gradebook", folder.root, book, *options, "--write")
    assert (result.exit_code, book.read_text(encoding="utf-8")) == (1, text)
    assert "ikely it h" in result.stderr


def test_scale_puts_scores_in_out_of_what_the_column_is_out_of(folder: ClassFolder, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    result = run("gradebook", folder.root, book, "--scale", "--write")
    assert (result.exit_code, book.read_bytes().splitlines()[2:4]) == (0, [b"S01,87.5", b"S02,60"])
    assert (
        result.stderr
        == f"{book}: this column is out of 100, and the marks are out of 20: put in out of 100\n"
    )


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
    assert (result.exit_code, result.stdout) == (1, f"{path}: 7 faults\n")
    lines = broken.splitlines()
    # the line that begins so, and where in the protocol that is
    expected = [
        ('word = "abc1"', ": sites 2 word:"),
        ('title = "Fore\t', ": sites 2 title:"),
        ('title = "Forearm"', ":"),
        ("sum_maximum = 9", ": equations 1 sum_maximum:"),
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
