"""Spare sheets: made for nobody, claimed afterwards by a line of the tab Pairs.

A claimed sheet counts for the pair of that line. Its readings stand under the participant's usual code, not
under the one printed on the spare: the next session's sheet carries the usual one, and a change can only be
told, and a person under 18 only be known, where both say the same.
"""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from sheetgen.class_book.table import LEFT
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, CopyRecord, Pairing, Person
from sheetgen.errors import FolderError, UsageError
from sheetgen.finding import Finding

_SPARE = re.compile("spare-[0-9]{1,3}")

Builds = Mapping[str, Sequence[CopyRecord]]
"""Copy code to every build of that copy, oldest first."""


@dataclass(frozen=True, slots=True)
class Claim:
    """Whose a spare sheet is. participant_code : empty where the participant has none yet."""

    measurer: str
    participant: str
    participant_code: str


def spare_id(number: int) -> str:
    """Return what stands on a spare sheet for the student_id; number counts from 1."""
    return f"spare-{number}"


def is_spare(record: CopyRecord) -> bool:
    """Tell whether a sheet was made for nobody and is not claimed."""
    return not record.participant_id and bool(_SPARE.fullmatch(record.student_id))


def claims_of(book: ClassBook) -> dict[str, Claim]:
    """Return the claims of the tab Pairs by copy code; of two lines that claim one sheet the first holds."""
    codes = {person.student_id: person.participant_code for person in book.people}
    claims: dict[str, Claim] = {}
    for pair in book.pairings:
        if pair.spare:
            claim = Claim(pair.measurer, pair.participant, codes.get(pair.participant, ""))
            claims.setdefault(_code(pair.spare), claim)
    return claims


def claimed(record: CopyRecord, claims: Mapping[str, Claim]) -> CopyRecord:
    """Return the record as whoever claimed the sheet has it; any other record as it is."""
    claim = claims.get(record.copy_code)
    if claim is None or not is_spare(record):
        return record
    return replace(
        record,
        student_id=claim.measurer,
        participant_id=claim.participant,
        participant_code=claim.participant_code or record.participant_code,
    )


def claimed_records(builds: Builds, book: ClassBook) -> dict[str, tuple[CopyRecord, ...]]:
    """Return what is on record, spare sheets under the names of those who claimed them."""
    claims = claims_of(book)
    return {code: tuple(claimed(record, claims) for record in made) for code, made in builds.items()}


def spare_findings(record: CopyRecord, claims: Mapping[str, Claim]) -> tuple[Finding, ...]:
    """Return the finding for a spare sheet that came back and that nobody has claimed."""
    if not is_spare(record) or record.copy_code in claims:
        return ()
    values = {"measurer": record.student_id, "code": record.copy_code}
    return (Finding("identity-spare-unclaimed", values),)


def handed_out_in(builds: Builds, book: ClassBook, session: int) -> tuple[CopyRecord, ...]:
    """Return the sheets of a session under the names of those who have them, by file name.

    The own sheet of a pair that used a spare one is left out: nobody has it.
    """
    whose = claimed_records(builds, book)
    newest = [made[-1] for made in whose.values() if made and made[-1].session == session]
    by_spare = {
        (record.student_id, record.participant_id): record.copy_code
        for record in newest
        if is_spare(builds[record.copy_code][-1]) and not is_spare(record)
    }
    theirs = [
        record
        for record in newest
        if by_spare.get((record.student_id, record.participant_id), record.copy_code) == record.copy_code
    ]
    return tuple(sorted(theirs, key=lambda record: record.file_name))


def expected_back(handed_out: Iterable[CopyRecord], book: ClassBook) -> tuple[CopyRecord, ...]:
    """Return the sheets that somebody is to hand in: no unclaimed spare ones, none of people who left.

    A sheet of a pair that was changed since is not waited for where the measurer has one of a pair that
    stands; where they have no other, it stays, so that nobody is lost.
    """
    left = {person.student_id for person in book.people if person.status == LEFT}
    pairs = {(pair.measurer, pair.participant) for pair in book.pairings}
    theirs = [record for record in handed_out if not is_spare(record) and record.student_id not in left]
    standing = {record.student_id for record in theirs if (record.student_id, record.participant_id) in pairs}
    return tuple(
        record
        for record in theirs
        if (record.student_id, record.participant_id) in pairs or record.student_id not in standing
    )


def own_sheet_wanted(builds: Builds, spare: str, session: int) -> bool:
    """Tell whether a pair needs a sheet of its own in a session, for all that it used a spare one.

    The spare belongs to one session; in every other one the pair gets its own sheet.
    """
    several = builds.get(_code(spare), ())
    return not (several and is_spare(several[-1]) and several[-1].session == session)


def stray_claims(builds: Builds, book: ClassBook) -> tuple[tuple[str, str, str], ...]:
    """Return (measurer, copy code, what is wrong with it) of claims that hold for no sheet."""
    stray: list[tuple[str, str, str]] = []
    seen: dict[str, str] = {}
    for pair in book.pairings:
        if not pair.spare:
            continue
        code = _code(pair.spare)
        if not any(map(is_spare, builds.get(code, ()))):
            stray.append((pair.measurer, code, "no spare sheet on record"))
        elif code in seen:
            stray.append((pair.measurer, code, f"a spare sheet that {seen[code]} has claimed"))
        seen.setdefault(code, pair.measurer)
    return tuple(stray)


