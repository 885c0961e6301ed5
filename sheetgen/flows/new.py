"""Make a class folder."""

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from sheetgen.errors import FolderError, RosterError, UsageError
from sheetgen.flows.class_book import drawn
from sheetgen.flows.roster import load_roster
from sheetgen.flows.sources import DEFAULT_PROTOCOL, book_texts, load_book
from sheetgen.layout.class_book import default_class_book, default_settings
from sheetgen.layout.class_book_words import LONGEST
from sheetgen.model.settings import Caliper, ClassBook, SheetSettings
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder, open_class_folder
from sheetgen.store.files import make_folder, read_if_there, write_beside
from sheetgen.store.launchers import write_launchers
from sheetgen.store.protocols import find_protocol
from sheetgen.store.roster import Roster
from sheetgen.store.templates import read_template
from sheetgen.store.texts import DEFAULT_LANGUAGE, languages

__all__ = ["new_class", "roster_of"]


def new_class(
    root: Path,
    roster: Path | None = None,
    protocol_ids: Sequence[str] = (),
    calipers: tuple[Caliper, ...] = (),
    secret: str = "",
    like: Path | None = None,
    school_class: str = "",
    tell: Callable[[str], None] = lambda line: None,
    language: str = "",
) -> ClassFolder:
    """Make a class folder with its class book, pairs in roster order and one default caliper.

    Parameters
    ----------
    roster : of the people, as a file, folder or zip; None: an empty roster.
    protocol_ids : the protocol of the class, then others that pairs may choose: identifiers of shipped ones,
        or paths of a teacher's own, which are copied into the class folder. Empty: that of `like`, else the
        default.
    calipers : the register; empty: that of `like`, else the default caliper.
    secret : 64 hexadecimal digits; empty: random ones. The sample class gives its own, so that its codes
        are the same each time.
    like : another class folder, of which calipers with their checks, settings, marking scheme and own
        protocols are taken; nobody's people, pairs, days or codes.
    school_class : which class of a roster that holds several, by title or id.
    tell : is told each trouble of the roster, one line each.
    language : tag of a shipped one, such as `es`; empty: that of `like`, else English.

    Raises
    ------
    FolderError : there is something in the folder already, or it cannot be written; the other class folder
        cannot be used.
    RosterError : the roster cannot be used.
    UsageError : a protocol or the language is not known.
    TemplateError : a protocol of the teacher's has faults; every one is named.
    """
    if language and language not in languages():
        found, known = f"the language {language[:20]!r}", ", ".join(languages())
        raise UsageError("--language", found, f"one of {known}", "Choose a shipped language.")
    if root.exists() and (not root.is_dir() or any(root.iterdir())):
        raise FolderError(root, "it holds something already", "a new or empty folder", "Choose another name.")
    other = None if like is None else open_class_folder(like)
    pattern = None if other is None else load_book(other)
    protocols = [find_protocol(name) for name in protocol_ids or (() if other else (DEFAULT_PROTOCOL,))]
    people = () if roster is None else roster_of(roster, school_class, tell, other).people
    texts = book_texts(language or DEFAULT_LANGUAGE)
    if pattern is None:
        build = texts["book_caliper.default_build"]
        settings = default_settings(protocols[0], language or DEFAULT_LANGUAGE, build)
    else:
        settings = replace(pattern.settings, language=language or pattern.settings.language)
        if protocols:
            chosen = protocols[0]
            settings = replace(settings, protocol_id=chosen.identifier, conversion=chosen.default_conversion)
    if calipers:
        settings = replace(settings, calipers=calipers)
    folder = ClassFolder(root)
    make_folder(root)
    secret = keep.make_secret(folder, secret)
    coded = keep.with_participant_codes(secret, people)
    book = default_class_book(keep.class_code(secret), _title(root), settings, coded)
    if pattern is not None:
        book = _like(book, pattern, settings)
    _keep_own(folder, protocol_ids, other)
    write_beside(folder.book, drawn(folder, book)[1])
    write_beside(folder.marking_scheme, _scheme(other))
    keep.save_roster(folder, people)
    make_folder(folder.returned(1))
    write_launchers(folder, sys.executable)
    return folder


def roster_of(
    path: Path, school_class: str, tell: Callable[[str], None], folder: ClassFolder | None = None
) -> Roster:
    """Return a roster, and tell what of it could not be taken as it stands, one line each.

    Parameters
    ----------
    folder : a class whose own wordings of headings count before the shipped ones.

    Raises
    ------
    RosterError : it cannot be used at all.
    TemplateError : the class's own wordings have a fault.
    """
    own = None if folder is None else folder.roster_wording
    roster = load_roster(path, school_class, own if own is not None and own.is_file() else None)
    for one in roster.troubles:
        line = RosterError(f"{path}:{one.line}", one.found, one.expected, one.remedy)
        tell(f"{line} ({one.outcome})")
    return roster


def _like(book: ClassBook, pattern: ClassBook, settings: SheetSettings) -> ClassBook:
    """The book with what the other class has set up. That nobody is under 18 is a fact about its people."""
    known = {caliper.identifier for caliper in settings.calipers}
    return replace(
        book,
        # Made anew where they are drawn, by the size of group of the other class.
        pairings=(),
        minors="all" if pattern.minors == "all" else book.minors,
        checks=tuple(check for check in pattern.checks if check.identifier in known),
        group_size=pattern.group_size,
        seconds_a_reading=pattern.seconds_a_reading,
        spare_sheets=pattern.spare_sheets,
    )


def _scheme(other: ClassFolder | None) -> bytes:
    """A copy for the teacher to edit; `read` marks by it."""
    data = None if other is None else read_if_there(other.marking_scheme)
    usual = read_template("marking/usual.toml").replace('identifier = "usual"', 'identifier = "own"')
    return usual.encode("utf-8") if data is None else data


def _keep_own(folder: ClassFolder, protocol_ids: Sequence[str], other: ClassFolder | None) -> None:
    """Copy a teacher's own protocols and wordings: a class does not depend on a file elsewhere."""
    paths = [] if other is None else sorted(other.own_protocols.glob("*.toml"))
    paths += [Path(name) for name in protocol_ids if name.endswith(".toml")]
    for path in paths:
        make_folder(folder.own_protocols)
        write_beside(folder.own_protocols / path.name, path.read_bytes())
    if other is not None and other.roster_wording.is_file():
        write_beside(folder.roster_wording, other.roster_wording.read_bytes())


def _title(root: Path) -> str:
    """The folder's name, as far as the class book takes it."""
    name = "".join(sign for sign in root.resolve().name if sign.isprintable())
    return name[: int(LONGEST["class_title"])].strip()
