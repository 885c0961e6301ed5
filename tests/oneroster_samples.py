"""The two OneRoster zips in samples/: one invented class of a lighthouse's evening school, as 1.1 and as 1.2.

`python -m tests.oneroster_samples` writes them anew.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
VERSIONS = ("1.1", "1.2")
CLASS_ID = "cls-lamp-07"
CLASS_TITLE = "Measuring by lamplight"

# sourcedId, given, family, preferred given, email, role in class, status of the user
_PEOPLE = (
    ("00071", "Ines", "Farolero", "", "ines@lamp.example", "teacher", "active"),
    ("00072", "Margarethe", "Dünung", "Grete", "grete@lamp.example", "student", "active"),
    ("00073", "Tomasz", "Świtało", "", "", "student", ""),
    ("00074", "Νεφέλη", "Φάρου", "", "nefeli@lamp.example", "student", "active"),
    ("00075", "灯", "岬", "", "akari@lamp.example", "student", "active"),
    ("00076", "Siobhán", "O'Reef, the younger", "", "", "student", "active"),
    ("00077", "Left", "Lastterm", "", "left@lamp.example", "student", "tobedeleted"),
    ("00078", "Only", "Knots", "", "knots@lamp.example", "student", "active"),
)  # fmt: skip

EXPECTED = (
    # student_id, given name, family name, email, role
    ("00071", "Ines", "Farolero", "ines@lamp.example", "teacher"),
    ("00072", "Grete", "Dünung", "grete@lamp.example", "student"),
    ("00073", "Tomasz", "Świtało", "", "student"),
    ("00074", "Νεφέλη", "Φάρου", "nefeli@lamp.example", "student"),
    ("00075", "灯", "岬", "akari@lamp.example", "student"),
    ("00076", "Siobhán", "O'Reef, the younger", "", "student"),
)

_CLASSES = ((CLASS_ID, CLASS_TITLE), ("cls-knot-02", "Knots and splices"))


def sample_tables(version: str) -> dict[str, str]:
    """Return the files of the invented export by name."""
    tables = {
        "manifest.csv": _csv(
            ("propertyName", "value"), (("manifest.version", "1.0"), ("oneroster.version", version))
        ),
        "classes.csv": _csv(
            ("sourcedId", "status", "dateLastModified", "title", "classCode", "classType"),
            ((one, "active", "", title, "", "scheduled") for one, title in _CLASSES),
        ),
        "enrollments.csv": _csv(
            (
                "sourcedId",
                "status",
                "dateLastModified",
                "classSourcedId",
                "schoolSourcedId",
                "userSourcedId",
                "role",
            ),
            _enrollments(),
        ),
        "users.csv": _users(version),
        # Invented days; they stand here to show that nobody reads them.
        "demographics.csv": _csv(
            ("sourcedId", "status", "dateLastModified", "birthDate", "sex"),
            ((person[0], "", "", "1901-02-03", "unspecified") for person in _PEOPLE),
        ),
    }
    if version == "1.2":
        tables["roles.csv"] = _csv(
            ("sourcedId", "status", "dateLastModified", "userSourcedId", "roleType", "role", "orgSourcedId"),
            (
                (f"r{person[0]}", "active", "", person[0], "primary", person[5], "school")
                for person in _PEOPLE
            ),
        )
    return tables


def sample_zip(version: str) -> bytes:
    """Return the zip of the invented export: always the same bytes."""
    return zipped({name: text.encode("utf-8") for name, text in sample_tables(version).items()})


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Return files as a zip, stored and with constant times, so that no library's version shows."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name)
            entry.create_system = 3
            archive.writestr(entry, data)
    return stream.getvalue()


def _enrollments() -> Iterable[tuple[str, ...]]:
    for identifier, *_, role, _ in _PEOPLE:
        if identifier != "00078":
            yield (f"e{identifier}", "active", "", CLASS_ID, "school", identifier, role)
    yield ("e-old", "tobedeleted", "", CLASS_ID, "school", "00078", "student")
    yield ("e-knots", "active", "", "cls-knot-02", "school", "00078", "student")


def _users(version: str) -> str:
    first = ("sourcedId", "status", "dateLastModified", "enabledUser")
    names = ("username", "userIds", "givenName", "familyName", "middleName", "identifier", "email")
    if version == "1.1":
        return _csv(
            (*first, "orgSourcedIds", "role", *names),
            # 1.1 has no column for the name somebody goes by: the school writes it as the given name.
            (
                (one, status, "", "true", "school", role, one, "", preferred or given, family, "", "", email)
                for one, given, family, preferred, email, role, status in _PEOPLE
            ),
        )
    return _csv(
        (*first, *names, "preferredGivenName", "preferredMiddleName", "preferredFamilyName"),
        (
            (one, status, "", "true", one, "", given, family, "", "", email, preferred, "", "")
            for one, given, family, preferred, email, role, status in _PEOPLE
        ),
    )


def _csv(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows(rows)
    return stream.getvalue()


if __name__ == "__main__":
    for number in VERSIONS:
        (SAMPLES / f"oneroster-{number}.zip").write_bytes(sample_zip(number))
