"""The class book as a file: read, drawn anew, and brought up to date with a newer roster."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book.cells_read import id_key
from sheetgen.class_book.lesson import pairings_that_go
from sheetgen.class_book.pairing import pairs_for_the_rest
from sheetgen.class_book.reading_back import BookKnown, class_book_from
from sheetgen.class_book.sheets_wanted import is_spare
from sheetgen.class_book.table import LEFT
from sheetgen.class_book.tabs import class_book_layout, default_settings
from sheetgen.class_folder import keep
from sheetgen.class_folder.files import read_if_there, redrawn, write_beside
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import MOST_PEOPLE, ClassBook, CopyRecord, Pairing, Person
from sheetgen.errors import FolderError, SheetgenError
from sheetgen.finding import Refusal, Worded
from sheetgen.protocols.loading import find_protocol
from sheetgen.sheet.student import all_protocols
from sheetgen.texts.findings import in_words, load_catalogue, refusal_in_words
from sheetgen.texts.languages import DEFAULT_LANGUAGE, languages, list_words, texts_in
from sheetgen.texts.templates import read_template
from sheetgen.workbook.layout import Identity
from sheetgen.workbook.read.guard import Package, read_package, read_package_bytes
from sheetgen.workbook.read.xlsx import snapshot
from sheetgen.workbook.render import rendered
from sheetgen.workbook.snapshot import drawn_language

DEFAULT_PROTOCOL = "seven-sites"


class Harvest(Struct, frozen=True):
    """The class book as it stands. notes : what has to be said about it that keeps nobody from using it.
    digest : of its bytes. added : pairs, or calipers for pairs, stand in no cell of it yet."""

    book: ClassBook
    notes: tuple[Worded, ...]
    added: bool
    digest: str


def load_book(folder: ClassFolder) -> ClassBook:
    """Return what the class book says, as book_that_holds; FolderError: faults, each named."""
    return book_that_holds(folder)[0]


def book_that_holds(folder: ClassFolder) -> tuple[ClassBook, str]:
    """Return what the class book says, and what has to be said of it: where an older one was saved over a
    newer one, the newer one as it was drawn holds, so that nobody who joined since is lost."""
    book = book_in(folder, read_package(folder.book)).book
    if book.drawings >= _drawings(folder):
        return book, ""
    newest = book_in(folder, read_package(folder.newest_book)).book
    return newest, f"{_stale(folder)} {folder.newest_book.name} was used."


def harvested(folder: ClassFolder) -> Harvest:
    """Return the class book as it stands today, as load_book; one saved by another program serves as well.
    FolderError also where it is an older one, saved over a newer one."""
    harvest = book_in(folder, read_package(folder.book), date.today().isoformat())
    if harvest.book.drawings < _drawings(folder):
        raise _stale(folder)
    return harvest


def _drawings(folder: ClassFolder) -> int:
    """How often the class book was drawn; 0 where that is not known, or the newest one is not kept."""
    number = (read_if_there(folder.drawings) or b"").strip()
    return int(number) if number.isdigit() and folder.newest_book.is_file() else 0


def write_book(folder: ClassFolder, book: ClassBook) -> None:
    """Draw a class book into its place, and keep it as the newest; FolderError where `drawn` says so."""
    book, data = drawn(folder, book)
    write_beside(folder.book, data)
    _keep_newest(folder, book.drawings, data)


def _keep_newest(folder: ClassFolder, drawings: int, data: bytes) -> None:
    """Keep a class book as it was drawn, against an older one saved over it; FolderError where it cannot be
    written."""
    write_beside(folder.newest_book, data)
    write_beside(folder.drawings, f"{drawings}\n".encode())


def _stale(folder: ClassFolder) -> FolderError:
    return FolderError(
        folder.book,
        "an older class book, saved over a newer one",
        "the one that was drawn last",
        f"Copy {folder.newest_book} over it, and type again what you changed since; or remove that file to"
        " go on with the older one.",
    )


def book_in(folder: ClassFolder, package: Package | Refusal, today: str = "") -> Harvest:
    """Return what a class book says, and in words what does not keep it from being used. today : the day as
    YYYY-MM-DD; empty: nothing is said of caliper checks that are old. FolderError : it cannot be read, or
    holds faults; every one is named."""
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        told = refusal_in_words(state)
        remedy = _NOTHING_MORE if state.code == "file-too-large" else _SAVED_ANEW
        raise FolderError(folder.book, told.found, told.expected, remedy)
    # The language it was drawn in, whatever its cell of the language says by now.
    language = drawn_language(state, "book_tab", {each: texts_in(each, "class-book") for each in languages()})
    texts = book_texts(language)
    known = BookKnown(
        default_settings(find_protocol(DEFAULT_PROTOCOL), language, texts["book_caliper.default_build"]),
        texts,
        load_catalogue(language),
        tuple(all_protocols(folder).values()),
        list_words("class-book"),
    )
    read = class_book_from(state, known, today)
    problems = in_words(read.findings, language)
    errors = [
        FolderError(f"{folder.book}:{problem.place}", problem.found, problem.expected, problem.remedy)
        for problem in problems
        if problem.severity == "error"
    ]
    if errors:
        first, *others = errors
        remedy = "\n".join([first.remedy, *map(str, others)])
        raise FolderError(first.place, first.found, first.expected, remedy)
    return Harvest(read.book, problems, read.added, "" if isinstance(package, Refusal) else package.sha256)


_SAVED_ANEW = (
    "Go back to the newest class.kept-1.xlsx beside it; or save it anew as .xlsx, without a password."
)
_NOTHING_MORE = "Take out pictures and pasted tables, or go back to the newest class.kept-1.xlsx beside it."


def book_texts(language: str = DEFAULT_LANGUAGE) -> dict[str, str]:
    """Return the texts of a class book, with those of a sheet."""
    return texts_in(language, "sheet", "class-book")


def class_language(folder: ClassFolder | None) -> str:
    """Return the language of a class; English without one, and where its class book cannot be used."""
    if folder is None:
        return DEFAULT_LANGUAGE
    try:
        return load_book(folder).settings.language
    except SheetgenError:
        return DEFAULT_LANGUAGE


def delete_reminder(folder: ClassFolder, book: ClassBook, today: str) -> str:
    """Return the line that reminds of the day to delete body values, empty where it has not come or nothing
    that came back is there any more; today : YYYY-MM-DD."""
    came_back = (path.is_file() for path in (folder.root / "returned").rglob("*"))
    if not book.settings.delete_on or today < book.settings.delete_on or not any(came_back):
        return ""
    return (
        f"{folder.book}: body values were to be deleted on {book.settings.delete_on} (Delete on, tab Class); "
        "expected no returned files any more. "
        f"`sheetgen forget {folder.typed} --before {today}` says what would go."
    )


def drawn(folder: ClassFolder, book: ClassBook) -> tuple[ClassBook, bytes]:
    """Draw a class book, with pairs for those who have none, and return what it says with its bytes;
    FolderError where these do not read back as the same class book, or are more than a class book holds."""
    if len(book.people) > MOST_PEOPLE:
        found, remedy = f"{len(book.people):,} people", "Make a class folder for each section."
        raise FolderError(folder.book, found, f"at most {MOST_PEOPLE:,}, those who left too", remedy)
    pairings = (*book.pairings, *pairs_for_the_rest(book).pairings)
    book = replace(book, pairings=pairings, drawings=max(book.drawings, _drawings(folder)) + 1)
    language = book.settings.language
    protocols = tuple(all_protocols(folder, language).values())
    layout = class_book_layout(book_texts(language), book, protocols, languages())
    data = rendered(layout, Identity({}), read_template("style.toml"))
    # How often it was drawn is read from a cell that anything may stand in; a huge number comes back rounded.
    if replace(book_in(folder, read_package_bytes(data)).book, drawings=book.drawings) != book:
        found = "what was drawn anew does not read back as the same class book"
        remedy = "Nothing was changed. Look on its tabs for a cell that holds something unusual."
        raise FolderError(folder.book, found, "the same people, pairs and settings", remedy)
    return book, data


def swapped_in(folder: ClassFolder, harvest: Harvest, data: bytes) -> str:
    """Put a class book drawn anew in the place of the one that was harvested, and keep the last three; return
    the reason why it was left as it is, empty where the new one is in its place."""
    reason = str(redrawn(folder.book, harvest.digest, lambda: data) or "")
    if not reason:
        _keep_newest(folder, max(harvest.book.drawings, _drawings(folder)) + 1, data)
    return reason


def coded(folder: ClassFolder, book: ClassBook, secret: str) -> ClassBook:
    """Return the book with the code of each person: the one on a sheet already handed out, else a new one;
    FolderError where the record of what was handed out cannot be used. An id that differs from the one on
    record in upper and lower case only is written as there: codes and scores hang on it."""
    records = [record for builds in keep.load_records(folder).values() for record in builds]
    book = _with_ids_on_record(book, records)
    codes = {record.participant_id: record.participant_code for record in records if record.participant_id}
    people = [
        replace(person, participant_code=codes.get(person.student_id, person.participant_code))
        for person in book.people
    ]
    spare = {record.participant_code for record in records if is_spare(record)}
    return replace(book, people=keep.with_participant_codes(secret, people, spare))


def _with_ids_on_record(book: ClassBook, records: Sequence[CopyRecord]) -> ClassBook:
    on_record = {
        id_key(student_id): student_id
        for record in records
        for student_id in (record.participant_id, record.student_id)
        if student_id
    }
    own = [person.student_id for person in book.people]
    ids = {student_id: on_record.get(id_key(student_id), student_id) for student_id in own}

    def known(student_id: str) -> str:
        return ids.get(student_id, student_id)

    return replace(
        book,
        people=tuple(_under_known_ids(book.people, ids)),
        pairings=tuple(
            replace(pair, measurer=known(pair.measurer), participant=known(pair.participant))
            for pair in book.pairings
        ),
        declared=tuple(tuple(map(known, group)) for group in book.declared),
        demonstration=known(book.demonstration),
        teacher_measures=tuple(map(known, book.teacher_measures)),
    )


class RosterChange(Struct, frozen=True):
    """What a newer roster changes in a class book. joined, left, back : student_ids; back: who had left and
    is on the roster again. changed : (student_id, column, as it was, as it is now). only_here : students of
    the class book whom no roster ever named: typed by the teacher, they stay. absent : not on the roster, and
    not marked, since a line of the roster could not be used. unpaired : pairs taken out because one has left.
    demonstration : who was measured by everybody and left. doubts : student_ids of whom the roster says that
    they are under 18, and the class book that they are not. paired : pairs made since for who had none.
    renamed : (student_id as it stays, as the roster has it now) of people known by email or name."""

    book: ClassBook
    joined: tuple[str, ...]
    left: tuple[str, ...]
    back: tuple[str, ...]
    changed: tuple[tuple[str, str, str, str], ...]
    only_here: tuple[str, ...]
    absent: tuple[str, ...]
    unpaired: tuple[Pairing, ...]
    doubts: tuple[str, ...]
    demonstration: str = ""
    paired: tuple[Pairing, ...] = ()
    renamed: tuple[tuple[str, str], ...] = ()


def updated_book(
    book: ClassBook, roster: Sequence[Person], earlier: Sequence[Person] | None, complete: bool = True
) -> RosterChange:
    """Return the class book brought up to date with a newer roster. Joiners stand at the end. Who is not on
    the roster any more is marked as having left, and no line is taken out. Whom the roster has under another
    id, with the same email or name, keeps the one on sheets and marks. Names, email and group follow the
    roster where the roster itself changed; a correction of the teacher's stays while the roster repeats what
    it said. Every other column stays as typed; an empty under_18 is filled in. Pairs with a leaver are taken
    out, so that the partner can be paired anew. earlier : the roster taken over last; None where that is not
    known: then the newer one holds. complete : every line of the newer roster could be used; else nobody is
    marked as having left, since the line left out may be theirs."""
    renamed = _renamed(book.people, roster)
    roster, earlier = _under_known_ids(roster, renamed), earlier and _under_known_ids(earlier, renamed)
    newer = {id_key(person.student_id): person for person in roster}
    before = None if earlier is None else {id_key(person.student_id): person for person in earlier}
    people: list[Person] = []
    changed: list[tuple[str, str, str, str]] = []
    students: dict[str, list[str]] = {what: [] for what in ("left", "back", "only_here", "absent", "doubts")}
    for person in book.people:
        key, student_id = id_key(person.student_id), person.student_id
        if key in newer:
            if person.status == LEFT:
                students["back"].append(student_id)
            if newer[key].under_18 == "yes" and person.under_18 == "no":
                students["doubts"].append(student_id)
            values = _news(person, newer[key], None if before is None else before.get(key))
            changed += [
                (student_id, column, getattr(person, column), value) for column, value in values.items()
            ]
            person = replace(person, **values, under_18=person.under_18 or newer[key].under_18, status="")
        elif person.role == "student" and person.status != LEFT:
            if before is not None and key not in before:
                students["only_here"].append(student_id)
            elif complete:
                students["left"].append(student_id)
                person = replace(person, status=LEFT)
            else:
                students["absent"].append(student_id)
        people.append(person)
    known = {id_key(person.student_id) for person in people}
    joiners = [person for person in roster if id_key(person.student_id) not in known]
    whole = without_leavers(replace(book, people=(*people, *joiners)))
    return RosterChange(
        book=whole,
        joined=tuple(person.student_id for person in joiners),
        changed=tuple(changed),
        unpaired=tuple(pairing for pairing in book.pairings if pairing not in whole.pairings),
        demonstration="" if whole.demonstration else book.demonstration,
        paired=(),
        renamed=tuple((known, now) for now, known in renamed.items()),
        **{what: tuple(named) for what, named in students.items()},
    )


def _renamed(people: Sequence[Person], roster: Sequence[Person]) -> dict[str, str]:
    """Id on the roster to the id in the class book, of whom both have once under another id: by email, else
    by whole name where no emails differ."""
    there, coming = ({id_key(person.student_id) for person in each} for each in (people, roster))
    gone = [each for each in people if id_key(each.student_id) not in coming and each.status != LEFT]
    new = [each for each in roster if id_key(each.student_id) not in there]

    def by_email(person: Person) -> str:
        return person.email.casefold()

    def by_name(person: Person) -> str:
        return " ".join(f"{person.given_name} {person.family_name}".split()).casefold()

    found: dict[str, str] = {}
    for key_of in (by_email, by_name):
        for key in filter(None, dict.fromkeys(map(key_of, new))):
            pair = [[each for each in side if key_of(each) == key] for side in (new, gone)]
            if [len(side) for side in pair] != [1, 1]:
                continue
            (now,), (known,) = pair
            differ = now.email and known.email and by_email(now) != by_email(known)
            if not differ and now.student_id not in found and known.student_id not in found.values():
                found[now.student_id] = known.student_id
    return found


def _under_known_ids(people: Sequence[Person], renamed: Mapping[str, str]) -> list[Person]:
    return [
        replace(
            person,
            student_id=renamed.get(person.student_id, person.student_id),
            partner=renamed.get(person.partner, person.partner),
            apart=tuple(renamed.get(each, each) for each in person.apart),
        )
        for person in people
    ]


def _news(person: Person, newer: Person, earlier: Person | None) -> dict[str, Any]:
    """What the roster itself changed; one without a column says nothing about it."""
    columns = ("given_name", "family_name", "email", "group")
    now = {column: getattr(newer, column) for column in columns if getattr(newer, column)}
    return {
        column: value
        for column, value in now.items()
        if value != getattr(person, column) and (earlier is None or value != getattr(earlier, column))
    }


def without_leavers(book: ClassBook) -> ClassBook:
    """Return the book without pairs of which one has left, without a demonstration by one who has, and
    without those whom the teacher cannot measure any more."""
    gone = {person.student_id for person in book.people if person.status == LEFT}
    demonstration = "" if book.demonstration in gone else book.demonstration
    there = tuple(student for student in book.teacher_measures if student not in gone)
    pairings = tuple(pairings_that_go(book))
    return replace(book, pairings=pairings, demonstration=demonstration, teacher_measures=there)
