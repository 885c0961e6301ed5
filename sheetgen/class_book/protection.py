"""Who counts as under 18, what is said of it before sheets are made, and what keeps a person's protection.
Protection belongs to the person, not to a line of the tab Roster: ids and names that were sorted over
standing columns, or a roster that lost its column, must lower it for nobody unseen."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from sheetgen.class_book.cells_read import id_key
from sheetgen.class_book.table import LEFT
from sheetgen.class_folder.folder import ClassFolder
from sheetgen.class_folder.records import ClassBook, Person, Protection
from sheetgen.protocols.protocol import Protocol
from sheetgen.sheet.student import careful_protocol, counts_as_under_18

_MOST_NAMED = 12
_COMPARED = ("given_name", "family_name", "email", "group", "under_18")


def protections_of(book: ClassBook) -> tuple[Protection, ...]:
    """Return what holds of everybody in a class book."""
    return tuple(_protection(person, counts_as_under_18(person, book.minors)) for person in book.people)


def _protection(person: Person, counted: bool) -> Protection:
    name = " ".join(f"{person.given_name} {person.family_name}".split())
    return Protection(person.student_id, name, person.under_18, counted)


def remembered(before: Sequence[Protection], now: Sequence[Protection]) -> tuple[Protection, ...]:
    """Return what is to be kept on record: what holds now, and of whom is not there any more what held."""
    there = {id_key(each.student_id) for each in now}
    return (*now, *(each for each in before if id_key(each.student_id) not in there))


def taken_over(before: Sequence[Protection], roster: Sequence[Person]) -> tuple[Protection, ...]:
    """Return what is on record once a roster came in: whom it calls under 18 is so, and others stay as they
    were; silence protects nobody before there is a sheet."""
    known = {id_key(each.student_id): each for each in before}
    for person in roster:
        key, told = id_key(person.student_id), _protection(person, person.under_18 == "yes")
        known[key] = told if told.counted else known.get(key, told)
    return tuple(known.values())


def lowered(before: Sequence[Protection], now: Sequence[Protection]) -> tuple[str, ...]:
    """Return the student_ids of those whose own line lowers their protection: who counted as under 18 and
    does not any more, known by the id, or by a name that stands at another id now. What the tab Class says of
    everybody is a decision about the class, and not looked at here."""
    by_id = {id_key(each.student_id): each for each in before}
    by_name: dict[str, list[Protection]] = defaultdict(list)
    for each in before:
        by_name[each.name.casefold()].append(each)
    found = []
    for each in (each for each in now if not each.counted):
        own = by_id.get(id_key(each.student_id))
        moved = each.name and (own is None or own.name.casefold() != each.name.casefold())
        were = [*([own] if own else []), *(by_name[each.name.casefold()] if moved else [])]
        if any(was.counted and was.said != each.said for was in were):
            found.append(each.student_id)
    return tuple(found)


def named(students: Sequence[str]) -> str:
    """Return student_ids as a list of at most a dozen."""
    more = len(students) - _MOST_NAMED
    return ", ".join(students[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def other_than_came_in(book: ClassBook, roster: Sequence[Person] | None) -> Iterator[str]:
    """Tell, in one line, of whom the tab Roster says something else than the roster as it last came in."""
    came = {id_key(person.student_id): person for person in roster or ()}
    both = [
        (person, came.get(id_key(person.student_id), person))
        for person in book.people
        if person.status != LEFT
    ]
    of_column = {
        name: [now.student_id for now, was in both if getattr(now, name) != getattr(was, name)]
        for name in _COMPARED
    }
    told = "; ".join(f"{name} of {named(students)}" for name, students in of_column.items() if students)
    if told:
        came_in = "otherwise on the tab Roster than on the roster as it came in"
        yield f"{came_in}: {told}. Nothing to do where you typed it; else put it back."


def unsaid_line(book: ClassBook, protocol: Protocol, texts: Mapping[str, str], folder: ClassFolder) -> str:
    """Return how many count as under 18 since nobody said, what their sheets leave out and the two cures, in
    one line; empty where there is nobody, or where nothing is left out. texts : of the class book, for what
    its tab and line are called."""
    people = [person for person in book.people if person.role == "student" and person.status != LEFT]
    unsaid = [person for person in people if not person.under_18]
    settings = (replace(book.settings, under_18=under_18) for under_18 in (False, True))
    asked, careful = (careful_protocol(protocol, each) for each in settings)
    kept = {site.word for site in careful.sites}
    left_out = [site.title for site in asked.sites if site.word not in kept]
    left_out += ["the estimate"] if asked.equations and not careful.equations else []
    if book.minors != "some" or not unsaid or not left_out:
        return ""
    number = "1 person counts" if len(unsaid) == 1 else f"{len(unsaid)} people count"
    return (
        f"{number} as under 18, since the roster does not say: their sheets leave out {', '.join(left_out)}. "
        f"Where all are of age: sheetgen new {folder.typed} --minors none, or {texts['book_word.none']} at "
        f"{texts['book_setting.minors']!r} on the tab {texts['book_tab.class']}; where some are: "
        f"{texts['book_word.no']} at {texts['book_roster.under_18']!r} on the tab {texts['book_tab.roster']}."
    )
