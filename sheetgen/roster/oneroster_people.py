"""A roster out of an export in the OneRoster CSV format (1EdTech), 1.1 or 1.2: one class and its people.

Read are users.csv, enrollments.csv, classes.csv and, of 1.2, roles.csv, out of a folder or a zip; no other
file is opened, so that birth dates and the like stay where they are. The columns that 1.2 adds, and the roles
of an enrollment, are from memory of the standard. Columns are found by name in any order; an optional one may
be missing.
"""

import difflib
import io
import stat
import unicodedata
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import IO

from sheetgen.class_folder.records import MOST_PEOPLE, ROLES
from sheetgen.errors import RosterError
from sheetgen.roster.headings import RosterTrouble, RosterWording, shown
from sheetgen.roster.people import PersonRow, checked_people
from sheetgen.roster.reading import Roster, roster_error
from sheetgen.texts.csv_cells import CsvFault, cut, decoded
from sheetgen.texts.languages import folded, plain_word
from sheetgen.workbook.read.bounded_zip import BROKEN_ZIP, climbs, steps_of

READ_FILES = ("manifest.csv", "users.csv", "enrollments.csv", "classes.csv", "roles.csv")

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
    "manifest.csv": ("propertyName", "value"),
}
_EXPORT = "Export the roster again."
_CHOOSE = "Say which: --school-class TITLE_OR_ID."
_MOST_LISTED = 40


@dataclass(frozen=True, slots=True)
class _Part:
    """A file of the export, in the folder or zip."""

    folder: str
    name: str
    opened: Callable[[], IO[bytes]]


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


def holds_oneroster(path: Path) -> bool:
    """Return whether a file is a zip with a table of users, at its top or in a folder; nothing raises."""
    try:
        if not stat.S_ISREG(path.stat().st_mode) or path.stat().st_size > _LARGEST_ZIP:
            return False
        data = path.read_bytes()
        if data[:2] != b"PK" or data.count(_DIRECTORY_MARK) > _MOST_ENTRIES:
            return False
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return any(_place(entry)[1].lower() == _MARKER for entry in archive.infolist())
    except BROKEN_ZIP:
        return False


def oneroster_files(path: Path) -> dict[str, bytes]:
    """Return the contents of READ_FILES by name, those that are there.

    They may lie at the top or in one folder below it; capitals in their names do not matter.

    Raises
    ------
    RosterError : no table of users, or several; larger than a roster is; a path that climbs out of the zip;
        damaged or locked.
    """
    return _from_folder(path) if path.is_dir() else _from_zip(path)


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
    active = {name: [record for record in table if record.active] for name, table in tables.items()}
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
    in_users = [replace(trouble, found=f"in users.csv, {trouble.found}") for trouble in checked.troubles]
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
    records: list[_Record] = []
    headings: list[str] = []
    try:
        text = decoded(data).text
    except CsvFault as fault:
        raise RosterError(f"{place}:{fault.line}", fault.found, "UTF-8 text", _EXPORT) from fault
    first = text.partition("\n")[0]
    try:
        for row in cut(text, max(",;\t", key=first.count)):
            if row.blank:
                continue
            if headings:
                values = (unicodedata.normalize("NFC", value.strip()) for value in row.values)
                records.append(_Record(row.line, dict(zip(headings, values, strict=False))))
            else:
                headings = [plain_word(value) for value in row.values]
    except CsvFault as fault:
        found = f"quotes out of place ({fault.found})"
        raise RosterError(f"{place}:{fault.line}", found, "plain CSV", _EXPORT) from fault
    for column in _NEEDED[name]:
        if plain_word(column) not in headings:
            raise RosterError(f"{place}:1", f"no column {column}", f"a column {column}", _EXPORT)
    return records


def _version(tables: Mapping[str, Sequence[_Record]]) -> str:
    """What the manifest says; without it 1.2 shows by its table of roles."""
    said = {record["propertyName"]: record["value"] for record in tables.get("manifest.csv", ())}
    return said.get("oneroster.version", "")[:10] or ("1.2" if "roles.csv" in tables else "1.1")


