"""A roster out of an export in the OneRoster CSV format (1EdTech), 1.1 or 1.2: one class and its people.

Read are users.csv, enrollments.csv, classes.csv and, of 1.2, roles.csv; demographics.csv is never opened. The
columns that 1.2 adds, and the roles of an enrollment, are from memory of the standard. Columns are found by
name in any order; an optional one may be missing.
"""

import csv
import difflib
import io
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sheetgen.checking.list_words import plain_word
from sheetgen.errors import RosterError
from sheetgen.layout.class_book_settings import MOST_PEOPLE, ROLES
from sheetgen.store.csv_text import CsvFault, decoded
from sheetgen.store.oneroster_roster_files import oneroster_files
from sheetgen.store.roster_people import PersonRow, RosterTrouble, checked_people, shown
from sheetgen.store.roster_rows import Roster, roster_error
from sheetgen.store.roster_wording import RosterWording

__all__ = ["oneroster_roster"]

_NEEDED = {
    "users.csv": ("sourcedId", "givenName", "familyName"),
    "enrollments.csv": ("classSourcedId", "userSourcedId"),
    "classes.csv": ("sourcedId",),
    "roles.csv": ("userSourcedId", "role"),
    "manifest.csv": ("propertyName", "value"),
}
_EXPORT = "Export the roster again."
_CHOOSE = "Say which: --school-class TITLE_OR_ID."
_MOST_LISTED = 40


