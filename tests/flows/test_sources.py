"""What flows start from: settings to Layout, class book to settings."""

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from sheetgen.errors import UsageError
from sheetgen.flows.class_book import drawn
from sheetgen.flows.sources import all_protocols, book_in, layout_of, load_book, source_of
from sheetgen.layout.student import LAYOUT_VERSION
from sheetgen.model.settings import BuiltWith, CaliperCheck
from sheetgen.workbook.package import read_package
from tests.classes import built_class, changed_setting
from tests.sheets import SETTINGS


def test_the_same_settings_give_the_same_layout() -> None:
    assert source_of(SETTINGS).layout == source_of(SETTINGS).layout


def test_a_layout_tells_what_it_was_built_with() -> None:
    source = source_of(SETTINGS)
    told = msgspec.json.decode(source.layout.settings_text, type=BuiltWith)
    assert told == BuiltWith(SETTINGS, source.protocol, LAYOUT_VERSION)
    assert layout_of(told).layout == source.layout


def test_an_unknown_protocol_in_the_settings_is_named() -> None:
    with pytest.raises(UsageError, match="eight-sites"):
        source_of(replace(SETTINGS, protocol_id="eight-sites"))


def test_every_shipped_protocol_is_there_by_its_identifier() -> None:
    protocols = all_protocols()
    assert "seven-sites" in protocols
    assert [protocol.identifier for protocol in protocols.values()] == list(protocols)


def test_what_the_teacher_changes_in_the_class_book_is_read(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    for label, value in (("Site value", "closest-pair"), ("Tolerance", 1.5), ("Density to fat", "brozek")):
        changed_setting(folder, label, value)
    settings = load_book(folder).settings
    assert (settings.site_rule, settings.tolerance, settings.conversion) == ("closest-pair", 1.5, "brozek")


def test_a_check_that_is_old_is_said_only_where_the_day_is_known(tmp_path: Path) -> None:
    folder = built_class(tmp_path / "class")
    book = load_book(folder)
    checked = replace(book, checks=(CaliperCheck("C1", (), "2027-01-10", "the keeper"),))
    folder.book.write_bytes(drawn(folder, checked)[1])
    package = read_package(folder.book)
    assert book_in(folder, package)[1] == ()
    assert [note.code for note in book_in(folder, package, "2029-01-10")[1]] == ["class-book-check-old"]
    assert book_in(folder, package, "2027-01-11")[1] == ()
