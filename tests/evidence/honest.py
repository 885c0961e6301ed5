"""Honest re-saves: the same sheet as other programs, and hand-made but legal files, carry it.

Each way of saving changes how a file says something and nothing of what it says. For some the entries are
other than what was typed into the twin (a comma number is text, a date is no reading); they say which.
"""

import math
from collections.abc import Mapping

from sheetgen.returned.attempt import Attempt
from tests.evidence.honest_saved import Saved
from tests.evidence.twins import Twin
from tests.wording import in_english


def accused(twin: Twin, saved: Saved) -> str:
    """Return what is wrong with how a re-save is read; empty where it is read as honest.

    Wrong is: a finding about the sheet, the copy or the file that is an error, or about changed rules;
    an entry that is not the one that was filled in; a status other than accepted, unless a question is asked
    and says so.
    """
    attempt = twin.attempt(saved.data, saved.name)
    bad = [
        f"{one.code} {one.tab}!{one.cell} {in_english([one])[0].found}"
        for one in attempt.findings
        if (one.severity == "error" and one.code.startswith(("sheet-", "identity-", "file-")))
        or one.code == "sheet-rules-changed"
    ]
    if bad:
        return "; ".join(bad[:3])
    wrong = _wrong_entries(twin.entries, attempt, saved.asked)
    if wrong:
        return f"entries {wrong[:3]}"
    asked = [one.code for one in attempt.findings if one.severity == "error"]
    if attempt.status == "accepted" or (saved.asked and len(asked) == len(saved.asked)):
        return ""
    return f"status {attempt.status}: {sorted({one.code for one in attempt.findings})}"


def _wrong_entries(typed: Mapping[str, object], attempt: Attempt, asked: frozenset[str]) -> list[str]:
    names = {*typed, *(name for name, value in attempt.entries.items() if value is not None)}
    return sorted(
        f"{name}: {attempt.entries.get(name)!r} for {typed.get(name)!r}"
        for name in names
        if not _same(attempt.entries.get(name), None if name in asked else typed.get(name))
    )


def _same(found: object, typed: object) -> bool:
    if isinstance(found, int | float) and isinstance(typed, int | float):
        return math.isclose(found, typed, rel_tol=1e-12)
    return found == typed
