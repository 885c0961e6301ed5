"""What commands print: one safe line a finding, and no body value."""

import json

import pytest

from sheetgen.checking.roster_update import RosterChange
from sheetgen.cli import output
from sheetgen.model.attempt import Attempt
from sheetgen.model.finding import Finding
from sheetgen.model.settings import ClassBook, Pairing, Person
from tests.sheets import SETTINGS


def attempt(
    *findings: Finding, file: str = "s.xlsx", sha256: str = "ab", status: str = "accepted"
) -> Attempt:
    return Attempt(file, sha256, status, None, "seven-sites", {}, None, findings)


def finding(
    code: str, found: str, expected: str, tab: str = "", cell: str = "", severity: str = "error"
) -> Finding:
    return Finding(code, severity, found, expected, "Ask.", tab, cell)


# finding, line
LINES = (
    (
        finding("file-empty", "a file of 0 bytes", "a workbook"),
        "s.xlsx: error file-empty: found a file of 0 bytes; expected a workbook. Ask.",
    ),
    (
        finding("sheet-tab-missing", "none", "one", "Sites"),
        "s.xlsx:Sites: error sheet-tab-missing: found none; expected one. Ask.",
    ),
    (
        finding("entry-off-scale", "12.3 mm", "steps of 0.5 mm", "Readings", "B7"),
        "s.xlsx:Readings!B7: error entry-off-scale: found 12.3 mm; expected steps of 0.5 mm. Ask.",
    ),
)


@pytest.mark.parametrize(("one", "line"), LINES)
def test_a_finding_is_one_line_with_place_found_expected_and_remedy(one: Finding, line: str) -> None:
    assert output.finding_lines(attempt(one)) == [line]


def test_only_findings_of_the_severities_asked_for() -> None:
    both = attempt(finding("a-b", "x", "y"), finding("c-d", "x", "y", severity="note"))
    assert len(output.finding_lines(both)) == 2
    assert [line.split()[1] for line in output.finding_lines(both, ("note",))] == ["note"]


# code, found, expected, as shown
MASKED = (
    ("sheet-result-differs", "density_g_ml 1.0543", "1.0612", "density_g_ml ...", "..."),
    ("sheet-result-differs", "sum_mm -1.5e-07", "''", "sum_mm ...", "''"),
    (
        "sheet-formula-replaced",
        "the value '17.5'",
        "=Calculator!$B$107",
        "the value '...'",
        "=Calculator!$B$107",
    ),
    ("sheet-formula-changed", "=B9*1.05", "=B9", "=B9*...", "=B9"),
    ("sheet-content-added", "'61,5'", "an empty cell", "'...'", "an empty cell"),
    ("entry-number-as-text", "'61,5 kg'", "a number for mass_kg", "'... kg'", "a number for mass_kg"),
    ("entry-out-of-range", "612", "a number from 20 to 300", "...", "a number from 20 to 300"),
    (
        "entry-number-as-text",
        "'12,5'",
        "a number for reading_1_chest",
        "'12,5'",
        "a number for reading_1_chest",
    ),
    ("procedure-zero-differs", "0.5 mm", "0 mm as registered", "0.5 mm", "0 mm as registered"),
    ("sheet-names-lost", "3 names missing", "all names kept", "3 names missing", "all names kept"),
)


@pytest.mark.parametrize(("code", "found", "expected", "shown", "shown_expected"), MASKED)
def test_numbers_of_a_body_are_not_shown(
    code: str, found: str, expected: str, shown: str, shown_expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    one = attempt(finding(code, found, expected, "Results", "B5"))
    (line,) = output.finding_lines(one)
    assert f": found {shown}; expected {shown_expected}. Ask." in line
    output.print_attempts_json([one])
    (told,) = json.loads(capsys.readouterr().out)
    assert (told["findings"][0]["found"], told["findings"][0]["expected"]) == (shown, shown_expected)


def test_a_changed_identity_is_told_once() -> None:
    tabs = ("Start", "Readings", "Results")
    found = [finding("identity-changed", "'S02'", "'S01'", tab, "B1") for tab in tabs]
    (line,) = output.finding_lines(attempt(*found))
    assert line.startswith(
        "s.xlsx:Start!B1: error identity-changed: found 'S02' and 2 more places; expected 'S01'."
    )


def test_status_line_counts_every_status() -> None:
    attempts = [attempt(status=status) for status in ("accepted", "accepted", "refused", "review")]
    assert output.status_line(attempts) == "2 accepted, 1 for review, 1 refused, 0 superseded"


def test_a_file_with_the_bytes_of_another_names_it() -> None:
    attempts = [attempt(file="a"), attempt(file="b", status="superseded"), attempt(file="c", sha256="cd")]
    (line,) = output.same_bytes_lines(attempts)
    assert line.startswith("b: found the same bytes as in a; expected one file a sheet.")


def test_a_file_that_gave_way_to_a_newer_one_says_which_and_why() -> None:
    older = attempt(finding("identity-newer-counts", "b.xlsx counts: it is complete", "one file a copy"))
    assert output.newer_lines([older, attempt()]) == ["s.xlsx: superseded: b.xlsx counts: it is complete."]


def test_findings_are_printed_on_stderr(capsys: pytest.CaptureFixture[str]) -> None:
    output.print_findings([attempt(finding("file-empty", "x", "y"))], ("error",))
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "s.xlsx: error file-empty: found x; expected y. Ask.\n")


def test_what_is_missing_in_a_file_that_gave_way_to_another_is_not_asked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    both = (finding("file-empty", "x", "y"), finding("entry-missing", "x", "y", severity="warning"))
    output.print_findings([attempt(*both, status="superseded")], ("error", "warning"))
    assert capsys.readouterr().err == "s.xlsx: error file-empty: found x; expected y. Ask.\n"


def test_no_progress_is_shown_where_stderr_is_piped() -> None:
    assert output.progress_line() is None


def test_progress_is_one_line_of_a_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    show = output.progress_line()
    assert show is not None
    show(1, 2)
    show(2, 2)
    assert capsys.readouterr().err == "\r1 of 2 files\r2 of 2 files\n"


def test_progress_of_few_things_is_not_shown(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    show = output.progress_line("sheets", 3)
    assert show is not None
    show(2, 2)
    show(3, 3)
    assert capsys.readouterr().err == "\r3 of 3 sheets\n"


def test_a_trouble_is_told_on_stderr_safe_for_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    output.print_trouble("one\x1b[31m\ntwo")
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
