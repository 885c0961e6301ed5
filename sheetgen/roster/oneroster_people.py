"""A roster out of an export in the OneRoster CSV format (1EdTech), 1.1 or 1.2: one class and its people. Read
are users.csv, enrollments.csv, classes.csv and, of 1.2, roles.csv, out of a folder or a zip; no other file is
opened, so that birth dates and the like stay where they are. The columns that 1.2 adds, and the roles of an
enrollment, are from memory of the standard. Columns are found by name."""

import difflib
import io
import unicodedata
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import IO

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_folder.records import MOST_PEOPLE, ROLES
from sheetgen.errors import RosterError
from sheetgen.roster.headings import RosterTrouble, RosterWording, shown
from sheetgen.roster.people import PersonRow, Roster, checked_people, roster_error
from sheetgen.texts.csv_cells import CsvFault, cut, decoded
from sheetgen.texts.languages import folded, plain_word
from sheetgen.workbook.read.bounded_zip import BROKEN_ZIP, climbs, steps_of

_MARKER = "users.csv"
_LARGEST_ZIP = 50_000_000
"""Bytes, as those of a part once it is unpacked."""
_LARGEST_PART = 30_000_000
_MOST_ENTRIES = 500
_DIRECTORY_MARK = b"PK\x01\x02"
_NEEDED = {
    "users.csv": ("sourcedId", "givenName", "familyName"),
    "enrollments.csv": ("classSourcedId", "userSourcedId"),
    "classes.csv": ("sourcedId",),
    "roles.csv": ("userSourcedId", "role"),
}
"""The files that are read, with the columns that each has to have."""
_EXPORT = "Export the roster again."
_CHOOSE = "Say which: --school-class TITLE_OR_ID."
_MOST_LISTED = 40

_Part = tuple[tuple[str, ...], Callable[[], IO[bytes]]]
"""A file of the export: the steps of its path, and what opens it."""


class _Record(Struct, frozen=True):
    """One row of a table: its line and its cells by plain heading."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(plain_word(column), "")


def holds_oneroster(path: Path) -> bool:
    """Return whether a file is a zip with a table of users, at its top or in a folder; nothing raises."""
    try:
        with _opened_zip(path) as archive:
            return any(_name(steps_of(entry.orig_filename)) == _MARKER for entry in archive.infolist())
    except (RosterError, *BROKEN_ZIP):
        return False


def oneroster_files(path: Path) -> dict[str, bytes]:
    """Return the contents of the files that are read by name, those that are there. They may lie at the top
    or in one folder below it; capitals in their names do not matter. RosterError : no table of users, or
    several; larger than a roster is; a path that climbs out of the zip; damaged or locked."""
    try:
        if path.is_dir():
            files = sorted(file for file in (*path.iterdir(), *path.glob("*/*")) if file.is_file())
            return _contents(path, [(file.relative_to(path).parts, partial(_opened, file)) for file in files])
        with _opened_zip(path) as archive:
            entries = archive.infolist()
            for name in filter(climbs, (entry.orig_filename for entry in entries)):
                found = f"a path that leads out of the zip, {name[:80]!r}"
                raise RosterError(path, found, "paths that stay inside", f"Do not unpack it. {_EXPORT}")
            return _contents(
                path, [(steps_of(entry.orig_filename), partial(archive.open, entry)) for entry in entries]
            )
    except BROKEN_ZIP as fault:
        found = f"a folder or zip that is damaged, locked or cannot be read ({fault})"
        raise RosterError(path, found, "a whole export without a password", _EXPORT) from fault


def _opened(path: Path) -> IO[bytes]:
    return path.open("rb")


def _opened_zip(path: Path) -> zipfile.ZipFile:
    """A zip within the bounds; whatever is BROKEN_ZIP may be raised."""
    if not path.is_file():
        raise RosterError(path, "a folder or device", "a file", _EXPORT)
    with path.open("rb") as stream:
        data = stream.read(_LARGEST_ZIP + 1)
    many = data.count(_DIRECTORY_MARK) > _MOST_ENTRIES
    if len(data) > _LARGEST_ZIP or many:
        found = f"more than {_MOST_ENTRIES} entries" if many else f"more than {_LARGEST_ZIP:,} bytes"
        raise RosterError(path, found, "the zip of a roster", "Export one class or school only.")
    return zipfile.ZipFile(io.BytesIO(data))


def _name(steps: Sequence[str]) -> str:
    """Which file that is read this is; none for what lies deeper than one folder, or a desktop's shadows."""
    name = steps[-1].lower() if 1 <= len(steps) <= 2 and "__MACOSX" not in steps else ""
    return name if name in _NEEDED else ""


