"""The texts of the shipped protocols in another language, from templates/text/protocols.LANGUAGE.toml."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from sheetgen.errors import TemplateError
from sheetgen.model.protocol import Equation, Protocol, Site
from sheetgen.store.protocols import find_protocol, shipped_protocols
from sheetgen.store.templates import read_template, templates_folder
from sheetgen.store.texts import DEFAULT_LANGUAGE

__all__ = ["in_language", "protocol_texts"]

_OF_SITE = ("title", "landmark")


@lru_cache(maxsize=128)
def in_language(protocol: Protocol, language: str) -> Protocol:
    """Return a shipped protocol with its texts in a language; a teacher's own, as it is written.

    Numbers, words of sites, identifiers and sources stay: a protocol is known by its identifier.

    Raises
    ------
    TemplateError : the texts are not as they should be.
    """
    if language == DEFAULT_LANGUAGE or protocol.identifier not in shipped_protocols():
        return protocol
    if protocol != find_protocol(protocol.identifier):
        return protocol
    texts = protocol_texts(language).get(protocol.identifier, {})
    place = f"text/protocols.{language}.toml: {protocol.identifier}"
    sites, samples = _table(place, texts, "sites"), _table(place, texts, "samples")
    return replace(
        protocol,
        title=_text(place, texts, "title", protocol.title),
        standard=_text(place, texts, "standard", protocol.standard),
        sites=tuple(_site(place, site, _table(place, sites, site.word)) for site in protocol.sites),
        equations=tuple(_equation(place, equation, samples) for equation in protocol.equations),
        notes=_texts(place, texts, "notes", protocol.notes),
    )


@lru_cache(maxsize=8)
def protocol_texts(language: str) -> Mapping[str, Mapping[str, Any]]:
    """Return the texts of protocols in a language by identifier, none where there is no such file.

    Raises
    ------
    TemplateError : the file is not as it should be.
    """
    place = f"text/protocols.{language}.toml"
    if not (templates_folder() / place).is_file():
        return {}
    try:
        tables = tomllib.loads(read_template(place))
    except tomllib.TOMLDecodeError as error:
        raise TemplateError(place, str(error), "a TOML file of texts", "Mend the line named.") from error
    return {identifier: _table(place, tables, identifier) for identifier in tables}


def _site(place: str, site: Site, texts: Mapping[str, Any]) -> Site:
    title, landmark = (_text(place, texts, key, getattr(site, key)) for key in _OF_SITE)
    return replace(site, title=title, landmark=landmark, cues=_texts(place, texts, "cues", site.cues))


def _equation(place: str, equation: Equation, samples: Mapping[str, Any]) -> Equation:
    return replace(equation, sample=_text(place, samples, equation.identifier, equation.sample))


def _table(place: str, table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = table.get(key, {})
    if not isinstance(value, dict):
        raise TemplateError(place, f"{key} is no section", "a section", "Make it a section of its own.")
    return value


def _text(place: str, table: Mapping[str, Any], key: str, otherwise: str) -> str:
    value = table.get(key, otherwise)
    if not isinstance(value, str):
        raise TemplateError(place, f"{key} is not a text", "a text in quotes", "Put it in quotes.")
    return value


def _texts(place: str, table: Mapping[str, Any], key: str, otherwise: tuple[str, ...]) -> tuple[str, ...]:
    value = table.get(key, list(otherwise))
    if not isinstance(value, list) or len(value) != len(otherwise):
        expected = f"a list of {len(otherwise)} texts"
        raise TemplateError(place, f"{key} has not as many texts as the protocol", expected, "Complete it.")
    return tuple(map(str, value))
