"""What README, handbook and DEVELOPERS.md claim, checked by running it; or the test that shows it already:

| claim | shown by |
|---|---|
| every command of theirs is there, with help and an example | tests/test_startup.py::test_help_has_an_example_that_names_the_command |
| `sheetgen` alone says the steps | tests/cli/test_job.py::test_the_command_alone_says_the_five_steps |
| birth dates are never read | tests/roster/test_oneroster_people.py::test_birth_dates_are_never_opened |
| whoever is not said to be of age counts as under 18 | tests/sheet/test_student.py::test_who_counts_as_under_18 |
| they are paired among themselves | tests/class_book/test_pairing.py::test_people_under_18_are_paired_among_themselves |
| `build` stops where somebody counts as of age who did not | tests/commands/test_build.py::test_nobodys_protection_is_lowered_unless_the_teacher_says_so |
| a sheet changed by hand is never written over | tests/commands/test_build.py::test_a_sheet_changed_by_hand_is_never_rewritten_and_is_named |
| a print does not tell who only measures | tests/test_silent_practice.py::test_every_print_is_the_same_whoever_only_measures |
| 98 keys from paper to sheet, 9 more than the values | tests/office/test_typing.py::test_keys_to_fill_a_sheet_from_its_paper_form |
| of 50 slips 39 can be known, and all are pointed out | tests/office/test_typing.py::test_every_slip_that_a_sheet_can_know_is_pointed_out |
| zips in zips are read | tests/returned/test_incoming.py::test_folders_and_zips_in_zips_are_walked_in_order_of_name |
| the newest complete file counts | tests/returned/test_which_counts.py::test_a_complete_file_counts_before_a_newer_one_that_is_not |
| exit codes | tests/cli/test_job.py::test_exit_codes_of_read |
| a late file waits for the teacher | tests/test_late_files.py::test_after_the_due_date_a_file_waits_for_the_teacher |
| practice is marked like measuring | tests/marking/test_marking.py::test_practice_data_is_marked_the_same |
| one column changes, every other byte stays | tests/gradebook/test_filling.py::test_one_column_changes_and_every_other_byte_stays |
| missing is never 0 | tests/gradebook/test_filling.py::test_missing_exempt_and_unmarked_keep_what_stands_there |
| a student twice in the gradebook is named with the lines | tests/gradebook/test_filling.py::test_a_student_twice_in_the_file_is_refused_with_every_line |
| no figure of a site stands on fewer than five people | tests/statistics/test_precision.py::test_a_site_of_fewer_than_five_people_has_no_statistics |
| shifted readings and swapped rounds are found | tests/statistics/test_same_numbers.py::test_a_copy_shifted_by_one_constant_or_with_its_rounds_swapped_is_found |
| session 2: same pairs, same calipers | tests/test_second_session.py::test_the_same_pairs_have_the_same_calipers_filled_in |
| scores outlive their files | tests/commands/test_demo.py::test_forget_keeps_precision_and_scores_and_shows_them_again |
| imports go down only | tests/test_floors.py::test_imports_go_down_only |
| `--help` loads no heavy library | tests/test_startup.py::test_help_loads_no_heavy_library |
"""  # noqa: E501

import contextlib
import csv
import fnmatch
import io
import math
import os
import re
import shlex
import shutil
import zipfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from sheetgen.class_folder.folder import ClassFolder
from sheetgen.commands.demo import fill_sheets
from sheetgen.commands.read import ReadSummary
from sheetgen.protocols.loading import find_protocol, shipped_protocols
from sheetgen.texts.templates import templates_folder
from tests.classes import run

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = {
    path.stem: path.read_text(encoding="utf-8") for path in (ROOT / "templates" / "handbook").glob("*.md")
}
FIRST, LAST = "sheetgen new evening-class", "sheetgen forget"


def blocks(text: str) -> list[tuple[str, list[str]]]:
    """Each command shown with `$`, and the lines shown below it."""
    found: list[tuple[str, list[str]]] = []
    inside = 0
    for line in text.splitlines():
        indent = len(line) - len(line.lstrip())
        if line.lstrip().startswith("$ sheetgen"):
            inside = indent
            found.append((line.strip()[2:], []))
        elif inside and line.strip() and indent >= inside:
            found[-1][1].append(line[inside:])
        else:
            inside = 0
    return found


SHOWN = [
    (place, command, lines)
    for place, text in (("README", README), *sorted(PAGES.items()))
    for command, lines in blocks(text)
]


