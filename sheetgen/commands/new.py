"""Make a class folder, and bring the class book of one up to date with a newer roster."""

import json
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from sheetgen.class_book import book as class_book
from sheetgen.class_book.protection import named, taken_over, unsaid_line
from sheetgen.class_book.table import LEFT, LONGEST_TITLE
from sheetgen.class_book.tabs import default_settings
from sheetgen.class_folder import keep
from sheetgen.class_folder.files import HANDED_OUT_FOLDER, lock_file, make_folder, read_if_there, write_beside
from sheetgen.class_folder.folder import ClassFolder, open_class_folder, write_launchers
from sheetgen.class_folder.records import ROLES, ClassBook
from sheetgen.commands.handbook import read_me_first
from sheetgen.errors import FolderError, UsageError
from sheetgen.protocols.loading import find_protocol
from sheetgen.protocols.protocol import Protocol
from sheetgen.protocols.settings import Caliper, SheetSettings
from sheetgen.roster.any_file import load_roster
from sheetgen.roster.headings import COLUMNS, LEFT_OUT, shown
from sheetgen.roster.people import Roster, roster_error
from sheetgen.sheet.student import all_protocols, counts_as_under_18
from sheetgen.texts.languages import DEFAULT_LANGUAGE, languages, plain_word
from sheetgen.texts.templates import read_template


class RosterFile(Struct, frozen=True):
    """A roster of people: a file, folder or zip. path : None: no roster, only what follows.
    school_class : which class of one that holds several, by title or id. tell : is told each trouble of the
    roster, one line each. minors : `none`, `some` or `all` of them are under 18; empty: as the class has it,
    a new one `some`. headings : what headings stand for, such as `Lamp=student_id`. say : is told which
    headings were used and which not, one line each."""

    path: Path | None
    school_class: str = ""
    tell: Callable[[str], None] = lambda line: None
    minors: str = ""
    headings: tuple[str, ...] = ()
    say: Callable[[str], None] = lambda line: None


def new_class(
    root: Path,
    roster: RosterFile | Path | None = None,
    protocol_ids: Sequence[str] = (),
    calipers: tuple[Caliper, ...] = (),
    secret: str = "",
    like: Path | None = None,
    language: str = "",
) -> ClassFolder:
    """Make a class folder with its class book, pairs in roster order and one default caliper. roster : of the
    people; None: an empty roster. protocol_ids : the protocol of the class, then others that pairs may
    choose: identifiers of shipped ones, or paths of a teacher's own, which are copied into the class folder.
    Empty: that of `like`, else the default. calipers : the register; empty: that of `like`, else the default
    caliper. secret : 64 hexadecimal digits; empty: random ones. The sample class gives its own, so that its
    codes are the same each time. like : another class folder, of which calipers with their checks, settings,
    the plan of lessons and term, marking scheme and own protocols are taken; nobody's people, pairs, days or
    codes. language : tag of a shipped one, such as `es`; empty: that of `like`, else English.
    FolderError : there is something in the folder already, or it cannot be written; the other class folder
    cannot be used. RosterError : the roster cannot be used. UsageError : a protocol or the language is not
    known. TemplateError : a protocol of the teacher's has faults; every one is named."""
    if language and language not in languages():
        found, expected = f"the language {language[:20]!r}", f"one of {', '.join(languages())}"
        raise UsageError("--language", found, expected, "Choose a shipped language.")
    folder = ClassFolder(root)
    _check_empty(folder)
    other = None if like is None else open_class_folder(like)
    pattern = None if other is None else class_book.load_book(other)
    names = protocol_ids or (() if other else (class_book.DEFAULT_PROTOCOL,))
    protocols = [find_protocol(name) for name in names]
    given = _given(roster)
    people = _loaded(given, folder if other is None or folder.roster_wording.is_file() else other).people
    settings = _settings(pattern, protocols, language)
    settings = replace(settings, calipers=calipers or settings.calipers)
    make_folder(root, HANDED_OUT_FOLDER)
    secret = keep.make_secret(folder, secret)
    with_codes = keep.with_participant_codes(secret, people)
    # The folder's name, as far as the class book takes it.
    title = "".join(filter(str.isprintable, root.resolve().name))[:LONGEST_TITLE].strip()
    # Pairs are made where it is drawn.
    book = ClassBook(keep.class_code(secret), title, settings, with_codes, ())
    if pattern is not None:
        book = _like(book, pattern)
    book = replace(book, minors=given.minors or book.minors)
    _keep_own(folder, protocol_ids, other)
    _keep_told(folder, given)
    class_book.write_book(folder, book)
    # A copy for the teacher to edit; `read` marks by it.
    usual = read_template("marking/usual.toml").replace('identifier = "usual"', 'identifier = "own"')
    scheme = None if other is None else read_if_there(other.marking_scheme)
    write_beside(folder.marking_scheme, usual.encode("utf-8") if scheme is None else scheme)
    keep.save_roster(folder, people)
    keep.save_protection(folder, taken_over((), people))
    make_folder(folder.returned(1))
    _start_here(folder, settings.language)
    return folder


