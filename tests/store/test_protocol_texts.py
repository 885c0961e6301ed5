"""The shipped protocols in another language."""

from dataclasses import replace

from sheetgen.store.protocol_texts import in_language
from sheetgen.store.protocols import find_protocol


def test_shipped_protocol_in_spanish() -> None:
    protocol = in_language(find_protocol("seven-sites"), "es")
    assert protocol.title == "Siete sitios"
    assert [site.title for site in protocol.sites][:2] == ["Pectoral", "Axilar medio"]
    assert [site.word for site in protocol.sites][:2] == ["chest", "midaxillary"]


def test_shipped_protocol_in_english_is_the_very_same() -> None:
    protocol = find_protocol("four-sites")
    assert in_language(protocol, "en") == protocol


def test_protocol_that_is_in_spanish_already_stays() -> None:
    once = in_language(find_protocol("four-sites"), "es")
    assert in_language(once, "es") is once


def test_own_protocol_under_a_shipped_name_stays_as_it_is_written() -> None:
    own = replace(find_protocol("four-sites"), notes=())
    assert in_language(own, "es") is own