@dataclass(frozen=True, slots=True)
class _Record:
    """One row of a table: its line and its cells by plain heading."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(plain_word(column), "")

    @property
    def active(self) -> bool:
        return plain_word(self["status"]) in ("", "active")


@dataclass(frozen=True, slots=True)
class _SchoolClass:
    identifier: str
    title: str

    def __str__(self) -> str:
        return f"{shown(self.title)} ({self.identifier[:80]})" if self.title else shown(self.identifier)


@dataclass(frozen=True, slots=True)
class _Enrollment:
    line: int
    user: str
    role: str


def oneroster_roster(path: Path, wording: RosterWording, school_class: str = "") -> Roster:
    """Return the people of one class; their student_id is the sourcedId of the user.

    Rows whose status is neither empty nor active are passed over. A preferred given or family name stands for
    the other one.

    Parameters
    ----------
    path : folder or zip. school_class : title or sourcedId; empty: the only class with people in it.

    Raises
    ------
    RosterError : not such an export, or damaged; no class of that name, or several that may be meant, which
        are listed by title and id; nobody in it; two people with one id.
    """
    files = oneroster_files(path)
    tables = {name: _table(f"{path}/{name}", name, data) for name, data in files.items()}
    if "enrollments.csv" not in tables:
        raise RosterError(path, "no enrollments.csv in it", "the people of each class", _EXPORT)
    active = {name: [one for one in table if one.active] for name, table in tables.items()}
    chosen = _chosen(path, active, school_class)
    enrollments, troubles = _enrolled(active, chosen, wording)
    users, found = _users(active["users.csv"], enrollments)
    troubles += found
    checked = checked_people(users, wording)
    if checked.faults:
        raise roster_error(f"{path}/users.csv", checked.faults)
    if len(checked.people) > MOST_PEOPLE:
        found_words = f"{len(checked.people):,} people"
        raise RosterError(path, found_words, f"at most {MOST_PEOPLE:,}", "Choose a smaller class.")
    in_users = [replace(one, found=f"in users.csv, {one.found}") for one in checked.troubles]
    if not checked.people:
        none = RosterTrouble(1, f"nobody in the class {chosen}", "students or teachers", _CHOOSE)
        raise roster_error(path, [none, *troubles, *in_users])
    passed = sum(map(len, tables.values())) - sum(map(len, active.values()))
    source = f"OneRoster CSV {_version(tables)}, class {chosen}; student_id from 'sourcedId'"
    return Roster(
        checked.people,
        (*troubles, *in_users),
        source + (f"; {passed} rows that are not active passed over" if passed else ""),
    )


def _table(place: str, name: str, data: bytes) -> list[_Record]:
    try:
        text = decoded(data).text
    except CsvFault as fault:
        raise RosterError(f"{place}:{fault.line}", fault.found, "UTF-8 text", _EXPORT) from fault
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[_Record] = []
    headings: list[str] = []
    line = 1
    try:
        for cells in reader:
            if not any(map(str.strip, cells)):
                pass
            elif not headings:
                headings = [plain_word(cell) for cell in cells]
            else:
                stripped = (unicodedata.normalize("NFC", cell.strip()) for cell in cells)
                records.append(_Record(line, dict(zip(headings, stripped, strict=False))))
            line = reader.line_num + 1
    except csv.Error as fault:
        raise RosterError(
            f"{place}:{line}", f"quotes out of place ({fault})", "plain CSV", _EXPORT
        ) from fault
    for column in _NEEDED[name]:
        if plain_word(column) not in headings:
            raise RosterError(f"{place}:1", f"no column {column}", f"a column {column}", _EXPORT)
    return records


def _version(tables: Mapping[str, Sequence[_Record]]) -> str:
    """What the manifest says; without it 1.2 shows by its table of roles."""
    said = {one["propertyName"]: one["value"] for one in tables.get("manifest.csv", ())}
    return said.get("oneroster.version", "")[:10] or ("1.2" if "roles.csv" in tables else "1.1")


def _chosen(path: Path, active: Mapping[str, Sequence[_Record]], school_class: str) -> _SchoolClass:
    with_people = dict.fromkeys(one["classSourcedId"] for one in active["enrollments.csv"])
    if "classes.csv" in active:
        classes = [_SchoolClass(one["sourcedId"], one["title"]) for one in active["classes.csv"]]
        classes = [one for one in dict.fromkeys(classes) if one.identifier in with_people]
    else:
        classes = [_SchoolClass(identifier, "") for identifier in with_people]
    if not classes:
        raise RosterError(path, "no class with people in it", "at least one", _EXPORT)
    wanted = unicodedata.normalize("NFC", school_class.strip())
    matches = [one for one in classes if wanted in ("", one.identifier)]
    matches = matches or [one for one in classes if _plain(one.title) == _plain(wanted)]
    if len(matches) == 1:
        return matches[0]
    if matches:
        raise RosterError(path, f"{len(matches)} classes: {_listed(matches)}", "one of them", _CHOOSE)
    by_plain = {_plain(one.title): one for one in classes if one.title}
    near = difflib.get_close_matches(_plain(wanted), by_plain, 1)
    hint = f" Did you mean {by_plain[near[0]]}?" if near else ""
    found = f"no class {shown(wanted)} with people in it"
    raise RosterError(path, found, f"one of {_listed(classes)}", _CHOOSE + hint)


def _plain(title: str) -> str:
    return " ".join(title.casefold().split())


def _listed(classes: Sequence[_SchoolClass]) -> str:
    more = f" and {len(classes) - _MOST_LISTED} more" if len(classes) > _MOST_LISTED else ""
    return ", ".join(map(str, classes[:_MOST_LISTED])) + more


def _enrolled(
    active: Mapping[str, Sequence[_Record]], chosen: _SchoolClass, wording: RosterWording
) -> tuple[list[_Enrollment], list[RosterTrouble]]:
    """Who is in the class, each once; a teacher's row goes before the same person's row as a student."""
    general = _general_roles(active)
    enrolled: dict[str, _Enrollment] = {}
    troubles: list[RosterTrouble] = []
    for row in active["enrollments.csv"]:
        if row["classSourcedId"] != chosen.identifier:
            continue
        user = row["userSourcedId"]
        text = row["role"] or general.get(user, "student")
        known = wording.role.get(plain_word(text))
        who = f"in enrollments.csv, the user {shown(user)}"
        earlier = enrolled.get(user)
        if known is None or known.stands_for not in ROLES:
            troubles.append(_trouble(row, f"{who} with the role {shown(text)}", " or ".join(ROLES)))
        elif earlier is None or (earlier.role, known.stands_for) == ("student", "teacher"):
            if earlier is not None:
                troubles.append(_trouble(row, f"{who} as student too, line {earlier.line}", "one role each"))
            enrolled[user] = _Enrollment(row.line, user, known.stands_for)
        else:
            found = f"{who} again as {known.stands_for}, after line {earlier.line}"
            troubles.append(_trouble(row, found, "each person once"))
    return list(enrolled.values()), troubles


def _general_roles(active: Mapping[str, Sequence[_Record]]) -> dict[str, str]:
    """What somebody is in the school, where the enrollment does not say: a column of 1.1, a table of 1.2."""
    roles = {one["sourcedId"]: one["role"] for one in active["users.csv"] if one["role"]}
    table = active.get("roles.csv", ())
    for one in sorted(table, key=lambda row: plain_word(row["roleType"]) != "primary"):
        roles.setdefault(one["userSourcedId"], one["role"])
    return roles


def _users(
    users: Iterable[_Record], enrollments: Sequence[_Enrollment]
) -> tuple[list[PersonRow], list[RosterTrouble]]:
    by_id: dict[str, list[_Record]] = {}
    for one in users:
        by_id.setdefault(one["sourcedId"], []).append(one)
    rows: list[PersonRow] = []
    troubles: list[RosterTrouble] = []
    for enrollment in enrollments:
        records = by_id.get(enrollment.user, [])
        if not records:
            found = f"in enrollments.csv, the user {shown(enrollment.user)}, who is not active in users.csv"
            remedy = "Ask for a whole export, or type the person into the class book."
            troubles.append(RosterTrouble(enrollment.line, found, "a row for each person", remedy))
        rows += [_person_row(one, enrollment.role) for one in records]
    return rows, troubles


def _person_row(user: _Record, role: str) -> PersonRow:
    cells = {
        "student_id": user["sourcedId"],
        "given_name": user["preferredGivenName"] or user["givenName"],
        "family_name": user["preferredFamilyName"] or user["familyName"],
        "email": user["email"],
        "role": role,
    }
    return PersonRow(user.line, cells)


def _trouble(row: _Record, found: str, expected: str) -> RosterTrouble:
    return RosterTrouble(row.line, found, expected, "Nothing, if that is meant; else correct the class book.")
