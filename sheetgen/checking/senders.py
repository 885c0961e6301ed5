"""Who handed a file in, as far as its name tells: a person's own folder, or the prefix of a platform."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from sheetgen.model.attempt import Attempt

__all__ = ["senders_of"]

_FEWEST_FOLDERS = 3
"""Folders beside one another; of two, one may as well be the older version of the other."""
_MOST_COPIES = 2
"""Of one person's folder: their own, and another one's that they handed in with it or instead."""
_FILE_ENDING = re.compile(r"\.[A-Za-z]{2,5}$")
"""A step with such an ending is a zip, which a person may send twice under two names."""
_VERSION = re.compile(
    r"(?<![a-z])attempt[ _-]?\d{1,3}(?!\d)|(?<!\d)20\d\d[-_.]?\d\d[-_.]?\d\d(?:[-_ T.]\d\d.*)?"
    r"| ?\(\d{1,3}\)$| ?\[\d{1,3}\]$",
    re.IGNORECASE,
)

_Steps = tuple[str, ...]


def senders_of(attempts: Sequence[Attempt]) -> dict[str, str]:
    """Return file to who handed it in, only of files whose names tell.

    Notes
    -----
    A folder is a person's where it stands beside others, most of which hold sheets of one copy only, and
    holds few itself. A prefix is a person's where the sheet's own name stands behind it and an underscore
    between; what comes before the first underscore is the person. Attempt numbers and times are left out.
    """
    told = [one for one in attempts if one.record is not None]
    copies: dict[_Steps, set[str]] = defaultdict(set)
    for one in told:
        steps = _folders(one.file)
        for depth in range(1, len(steps) + 1):
            copies[steps[:depth]].add(_copy_code(one))
    of_people = _folders_of_people(copies)
    senders = {one.file: _by_folder(one.file, copies, of_people) or _by_prefix(one) for one in told}
    return {file: sender for file, sender in senders.items() if sender}


def _folders_of_people(copies: Mapping[_Steps, set[str]]) -> set[_Steps]:
    """The places below which there is a folder for each person."""
    inside: dict[_Steps, list[int]] = defaultdict(list)
    for steps, codes in copies.items():
        if not _FILE_ENDING.search(steps[-1]):
            inside[steps[:-1]].append(len(codes))
    return {
        place
        for place, counts in inside.items()
        if len(counts) >= _FEWEST_FOLDERS and sum(count == 1 for count in counts) * 2 > len(counts)
    }


def _by_folder(file: str, copies: Mapping[_Steps, set[str]], of_people: Iterable[_Steps]) -> str:
    steps = _folders(file)
    for depth, step in enumerate(steps):
        few = len(copies[steps[: depth + 1]]) <= _MOST_COPIES
        if steps[:depth] in of_people and few and not _FILE_ENDING.search(step):
            return _person(step)
    return ""


def _by_prefix(attempt: Attempt) -> str:
    own = "" if attempt.record is None else attempt.record.file_name.rpartition(".")[0]
    prefix, found, _ = attempt.file.rpartition("/")[2].partition(f"_{own}") if own else ("", "", "")
    return _person(prefix.partition("_")[0]) if found else ""


def _person(words: str) -> str:
    return _VERSION.sub("", words).strip(" _-").casefold()


def _folders(file: str) -> _Steps:
    return tuple(file.split("/")[:-1])


def _copy_code(attempt: Attempt) -> str:
    return "" if attempt.record is None else attempt.record.copy_code
