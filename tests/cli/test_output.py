"""What commands print: one safe line a finding, and no body value."""

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from sheetgen.class_book.book import RosterChange
from sheetgen.class_folder.records import ClassBook, Pairing, Person
from sheetgen.cli import output
from sheetgen.commands.read import ReadSummary
from sheetgen.finding import Finding, Values, measured, quoted, typed, written
from sheetgen.returned.attempt import Attempt
from sheetgen.returned.came_back import Awaited, Unusable
from tests.report.invented import record
from tests.sheets import SETTINGS


def attempt(
    *findings: Finding, file: str = "s.xlsx", sha256: str = "ab", status: str = "accepted"
) -> Attempt:
    return Attempt(file, sha256, status, None, "seven-sites", {}, None, findings)


EMPTY = Finding("file-empty", severity="error")
EMPTY_LINE = (
    'error file-empty: found a file of 0 bytes; expected a workbook saved as .xlsx. Answer the student: "Your'
)
# finding, how its line begins
LINES = (
    (EMPTY, f"s.xlsx: {EMPTY_LINE}"),
    (
        Finding("sheet-tab-missing", {"title": quoted("Sites")}, "Sites", severity="error"),
        "s.xlsx:Sites: error sheet-tab-missing: found no tab with its labels; expected the tab 'Sites'. Ask ",
    ),
    (
        Finding("entry-missing", {"name": "age_years"}, "Start", "B7", severity="warning"),
        "s.xlsx:Start!B7: warning entry-missing: found nothing; expected age of the person measured. ",
    ),
)


@pytest.mark.parametrize(("one", "line"), LINES)
def test_a_finding_is_one_line_with_place_found_expected_and_remedy(one: Finding, line: str) -> None:
    (told,) = output.finding_lines(attempt(one), "en")
    assert told.startswith(line)


def test_a_finding_is_told_in_the_language_of_the_class() -> None:
    (told,) = output.finding_lines(attempt(LINES[2][0]), "es")
    assert "found nada; expected edad de la persona medida. Preguntar al estudiante " in told


def test_a_finding_that_nobody_can_act_on_is_in_the_json_alone(capsys: pytest.CaptureFixture[str]) -> None:
    one = attempt(Finding("sheet-structure-open", severity="note"))
    assert output.finding_lines(one, "en") == []
    output.print_read(summary(attempts=(one,), passed_over=0), HERE, 1)
    assert "Besides" not in capsys.readouterr().out
    output.print_attempts_json([(one, "en")])
    (told,) = json.loads(capsys.readouterr().out)
    assert [finding["code"] for finding in told["findings"]] == ["sheet-structure-open"]


def test_what_the_review_cannot_use_is_said_once_a_row_by_its_tab_without_a_code(
    capsys: pytest.CaptureFixture[str],
) -> None:
    values: Values = {"about": "S01", "value": typed("x", 40), "wanted": quoted("yes")}
    once = Finding("class-review-value", {**values, "about": "S02"}, "Observed", case="observed")
    twice = Finding("class-review-value", values, "Observed", case="observed")
    output.print_notes([twice, once, twice], "en")
    told = capsys.readouterr().err.splitlines()
    assert [line.partition(";")[0] for line in told] == [
        "review, Observed: found S01: observed ... (2 times)",
        "review, Observed: found S02: observed ...",
    ]


