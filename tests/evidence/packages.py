"""Damaged and hostile packages: a good file changed at random in bytes, zip and XML."""

import random
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetgen.returned.attempt import Attempt
from sheetgen.returned.one_file import attempt_of_bytes
from sheetgen.returned.whose import OnRecord
from tests.evidence.bombs import NOBODY, memory_mb
from tests.evidence.packages_bytes import BYTE_MUTATIONS, Mutation
from tests.evidence.packages_xml import XML_MUTATIONS

_STATUS = ("accepted", "review", "refused")

MUTATIONS: dict[str, Mutation] = {**BYTE_MUTATIONS, **XML_MUTATIONS}
"""A kind of damage to what does it to the bytes of a file."""


@dataclass(frozen=True, slots=True)
class Mutated:
    """One damaged file, by which mutation."""

    kind: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of many damaged files.

    counts : by status. codes : of refusals, how often. faults : what raised or gave no Attempt, and of what.
    slowest : seconds, and of which kind. growth_mb : how much the memory of the process grew over all.
    """

    counts: Counter[str]
    codes: Counter[str]
    faults: tuple[str, ...]
    slowest: tuple[float, str]
    growth_mb: float


def mutated(bases: Sequence[bytes], many: int, seed: int) -> Iterator[Mutated]:
    """Yield so many damaged files, kinds and bases in turn; the same for the same seed."""
    dice = random.Random(seed)
    kinds = list(MUTATIONS)
    for number in range(many):
        kind = kinds[number % len(kinds)]
        yield Mutated(kind, MUTATIONS[kind](dice.choice(bases), dice))


def read_mutated(
    bases: Sequence[bytes], many: int, seed: int, known: OnRecord = NOBODY, keep: Path | None = None
) -> Outcome:
    """Read so many damaged files one after the other in this process.

    Parameters
    ----------
    keep : a folder for what raised, so that it can be looked at.
    """
    counts: Counter[str] = Counter()
    codes: Counter[str] = Counter()
    faults: list[str] = []
    slowest = (0.0, "")
    before = memory_mb()
    for number, one in enumerate(mutated(bases, many, seed)):
        begun = time.perf_counter()
        fault = ""
        try:
            attempt = attempt_of_bytes(one.data, "sheet.xlsx" if number % 2 else "sheet.ods", known)
            if not isinstance(attempt, Attempt) or attempt.status not in _STATUS:
                fault = f"{one.kind}: {attempt!r:.80}"
        except Exception as raised:
            fault = f"{one.kind}: {type(raised).__name__}: {raised}"[:200]
        slowest = max(slowest, (time.perf_counter() - begun, one.kind))
        if fault:
            faults.append(fault)
            if keep is not None:
                (keep / f"fault-{len(faults)}.bin").write_bytes(one.data)
            continue
        counts[attempt.status] += 1
        if attempt.status == "refused":
            codes[next(found.code for found in attempt.findings if found.severity == "error")] += 1
    return Outcome(counts, codes, tuple(faults), slowest, memory_mb() - before)
