"""Reading measuring protocols from TOML."""

from collections.abc import Iterator
from pathlib import Path

from sheetgen.model.protocol import FORMS, Conversion, Equation, Protocol, Site
from sheetgen.store import template_files
from sheetgen.store.protocol_faults import sense_faults
from sheetgen.store.protocol_keys import Fault, Table, key_faults
from sheetgen.store.template_files import TemplateFault, TemplateKind

__all__ = ["find_protocol", "load_protocol", "protocol_faults", "shipped_protocols"]

_NONE_WHERE_LEFT_OUT = ("sum_minimum", "sum_maximum", "standard_error_density")


def _faults(table: Table) -> Iterator[Fault]:
    yield from key_faults(table)
    yield from sense_faults(table)


_KIND = TemplateKind("protocol", "protocols", _faults)


def protocol_faults(path: Path) -> tuple[TemplateFault, ...]:
    """Return every fault of a protocol file, in the order of its lines; none where it can be used.

    Raises
    ------
    TemplateError : the file cannot be read.
    """
    return template_files.examined(_KIND, path)[1]


def load_protocol(path: Path) -> Protocol:
    """Return the protocol in a TOML file.

    Raises
    ------
    TemplateError : the file cannot be read, or has faults; the message lists every one.
    """
    return _protocol(template_files.table_of(_KIND, path))


def shipped_protocols() -> tuple[str, ...]:
    """Return the identifiers of the shipped protocols, sorted."""
    return template_files.shipped(_KIND)


def find_protocol(identifier: str) -> Protocol:
    """Return a shipped protocol by its identifier, or a teacher's own by the path of its .toml file.

    Raises
    ------
    UsageError : there is none of that name.
    TemplateError : the file cannot be read, or has faults.
    """
    return load_protocol(template_files.path_of(_KIND, identifier))


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