def _code(text: str) -> str:
    return text.strip().upper()


@dataclass(frozen=True, slots=True)
class Copy:
    """One sheet to be made: who measures whom, the sheet's code, and the folder it goes into."""

    pairing: Pairing
    participant: Person
    copy_code: str
    place: Path


def pairings_wanted(folder: ClassFolder, book: ClassBook, only: str) -> tuple[Pairing, ...]:
    """Return the pairings to build for: all, or those of one measurer.

    Raises
    ------
    UsageError : there is no such student, or they have left.
    FolderError : nobody measures anybody, or this student measures nobody.
    """
    known = {person.student_id for person in book.people}
    if only and only not in known:
        raise UsageError(
            f"--student {only}",
            "no such student_id in the roster",
            "one of the roster",
            "Check the tab Roster.",
        )
    if only and any(person.student_id == only and person.status == LEFT for person in book.people):
        raise UsageError(
            f"--student {only}",
            "someone who has left the class",
            "someone who is in it",
            "Empty the column status of this line on the tab Roster if they are back.",
        )
    pairings = tuple(pairing for pairing in book.pairings if not only or pairing.measurer == only)
    if only and not pairings:
        raise FolderError(
            folder.book,
            f"{only} measures nobody",
            "a line with them as measurer on the tab Pairs",
            "Type the pair there, and save the class book.",
        )
    if not pairings:
        raise FolderError(
            folder.book, "nobody measures anybody", "at least two people on the tab Roster",
            "Add them to the roster, or pairs to the tab Pairs, and save the class book.",
        )  # fmt: skip
    return pairings


def copies_of_pairs(
    folder: ClassFolder,
    book: ClassBook,
    secret: str,
    records: Builds,
    pairings: Iterable[Pairing],
    session: int,
) -> list[Copy]:
    """Return the sheets of pairs; one who used a spare sheet in this session needs no other."""
    people = {person.student_id: person for person in book.people}
    return [
        Copy(
            pairing,
            people[pairing.participant],
            keep.copy_code(secret, pairing.measurer, pairing.participant, session),
            folder.sheets(session),
        )
        for pairing in pairings
        if not pairing.spare or own_sheet_wanted(records, pairing.spare, session)
    ]


def spare_copies(
    folder: ClassFolder, book: ClassBook, secret: str, records: Builds, session: int
) -> list[Copy]:
    """Return sheets for people who are not on the roster, careful as for someone not said to be of age."""
    issued = next((caliper.identifier for caliper in book.settings.calipers if caliper.in_service), "")
    taken = {person.participant_code for person in book.people}
    taken |= {record.participant_code for builds in records.values() for record in builds}
    copies: list[Copy] = []
    for number in range(1, book.spare_sheets + 1 if issued else 1):
        name = spare_id(number)
        code = keep.copy_code(secret, name, "", session)
        # Of one session only: two who use spares in two sessions are not one person.
        propose = partial(keep.participant_code, secret, f"{name}/session-{session}")
        builds = records.get(code, ())
        shown = builds[-1].participant_code if builds else keep.distinct(taken, propose)
        taken.add(shown)
        nobody = Person("", "", "", participant_code=shown)
        copies.append(Copy(Pairing(name, "", issued), nobody, code, folder.spare(session)))
    return copies


def partners_without(book: ClassBook, secret: str, records: Builds, only: str, session: int) -> Iterable[str]:
    """Tell who is to measure the one whose sheet is built alone, and has no sheet for it yet."""
    for pair in book.pairings:
        code = keep.copy_code(secret, pair.measurer, pair.participant, session)
        wanted = not pair.spare or own_sheet_wanted(records, pair.spare, session)
        if only and pair.participant == only and code not in records and wanted:
            yield (
                f"{pair.measurer} measures {only} and has no sheet for it in session {session}: build it "
                f"with --student {pair.measurer}."
            )


def stale_sheets(
    folder: ClassFolder, records: Builds, wanted: Collection[str], session: int
) -> tuple[str, ...]:
    """Return the names of a session's sheets that were built for pairs and are wanted no more.

    Parameters
    ----------
    wanted : copy codes of the sheets that are. A sheet that was moved away, to hand it out, is not named.
    """
    newest = [several[-1] for code, several in records.items() if several and code not in wanted]
    names = (record.file_name for record in newest if record.session == session and record.participant_id)
    return tuple(sorted(name for name in names if (folder.sheets(session) / name).is_file()))


def unpaired(book: ClassBook) -> Iterable[str]:
    """Return the students of the class who measure nobody."""
    measurers = {pairing.measurer for pairing in book.pairings}
    return (
        person.student_id
        for person in book.people
        if person.student_id not in measurers and person.role == "student" and person.status != LEFT
    )
