"""Whether a change was found: something is said that is not said of the untouched twin, and where."""

import random
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from sheetgen.finding import Finding
from sheetgen.returned.attempt import Attempt
from tests.evidence.changer import KINDS, Change, changed, with_change
from tests.evidence.changer_book import book_of
from tests.evidence.twins import Twin
from tests.wording import in_english

_FAMILIES = ("sheet-", "identity-", "file-")


@dataclass(frozen=True, slots=True)
class Detection:
    """What became of many changes.

    counts : how many of each kind. missed : of which nothing was said, or not with the place. slowest [s].
    """

    counts: Counter[str]
    missed: tuple[tuple[str, str, str, str], ...]
    slowest: float

    @property
    def made(self) -> int:
        return self.counts.total()


def is_found(change: Change, twin: Attempt, attempt: Attempt) -> bool:
    """Tell whether a change was found with its place.

    The place is tab and cell; where many cells changed, one of them; where a tab or the whole file is meant,
    that one. A file that is refused, or a tab that is no longer told, is named as a whole.
    """
    said = Counter(map(_key, twin.findings))
    new = []
    for one in attempt.findings:
        if said[_key(one)]:
            said[_key(one)] -= 1
        elif one.code.startswith(_FAMILIES):
            new.append(one)
    return any(_at(change, one, attempt) for one in new)


def _at(change: Change, finding: Finding, attempt: Attempt) -> bool:
    if attempt.status == "refused" and not finding.tab:
        return True
    if change.words:
        return change.words in in_english([finding])[0].found
    if not change.tab:
        return True
    if finding.tab != change.tab:
        return False
    return (
        not change.cells
        or bool(change.cells & set(finding.cell.split(", ")))
        or finding.code == "sheet-tab-missing"
    )


def _key(finding: Finding) -> tuple[str, str, str, str]:
    return finding.code, finding.tab, finding.cell, in_english([finding])[0].found


def detections(twins: Sequence[Twin], many: int, seed: int, kinds: Sequence[str] = tuple(KINDS)) -> Detection:
    """Make so many changes, kinds and sheets in turn, and read each file.

    Raises
    ------
    LookupError : a kind of change could be made on none of the sheets.
    """
    dice = random.Random(seed)
    books = [(twin, book_of(twin.data), twin.attempt()) for twin in twins]
    counts: Counter[str] = Counter()
    missed = []
    slowest = 0.0
    for number in range(many):
        kind = kinds[number % len(kinds)]
        twin, book, untouched = dice.choice(books)
        change = changed(book, kind, dice)
        if change is None:
            raise LookupError(f"no change of the kind {kind} could be made")
        begun = time.perf_counter()
        attempt = twin.attempt(with_change(book, change))
        slowest = max(slowest, time.perf_counter() - begun)
        counts[kind] += 1
        if not is_found(change, untouched, attempt):
            place = f"{change.tab}!{','.join(sorted(change.cells)[:3])}{change.words}"
            said = ", ".join(sorted({one.code for one in attempt.findings}))
            missed.append((kind, f"{twin.protocol_id} {place}", change.told, said))
    return Detection(counts, tuple(missed), slowest)
