"""Fill the sheets of a class with invented readings and a dozen typical faults, as if they came back.

    .venv/bin/python samples/fill.py FOLDER [SESSION]

The sheets must be built first. Files go to FOLDER/returned/session-SESSION; read them with
`sheetgen read FOLDER`.
The faults are those of the sample class (templates/demo/roster.csv), by student_id.
"""

import sys
from pathlib import Path

from sheetgen.class_folder.folder import open_class_folder
from sheetgen.commands.demo import fill_sheets
from sheetgen.errors import SheetgenError


def main(arguments: list[str]) -> int:
    """Fill the sheets; return the exit code."""
    if len(arguments) not in (1, 2) or (len(arguments) == 2 and not arguments[1].isdigit()):
        print(__doc__, file=sys.stderr)
        return 2
    folder, session = Path(arguments[0]), int(arguments[1]) if len(arguments) == 2 else 1
    try:
        count = fill_sheets(open_class_folder(folder), session)
    except SheetgenError as fault:
        print(fault, file=sys.stderr)
        return 2
    print(f"{count} files in {folder / 'returned' / f'session-{session}'}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
