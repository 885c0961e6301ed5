"""The catalogue of findings, from templates/findings.toml; in other languages with findings.LANGUAGE.toml."""

import tomllib
from dataclasses import replace
from functools import lru_cache

from sheetgen.errors import TemplateError
from sheetgen.model.finding import SEVERITIES, FindingKind
from sheetgen.store.templates import read_template, templates_folder
from sheetgen.store.texts import DEFAULT_LANGUAGE

__all__ = ["load_catalogue"]

_PLACE = "findings.toml"


@lru_cache(maxsize=8)
def load_catalogue(language: str = DEFAULT_LANGUAGE) -> dict[str, FindingKind]:
    """Return every kind of finding by its code.

    Parameters
    ----------
    language : of what it means and of the remedy; English where that language has none.

    Raises
    ------
    TemplateError : the catalogue is not as it should be.
    """
    if language != DEFAULT_LANGUAGE:
        return _in_language(load_catalogue(), language)
    try:
        tables = tomllib.loads(read_template(_PLACE))
        kinds = {
            code: FindingKind(
                code, table["severity"], table.get("question", False), table["means"], table["remedy"]
            )
            for code, table in tables.items()
        }
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        raise TemplateError(
            _PLACE, str(error), "severity, means and remedy for every code", "Mend it."
        ) from error
    for kind in kinds.values():
        if kind.severity not in SEVERITIES:
            expected = ", ".join(SEVERITIES)
            raise TemplateError(
                _PLACE, f"{kind.code} has severity {kind.severity!r}", expected, "Choose one."
            )
    return kinds


def _in_language(kinds: dict[str, FindingKind], language: str) -> dict[str, FindingKind]:
    """Severities and questions stand in one catalogue: no language changes what becomes of a file."""
    place = f"findings.{language}.toml"
    if not (templates_folder() / place).is_file():
        return kinds
    try:
        tables = tomllib.loads(read_template(place))
        return {
            code: replace(kind, means=tables[code]["means"], remedy=tables[code]["remedy"])
            if code in tables
            else kind
            for code, kind in kinds.items()
        }
    except (tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise TemplateError(place, str(error), "means and remedy for every code", "Mend it.") from error
