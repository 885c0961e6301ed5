"""keep/slips.csv: which slip was made in which line of own working; like a score it outlives the files."""

import math
from collections.abc import Collection, Iterable
from dataclasses import astuple, dataclass, fields
from operator import attrgetter

from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder

NONE_FITS = "none-fits"  # The slip of a wrong line that no known slip explains.


@dataclass(frozen=True, slots=True)
class LineSlip:
    """A wrong line of own working; the fields are the columns.

    slip : code word, or NONE_FITS; of several that fit equally well each has a line.
    points_lost : of several that fit each has its share; 0 where the mistake has cost already.
    copy_code : of the sheet.
    """

    session: int
    student_id: str
    line: str
    slip: str
    points_lost: float
    copy_code: str


_COLUMNS = tuple(column.name for column in fields(LineSlip))


def load_slips(folder: ClassFolder) -> tuple[LineSlip, ...]:
    """Return every slip that is kept; FolderError where the file cannot be read or understood: its line is
    named."""
    return kept_rows(folder.kept_slips, _COLUMNS, _slip)


def _slip(cells: list[str]) -> LineSlip:
    session, student, line, slip, lost, copy_code = cells
    kept = LineSlip(int(session), student, line, slip, float(lost), copy_code)
    if not math.isfinite(kept.points_lost):
        raise ValueError(lost)
    return kept


def save_slips(
    folder: ClassFolder, session: int, now: Iterable[LineSlip], marked: Collection[str]
) -> tuple[LineSlip, ...]:
    """Keep the slips of a session beside those of sheets that are not marked any more, and return both.
    marked : copy codes of the sheets that are marked now, with slips or without. FolderError where the file
    cannot be read, understood or written."""
    every = load_slips(folder)
    stay = [slip for slip in every if slip.session != session or slip.copy_code not in marked]
    kept = sorted((*stay, *now), key=attrgetter("session"))
    if kept or every:
        keep_rows(folder.kept_slips, _COLUMNS, map(astuple, kept))
    return tuple(slip for slip in kept if slip.session == session)