def _contents(path: Path, parts: Iterable[_Part]) -> dict[str, bytes]:
    """The files beside the table of users, by name in lower case."""
    named = [(_name(steps), steps[:-1], opened) for steps, opened in parts if _name(steps)]
    folders = [folder for name, folder, _ in named if name == _MARKER]
    if len(folders) != 1:
        found = f"{len(folders)} files {_MARKER}" if folders else f"no {_MARKER} in it"
        remedy = "Name one whole export alone, or the roster file itself."
        raise RosterError(path, found, "one OneRoster export", remedy)
    contents: dict[str, bytes] = {}
    for name, opened in [(name, opened) for name, folder, opened in named if folder == folders[0]]:
        if name in contents:
            raise RosterError(path, f"the file {name} twice", "each file once", _EXPORT)
        with opened() as stream:
            contents[name] = stream.read(_LARGEST_PART + 1)
        if len(contents[name]) > _LARGEST_PART:
            found = f"more than {_LARGEST_PART:,} bytes"
            raise RosterError(f"{path}/{name}", found, "a roster", "Export one class only.")
    return contents


def oneroster_roster(path: Path, wording: RosterWording, school_class: str = "") -> Roster:
    """Return the people of one class; their student_id is the sourcedId of the user. Rows whose status is
    neither empty nor active are passed over. A preferred given or family name stands for the other one.
    path : folder or zip. school_class : title or sourcedId; empty: the only class with people in it.
    RosterError : not such an export, or damaged; no class of that name, or several that may be meant, which
    are listed by title and id; nobody in it; two people with one id."""
    active = {name: _active(f"{path}/{name}", name, data) for name, data in oneroster_files(path).items()}
    if "enrollments.csv" not in active:
        raise RosterError(path, "no enrollments.csv in it", "the people of each class", _EXPORT)
    identifier, said = _chosen(path, active, school_class)
    rows, troubles = _enrolled(active, identifier, wording)
    checked = checked_people(f"{path}/users.csv", rows, wording)
    if len(checked.people) > MOST_PEOPLE:
        found = f"{len(checked.people):,} people"
        raise RosterError(path, found, f"at most {MOST_PEOPLE:,}", "Choose a smaller class.")
    troubles += [replace(trouble, found=f"in users.csv, {trouble.found}") for trouble in checked.troubles]
    if not checked.people:
        none = RosterTrouble(1, f"nobody in the class {said}", "students or teachers", _CHOOSE)
        raise roster_error(path, [none, *troubles])
    return Roster(checked.people, tuple(troubles))


def _active(place: str, name: str, data: bytes) -> list[_Record]:
    """The rows of a table that count."""
    try:
        text = decoded(data).text
        first = text.partition("\n")[0]
        rows = [row for row in cut(text, max(",;\t", key=first.count)) if not row.blank]
    except CsvFault as fault:
        raise RosterError(f"{place}:{fault.line}", fault.found, "plain CSV, UTF-8", _EXPORT) from fault
    headings = [plain_word(value) for row in rows[:1] for value in row.values]
    for column in _NEEDED[name]:
        if plain_word(column) not in headings:
            raise RosterError(f"{place}:1", f"no column {column}", f"a column {column}", _EXPORT)
    records = []
    for row in rows[1:]:
        values = (unicodedata.normalize("NFC", value.strip()) for value in row.values)
        records.append(_Record(row.line, dict(zip(headings, values, strict=False))))
    return [record for record in records if plain_word(record["status"]) in ("", "active")]


