"""keep/scores.csv, the truth of every score, and keep/slips.csv, the slips in lines of own working: both
outlive the files that were marked, and their results.

A line an item of a sheet, and under the item `score` one for the sheet and one for the student. A score is
taken away by the teacher alone, on the tab Marks of the review workbook; its lines stay.
"""

import math
from collections.abc import Collection, Iterable

from msgspec import Struct
from msgspec.structs import astuple

from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder

WHOLE = "score"
"""The item under which the score of a sheet stands, out of its own maximum, and without a sheet that of a
student, out of the scheme's total."""
NONE_FITS = "none-fits"  # The slip of a wrong line that no known slip explains.


class Score(Struct, frozen=True):
    """What was given for one item; the fields are the columns.
    points : None where the item is exempt. status : as in marks.csv. scored_on : the day, YYYY-MM-DD.
    sheet : copy code; empty for the student's whole."""

    session: int
    student_id: str
    item: str
    points: float | None
    out_of: float
    status: str
    scored_on: str
    sheet: str = ""


class LineSlip(Struct, frozen=True):
    """A wrong line of own working; the fields are the columns.
    slip : code word, or NONE_FITS; of several that fit equally well each has a line. points_lost : of several
    that fit each has its share; 0 where the mistake has cost already. copy_code : of the sheet."""

    session: int
    student_id: str
    line: str
    slip: str
    points_lost: float
    copy_code: str


_SCORE = Score.__struct_fields__
_SLIP = LineSlip.__struct_fields__


def load_scores(folder: ClassFolder) -> tuple[Score, ...]:
    """Return every score of the class, none where nothing was marked yet; FolderError where the file cannot
    be read or understood: its line is named."""
    return kept_rows(folder.scores, _SCORE, _score)


def _score(cells: list[str]) -> Score:
    session, student, item, points, out_of, *rest = cells
    given = _finite(points) if points else None
    return Score(int(session), student, item, given, _finite(out_of), *rest)


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(text)
    return number


def save_scores(folder: ClassFolder, session: int, scores: Iterable[Score]) -> None:
    """Put the scores of a session in place of those that stand there; other sessions stay as they are.
    FolderError where the file cannot be read, understood or written."""
    others = [score for score in load_scores(folder) if score.session != session]
    keep_rows(folder.scores, _SCORE, map(astuple, (*others, *scores)))


def load_slips(folder: ClassFolder) -> tuple[LineSlip, ...]:
    """Return every slip that is kept; FolderError where the file cannot be used: its line is named."""
    return kept_rows(folder.kept_slips, _SLIP, _slip)


def _slip(cells: list[str]) -> LineSlip:
    session, student, line, slip, lost, copy_code = cells
    return LineSlip(int(session), student, line, slip, _finite(lost), copy_code)


def save_slips(
    folder: ClassFolder, session: int, now: Iterable[LineSlip], marked: Collection[str]
) -> tuple[LineSlip, ...]:
    """Keep the slips of a session beside those of sheets that are not marked any more, and return both.
    marked : copy codes of the sheets that are marked now, with slips or without. FolderError where the file
    cannot be read, understood or written."""
    every = load_slips(folder)
    stay = [slip for slip in every if slip.session != session or slip.copy_code not in marked]
    kept = (*stay, *now)
    keep_rows(folder.kept_slips, _SLIP, map(astuple, kept))
    return tuple(slip for slip in kept if slip.session == session)
