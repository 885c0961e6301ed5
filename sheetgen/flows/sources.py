"""What several flows start from: the class book as it stands, and the Layout that follows from it."""

from dataclasses import dataclass, replace
from functools import lru_cache

import msgspec

from sheetgen.checking.class_book_reading import BookKnown, BookRead, class_book_from
from sheetgen.checking.drawn_language import drawn_language
from sheetgen.errors import FolderError, SheetgenError
from sheetgen.flows.wording import in_words, refusal_in_words
from sheetgen.layout.class_book_tabs import default_settings
from sheetgen.layout.student import LAYOUT_VERSION, careful_protocol, student_layout
from sheetgen.model.finding import Worded
from sheetgen.model.layout import Layout
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import BuiltWith, ClassBook, SheetSettings
from sheetgen.store.catalogue import load_catalogue
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.protocols import find_protocol, in_language, load_protocol, shipped_protocols
from sheetgen.store.texts import DEFAULT_LANGUAGE, languages, list_words, texts_in
from sheetgen.workbook.package import Package, read_package
from sheetgen.workbook.refusal import Refusal
from sheetgen.workbook.snapshot_xlsx import snapshot

__all__ = [
    "DEFAULT_PROTOCOL",
    "Source",
    "all_protocols",
    "book_in",
    "book_texts",
    "class_language",
    "layout_of",
    "load_book",
    "source_of",
]

DEFAULT_PROTOCOL = "seven-sites"


@dataclass(frozen=True, slots=True)
class Source:
    """The Layout of a class's sheets, with what it was made from."""

    layout: Layout
    protocol: Protocol
    settings: SheetSettings
    texts: dict[str, str]


def load_book(folder: ClassFolder) -> ClassBook:
    """Return what the class book says.

    Raises
    ------
    FolderError : the class book cannot be read, or holds faults; every one is named.
    """
    return book_in(folder, read_package(folder.book))[0].book


def book_in(
    folder: ClassFolder, package: Package | Refusal, today: str = ""
) -> tuple[BookRead, tuple[Worded, ...]]:
    """Return what a class book says, and in words what does not keep it from being used.

    Parameters
    ----------
    today : the day as YYYY-MM-DD; empty: nothing is said of caliper checks that are old.

    Raises
    ------
    FolderError : it cannot be read, or holds faults; every one is named.
    """
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        told = refusal_in_words(state)
        raise FolderError(folder.book, told.found, told.expected, state.remedy)
    # The language it was drawn in, whatever its cell of the language says by now.
    language = drawn_language(state, "book_tab", {each: texts_in(each, "class-book") for each in languages()})
    texts = book_texts(language)
    build = texts["book_caliper.default_build"]
    known = BookKnown(
        defaults=default_settings(find_protocol(DEFAULT_PROTOCOL), language, build),
        texts=texts,
        kinds=load_catalogue(language),
        protocols=tuple(all_protocols(folder).values()),
        words=list_words("class-book"),
    )
    read = class_book_from(state, known, today)
    problems = in_words(read.findings, language)
    errors = [_as_error(folder, problem) for problem in problems if problem.severity == "error"]
    if errors:
        first, *others = errors
        remedy = "\n".join([first.remedy, *map(str, others)])
        raise FolderError(first.place, first.found, first.expected, remedy)
    return read, problems


def _as_error(folder: ClassFolder, problem: Worded) -> FolderError:
    """A fault of the class book; one of a whole tab has no cell."""
    place = f"{problem.tab}!{problem.cell}" if problem.cell else problem.tab
    return FolderError(f"{folder.book}:{place}", problem.found, problem.expected, problem.remedy)


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


def all_protocols(folder: ClassFolder | None = None, language: str = DEFAULT_LANGUAGE) -> dict[str, Protocol]:
    """Return every protocol a class may use, by identifier: the shipped ones, and the class's own.

    Parameters
    ----------
    language : of the shipped ones; a teacher's own stays as it is written.

    Raises
    ------
    TemplateError : a protocol of the class has faults; every one is named.
    """
    protocols = {
        identifier: in_language(find_protocol(identifier), language) for identifier in shipped_protocols()
    }
    if folder is not None:
        own = [load_protocol(path) for path in sorted(folder.own_protocols.glob("*.toml"))]
        protocols |= {protocol.identifier: protocol for protocol in own}
    return protocols


@lru_cache(maxsize=64)
def source_of(settings: SheetSettings, protocol: Protocol | None = None) -> Source:
    """Return the Layout that follows from settings: by their protocol, careful where they ask for it.

    Parameters
    ----------
    protocol : that of the settings; None: the shipped one of its name.

    Raises
    ------
    UsageError : the protocol is not known.
    TemplateError : a template has a fault.
    """
    whole = find_protocol(settings.protocol_id) if protocol is None else protocol
    whole = in_language(whole, settings.language)
    if settings.conversion not in {conversion.identifier for conversion in whole.conversions}:
        settings = replace(settings, conversion=whole.default_conversion)
    return layout_of(BuiltWith(settings, careful_protocol(whole, settings), LAYOUT_VERSION))


def layout_of(built_with: BuiltWith) -> Source:
    """Return the Layout that follows from protocol and settings."""
    settings, protocol = built_with.settings, built_with.protocol
    texts = texts_in(settings.language, "sheet")
    text = msgspec.json.encode(built_with).decode("utf-8")
    return Source(student_layout(protocol, settings, text, texts), protocol, settings, texts)
