"""What flows start from: settings to Layout, class book to settings."""

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from sheetgen.errors import UsageError
from sheetgen.flows.sources import all_protocols, layout_of, load_book, source_of
from sheetgen.layout.student import LAYOUT_VERSION
from sheetgen.model.settings import BuiltWith
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
