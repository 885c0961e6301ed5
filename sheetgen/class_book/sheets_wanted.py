"""Which sheets a session wants, and whose they are; spare ones too: made for nobody, claimed afterwards by a
line of the tab Pairs. A claimed sheet counts for the pair of that line, and its readings stand under the
participant's usual code: a change can only be told, and a person under 18 only be known, where the next
session's sheet says the same."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.cells_read import id_key
from sheetgen.class_book.lesson import takes_turns
from sheetgen.class_book.protection import named
from sheetgen.class_book.table import LEFT
from sheetgen.class_folder import keep
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import EXERCISES, ClassBook, CopyRecord, Pairing, Person
from sheetgen.class_folder.scores import load_scores
from sheetgen.errors import FolderError, UsageError
from sheetgen.finding import Finding
from sheetgen.sheet.student import counts_as_under_18

_SPARE = re.compile("spare-(limbs-)?[0-9]{1,3}")

Builds = Mapping[str, Sequence[CopyRecord]]
"""Copy code to every build of that copy, oldest first."""

Claim = Mapping[str, Any]
"""Whose a spare sheet is: what its record says instead."""


def is_spare(record: CopyRecord) -> bool:
    """Tell whether a sheet was made for nobody and is not claimed."""
    return not record.participant_id and bool(_SPARE.fullmatch(record.student_id))


def claims_of(book: ClassBook) -> dict[str, Claim]:
    """Return the claims of the tab Pairs by copy code; no two lines claim one sheet."""
    codes = {person.student_id: person.participant_code for person in book.people}
    claims: dict[str, Claim] = {}
    for pair in (each for each in book.pairings if each.spare):
        who = {"student_id": pair.measurer, "participant_id": pair.participant}
        code = codes.get(pair.participant)
        claims[pair.spare] = {**who, "participant_code": code} if code else who
    return claims


def claimed(record: CopyRecord, claims: Mapping[str, Claim]) -> CopyRecord:
    """Return the record as whoever claimed the sheet has it; any other record as it is."""
    claim = claims.get(record.copy_code)
    return replace(record, **claim) if claim and is_spare(record) else record


def spare_findings(record: CopyRecord, claims: Mapping[str, Claim]) -> tuple[Finding, ...]:
    """Return the finding for a spare sheet that came back and that nobody has claimed."""
    if not is_spare(record) or record.copy_code in claims:
        return ()
    values = {"measurer": record.student_id, "code": record.copy_code}
    return (Finding("identity-spare-unclaimed", values),)


def handed_out_in(builds: Builds, book: ClassBook, session: int) -> tuple[CopyRecord, ...]:
    """Return the sheets of a session under the names of those who have them, by file name. The own sheet of a
    pair that used a spare one is left out: nobody has it."""
    claims = claims_of(book)
    newest = [made[-1] for made in builds.values() if made and made[-1].session == session]
    pairs = [(claimed(record, claims), record) for record in newest]
    used = {(now.student_id, now.participant_id) for now, made in pairs if now is not made}
    held = [now for now, made in pairs if now is not made or (now.student_id, now.participant_id) not in used]
    return tuple(sorted(held, key=lambda record: record.file_name))


def expected_back(handed_out: Iterable[CopyRecord], book: ClassBook) -> tuple[CopyRecord, ...]:
    """Return the sheets that somebody is to hand in: no unclaimed spare ones, none for a second caliper, none
    of people who left. A sheet of a pair that was changed since is not waited for where the measurer has one
    of a pair that stands; where they have no other, it stays, so that nobody is lost."""
    left = {person.student_id for person in book.people if person.status == LEFT}
    pairs = {(pair.measurer, pair.participant) for pair in book.pairings}
    of_circuit = (record for record in handed_out if record.exercise == EXERCISES[0])
    theirs = [record for record in of_circuit if not is_spare(record) and record.student_id not in left]
    standing = {record.student_id for record in theirs if (record.student_id, record.participant_id) in pairs}
    return tuple(
        record
        for record in theirs
        if (record.student_id, record.participant_id) in pairs or record.student_id not in standing
    )


def own_sheet_wanted(builds: Builds, spare: str, session: int) -> bool:
    """Tell whether a pair needs a sheet of its own in a session: one who used a spare one needs none in that
    session; in every other one the pair gets its own sheet. spare : copy code of the spare sheet that was
    used, empty where none was."""
    several = builds.get(spare, ())
    return not (several and is_spare(several[-1]) and several[-1].session == session)


def stray_claims(builds: Builds, book: ClassBook) -> list[tuple[str, str]]:
    """Return measurer and copy code of the claims of which no spare sheet is on record."""
    claimed = ((pair.measurer, pair.spare) for pair in book.pairings if pair.spare)
    return [(who, code) for who, code in claimed if not any(map(is_spare, builds.get(code, ())))]


class Copy(Struct, frozen=True):
    """One sheet to be made: who measures whom, the sheet's code, and the folder it goes into.
    under_18 : whether it is made as for someone under 18. exercise : one of EXERCISES."""

    pairing: Pairing
    participant: Person
    copy_code: str
    place: Path
    under_18: bool = False
    exercise: str = EXERCISES[0]


def pairings_wanted(folder: ClassFolder, book: ClassBook, only: str) -> tuple[Pairing, ...]:
    """Return the pairings to build for: all, or those of one measurer. UsageError : there is no such student,
    or they have left. FolderError : nobody measures anybody, or this student measures nobody."""
    person = next((person for person in book.people if id_key(person.student_id) == id_key(only)), None)
    if only and person is None:
        found = "no such student_id in the roster"
        raise UsageError(f"--student {only}", found, "one of the roster", "Check the tab Roster.")
    if person is not None and person.status == LEFT:
        found, expected = "someone who has left the class", "someone who is in it"
        remedy = "Empty the column status of this line on the tab Roster if they are back."
        raise UsageError(f"--student {person.student_id}", found, expected, remedy)
    pairings = book.pairings
    found, expected = "nobody measures anybody", "at least two people on the tab Roster"
    remedy = "Add them to the roster, or pairs to the tab Pairs, and save the class book."
    if person is not None:
        pairings = tuple(pairing for pairing in pairings if pairing.measurer == person.student_id)
        found = f"{person.student_id} measures nobody"
        expected = "a line with them as measurer on the tab Pairs"
        remedy = "Type the pair there, and save the class book."
    if not pairings:
        raise FolderError(folder.book, found, expected, remedy)
    return pairings


class Wanted(Struct, frozen=True):
    """What sheets are made for: the class, its secret, what is on record, the session."""

    folder: ClassFolder
    book: ClassBook
    secret: str
    records: Builds
    session: int

    def copy_of(self, pairing: Pairing, exercise: str = EXERCISES[0]) -> Copy:
        """Return the sheet of a pair."""
        person = next(one for one in self.book.people if one.student_id == pairing.participant)
        code = keep.copy_code(self.secret, pairing.measurer, pairing.participant, self.session, exercise)
        careful = counts_as_under_18(person, self.book.minors)
        return Copy(pairing, person, code, self.folder.sheets(self.session), careful, exercise)


def copies_of_pairs(wanted: Wanted, pairings: Iterable[Pairing]) -> list[Copy]:
    """Return the sheets of pairs; one who used a spare sheet in this session needs no other."""
    own = (pair for pair in pairings if own_sheet_wanted(wanted.records, pair.spare, wanted.session))
    return [wanted.copy_of(pair) for pair in own]


def pairings_missed(wanted: Wanted, pairings: Iterable[Pairing]) -> tuple[Pairing, ...]:
    """Return the pairings of students of whose sheet of the session made up no score stands, nor of an
    earlier make-up of it; FolderError where that session was not read, or nobody missed it."""
    others = wanted.book.stands_for
    missed = others[wanted.session]
    sessions = {missed, *(one for one, own in others.items() if own == missed and one < wanted.session)}
    scored = {score.sheet for score in load_scores(wanted.folder) if score.session in sessions} - {""}
    students = {person.student_id for person in wanted.book.people if takes_turns(person)}

    def came(pair: Pairing) -> bool:
        who = wanted.secret, pair.measurer, pair.participant
        return bool(scored & {pair.spare, *(keep.copy_code(*who, session) for session in sessions)})

    left_over = tuple(pair for pair in pairings if pair.measurer in students and not came(pair))
    if not (scored and left_over):
        found = f"session {missed}, which nobody missed" if scored else f"session {missed}, not read yet"
        remedy = "Read what came back of it first, or correct the make-up sessions on the tab Class."
        raise FolderError(wanted.folder.book, found, "one that was read, and that somebody missed", remedy)
    return left_over


def second_copies(wanted: Wanted, pairings: Iterable[Pairing], calipers: Sequence[str]) -> list[Copy]:
    """Return a second sheet for each pair that measures with one of two calipers: with the other one.
    UsageError where these are not two in service, or no pair measures with either."""
    issued = {caliper.identifier for caliper in wanted.book.settings.calipers if caliper.in_service}
    other = dict(zip(calipers, reversed(calipers), strict=True))
    copies = [
        wanted.copy_of(replace(pair, caliper_id=other[pair.caliper_id]), EXERCISES[1])
        for pair in pairings
        if pair.caliper_id in other
    ]
    if len(other) != 2 or not copies or not issued.issuperset(other):
        expected = "two calipers in service, C1,C2, and pairs that measure with one of them"
        remedy = "Look on the tabs Calipers and Pairs."
        raise UsageError(f"--calipers {','.join(calipers)}"[:60], "nothing to compare", expected, remedy)
    return copies


def spare_copies(wanted: Wanted) -> list[Copy]:
    """Return sheets for people who are not on the roster: with all sites, and in a class that may have people
    under 18 as many with what their sheets ask for, `spare-limbs-1` and so on; where everybody counts as one,
    these alone."""
    book, records, session = wanted.book, wanted.records, wanted.session
    issued = next((caliper.identifier for caliper in book.settings.calipers if caliper.in_service), "")
    taken = {person.participant_code for person in book.people}
    taken |= {record.participant_code for builds in records.values() for record in builds}
    copies: list[Copy] = []
    kinds = [kind for kind, asked in spare_kinds(book).items() if asked and issued]
    numbers = range(1, book.spare_sheets + 1)
    for kind, name in ((kind, f"spare-{kind}{number}") for kind in kinds for number in numbers):
        code = keep.copy_code(wanted.secret, name, "", session)
        # Of one session only: two who use spares in two sessions are not one person.
        propose = partial(keep.participant_code, wanted.secret, f"{name}/session-{session}")
        builds = records.get(code, ())
        shown = builds[-1].participant_code if builds else keep.distinct(taken, propose)
        taken.add(shown)
        nobody = Person("", "", "", participant_code=shown)
        place = wanted.folder.spare(session)
        copies.append(Copy(Pairing(name, "", issued), nobody, code, place, kind != ""))
    return copies


def spare_kinds(book: ClassBook) -> dict[str, bool]:
    """Return whether spare sheets of all sites are wanted, and such as for people under 18."""
    students = [person for person in book.people if person.role == "student" and person.status != LEFT]
    careful = any(counts_as_under_18(person, book.minors) for person in students)
    return {"": book.minors != "all", "limbs-": careful or not (students or book.minors == "none")}


def partners_without(wanted: Wanted, only: str) -> Iterable[str]:
    """Tell who is to measure the one whose sheet is built alone, and has no sheet for it yet."""
    for pair in (each for each in wanted.book.pairings if only and id_key(each.participant) == id_key(only)):
        made = wanted.copy_of(pair).copy_code in wanted.records
        if not made and own_sheet_wanted(wanted.records, pair.spare, wanted.session):
            yield (
                f"{pair.measurer} measures {only} and has no sheet for it in session {wanted.session}: build "
                f"it with --student {pair.measurer}."
            )


def stale_sheets(
    folder: ClassFolder, records: Builds, wanted: Collection[str], session: int
) -> tuple[str, ...]:
    """Return the names of a session's sheets that were built and are wanted no more. wanted : copy codes of
    the sheets that are. A sheet that was moved away, to hand it out, is not named."""
    asked = {records[code][-1].file_name for code in wanted if code in records}
    names = {
        record.file_name if record.participant_id else f"spare/{record.file_name}"
        for several in records.values()
        for record in several
        if record.session == session and record.exercise == EXERCISES[0] and record.file_name not in asked
    }
    return tuple(sorted(name for name in names if (folder.sheets(session) / name).is_file()))


def off_the_roster(records: Builds, book: ClassBook) -> tuple[str, ...]:
    """Tell, in one line, of ids that are on sheets and not on the tab Roster: a new one takes work away."""
    there = {id_key(person.student_id) for person in book.people}
    every = [build for builds in records.values() for build in builds]
    known = {one.student_id for one in every if not is_spare(one)} | {one.participant_id for one in every}
    lacking = sorted(student for student in known if student and id_key(student) not in there)
    if not lacking:
        return ()
    return (
        f"{named(lacking)}: on sheets and marks, and not on the tab Roster; expected everybody who has a "
        "sheet, those who left too. Where an id was changed, put the old one back; a newer one comes in with "
        "`sheetgen new --roster`.",
    )
