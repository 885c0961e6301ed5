"""What several flows start from: the class book as it stands, and the Layout that follows from it."""

from dataclasses import dataclass

import msgspec

from sheetgen.checking.class_book import class_book_from
from sheetgen.errors import FolderError
from sheetgen.layout.class_book import default_settings
from sheetgen.layout.student import student_layout
from sheetgen.model.layout import Layout
from sheetgen.model.protocol import Protocol
from sheetgen.model.settings import BuiltWith, ClassBook, SheetSettings
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.protocols import find_protocol, shipped_protocols
from sheetgen.store.texts import load_texts
from sheetgen.workbook.package import Refusal, read_package
from sheetgen.workbook.snapshot_xlsx import snapshot

__all__ = ["LANGUAGE", "Source", "all_protocols", "book_texts", "layout_of", "load_book", "source_of"]

LANGUAGE = "en"


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
    package = read_package(folder.book)
    state = package if isinstance(package, Refusal) else snapshot(package)
    if isinstance(state, Refusal):
        raise FolderError(folder.book, state.found, state.expected, state.remedy)
    texts, protocols = book_texts(), all_protocols()
    defaults = default_settings(protocols[0], LANGUAGE, texts["book_caliper.default_build"])
    book, problems = class_book_from(state, defaults, texts, protocols)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        lines = [
            f"{folder.book}:{problem.tab}!{problem.cell}: {problem.found}; expected {problem.expected}. "
            f"{problem.remedy}"
            for problem in errors[1:]
        ]
        first = errors[0]
        more = "".join(f"\n{line}" for line in lines)
        place = f"{folder.book}:{first.tab}!{first.cell}"
        raise FolderError(place, first.found, first.expected, first.remedy + more)
    return book


def book_texts() -> dict[str, str]:
    """Return the texts of a class book, with those of a sheet."""
    return {**load_texts(LANGUAGE), **load_texts(f"class-book.{LANGUAGE}")}


def all_protocols() -> tuple[Protocol, ...]:
    """Return every shipped protocol."""
    return tuple(find_protocol(identifier) for identifier in shipped_protocols())


def source_of(settings: SheetSettings) -> Source:
    """Return the Layout that follows from a class's settings.

    Raises
    ------
    UsageError : the protocol is not known.
    TemplateError : a template has a fault.
    """
    return layout_of(BuiltWith(settings, find_protocol(settings.protocol_id)))


def layout_of(built_with: BuiltWith) -> Source:
    """Return the Layout that follows from protocol and settings."""
    settings, protocol = built_with.settings, built_with.protocol
    texts = load_texts(settings.language)
    text = msgspec.json.encode(built_with).decode("utf-8")
    return Source(student_layout(protocol, settings, text, texts), protocol, settings, texts)