# code, values, case, found and expected as shown
SHOWN = (
    ("sheet-result-differs", {"name": "density_g_ml", "stored": typed(1.0543), "result": typed(1.0612)}, "",
     "density_g_ml ...", "..."),
    ("sheet-formula-replaced", {"value": typed("17.5"), "formula": "=Calculator!$B$107"}, "",
     "the value ...", "=Calculator!$B$107"),
    ("sheet-formula-changed", {"found": written("=B9*1.05"), "formula": "=B9"}, "", "...", "=B9"),
    ("sheet-content-added", {"content": typed("61,5")}, "", "...", "an empty cell"),
    ("entry-number-as-text", {"typed": typed("61,5 kg"), "name": "mass_kg"}, "",
     "...", "a number for body mass"),
    ("entry-out-of-range", {"typed": measured(612), "low": 20.0, "high": 300.0}, "",
     "...", "a number from 20 to 300"),
    ("entry-off-scale", {"reading": measured(12.3), "division": 0.5}, "", "... mm", "steps of 0.5 mm"),
    ("entry-corrected", {"before": measured(61.0), "value": written("16"), "reason": written("misread")},
     "reason", "...", "... (...)"),
    ("procedure-zero-differs", {"zero": measured(0.5), "registered": 0.0}, "",
     "... mm", "0 mm as registered"),
    ("sheet-names-lost", {"name": "sum_mm"}, "", "the name sum_mm is missing", "all names kept"),
)  # fmt: skip


@pytest.mark.parametrize(("code", "values", "case", "found", "expected"), SHOWN)
def test_what_is_measured_or_typed_is_not_shown(
    code: str, values: Values, case: str, found: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    one = attempt(Finding(code, values, "Results", "B5", case, "error"))
    (line,) = output.finding_lines(one, "en")
    assert f": found {found}; expected {expected}. " in line
    output.print_attempts_json([(one, "en")])
    (told,) = json.loads(capsys.readouterr().out)
    assert (told["findings"][0]["found"], told["findings"][0]["expected"]) == (found, expected)


def test_status_line_counts_what_there_is_of_every_status() -> None:
    attempts = [attempt(status=status) for status in ("accepted", "accepted", "refused", "review")]
    assert output.status_line(attempts) == "2 count, 1 for you to decide, 1 cannot be used"


def test_a_file_with_the_bytes_of_another_names_it() -> None:
    attempts = [attempt(file="a"), attempt(file="b", status="superseded"), attempt(file="c", sha256="cd")]
    (line,) = output.same_bytes_lines(attempts)
    assert line.startswith("b: found the same bytes as in a; expected one file a sheet.")


def test_a_file_that_gave_way_to_a_newer_one_says_which_and_why() -> None:
    older = attempt(Finding("identity-newer-counts", {"file": "b.xlsx"}, case="complete"))
    assert output.newer_lines([older, attempt()], "en") == [
        "s.xlsx: superseded: b.xlsx counts: it is complete, and this one is not."
    ]


def test_what_is_verbose_is_printed_on_stderr(capsys: pytest.CaptureFixture[str]) -> None:
    output.print_verbose([attempt(EMPTY)], "en")
    said = capsys.readouterr()
    assert (said.out, said.err[: len(EMPTY_LINE) + 8]) == ("", f"s.xlsx: {EMPTY_LINE}")


def test_what_is_missing_in_a_file_that_gave_way_to_another_is_not_asked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    both = attempt(EMPTY, Finding("entry-missing", {"name": "side"}, severity="warning"), status="superseded")
    output.print_verbose([both], "en")
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"s.xlsx: {EMPTY_LINE}")


def test_no_progress_is_shown_where_stderr_is_piped() -> None:
    assert output.progress_line() is None


def test_progress_is_one_line_of_a_terminal_from_the_second_second_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    clock = iter((10.0, 10.9, 11.0, 12.5))
    monkeypatch.setattr(output, "monotonic", lambda: next(clock))
    show = output.progress_line()
    assert show is not None
    show(1, 3)
    show(2, 3)
    show(3, 3)
    assert capsys.readouterr().err == "\r2 of 3 files\r3 of 3 files\n"


def test_a_trouble_is_told_on_stderr_safe_for_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    output.tell("one\x1b[31m\ntwo")
    assert capsys.readouterr() == ("", "one?[31m\ntwo\n")