def wants_update(root: Path, roster: RosterFile | Path | None, **only_new: object) -> bool:
    """Tell whether a folder is a class folder already, so that only its roster can be brought up to date.
    only_new : what is asked for that only a new folder takes, by the name of its option. UsageError : it is
    one, and there is neither a roster nor a word on minors, or something else is asked for that only a new
    one takes."""
    if not ClassFolder(root).book.is_file():
        return False
    tabs = "Change calipers, settings and protocols in the class book."
    given = _given(roster)
    if given.path is None and not given.minors:
        found, expected = "a class folder already", "--roster with a newer roster"
        raise UsageError(root, found, expected, f"Give the roster to bring it up to date. {tabs}")
    for option, asked in only_new.items():
        if asked:
            raise UsageError(f"--{option}", f"{root}, a class folder already", "a new folder", tabs)
    return True


def update_class(folder: ClassFolder, roster: RosterFile | Path) -> class_book.RosterChange:
    """Add those who joined, mark those who left, and leave everything that the teacher typed.
    FolderError : the class book holds faults, each named, or another program has it open. Nothing is changed.
    RosterError : the roster cannot be used."""
    if lock := lock_file(folder.book):
        raise _open_elsewhere(folder, f"another program has it open ({lock})")
    harvest = class_book.harvested(folder)
    given = _given(roster)
    loaded = _loaded(given, folder)
    complete = given.path is not None and all(trouble.outcome != LEFT_OUT for trouble in loaded.troubles)
    there = tuple(person for person in harvest.book.people if person.status != LEFT)
    people = there if given.path is None else loaded.people
    change = class_book.updated_book(harvest.book, people, keep.load_roster_before(folder), complete)
    change = replace(change, book=replace(change.book, minors=given.minors or change.book.minors))
    secret = keep.load_secret(folder)
    book = change.book if secret is None else class_book.coded(folder, change.book, secret)
    if book != harvest.book or harvest.added:
        book, data = class_book.drawn(folder, book)
        if reason := class_book.swapped_in(folder, harvest, data):
            raise _open_elsewhere(folder, reason)
    if complete:
        keep.save_roster(folder, loaded.people)
    keep.save_protection(folder, taken_over(keep.load_protection(folder), loaded.people))
    _keep_told(folder, given)
    _start_here(folder, book.settings.language)
    before = {(pair.measurer, pair.participant) for pair in harvest.book.pairings}
    paired = tuple(pair for pair in book.pairings if (pair.measurer, pair.participant) not in before)
    return replace(change, book=book, paired=paired)


def under_18_line(folder: ClassFolder, book: ClassBook | None = None) -> str:
    """Return how many count as under 18 since nobody said, with the cures; empty where there is nobody.
    book : of the class; None: as its class book says."""
    book = book or class_book.load_book(folder)
    protocol = all_protocols(folder)[book.settings.protocol_id]
    return unsaid_line(book, protocol, class_book.book_texts(book.settings.language), folder)


def understood_lines(folder: ClassFolder, headings: Sequence[str]) -> list[str]:
    """Return what was understood of the roster of a new class, and the next step, one line each.
    headings : the lines on headings."""
    book = class_book.load_book(folder)
    texts = class_book.book_texts(book.settings.language)
    roles = Counter(person.role for person in book.people)
    counts = [f"{roles[role]} {role if roles[role] == 1 else f'{role}s'}" for role in ROLES if roles[role]]
    young = [person.student_id for person in book.people if counts_as_under_18(person, book.minors)]
    everybody = "everybody" if len(young) == len(book.people) else named(young)
    tabs = [texts[f"book_tab.{name}"] for name in ("class", "calipers", "pairs")]
    return [
        f"people: {', '.join(counts) or 'none yet; type them on the tab ' + texts['book_tab.roster']}",
        *headings,
        *([f"count as under 18: {everybody or 'nobody'}"] if book.people else []),
        f"{folder.book}: the class book. Check its tabs {', '.join(tabs[:-1])} and {tabs[-1]}, then: "
        f"sheetgen build {folder.typed}",
    ]


def _open_elsewhere(folder: ClassFolder, reason: str) -> FolderError:
    remedy = (
        "Save and close it, then run the command again; nothing was changed. A lock file that a crash left "
        "behind can be removed."
    )
    return FolderError(folder.book, reason, "a class book that is open nowhere", remedy)


def _given(roster: RosterFile | Path | None) -> RosterFile:
    return roster if isinstance(roster, RosterFile) else RosterFile(roster)


