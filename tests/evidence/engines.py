"""Which program opens a filled sheet, works it out, saves it, and how that is read back, in one table:
`python tests/evidence/engines.py [--write]`. `--write` keeps it in README.md. Exit code 1 where something is
not as hoped for.

Each program gets the same filled sheets without one stored result. What it saves goes through the reader,
which works everything out anew: a result that differs, or is not there, is a finding.
"""

import io
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

import formualizer  # noqa: E402
import openpyxl  # noqa: E402
import python_calamine  # noqa: E402

from sheetgen.returned.attempt import Attempt  # noqa: E402
from tests.evidence.honest import accused  # noqa: E402
from tests.evidence.honest_cells import without_results  # noqa: E402
from tests.evidence.honest_programs import save_by_ironcalc  # noqa: E402
from tests.evidence.honest_saved import Saved, for_tabs  # noqa: E402
from tests.evidence.kept import kept_below  # noqa: E402
from tests.evidence.twins import PROTOCOLS, Twin, parts_of, twins_of, zipped  # noqa: E402
from tests.office.client import ODS, Office  # noqa: E402

Save = Callable[[Path, Path], None]
"""Opens the first file, works it out and saves it as the second."""
HEADING = "Which programs open, work out and save a filled sheet"
_NOT_WORKED_OUT = ("sheet-not-recalculated", "sheet-result-differs")


@dataclass(frozen=True, slots=True)
class Line:
    """One program and format: of how many sheets it opened, worked out and saved them, and how many were read
    back as honest; the notes that a saved sheet has."""

    program: str
    sheets: int
    opened: int = 0
    worked_out: int | None = 0
    saved: int | None = 0
    read_back: int | None = 0
    notes: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()


def by_formualizer(path: Path, back: Path) -> None:
    book = formualizer.Workbook.from_bytes(path.read_bytes())
    book.evaluate_all()
    back.write_bytes(book.to_xlsx_bytes())


def by_openpyxl(path: Path, back: Path) -> None:
    openpyxl.load_workbook(path).save(back)


def by_gnumeric(path: Path, back: Path) -> None:
    subprocess.run(["ssconvert", "--recalc", str(path), str(back)], capture_output=True, check=True)


def by_office(office: Office) -> Save:
    def save(path: Path, back: Path) -> None:
        with office.workbook(path) as handle:
            if back.suffix == ".ods":
                office.save_as(handle, back, ODS)
            else:
                office.save_as(handle, back)

    return save


def line_of(program: str, save: Save, suffix: str, twins: tuple[Twin, ...], calculates: bool = True) -> Line:
    """Let one program open, work out and save every sheet, and read back what it saved."""
    counted: Counter[str] = Counter()
    notes: set[str] = set()
    wrong: list[str] = []
    with TemporaryDirectory() as name:
        path, back = Path(name) / "sheet.xlsx", Path(name) / f"back{suffix}"
        for twin in twins:
            path.write_bytes(_bare(twin))
            back.unlink(missing_ok=True)
            try:
                save(path, back)
            except Exception as fault:
                wrong.append(f"{program}, {twin.protocol_id}: {type(fault).__name__} {fault}"[:200])
                continue
            attempt = twin.attempt(back.read_bytes(), back.name)
            said = accused(twin, Saved(program, back.read_bytes(), back.name))
            counted.update(opened=1, saved=1, worked_out=not _unworked(attempt), read_back=not said)
            notes.update(one.code for one in attempt.findings if one.severity == "note")
            wrong += [f"{program}, {twin.protocol_id}: {said}"] if said else []
    worked_out = counted["worked_out"] if calculates else None
    done = (counted["opened"], worked_out, counted["saved"], counted["read_back"])
    return Line(f"{program} {suffix}", len(twins), *done, tuple(sorted(notes)), tuple(wrong))


def _bare(twin: Twin) -> bytes:
    parts = parts_of(twin.data)
    changed = for_tabs(without_results)(parts, None)  # type: ignore[arg-type]
    assert isinstance(changed, dict)
    return zipped(changed, 8)


def _unworked(attempt: Attempt) -> bool:
    return any(one.code in _NOT_WORKED_OUT for one in attempt.findings)


def by_calamine(twins: tuple[Twin, ...]) -> Line:
    """Opens only: it gives the values of every tab."""
    opened = 0
    for twin in twins:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(twin.data))
        opened += all(book.get_sheet_by_name(name).to_python() for name in book.sheet_names)
    return Line("python-calamine", len(twins), opened, None, None, None)


def lines(office: Office, twins: tuple[Twin, ...]) -> list[Line]:
    """Every program, in the order of the table; one that is not installed opens nothing."""
    programs: dict[str, Save] = {"LibreOffice": by_office(office), "Gnumeric": by_gnumeric}
    made = [
        line_of(program, save, suffix, twins)
        for program, save in programs.items()
        for suffix in (".xlsx", ".ods")
    ]
    made += [
        line_of("IronCalc", save_by_ironcalc, ".xlsx", twins),
        line_of("formualizer", by_formualizer, ".xlsx", twins),
    ]
    return [*made, line_of("openpyxl", by_openpyxl, ".xlsx", twins, calculates=False), by_calamine(twins)]


def table_of(made: list[Line]) -> str:
    """Markdown: a line a program; a dash where a program does not do that at all."""
    rows = [
        "| program | opens | recalculates | saves | read back as honest | notes |",
        "|---|---|---|---|---|---|",
    ]
    for line in made:
        shares = [
            "-" if count is None else f"{count} of {line.sheets}"
            for count in (line.opened, line.worked_out, line.saved, line.read_back)
        ]
        rows.append(f"| {line.program} | {' | '.join(shares)} | {', '.join(line.notes) or '-'} |")
    return "\n".join(rows)


def main(arguments: list[str]) -> int:
    with TemporaryDirectory() as name, Office.start() as office:
        twins = twins_of(Path(name), PROTOCOLS, 2)
        made = lines(office, twins)
    print(table_of(made))
    if "--write" in arguments:
        line = f"`python tests/evidence/engines.py --write`, {date.today().isoformat()}: {len(twins)} filled"
        kept_below(
            HEADING, f"{line} sheets of six protocols,\neach without one stored result.\n\n{table_of(made)}"
        )
    faults = [fault for line in made for fault in line.wrong]
    print("\n".join(faults))
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