def _chosen(path: Path, active: Mapping[str, Sequence[_Record]], school_class: str) -> _SchoolClass:
    with_people = dict.fromkeys(record["classSourcedId"] for record in active["enrollments.csv"])
    if "classes.csv" in active:
        classes = [_SchoolClass(record["sourcedId"], record["title"]) for record in active["classes.csv"]]
        classes = [known for known in dict.fromkeys(classes) if known.identifier in with_people]
    else:
        classes = [_SchoolClass(identifier, "") for identifier in with_people]
    if not classes:
        raise RosterError(path, "no class with people in it", "at least one", _EXPORT)
    wanted = unicodedata.normalize("NFC", school_class.strip())
    matches = [known for known in classes if wanted in ("", known.identifier)]
    matches = matches or [known for known in classes if folded(known.title) == folded(wanted)]
    if len(matches) == 1:
        return matches[0]
    if matches:
        raise RosterError(path, f"{len(matches)} classes: {_listed(matches)}", "one of them", _CHOOSE)
    by_plain = {folded(known.title): known for known in classes if known.title}
    near = difflib.get_close_matches(folded(wanted), by_plain, 1)
    hint = f" Did you mean {by_plain[near[0]]}?" if near else ""
    found = f"no class {shown(wanted)} with people in it"
    raise RosterError(path, found, f"one of {_listed(classes)}", _CHOOSE + hint)


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
    roles = {user["sourcedId"]: user["role"] for user in active["users.csv"] if user["role"]}
    table = active.get("roles.csv", ())
    for row in sorted(table, key=lambda row: plain_word(row["roleType"]) != "primary"):
        roles.setdefault(row["userSourcedId"], row["role"])
    return roles


def _users(
    users: Iterable[_Record], enrollments: Sequence[_Enrollment]
) -> tuple[list[PersonRow], list[RosterTrouble]]:
    by_id: dict[str, list[_Record]] = {}
    for user in users:
        by_id.setdefault(user["sourcedId"], []).append(user)
    rows: list[PersonRow] = []
    troubles: list[RosterTrouble] = []
    for enrollment in enrollments:
        records = by_id.get(enrollment.user, [])
        if not records:
            found = f"in enrollments.csv, the user {shown(enrollment.user)}, who is not active in users.csv"
            remedy = "Ask for a whole export, or type the person into the class book."
            troubles.append(RosterTrouble(enrollment.line, found, "a row for each person", remedy))
        rows += [_person_row(user, enrollment.role) for user in records]
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


def _from_folder(path: Path) -> dict[str, bytes]:
    try:
        files = sorted((*path.iterdir(), *path.glob("*/*")))
        return _contents(path, [_Part(str(file.parent), file.name, partial(_opened, file)) for file in files])
    except OSError as fault:
        found = f"it cannot be read ({fault.strerror or fault})"
        raise RosterError(path, found, "a OneRoster export", "Check your right to read it.") from fault


def _opened(path: Path) -> IO[bytes]:
    if not stat.S_ISREG(path.stat().st_mode):
        raise RosterError(path, "a folder or device", "a file", _EXPORT)
    return path.open("rb")


def _from_zip(path: Path) -> dict[str, bytes]:
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_ZIP + 1)
        many = data.count(_DIRECTORY_MARK) > _MOST_ENTRIES
        if len(data) > _LARGEST_ZIP or many:
            found = f"more than {_MOST_ENTRIES} entries" if many else f"more than {_LARGEST_ZIP:,} bytes"
            raise RosterError(path, found, "the zip of a roster", "Export one class or school only.")
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            climbing = next((entry.orig_filename for entry in entries if climbs(entry.orig_filename)), None)
            if climbing is not None:
                found = f"a path that leads out of the zip, {climbing[:80]!r}"
                raise RosterError(path, found, "paths that stay inside", f"Do not unpack it. {_EXPORT}")
            return _contents(path, [_part(archive, entry) for entry in entries])
    except BROKEN_ZIP as fault:
        found = f"a zip that is damaged, locked or cannot be read ({fault})"
        raise RosterError(path, found, "a whole zip without a password", _EXPORT) from fault


def _part(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> _Part:
    return _Part(*_place(entry), partial(archive.open, entry))


def _place(entry: zipfile.ZipInfo) -> tuple[str, str]:
    """Folder and name; no name for what lies deeper, and for the shadows that a re-zipping desktop adds."""
    *folders, name = steps_of(entry.orig_filename) or ("",)
    return "/".join(folders), "" if "__MACOSX" in folders or len(folders) > 1 else name


def _contents(path: Path, parts: Iterable[_Part]) -> dict[str, bytes]:
    """The files beside the table of users, by name in lower case."""
    named = [part for part in parts if part.name.lower() in READ_FILES]
    folders = [part.folder for part in named if part.name.lower() == _MARKER]
    if not folders:
        remedy = "Name the roster file itself, or a whole OneRoster export."
        raise RosterError(path, f"no {_MARKER} in it", "a OneRoster export", remedy)
    if len(folders) > 1:
        remedy = "Name one export alone."
        raise RosterError(path, f"{len(folders)} files {_MARKER}", "one OneRoster export", remedy)
    contents: dict[str, bytes] = {}
    for part in named:
        name = part.name.lower()
        if part.folder != folders[0]:
            continue
        if name in contents:
            raise RosterError(path, f"the file {name} twice", "each file once", _EXPORT)
        with part.opened() as stream:
            contents[name] = stream.read(_LARGEST_PART + 1)
        if len(contents[name]) > _LARGEST_PART:
            found = f"more than {_LARGEST_PART:,} bytes"
            raise RosterError(f"{path}/{name}", found, "a roster", "Export one class only.")
    return contents