def _check_empty(folder: ClassFolder) -> None:
    """Raise FolderError where there is something in a folder but a teacher's own wordings."""
    root = folder.root
    if not root.exists():
        return
    there = set(root.rglob("*")) if root.is_dir() else {root}
    if there - {folder.keep, folder.roster_wording}:
        found, remedy = "it holds something already", "Choose another name."
        raise FolderError(root, found, "a new or empty folder", remedy)


def _loaded(given: RosterFile, folder: ClassFolder) -> Roster:
    """The people, by the class's own wordings of headings before the shipped ones."""
    told = _told(given)
    if given.path is None:
        return Roster(())
    own = folder.roster_wording
    loaded = load_roster(given.path, given.school_class, own if own.is_file() else None, told)
    for trouble in loaded.troubles:
        given.tell(f"{roster_error(given.path, [trouble])} ({trouble.outcome})")
    if loaded.headings is not None:
        read = (name if heading == name else f"{heading} ({name})" for heading, name in loaded.headings.used)
        given.say(f"headings used: {', '.join(read)}")
        given.say(f"headings not used: {', '.join(loaded.headings.not_used) or 'none'}")
    return loaded


def _told(given: RosterFile) -> list[tuple[str, str]]:
    """What headings stand for; UsageError where that is not said as it should be."""
    told = []
    for text in given.headings:
        heading, sign, column = (part.strip() for part in text.rpartition("="))
        if not sign or not plain_word(heading) or column not in COLUMNS:
            expected = f"THEIRS=OURS in quotes, where OURS is one of {', '.join(COLUMNS)}"
            remedy = 'Write it like --heading "Lamp=student_id".'
            raise UsageError("--heading", shown(text), expected, remedy)
        told.append((heading, column))
    if told and given.path is None:
        expected = "--roster with the list that has this heading"
        raise UsageError("--heading", "no roster", expected, "Give both.")
    return told


def _keep_told(folder: ClassFolder, given: RosterFile) -> None:
    """Write down what headings stand for, for the next roster; a file of the teacher's stays as it is."""
    if (told := _told(given)) and not folder.roster_wording.is_file():
        columns = dict.fromkeys(column for _, column in told)
        headings = {name: [heading for heading, column in told if column == name] for name in columns}
        lines = [f"{name} = {json.dumps(of_it, ensure_ascii=False)}" for name, of_it in headings.items()]
        write_beside(folder.roster_wording, "\n".join(["[headings]", *lines, ""]).encode("utf-8"))


def _settings(pattern: ClassBook | None, protocols: Sequence[Protocol], language: str) -> SheetSettings:
    """Those of another class, else the default ones; by the first of the protocols asked for."""
    if pattern is None:
        language = language or DEFAULT_LANGUAGE
        build = class_book.book_texts(language)["book_caliper.default_build"]
        return default_settings(protocols[0], language, build)
    settings = replace(pattern.settings, language=language or pattern.settings.language)
    if not protocols:
        return settings
    chosen = protocols[0]
    return replace(settings, protocol_id=chosen.identifier, conversion=chosen.default_conversion)


def _like(book: ClassBook, pattern: ClassBook) -> ClassBook:
    """The book with what the other class has set up. That nobody is under 18 is a fact about its people."""
    known = {caliper.identifier for caliper in book.settings.calipers}
    return replace(
        book,
        minors="all" if pattern.minors == "all" else book.minors,
        checks=tuple(check for check in pattern.checks if check.identifier in known),
        **{name: getattr(pattern, name) for name in _OF_THE_TERM},
    )


_OF_THE_TERM = (
    "group_size", "seconds_a_reading", "spare_sheets", "lesson_minutes", "marking_minutes",
    "changing_minutes", "circuit", "session_names", "make_ups",
)  # fmt: skip
"""Settings besides those of the sheets that hold of any class: no people and no days."""


def _start_here(folder: ClassFolder, language: str) -> None:
    """Write the launchers, and the first page where there is none: a teacher may have written into it."""
    if not folder.read_me_first.exists():
        typed = ClassFolder(Path(folder.root.resolve().name)).typed
        write_beside(folder.read_me_first, read_me_first(language, typed).encode("utf-8"))
    write_launchers(folder, sys.executable)


def _keep_own(folder: ClassFolder, protocol_ids: Sequence[str], other: ClassFolder | None) -> None:
    """Copy a teacher's own protocols and wordings: a class does not depend on a file elsewhere."""
    paths = [] if other is None else sorted(other.own_protocols.glob("*.toml"))
    paths += [Path(name) for name in protocol_ids if name.endswith(".toml")]
    for path in paths:
        make_folder(folder.own_protocols)
        write_beside(folder.own_protocols / path.name, path.read_bytes())
    if other is not None and other.roster_wording.is_file() and not folder.roster_wording.is_file():
        write_beside(folder.roster_wording, other.roster_wording.read_bytes())
