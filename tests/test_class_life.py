"""A class in any order of what people do to it: whatever the order, four things hold.

No score is lost; no body value and no free text is left after `forget`; no file that a person made is
changed; no name stands beside a body value. The nightly form goes through 200 lives.
"""

import io
import os
import re
import shutil
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from sheetgen.class_folder import keep
from sheetgen.class_folder.decisions import read_decisions
from sheetgen.class_folder.scores import load_scores
from sheetgen.commands.read import read_returned
from sheetgen.marking.marks import adjusted_mark, comment_given
from sheetgen.review.taking_over import review_texts
from tests.classes import PEOPLE, ROSTER, built_class, filled_sheet, record_of, run
from tests.evidence.kills import contents_of
from tests.reviews import typed
from tests.test_forgetting import contents, found

NIGHTLY = bool(os.environ.get("SHEETGEN_NIGHTLY"))
STUDENTS = st.sampled_from(PEOPLE)
JOINERS = (("S05", "Eve", "Brook"), ("S06", "Flo", "Crag"))
# What is changed of a full set of entries, or the bytes of a file that is no sheet.
COMINGS = st.sampled_from(
    (
        {},
        {"mass_kg": 83.217, "answer_zero": "wombat answer"},
        {"reading_1_chest": 13.37, "reading_2_chest": 13.43, "length_thigh_cm": 46.93},
        {"age_years": None},
        {"mass_kg": "61,5"},
        {"participant_today": "P-GUEST"},
        b"",
        b"see the other file",
        b"PK\x03\x04 broken",
    )
)
BODIES = ("83.217", "13.37", "13.43", "46.93")
FREE_TEXT = ("wombat answer", "Numbat first;")
"""Nothing else in a class folder looks like one of these."""
NAMES = re.compile(r"\b(Fen|Heath|Moor|Wold|Brook|Crag)\b")
DAYS = st.sampled_from(("2027-03-31", "2027-04-01", "2027-04-09", "2026-12-01"))
COMMENTS = st.sampled_from(("Well held.", '=1+1, "quoted"', "Numbat first;\nthen lift.", "é ñ 漢"))


@lru_cache(maxsize=256)
def tabs_of(data: bytes) -> list[tuple[str, str]]:
    """Title and text of each tab of a workbook."""
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    return [
        (tab.title, "\n".join(str(value) for row in tab.values for value in row if value))
        for tab in book.worksheets
    ]


