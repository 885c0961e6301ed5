"""keep/precision.csv: how the class measured, by site; it outlives the files it was worked out from."""

import math
from collections.abc import Sequence
from dataclasses import replace

from sheetgen.class_folder.files import keep_rows, kept_rows
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.statistics.precision import SitePrecision
from sheetgen.statistics.readings_frame import SMALL_CELL
from sheetgen.statistics.repeatability import TechnicalError

_COLUMNS = (
    "session", "site", "sheets", "people", "tem_mm", "mean_mm", "degrees_of_freedom", "left_out",
    "worked_out_on",
)  # fmt: skip


def load_precision(folder: ClassFolder) -> tuple[tuple[int, SitePrecision], ...]:
    """Return session and precision of every site that is kept, each with its day. FolderError where the file
    cannot be read or understood: its line is named."""
    return kept_rows(folder.kept_precision, _COLUMNS, _site)


def _site(cells: list[str]) -> tuple[int, SitePrecision]:
    session, site, sheets, people, error, mean, degrees, left_out, day = cells
    technical = TechnicalError(float(error), float(mean), int(sheets), int(degrees))
    if not math.isfinite(technical.value + technical.mean):
        raise ValueError(error)
    found = SitePrecision(site, int(people), technical, sheets=int(sheets), kept_from=day)
    return int(session), replace(found, left_out=int(left_out))


def with_kept(
    now: Sequence[SitePrecision], kept: Sequence[SitePrecision], files_gone: bool
) -> tuple[SitePrecision, ...]:
    """Return the precision of every site: the kept one where files are gone and fewer sheets are left."""
    sites = {site.site: site for site in kept} if files_gone else {}
    fuller = {one.site: one for one in now if one.site not in sites or one.sheets >= sites[one.site].sheets}
    return tuple((sites | fuller).values())


def _figures(site: SitePrecision) -> tuple[object, ...]:
    """What is written of a site but its day."""
    return site.site, site.sheets, site.people, site.error, site.left_out


def save_precision(folder: ClassFolder, session: int, sites: Sequence[SitePrecision], today: str) -> None:
    """Keep the precision of a session in place of the one kept before; what has not changed keeps its day.
    sites : as `with_kept` gives them; of those with fewer than SMALL_CELL nothing is kept.
    today : YYYY-MM-DD. FolderError where it cannot be written."""
    every = load_precision(folder)
    days = {_figures(site): site.kept_from for number, site in every if number == session}
    lines = [(number, site) for number, site in every if number != session]
    lines += [
        (session, replace(site, kept_from=site.kept_from or days.get(_figures(site), today)))
        for site in sites
        if site.people >= SMALL_CELL and isinstance(site.error, TechnicalError)
    ]
    rows = [
        (number, site.site, site.sheets, site.people, error.value, error.mean, error.degrees_of_freedom,
         site.left_out, site.kept_from)
        for number, site in sorted(lines, key=lambda line: line[0])
        if isinstance(error := site.error, TechnicalError)
    ]  # fmt: skip
    if lines or every:
        keep_rows(folder.kept_precision, _COLUMNS, rows)
