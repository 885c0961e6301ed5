"""keep/scores.csv, the truth of every score: it outlives the files that were marked, and their results.

A line an item of a sheet, and under the item `score` one for the sheet and one for the student. A score is
taken away by the teacher alone, on the tab Marks of the review workbook; its lines stay.
"""

import math
from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from operator import attrgetter

from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder

WHOLE = "score"
"""The item under which the score of a sheet stands, out of its own maximum, and without a sheet that of a
student, out of the scheme's total."""


@dataclass(frozen=True, slots=True)
class Score:
    """What was given for one item; the fields are the columns.

    points : None where the item is exempt. status : as in marks.csv. scored_on : the day, YYYY-MM-DD.
    sheet : copy code; empty for the student's whole.
    """

    session: int
    student_id: str
    item: str
    points: float | None
    out_of: float
    status: str
    scored_on: str
    sheet: str = ""


_COLUMNS = tuple(column.name for column in fields(Score))


def load_scores(folder: ClassFolder) -> tuple[Score, ...]:
    """Return every score of the class, none where nothing was marked yet; FolderError where the file cannot
    be read or understood: its line is named."""
    return kept_rows(folder.scores, _COLUMNS, _score)


def _score(cells: list[str]) -> Score:
    session, student, item, points, out_of, *rest = cells
    given = float(points) if points else None
    score = Score(int(session), student, item, given, float(out_of), *rest)
    if not math.isfinite((score.points or 0.0) + score.out_of):
        raise ValueError(points)
    return score


def save_scores(folder: ClassFolder, session: int, scores: Iterable[Score]) -> None:
    """Put the scores of a session in place of those that stand there; other sessions stay as they are.
    FolderError where the file cannot be read, understood or written."""
    others = [score for score in load_scores(folder) if score.session != session]
    every = sorted((*others, *scores), key=attrgetter("session"))
    if every:
        keep_rows(folder.scores, _COLUMNS, map(astuple, every))
