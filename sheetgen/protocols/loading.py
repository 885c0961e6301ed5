"""Measuring protocols: read from TOML, and the shipped ones with their texts in another language."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from sheetgen.errors import TemplateError
from sheetgen.protocols.checks import key_faults, sense_faults
from sheetgen.protocols.protocol import FORMS, Conversion, Equation, Protocol, Site
from sheetgen.texts.languages import DEFAULT_LANGUAGE
from sheetgen.texts.templates import (
    TemplateKind,
    examined,
    path_of,
    read_tables,
    shipped,
    table_of,
    templates_folder,
)
from sheetgen.texts.toml_tables import Fault, FileFault, Table

_NONE_WHERE_LEFT_OUT = ("sum_minimum", "sum_maximum", "standard_error_density")


def _faults(table: Table) -> Iterator[Fault]:
    yield from key_faults(table)
    yield from sense_faults(table)


_KIND = TemplateKind("protocol", "protocols", _faults)


def protocol_faults(path: Path) -> tuple[FileFault, ...]:
    """Return every fault of a protocol file, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return examined(_KIND, path)[1]


def load_protocol(path: Path) -> Protocol:
    """Return the protocol in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one.
    """
    return _protocol(table_of(_KIND, path))


def shipped_protocols() -> tuple[str, ...]:
    """Return the identifiers of the shipped protocols, sorted."""
    return shipped(_KIND)


def find_protocol(identifier: str) -> Protocol:
    """Return a shipped protocol by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    return load_protocol(path_of(_KIND, identifier))


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
        sites=tuple(
            _site_in_language(place, site, _table(place, sites, site.word)) for site in protocol.sites
        ),
        equations=tuple(_equation_in_language(place, equation, samples) for equation in protocol.equations),
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
    tables = read_tables(place)
    return {identifier: _table(place, tables, identifier) for identifier in tables}


def _protocol(table: Table) -> Protocol:
    """Return the record of a table in which no fault was found."""
    return Protocol(
        identifier=table["identifier"],
        title=table["title"],
        standard=table["standard"],
        sites=tuple(Site(**{**site, "cues": tuple(site["cues"])}) for site in table["sites"]),
        equations=tuple(_equation(equation) for equation in table.get("equations", ())),
        conversions=tuple(
            Conversion(**{**each, "numerator": float(each["numerator"]), "offset": float(each["offset"])})
            for each in table.get("conversions", ())
        ),
        default_conversion=table.get("default_conversion", ""),
        notes=tuple(table["notes"]),
    )


def _equation(table: Table) -> Equation:
    numbers = {key: float(value) for key, value in table.items() if isinstance(value, int | float)}
    coefficients = tuple(
        (name, float(table["coefficients"][name])) for name in FORMS[table["form"]].coefficients
    )
    return Equation(
        **{**dict.fromkeys(_NONE_WHERE_LEFT_OUT), **table, **numbers, "coefficients": coefficients}
    )


def _site_in_language(place: str, site: Site, texts: Mapping[str, Any]) -> Site:
    return replace(
        site,
        title=_text(place, texts, "title", site.title),
        landmark=_text(place, texts, "landmark", site.landmark),
        cues=_texts(place, texts, "cues", site.cues),
    )


def _equation_in_language(place: str, equation: Equation, samples: Mapping[str, Any]) -> Equation:
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
