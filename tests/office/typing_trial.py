"""The sheet tried as a new user: keys to fill it from the paper form, and slips made on purpose.

    python tests/office/typing_trial.py

prints two tables and one line that counts the slips.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.office.client import Office
from tests.office.typing_slips import SLIPS, Outcome, Slip, tried
from tests.office.typist import PROTOCOLS, entries_to_type, looks_back, settings_for, typing_of
from tests.sheets import sheet_of

HEADINGS = (
    "protocol", "readings", "own working", "values", "least", "keys", "past", "tabs", "jumps", "plain", "eye",
)  # fmt: skip
LEGEND = (
    "least: the characters and one key a value. keys: all pressed. past: Enter past an entry that stays.",
    "tabs: keys for the next tab. jumps: times the hand looks for another cell; plain: where Enter leads one",
    "cell down and no further. eye: times the eye goes back up the paper form.",
)
Keys = tuple[str, str, str, int, int, int, int, int, int, int, int]
"""One line of the table, as HEADINGS."""


def keys_table() -> list[Keys]:
    """One line for each protocol and way, the numbers of the practice set on each."""
    lines: list[Keys] = []
    for protocol_id in PROTOCOLS:
        sheet = sheet_of(settings_for(protocol_id))
        for practice in (False, True):
            for own in (False, True):
                entries = entries_to_type(sheet, practice, own)
                typing, plain = (typing_of(sheet, entries, skips_locked) for skips_locked in (True, False))
                lines.append((
                    protocol_id, "practice" if practice else "measured", "with" if own else "without",
                    typing.values, typing.least, typing.strokes, typing.passed, typing.next_tabs,
                    typing.jumps, plain.jumps, len(looks_back(sheet, entries)),
                ))  # fmt: skip
    return lines


def slips_tried(office: Office, folder: Path) -> list[tuple[Slip, Outcome]]:
    """Make every slip in a sheet of its caliper."""
    done = []
    for caliper in sorted({slip.caliper for slip in SLIPS}):
        sheet = sheet_of(caliper_id=caliper)
        path = folder / f"{caliper}.xlsx"
        path.write_bytes(sheet.data)
        slips = [slip for slip in SLIPS if slip.caliper == caliper]
        with office.workbook(path) as handle:
            done += list(zip(slips, tried(office, handle, sheet, slips), strict=True))
    return done


def pointed_out(slip: Slip, outcome: Outcome) -> bool:
    """Whether the sheet says so where the table has it, past the rule too where a rule refuses."""
    if not slip.place:
        return False
    if slip.place == "refused":
        return bool(outcome.refused) and outcome.said_if_pasted.get(slip.pasted) == slip.pasted_text
    return outcome.said.get(slip.place) == slip.text


def blocks(slip: Slip, outcome: Outcome) -> bool:
    """Whether a sheet with the slip in it, past a rule if need be, is not ready to hand in."""
    said = outcome.said_if_pasted if slip.place == "refused" else outcome.said
    return said.get("ready") == "no"


def count_line(done: Sequence[tuple[Slip, Outcome]]) -> str:
    """`slips made 25, knowable 21, pointed out 21`."""
    knowable = [(slip, outcome) for slip, outcome in done if slip.known == "yes"]
    out = sum(pointed_out(slip, outcome) for slip, outcome in knowable)
    return f"slips made {len(done)}, knowable {len(knowable)}, pointed out {out}"


def _where(slip: Slip, outcome: Outcome) -> str:
    if slip.known == "no":
        return "one sheet cannot know it"
    if slip.known == "marking":
        return "left to the marking"
    if not pointed_out(slip, outcome):
        return "NOT POINTED OUT"
    if slip.place == "refused":
        return f"refused; pasted: {slip.pasted}: {slip.pasted_text}"
    return f"{slip.place}: {slip.text}"


def main() -> int:
    """Print both tables."""
    print(f"{HEADINGS[0]:18}{HEADINGS[1]:10}{HEADINGS[2]:12}" + "".join(f"{one:>8}" for one in HEADINGS[3:]))
    for protocol, readings, own, *numbers in keys_table():
        print(f"{protocol:18}{readings:10}{own:12}" + "".join(f"{one:8}" for one in numbers))
    print(*LEGEND, "", sep="\n")
    with Office.start() as office, tempfile.TemporaryDirectory() as folder:
        done = slips_tried(office, Path(folder))
    for slip, outcome in done:
        print(f"{slip.title:55} {_where(slip, outcome)}")
    print(count_line(done))
    return 0


if __name__ == "__main__":
    sys.exit(main())