class ClassLife(RuleBasedStateMachine):
    """new, build, hand in and again, read, decide, lose results, join, forget; an old class book comes back,
    the clock changes, a second marker marks."""

    @initialize()
    def begin(self) -> None:
        self.place = TemporaryDirectory()
        self.folder = built_class(Path(self.place.name) / "class")
        self.roster = ROSTER
        self.joined = 0
        self.number = 0
        self.returned: dict[str, tuple[bytes, int]] = {}
        self.journal = b""
        self.codes = self._codes()
        self.decided: dict[tuple[str, str], float | str] = {}
        self.read_since = False
        self.results: dict[str, bytes] = {}
        self.books = [self.folder.book.read_bytes()]
        self.day = "2027-03-31"
        self.scored: set[str] = set()
        self.second = b""

    def teardown(self) -> None:
        if hasattr(self, "place"):
            self.place.cleanup()

    @rule()
    def build(self) -> None:
        before = self._handed_out()
        result = run("build", self.folder.root)
        if self.folder.book.read_bytes() != self.books[-1]:
            assert result.exit_code == 2
            assert self._handed_out() == before
            return
        assert result.exit_code == 0, result.stderr
        after = self._handed_out()
        assert {name: after[name] for name in before} == before
        self.codes = {**self._codes(), **self.codes}
        # New sheets are missing ones.
        self.read_since = False

    @precondition(lambda self: self.joined < len(JOINERS))
    @rule()
    def somebody_joins(self) -> None:
        self.roster += ",".join((*JOINERS[self.joined], "no")) + "\n"
        self.joined += 1
        path = Path(self.place.name) / "newer.csv"
        path.write_text(self.roster, encoding="utf-8")
        self._newest_book()
        result = run("new", self.folder.root, "--roster", path)
        assert result.exit_code == 0, result.stderr
        self.books.append(self.folder.book.read_bytes())
        self.read_since = False

    @precondition(lambda self: len(self.books) > 1)
    @rule()
    def an_old_class_book_comes_back(self) -> None:
        """Somebody saves the one they had open over the newer one."""
        self.folder.book.write_bytes(self.books[0])

    @rule()
    def _newest_book(self) -> None:
        self.folder.book.write_bytes(self.books[-1])

    @rule(day=DAYS)
    def the_clock_changes(self, day: str) -> None:
        self.day = day
        self.read_since = False

    @precondition(lambda self: self.returned)
    @rule(points=st.integers(0, 3))
    def a_second_marker_marks(self, points: int) -> None:
        read_returned(self.folder, 1, today=self.day, second_marker=True)
        self.read_since = False
        path = self._second_marked()
        if self.second:
            return
        book = openpyxl.load_workbook(io.BytesIO(path.read_bytes()))
        for row in book.worksheets[0].iter_rows(min_row=5):
            row[-1].value = points
        book.save(path)
        self.second = path.read_bytes()

    @rule(student=STUDENTS, coming=COMINGS)
    def hand_in(self, student: str, coming: dict[str, object] | bytes) -> None:
        self.number += 1
        data = coming if isinstance(coming, bytes) else filled_sheet(self.folder, student, coming)
        path = self.folder.returned(1) / f"{student} {self.number}.xlsx"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        moment = 1_790_000_000_000_000_000 + self.number * 10**9
        os.utime(path, ns=(moment, moment))
        self.returned[path.name] = (data, moment)
        self.read_since = False

    @rule()
    def read(self) -> None:
        read_returned(self.folder, 1, today=self.day)
        now = self._derived()
        scored = {score.student_id for score in load_scores(self.folder)}
        assert scored >= self.scored
        self.scored = scored
        self._no_name_beside_a_body()
        if self.read_since:
            assert now == self.results
        self.read_since = True
        self.results = now
        for (code, kind), value in self.decided.items():
            decisions = read_decisions(self.folder).decisions
            found = adjusted_mark(decisions, code) if kind == "mark" else comment_given(decisions, code)
            assert found == value
            assert self._shown(code, kind) == value

    @precondition(lambda self: self.read_since)
    @rule()
    def results_are_lost(self) -> None:
        """results/ is safe to delete: the next reading makes the same."""
        shutil.rmtree(self.folder.root / "results")
        read_returned(self.folder, 1, today=self.day)
        assert self._derived() == self.results

    @precondition(lambda self: self.folder.review(1).is_file())
    @rule(student=STUDENTS, points=st.integers(0, 20))
    def mark(self, student: str, points: int) -> None:
        self._decide(student, "mark", points)

    @precondition(lambda self: self.folder.review(1).is_file())
    @rule(student=STUDENTS, words=COMMENTS)
    def comment(self, student: str, words: str) -> None:
        self._decide(student, "comment", words)

    @precondition(lambda self: self.returned and self.read_since)
    @rule()
    def forget(self) -> None:
        lines = self.journal.count(b"\n")
        result = run("forget", self.folder.root, "--before", "2099-01-01", "--write")
        assert result.exit_code == 0, result.stderr
        self.returned = {}
        self.decided = {about: value for about, value in self.decided.items() if about[1] == "mark"}
        # Its values give way to a word; every line stays.
        self.journal = self.folder.decisions.read_bytes() if self.journal else b""
        assert self.journal.count(b"\n") == lines
        assert found(self.folder.root, (*BODIES, *FREE_TEXT)) == {}
        assert {score.student_id for score in load_scores(self.folder)} >= self.scored
        self.second = b""
        self.read_since = False

    @invariant()
    def what_came_back_is_untouched(self) -> None:
        if hasattr(self, "folder"):
            now = contents_of(self.folder.returned(1))
            assert {name: (now.data[name], now.times[name]) for name in now.data} == self.returned

    @invariant()
    def what_the_second_marker_typed_is_untouched(self) -> None:
        if hasattr(self, "folder") and self.second:
            assert self._second_marked().read_bytes() == self.second

    @invariant()
    def the_journal_only_grows(self) -> None:
        if hasattr(self, "folder"):
            path = self.folder.decisions
            now = path.read_bytes() if path.is_file() else b""
            assert now.startswith(self.journal)
            self.journal = now

    @invariant()
    def codes_stay(self) -> None:
        if hasattr(self, "folder"):
            now = self._codes()
            assert {pair: now.get(pair) for pair in self.codes} == self.codes

    def _second_marked(self) -> Path:
        return self.folder.review(1).with_name("session-1-second-marker.xlsx")

    def _no_name_beside_a_body(self) -> None:
        """No table and no tab that the program made holds both."""
        for top in ("results", "review", "sheets", "keep"):
            for name, data in contents(self.folder.root / top):
                if name.endswith(".xlsx") and data:
                    for title, text in tabs_of(data):
                        self._apart(f"{name} {title}", text)
                elif data and not data.startswith(b"PK") and ".xlsx/" not in name:
                    self._apart(name, data.decode("utf-8", "replace"))

    @staticmethod
    def _apart(where: str, text: str) -> None:
        bodies = [value for value in BODIES if value in text]
        assert not bodies or not NAMES.search(text), f"{where}: {bodies} and {NAMES.search(text)}"

    def _codes(self) -> dict[tuple[str, str], str]:
        """Measurer and participant, or the spare sheet's own code, to the copy code on record."""
        return {
            (one.student_id, one.participant_id or code): code
            for code, builds in keep.load_records(self.folder).items()
            for one in builds
        }

    def _handed_out(self) -> dict[str, bytes]:
        """Every sheet that is on record; lists for the teacher in the same folder do change."""
        names = {one.file_name for builds in keep.load_records(self.folder).values() for one in builds}
        found = contents_of(self.folder.root / "sheets").data
        return {name: data for name, data in found.items() if name.rpartition("/")[2] in names}

    def _derived(self) -> dict[str, bytes]:
        """All results, and the review workbook; what only saves time is no result."""
        results = contents_of(self.folder.root / "results").data
        named = {name: data for name, data in results.items() if not name.rpartition("/")[2].startswith(".")}
        return {**named, "review": self.folder.review(1).read_bytes()}

    def _decide(self, student: str, kind: str, value: float | str) -> None:
        code, texts = record_of(self.folder, student).copy_code, review_texts()
        heading = texts[f"review_column.{kind}"]
        typed(self.folder, texts["review_tab.review"], {(code, heading): value})
        self.decided[code, kind] = value
        self.read_since = False

    def _shown(self, code: str, kind: str) -> object:
        texts = review_texts()
        sheet = openpyxl.load_workbook(self.folder.review(1))[texts["review_tab.review"]]
        (row,) = (row for row in sheet.iter_rows(min_row=5) if any(cell.value == code for cell in row))
        (column,) = (cell.column for cell in sheet[4] if cell.value == texts[f"review_column.{kind}"])
        return row[column - 1].value


ClassLife.TestCase.settings = settings(
    max_examples=200 if NIGHTLY else 3,
    stateful_step_count=20 if NIGHTLY else 10,
    deadline=None,
    derandomize=not NIGHTLY,
    # A life takes seconds, so making a failing one shorter takes many minutes.
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
TestClassLife = ClassLife.TestCase
