"""What can be seen of setting up, recording and third readings: lapses, and how many there could have been.

No check looks at how large a value of a body is.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from sheetgen.checking.recalculate import number_of, text_of
from sheetgen.layout.vocabulary import SIDE_WORDS, change_words, reading_name, start_entries
from sheetgen.model.attempt import Entries, Results
from sheetgen.model.finding import Finding
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import SheetSettings

__all__ = ["CHECKS", "Seen"]


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything a check looks at."""

    protocol: Protocol
    settings: SheetSettings
    entries: Entries
    results: Results
    findings: Sequence[Finding]

    @property
    def open_sites(self) -> tuple[str, ...]:
        """The sites that were to be measured."""
        return tuple(site.site for site in self.results.sites if not site.not_taken)


Check = Callable[[Seen], tuple[int, int]]


def _typed(*names: str) -> Check:
    """Numbers that are asked for are there."""

    def check(seen: Seen) -> tuple[int, int]:
        asked = [name for name in names if name in start_entries(seen.protocol)]
        return sum(number_of(seen.entries, name) is None for name in asked), len(asked)

    return check


def _chosen(name: str, words: Callable[[Seen], Sequence[str]]) -> Check:
    """A word is there, and one of the list."""

    def check(seen: Seen) -> tuple[int, int]:
        if name not in start_entries(seen.protocol):
            return 0, 0
        known = {word.casefold() for word in words(seen)}
        return int(text_of(seen.entries, name) not in known), 1

    return check


def _found(codes: Sequence[str], chances: Callable[[Seen], int]) -> Check:
    """Findings of some codes; none where there was nothing they could have been found in."""

    def check(seen: Seen) -> tuple[int, int]:
        possible = chances(seen)
        return min(sum(finding.code in codes for finding in seen.findings), possible), possible

    return check


def _readings_complete(seen: Seen) -> tuple[int, int]:
    names = [reading_name(number, site) for number in (1, 2) for site in seen.open_sites]
    return sum(number_of(seen.entries, name) is None for name in names), len(names)


def _readings(seen: Seen) -> int:
    words = change_words(seen.protocol)
    return sum(number_of(seen.entries, reading_name(int(word[0]), word[2:])) is not None for word in words)


def _pairs(seen: Seen) -> int:
    return sum(bool(site.third_needed) for site in seen.results.sites)


CHECKS: Mapping[str, Check] = {
    "cautions-confirmed": _chosen("cautions_confirmed", lambda seen: ("yes",)),
    "side-recorded": _chosen("side", lambda seen: SIDE_WORDS),
    "caliper-chosen": _chosen("caliper_id", lambda seen: [one.identifier for one in seen.settings.calipers]),
    "caliper-issued": _found(["procedure-other-caliper"], lambda seen: 1),
    "zero-read": _typed("zero_mm"),
    "zero-as-registered": _found(["procedure-zero-differs"], lambda seen: 1),
    "lengths-typed": _typed("length_upper_arm_cm", "length_thigh_cm"),
    "readings-complete": _readings_complete,
    "readings-on-scale": _found(
        ["entry-off-scale", "entry-beyond-opening", "entry-not-above-zero"], _readings
    ),
    "rounds-in-order": _found(["procedure-round-2-without-round-1"], _readings),
    "reason-or-readings": _found(["entry-not-taken-with-readings"], lambda seen: len(seen.protocol.sites)),
    "change-complete": _found(["procedure-change-incomplete"], lambda seen: 1),
    "third-where-needed": _found(["procedure-third-missing"], _pairs),
    "third-only-there": _found(["procedure-third-not-needed"], _pairs),
}
"""What a procedure item can look at; each gives the lapses found and how many there could have been."""