def _chosen(path: Path, active: Mapping[str, Sequence[_Record]], school_class: str) -> tuple[str, str]:
    """The id of the class asked for, and how it is called in messages."""
    titles = {record["classSourcedId"]: "" for record in active["enrollments.csv"]}
    if "classes.csv" in active:
        named = {record["sourcedId"]: record["title"] for record in active["classes.csv"]}
        titles = {identifier: title for identifier, title in named.items() if identifier in titles}
    if not titles:
        raise RosterError(path, "no class with people in it", "at least one", _EXPORT)
    said = {
        identifier: f"{shown(title)} ({identifier[:80]})" if title else shown(identifier)
        for identifier, title in titles.items()
    }
    wanted = unicodedata.normalize("NFC", school_class.strip())
    matches = [identifier for identifier in titles if wanted in ("", identifier)]
    by_title = [identifier for identifier, title in titles.items() if folded(title) == folded(wanted)]
    matches = matches or by_title
    if len(matches) == 1:
        return matches[0], said[matches[0]]
    if matches:
        found = f"{len(matches)} classes: {_listed([said[identifier] for identifier in matches])}"
        raise RosterError(path, found, "one of them", _CHOOSE)
    by_plain = {folded(title): said[identifier] for identifier, title in titles.items() if title}
    near = difflib.get_close_matches(folded(wanted), by_plain, 1)
    hint = f" Did you mean {by_plain[near[0]]}?" if near else ""
    found = f"no class {shown(wanted)} with people in it"
    raise RosterError(path, found, f"one of {_listed(list(said.values()))}", _CHOOSE + hint)


def _listed(classes: Sequence[str]) -> str:
    more = f" and {len(classes) - _MOST_LISTED} more" if len(classes) > _MOST_LISTED else ""
    return ", ".join(classes[:_MOST_LISTED]) + more


def _enrolled(
    active: Mapping[str, Sequence[_Record]], school_class: str, wording: RosterWording
) -> tuple[list[PersonRow], list[RosterTrouble]]:
    """Who is in the class, each once; a teacher's row goes before the same person's row as a student."""
    general = _general_roles(active)
    enrolled: dict[str, tuple[int, str]] = {}
    troubles: list[RosterTrouble] = []

    def tell(line: int, found: str, expected: str) -> None:
        remedy = "Nothing, if that is meant; else correct the class book."
        troubles.append(RosterTrouble(line, f"in enrollments.csv, the user {found}", expected, remedy))

    for row in active["enrollments.csv"]:
        if row["classSourcedId"] != school_class:
            continue
        user = row["userSourcedId"]
        text = row["role"] or general.get(user, "student")
        known = wording.role.get(plain_word(text))
        earlier_line, earlier_role = enrolled.get(user, (0, ""))
        if known is None or known.stands_for not in ROLES:
            tell(row.line, f"{shown(user)} with the role {shown(text)}", " or ".join(ROLES))
        elif not earlier_role or (earlier_role, known.stands_for) == ("student", "teacher"):
            if earlier_role:
                tell(row.line, f"{shown(user)} as student too, line {earlier_line}", "one role each")
            enrolled[user] = row.line, known.stands_for
        else:
            found = f"{shown(user)} again as {known.stands_for}, after line {earlier_line}"
            tell(row.line, found, "each person once")
    users = defaultdict(list)
    for record in active["users.csv"]:
        users[record["sourcedId"]].append(record)
    for user, (line, _) in enrolled.items():
        if user not in users:
            found = f"in enrollments.csv, the user {shown(user)}, who is not active in users.csv"
            remedy = "Ask for a whole export, or type the person into the class book."
            troubles.append(RosterTrouble(line, found, "a row for each person", remedy))
    return [
        _person_row(record, role) for user, (_, role) in enrolled.items() for record in users.get(user, ())
    ], troubles


def _general_roles(active: Mapping[str, Sequence[_Record]]) -> dict[str, str]:
    """What somebody is in the school, where the enrollment does not say: a column of 1.1, a table of 1.2."""
    roles = {user["sourcedId"]: user["role"] for user in active["users.csv"] if user["role"]}
    table = active.get("roles.csv", ())
    for row in sorted(table, key=lambda row: plain_word(row["roleType"]) != "primary"):
        roles.setdefault(row["userSourcedId"], row["role"])
    return roles


def _person_row(user: _Record, role: str) -> PersonRow:
    cells = {
        "student_id": user["sourcedId"],
        "given_name": user["preferredGivenName"] or user["givenName"],
        "family_name": user["preferredFamilyName"] or user["familyName"],
        "email": user["email"],
        "role": role,
    }
    return PersonRow(user.line, cells)