def test_a_newer_roster_is_told_person_by_person(capsys: pytest.CaptureFixture[str]) -> None:
    people = (
        Person("S01", "Ada", "Fen"),
        Person("S02", "Bo", "Heath", status="left"),
        Person("S03", "Cy", "Moor"),
        Person("T1", "Kit", "Lamp", role="teacher"),
    )
    pair = Pairing("S01", "S02", "C1")
    change = RosterChange(
        book=ClassBook("7H33NK", "evening", SETTINGS, people, (Pairing("S03", "S01", "C1"),)),
        joined=("S03",),
        left=("S02",),
        back=("S01",),
        changed=(("S01", "email", "", "ada@lighthouse.example"), ("S01", "group", "a", "b")),
        only_here=("S03",),
        absent=("S01",),
        unpaired=(pair,),
        doubts=("S01",),
        demonstration="S02",
        paired=(Pairing("S03", "S01", "C1"),),
    )
    output.print_roster_change(change)
    said = capsys.readouterr()
    assert said.out.splitlines() == [
        "1 joined, 1 left, 1 changed",
        "joined: S03 Cy Moor",
        "left: S02 Bo Heath",
        "back: S01 Ada Fen",
        "changed: S01 email: nothing, now ada@lighthouse.example",
        "changed: S01 group: a, now b",
        "pair taken out: S01 measured S02",
        "pair made: S03 measures S01",
        "measured by everybody until now: S02",
        "in the class book only: S03 Cy Moor",
    ]
    assert [line.partition(":")[0] for line in said.err.splitlines()] == [
        "S01", "S01", "S01 measures nobody yet. Type whom on the tab Pairs, then build.",
    ]  # fmt: skip


HERE = Path("class")


def summary(**changed: Any) -> ReadSummary:
    named = replace(record(1), student_id="L19")
    pdf = Finding("file-pdf", severity="error")
    came = Unusable("mine.pdf", pdf, "L20")
    missing = (Awaited(named, ()), Awaited(replace(named, student_id="L20"), (came,)))
    made = ReadSummary(
        (attempt(), attempt(status="review")), missing, 2, "results", message="missing.txt",
        unusable=(came, Unusable("notes.pdf", pdf, "")), answers=75, decisions=1, review="review.xlsx",
    )  # fmt: skip
    return replace(made, **changed)


def test_read_says_numbers_missing_talk_and_what_to_do_next(capsys: pytest.CaptureFixture[str]) -> None:
    output.print_read(summary(talk=("L02, thigh: rounds 1 and 2 are 4 mm apart.",)), HERE, 2)
    said = capsys.readouterr()
    assert said.err.splitlines() == ["Talk to:", "  L02, thigh: rounds 1 and 2 are 4 mm apart."]
    assert said.out.splitlines() == [
        "2 files came back: 1 count, 1 for you to decide",
        "Missing (2): L19, L20 (cannot be used)",
        "A message to each of them, ready to paste: missing.txt",
        "Whose may this be? notes.pdf",
        "Besides: 2 side-files and documents in nobody's place passed over (--verbose lists them)",
        "Waits for you: 75 answers to be marked, 1 file to decide on",
        "Report, marks and feedback: results",
        "Next: open review.xlsx, give points or decide, save, then: sheetgen read class --session 2",
    ]


def test_read_of_a_class_of_thirty_takes_fifteen_lines(capsys: pytest.CaptureFixture[str]) -> None:
    everybody = summary(talk=tuple(f"L{number:02}: look." for number in range(30)))
    everybody = replace(everybody, missing=everybody.missing * 15)
    output.print_read(everybody, HERE, 1)
    said = capsys.readouterr()
    assert len([*said.out.splitlines(), *said.err.splitlines()]) == 15
    assert said.err.splitlines()[-1] == "  and 25 more: the tab Today of the report"
    assert said.out.splitlines()[1].endswith(" and 18 more")


def test_read_where_nothing_waits_sends_to_the_report(capsys: pytest.CaptureFixture[str]) -> None:
    output.print_read(summary(answers=0, decisions=0), HERE, 1)
    assert capsys.readouterr().out.splitlines()[-1] == "Next: open report.xlsx, the tab Today."