@pytest.fixture(scope="module")
def said(demo: ReadSummary, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """What each command shown says, run in the order of the README on a class that is invented. The first
    session of the sample class is the one that was made for other tests."""

    def made(root: Path) -> ReadSummary:
        shutil.copytree(Path(demo.results).parents[1], root)
        return demo

    desk = tmp_path_factory.mktemp("desk")
    shutil.copyfile(templates_folder() / "demo" / "roster.csv", desk / "roster.csv")
    rows = [f"L{number:02},{12 if number == 2 else ''}," for number in range(1, 25)]
    export = ['ID,"Folds, lab 1",Skinfold lab', *rows]
    (desk / "export.csv").write_text("\n".join([*export, ""]), encoding="utf-8")
    before = Path.cwd()
    os.chdir(desk)
    outputs: dict[str, str] = {}
    try:
        for command in sorted((each[1] for each in SHOWN), key=lambda text: text.startswith(LAST)):
            if command.startswith("sheetgen read"):
                folder = ClassFolder(Path("evening-class"))
                fill_sheets(folder, 1)
                shutil.move(folder.returned(1), "downloads")
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr("sheetgen.commands.demo.run_demo", made)
                outputs[command] = run(*shlex.split(command)[1:]).output
            if command.startswith("sheetgen read"):
                shutil.copytree("evening-class", "read-class")
        yield outputs
    finally:
        os.chdir(before)


@pytest.mark.parametrize(("place", "command", "lines"), SHOWN)
def test_output_shown_is_real(said: dict[str, str], place: str, command: str, lines: list[str]) -> None:
    """`...` stands for lines left out."""
    output = said[command].splitlines()
    left = iter(output)
    missing = [line for line in lines if line != "..." and not any(line == real for real in left)]
    assert missing == [], said[command]
    if lines and "..." not in lines:
        assert lines == output
    assert "sheetgen: " not in said[command]


def test_readme_is_short_and_shows_one_picture() -> None:
    assert len(README.split()) <= 1200
    assert README.count("![") == 1


def test_every_file_that_is_linked_is_there() -> None:
    pages = [(ROOT, README), *((ROOT / "templates" / "handbook", text) for text in PAGES.values())]
    links = [(base, link) for base, text in pages for link in re.findall(r"\]\(([^)]+)\)", text)]
    assert len(links) > 8
    assert [link for base, link in links if not (base / link).exists()] == []
    named = re.findall(r"`((?:samples|tests)/[\w./-]+)`", README.replace("\\", "/"))
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_readme_names_every_page_of_the_handbook() -> None:
    pages = [name for name in PAGES if not name.startswith("read-me-first")]
    assert [name for name in pages if f"`{name}`" not in README] == []


def test_slips_of_typing_are_those_counted_at_the_spreadsheet_program() -> None:
    counted = (ROOT / "tests" / "office" / "test_typing.py").read_text(encoding="utf-8")
    page = " ".join(PAGES["handing-out"].split())
    known = re.findall(r"the sheet can know (\d+), and points out all (\d+)", page)
    assert [f"knowable {first}, pointed out {second}" in counted for first, second in known] == [True]


def test_every_test_that_the_table_names_is_there() -> None:
    named = re.findall(r"\| (tests/\S+\.py)::(\w+) \|", str(__doc__))
    assert len(named) > 20
    assert [
        name for file, name in named if f"def {name}(" not in (ROOT / file).read_text(encoding="utf-8")
    ] == []


def rows_of(text: str, columns: int) -> list[list[str]]:
    """The rows of the tables of a page that have so many columns, headings left out."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line[:1] == "|"
    ]
    return [row for row in rows if len(row) == columns and "---" not in row[0] and "`" in "".join(row)]


def contents(data: bytes) -> str:
    """Every text in a file, packed ones too; of a zip also the names in it."""
    if not zipfile.is_zipfile(io.BytesIO(data)):
        return data.decode("utf-8", errors="replace")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return "\n".join(
            [*archive.namelist(), *(contents(archive.read(name)) for name in archive.namelist())]
        )


def test_privacy_lists_every_file_with_names_and_with_body_values(said: dict[str, str]) -> None:
    """Names: of people and addresses, as words. Body values: density and per cent fat with all digits."""
    root = Path("read-class")
    with (templates_folder() / "demo" / "roster.csv").open(encoding="utf-8", newline="") as stream:
        people = list(csv.DictReader(stream))
    words = {person[name] for person in people for name in ("given_name", "family_name", "email")}
    with ClassFolder(root).attempts(1).open(encoding="utf-8", newline="") as stream:
        attempts = list(csv.DictReader(stream))
    values = {one[name][:9] for one in attempts for name in ("density_g_ml", "fat_percent") if one[name]}
    assert len(values) > 20
    table = [(re.findall(r"`([^`]+)`", row[0]), row[2], row[3]) for row in rows_of(PAGES["privacy"], 4)]
    anybody = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, sorted(words)))})(?!\w)")
    wrong = []
    for path in sorted(path for path in root.rglob("*") if path.is_file()):
        name, text = path.relative_to(root).as_posix(), contents(path.read_bytes())
        named, bodies = next(
            (named, bodies)
            for patterns, named, bodies in table
            if any(fnmatch.fnmatch(name, pattern) for pattern in patterns)
        )
        found = any(word in text for word in words) and anybody.search(text) is not None
        if named in ("yes", "no") and found != (named == "yes"):
            wrong.append(f"{name}: names {named}")
        if bodies.startswith("no") and any(value in text for value in values):
            wrong.append(f"{name}: body values {bodies}")
    assert wrong == []


def test_the_pandas_example_runs(said: dict[str, str]) -> None:
    page = PAGES["report"]
    code = page[page.index("    import pandas") : page.index("The column `counts`")]
    printed = io.StringIO()
    shutil.copytree("read-class", "evening-class", dirs_exist_ok=True)
    with contextlib.redirect_stdout(printed):
        exec("\n".join(line[4:] for line in code.splitlines()), {})
    assert "thigh" in printed.getvalue()


def test_readings_that_count_give_the_error_of_the_table(said: dict[str, str]) -> None:
    """TEM = sqrt(sum of squared differences / 2n): Dahlberg 1940."""
    folder = ClassFolder(Path("read-class"))
    pairs: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    with folder.readings(1).open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if row["counts"] == "yes":
                pairs[row["site"]][row["copy_code"]].append(float(row["reading_mm"]))
    with folder.precision(1).open(encoding="utf-8", newline="") as stream:
        table = {row["site"]: float(row["tem_mm"]) for row in csv.DictReader(stream) if row["tem_mm"]}
    assert len(table) == 7
    for site, error in table.items():
        squares = [(first - second) ** 2 for first, second in pairs[site].values()]
        assert math.sqrt(sum(squares) / (2 * len(squares))) == pytest.approx(error, abs=1e-9), site


def test_equations_of_the_page_have_the_coefficients_of_the_protocols() -> None:
    shipped = {
        digits
        for name in shipped_protocols()
        for equation in find_protocol(name).equations
        for digits in equation.digits
    }
    formulas = [
        row[1]
        for row in (line.split("|")[1:] for line in PAGES["what-is-computed"].splitlines())
        if len(row) == 7
    ]
    numbers = [number for text in formulas for number in re.findall(r"\d+\.\d+", text)]
    assert len(numbers) > 30
    assert [number for number in numbers if number not in shipped] == []


def test_every_source_of_a_shipped_protocol_is_on_the_page() -> None:
    equations = [equation for name in shipped_protocols() for equation in find_protocol(name).equations]
    sources = {found[0] for each in equations if (found := re.search(r"^(\w+).*?(\d{4})", each.source))}
    assert len(sources) >= 4
    told = {(match[1], match[2]) for source in sources if (match := re.search(r"^(\w+).*?(\d{4})", source))}
    lines = PAGES["what-is-computed"].splitlines()
    assert [one for one in told if not any(one[0] in line and one[1] in line for line in lines)] == []


def test_files_ready_to_open_are_those_of_the_demo(said: dict[str, str]) -> None:
    """Made by `python samples/ready_files.py`; compared part by part: compression differs by machine."""
    folder = ClassFolder(Path("samples/demo-class"))
    (sheet,) = folder.returned(1).glob("L01_*.xlsx")
    ready = {"filled-sheet.xlsx": sheet, "report.xlsx": folder.report(1)}
    assert sum((ROOT / "samples" / name).stat().st_size for name in ready) < 300_000
    for name, made in ready.items():
        assert parts(made) == parts(ROOT / "samples" / name), f"{name}: run python samples/ready_files.py"


def parts(path: Path) -> dict[str, bytes]:
    """The parts of a package; the folder's name, which is the class's title, is left out."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).replace(b"demo-class", b"class") for name in archive.namelist()}
