"""How the columns of a roster may be called, and the words in them: the shipped table and a teacher's own."""

import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetgen.checking.list_words import plain_word
from sheetgen.store.protocol_keys import Fault, Table
from sheetgen.store.template_files import TemplateKind, table_of
from sheetgen.store.templates import templates_folder

__all__ = ["COLUMNS", "NEVER_READ", "RosterWording", "Wording", "load_wording"]

COLUMNS = (
    "student_id", "given_name", "family_name", "second_family_name", "name", "preferred_given_name",
    "preferred_family_name", "email", "group", "role", "under_18", "takes_part", "partner", "apart",
)  # fmt: skip
NEVER_READ = "never_read"
_KEYS = {
    "headings": (*COLUMNS, NEVER_READ),
    "role": ("student", "teacher", "left_out"),
    "takes_part": ("both", "measures_only"),
    "under_18": ("yes", "no"),
    "rows": ("totals",),
}
_LONGEST_WORDING = 100
_MOST = 500


@dataclass(frozen=True, slots=True)
class Wording:
    """What a wording stands for. rank : the lower goes before. text : as the table has it."""

    stands_for: str
    rank: int
    text: str


@dataclass(frozen=True, slots=True)
class RosterWording:
    """By plain wording what it stands for: a column, a role, a way to take part, yes or no.

    totals : plain first words of a row that counts the others.
    """

    headings: Mapping[str, Wording]
    role: Mapping[str, Wording]
    takes_part: Mapping[str, Wording]
    under_18: Mapping[str, Wording]
    totals: frozenset[str]

    def column(self, heading: str) -> Wording | None:
        """Return the column of a heading, None where it is not known."""
        return self.headings.get(plain_word(heading)) if len(heading) <= 2 * _LONGEST_WORDING else None


def load_wording(own: Path | None = None) -> RosterWording:
    """Return the shipped wordings; those of a teacher's own file go before them.

    Raises
    ------
    TemplateError : a file has faults; every one is named with its line.
    """
    kind = TemplateKind("roster wording", "", _faults)
    tables = [table_of(kind, templates_folder() / "roster.toml")]
    if own is not None:
        tables.insert(0, table_of(kind, own))
    return RosterWording(
        _merged(tables, "headings"),
        _merged(tables, "role"),
        _merged(tables, "takes_part"),
        _merged(tables, "under_18"),
        frozenset(_merged(tables, "rows")),
    )


def _merged(tables: list[Table], name: str) -> dict[str, Wording]:
    merged: dict[str, Wording] = {}
    for table in tables:
        for stands_for, wordings in table.get(name, {}).items():
            for text in wordings:
                merged.setdefault(plain_word(text), Wording(stands_for, len(merged), text))
    return merged


def _faults(table: Table) -> Iterator[Fault]:
    for name, content in table.items():
        if name not in _KEYS:
            yield Fault((name,), f"the table '{name}'", _expected(name, tuple(_KEYS)))
        elif not isinstance(content, dict):
            yield Fault((name,), "a value", f"a table [{name}]")
        else:
            yield from _faults_of_lists(name, content)


def _faults_of_lists(name: str, content: Mapping[str, Any]) -> Iterator[Fault]:
    stands_for: dict[str, str] = {}
    for key, wordings in content.items():
        place = (name, key)
        if key not in _KEYS[name]:
            yield Fault(place, f"the key '{key}'", _expected(key, _KEYS[name]))
            continue
        if not (isinstance(wordings, list) and len(wordings) <= _MOST and all(map(_right, wordings))):
            expected = f"a list of at most {_MOST} texts of 1 to {_LONGEST_WORDING} characters"
            yield Fault(place, "something else", expected)
            continue
        for text in wordings:
            other = stands_for.setdefault(plain_word(text), key)
            if other != key:
                yield Fault(place, f"'{text}', which stands for {other} too", "each wording in one list")


def _right(text: object) -> bool:
    return isinstance(text, str) and len(text) <= _LONGEST_WORDING and plain_word(text) != ""


def _expected(word: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(word, known, 1)
    return " or ".join(known) + (f" (did you mean {near[0]}?)" if near else "")
