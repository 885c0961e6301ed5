"""Make a class folder."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sheetgen.errors import FolderError
from sheetgen.flows.sources import DEFAULT_PROTOCOL, LANGUAGE, all_protocols, book_texts
from sheetgen.layout.class_book import class_book_layout, default_class_book, default_settings
from sheetgen.layout.class_book_words import LONGEST
from sheetgen.model.layout import Identity
from sheetgen.model.settings import Caliper
from sheetgen.store import keep
from sheetgen.store.class_folder import ClassFolder
from sheetgen.store.files import make_folder, write_beside
from sheetgen.store.protocols import find_protocol
from sheetgen.store.roster import read_roster
from sheetgen.store.templates import read_template
from sheetgen.workbook.render import rendered

__all__ = ["new_class"]


def new_class(
    root: Path,
    roster: Path | None = None,
    protocol_ids: Sequence[str] = (DEFAULT_PROTOCOL,),
    calipers: tuple[Caliper, ...] = (),
    secret: str = "",
) -> ClassFolder:
    """Make a class folder with its class book, pairs in roster order and one default caliper.

    Parameters
    ----------
    roster : CSV of the people; None: an empty roster.
    protocol_ids : the protocol of the class, then others that pairs may choose: identifiers of shipped ones,
        or paths of a teacher's own, which are copied into the class folder.
    calipers : the register; empty: the default caliper.
    secret : 64 hexadecimal digits; empty: random ones. The sample class gives its own, so that its codes
        are the same each time.

    Raises
    ------
    FolderError : there is something in the folder already, or it cannot be written.
    RosterError : the roster has faults; every one is named.
    UsageError : a protocol is not known.
    TemplateError : a protocol of the teacher's has faults; every one is named.
    """
    if root.exists() and (not root.is_dir() or any(root.iterdir())):
        raise FolderError(root, "it holds something already", "a new or empty folder", "Choose another name.")
    protocols = [find_protocol(name) for name in protocol_ids]
    people = read_roster(roster) if roster is not None else ()
    texts = book_texts()
    settings = default_settings(protocols[0], LANGUAGE, texts["book_caliper.default_build"])
    if calipers:
        settings = replace(settings, calipers=calipers)
    folder = ClassFolder(root)
    make_folder(root)
    secret = keep.make_secret(folder, secret)
    coded = keep.with_participant_codes(secret, people)
    book = default_class_book(keep.class_code(secret), _title(root), settings, coded)
    _keep_own(folder, protocol_ids)
    layout = class_book_layout(texts, book, tuple(all_protocols(folder).values()))
    write_beside(folder.book, rendered(layout, Identity({}), read_template("style.toml")))
    # A copy for the teacher to edit; `read` marks by it.
    scheme = read_template("marking/usual.toml").replace('identifier = "usual"', 'identifier = "own"')
    write_beside(folder.marking_scheme, scheme.encode("utf-8"))
    make_folder(folder.returned(1))
    return folder


def _keep_own(folder: ClassFolder, protocol_ids: Sequence[str]) -> None:
    """Copy a teacher's own protocols, so that the class does not depend on a file elsewhere."""
    for path in (Path(name) for name in protocol_ids if name.endswith(".toml")):
        make_folder(folder.own_protocols)
        write_beside(folder.own_protocols / path.name, path.read_bytes())


def _title(root: Path) -> str:
    """The folder's name, as far as the class book takes it."""
    name = "".join(sign for sign in root.resolve().name if sign.isprintable())
    return name[: int(LONGEST["class_title"])].strip()
